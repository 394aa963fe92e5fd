// SPDX-License-Identifier: GPL-3.0-or-later
// Bytes from outside and short texts in an arena.
#ifndef HW_BASE_TEXT_H
#define HW_BASE_TEXT_H

#include "job.h"
#include <stddef.h>

/// Bytes somebody else owns.
typedef struct hw_bytes {
    const unsigned char *at;
    size_t count;
} hw_bytes;

/// A copy of `text` in `into`.
HW_MUST_USE hw_status hw_text_copy(hw_job *job, hw_arena *into, const char *text, const char **out);

/// printf into `into`.
HW_MUST_USE hw_status hw_text_format(hw_job *job, hw_arena *into, const char **out,
                                     const char *format, ...) __attribute__((format(printf, 4, 5)));

/// Equal when the letters A-Z are taken as a-z; other bytes must match.
bool hw_text_same(const char *a, const char *b);

/// Reads a decimal number (point, optional exponent) that fills [text, text + length) but for
/// blanks around it, whatever the locale. False for anything else, also for inf, nan and
/// hexadecimal.
bool hw_text_number(const char *text, size_t length, double *out);

/// Text that grows: a file being written in memory. `failed` is set when memory ran out, and the
/// text is then not to be used; ask once at the end with hw_writer_end.
typedef struct hw_writer {
    hw_arena *into;
    char *at;
    size_t count;
    size_t capacity;
    bool failed;
} hw_writer;

/// An empty text that grows in `into`.
hw_writer hw_writer_begin(hw_arena *into);
/// Appends bytes; what no longer fits sets `failed`.
void hw_writer_bytes(hw_writer *writer, const void *bytes, size_t count);
/// Appends formatted text.
void hw_writer_print(hw_writer *writer, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/// The bytes written (a zero byte follows them, not counted).
///
///   fails   HW_NO_MEMORY when any write failed
HW_MUST_USE hw_status hw_writer_end(hw_job *job, hw_writer *writer, hw_bytes *out);

#endif
