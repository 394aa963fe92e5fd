// SPDX-License-Identifier: GPL-3.0-or-later
//
// files: whole files in, whole sets of files out. It owns the operating system's file calls.
//
//     HW_TRY(hw_file_read(job, "left.stl", 1u << 30, into, &bytes));
//     hw_file_set set = {0};
//     HW_TRY(hw_file_set_add(job, &set, "plan.pdf", pdf));
//     HW_TRY(hw_file_set_write(job, &set, "out"));      // all of them or none
//
#ifndef HW_FILES_H
#define HW_FILES_H

#include "base/base.h"

/// A whole file, followed by one zero byte that is not counted.
///
///   limit_bytes  larger files are refused before they are read
///   fails        HW_NOT_FOUND, HW_NO_ACCESS, HW_IO_FAILED, HW_BAD_INPUT not a plain file or too
///                large, HW_NO_MEMORY
HW_MUST_USE hw_status hw_file_read(hw_job *job, const char *path, size_t limit_bytes,
                                   hw_arena *into, hw_bytes *out);

enum { HW_FILE_SET_MAX = 40 };

/// Files that belong together.
typedef struct hw_file_set {
    struct {
        const char *name; // without folder
        hw_bytes bytes;
    } files[HW_FILE_SET_MAX];
    int count;
} hw_file_set;

/// Names one more file; name and bytes stay the caller's.
///
///   fails   HW_BAD_INPUT a name with a slash, a name twice, more than HW_FILE_SET_MAX
HW_MUST_USE hw_status hw_file_set_add(hw_job *job, hw_file_set *set, const char *name,
                                      hw_bytes bytes);

/// Writes all files into `folder` (made when absent, one level). Each is written beside its place,
/// synced and renamed only when all are complete; on failure none of them is left behind.
///
///   fails   HW_IO_FAILED, HW_NO_ACCESS
HW_MUST_USE hw_status hw_file_set_write(hw_job *job, const hw_file_set *set, const char *folder);

/// The folder part of `path`, "." where it has none, in `into`.
HW_MUST_USE hw_status hw_file_folder(hw_job *job, const char *path, hw_arena *into,
                                     const char **out);

/// `name` seen from `folder`; an absolute name stays.
HW_MUST_USE hw_status hw_file_join(hw_job *job, const char *folder, const char *name,
                                   hw_arena *into, const char **out);

typedef struct hw_file_names {
    const char *const *names;
    int count;
} hw_file_names;

/// All plain files below `folder`, with their path from there, sorted by bytes. Hidden ones and
/// links are left out.
///
///   fails   HW_NOT_FOUND, HW_NO_ACCESS; HW_BAD_INPUT more than 32 deep or 2^20 files; HW_NO_MEMORY
HW_MUST_USE hw_status hw_file_list(hw_job *job, const char *folder, hw_arena *into,
                                   hw_file_names *out);

/// Cuts a file to its first bytes; one that is not there stays so.
HW_MUST_USE hw_status hw_file_cut(hw_job *job, const char *path, size_t size_bytes);

/// Whether something of this name is there.
bool hw_file_exists(const char *path);

/// Makes a folder only its owner may enter; one that is there stays as it is.
///
///   fails   HW_IO_FAILED, HW_NO_ACCESS, HW_NOT_FOUND no parent
HW_MUST_USE hw_status hw_file_make_folder(hw_job *job, const char *folder);

/// Makes a file only its owner may read (mode 0600), complete or not at all, synced with its
/// folder.
///
///   fails   HW_CLASH a file of this name is there;  HW_IO_FAILED, HW_NO_ACCESS
HW_MUST_USE hw_status hw_file_make_private(hw_job *job, const char *path, hw_bytes bytes);

/// Overwrites bytes of a file (made private where there is none) in place and syncs. A power cut
/// may leave any mixture of old and new bytes there: the caller keeps an older copy elsewhere.
///
///   fails   HW_IO_FAILED, HW_NO_ACCESS
HW_MUST_USE hw_status hw_file_write_at(hw_job *job, const char *path, size_t offset,
                                       hw_bytes bytes);

/// Removes a file.
///
///   fails   HW_NOT_FOUND, HW_NO_ACCESS, HW_IO_FAILED
HW_MUST_USE hw_status hw_file_remove(hw_job *job, const char *path);

/// A file too large for memory, written or read piece by piece. What is written bears its name only
/// after _keep; closed before, nothing is left.
typedef struct hw_file_stream hw_file_stream;

/// Begins a file that gets its name only by hw_file_stream_keep.
HW_MUST_USE hw_status hw_file_stream_write(hw_job *job, const char *path, hw_file_stream **out);
/// Opens a file to read from its first byte.
HW_MUST_USE hw_status hw_file_stream_read(hw_job *job, const char *path, hw_file_stream **out);
/// Appends bytes.
HW_MUST_USE hw_status hw_file_stream_put(hw_job *job, hw_file_stream *stream, hw_bytes bytes);

///   fails   HW_BAD_FORMAT fewer than `count` bytes are left
HW_MUST_USE hw_status hw_file_stream_get(hw_job *job, hw_file_stream *stream, void *bytes,
                                         size_t count);
/// Whether every byte was read.
bool hw_file_stream_is_at_end(hw_file_stream *stream);

/// How many bytes were read or written so far; back to the first.
size_t hw_file_stream_at(hw_file_stream *stream);
/// Back to the first byte.
HW_MUST_USE hw_status hw_file_stream_rewind(hw_job *job, hw_file_stream *stream);

/// Where its bytes stand now, to re-read them before they are kept: flush first.
const char *hw_file_stream_name(const hw_file_stream *stream);
/// Hands what was put to the system, so that others may read it.
HW_MUST_USE hw_status hw_file_stream_flush(hw_job *job, hw_file_stream *stream);

/// Syncs and gives it its name.
HW_MUST_USE hw_status hw_file_stream_keep(hw_job *job, hw_file_stream *stream);

/// May be called with NULL.
void hw_file_stream_close(hw_file_stream *stream);

#endif
