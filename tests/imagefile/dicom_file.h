// SPDX-License-Identifier: GPL-3.0-or-later
// Small DICOM files written by hand for tests, in any of the three native syntaxes.
#ifndef HW_TESTS_DICOM_FILE_H
#define HW_TESTS_DICOM_FILE_H

#include "near.h"

typedef struct dicom_file {
    unsigned char bytes[8192];
    size_t count;
    bool is_explicit, is_big;
} dicom_file;

static inline void dicom_put(dicom_file *file, uint32_t value, int bytes)
{
    for (int i = 0; i < bytes; i++)
        file->bytes[file->count++] =
            (unsigned char)(value >> (8 * (file->is_big ? bytes - 1 - i : i)));
}

static inline void dicom_head(dicom_file *file, uint32_t tag, const char *kind, uint32_t length)
{
    bool is_long = strstr("OB OW SQ UN", kind) != NULL;
    dicom_put(file, tag >> 16, 2), dicom_put(file, tag & 0xffff, 2);
    if (!file->is_explicit || tag >> 16 == 0xFFFE) {
        dicom_put(file, length, 4);
        return;
    }
    memcpy(file->bytes + file->count, kind, 2);
    file->count += 2;
    if (is_long) dicom_put(file, 0, 2);
    dicom_put(file, length, is_long ? 4 : 2);
}

static inline void dicom_text_of(dicom_file *file, uint32_t tag, const char *kind, const char *text)
{
    size_t count = strlen(text), even = count + count % 2;
    dicom_head(file, tag, kind, (uint32_t)even);
    memcpy(file->bytes + file->count, text, count);
    if (even > count) file->bytes[file->count + count] = kind[0] == 'U' ? 0 : ' ';
    file->count += even;
}

static inline void dicom_short(dicom_file *file, uint32_t tag, uint32_t value)
{
    dicom_head(file, tag, "US", 2), dicom_put(file, value, 2);
}

static inline void dicom_long(dicom_file *file, uint32_t tag, uint32_t value)
{
    dicom_head(file, tag, "UL", 4), dicom_put(file, value, 4);
}

static inline void dicom_real(dicom_file *file, uint32_t tag, double value)
{
    uint64_t bits = 0;
    memcpy(&bits, &value, sizeof bits);
    dicom_head(file, tag, "FD", 8);
    dicom_put(file, (uint32_t)(file->is_big ? bits >> 32 : bits), 4);
    dicom_put(file, (uint32_t)(file->is_big ? bits : bits >> 32), 4);
}

/// The head, and the transfer syntax of the flags unless `syntax` names another.
static inline dicom_file dicom_begin(bool is_explicit, bool is_big, const char *syntax)
{
    dicom_file file = {.count = 128, .is_explicit = true};
    memcpy(file.bytes + 128, "DICM", 4);
    file.count = 132;
    dicom_text_of(&file, 0x00020010, "UI",
                  syntax         ? syntax
                  : !is_explicit ? "1.2.840.10008.1.2"
                  : is_big       ? "1.2.840.10008.1.2.2"
                                 : "1.2.840.10008.1.2.1");
    file.is_explicit = is_explicit, file.is_big = is_big;
    return file;
}

/// Rows, columns and the rest of a picture's shape.
static inline void dicom_shape(dicom_file *file, int columns, int rows, int samples, int bits,
                               const char *colour)
{
    dicom_short(file, 0x00280002, (uint32_t)samples);
    dicom_text_of(file, 0x00280004, "CS", colour);
    dicom_short(file, 0x00280010, (uint32_t)rows), dicom_short(file, 0x00280011, (uint32_t)columns);
    dicom_short(file, 0x00280100, (uint32_t)bits), dicom_short(file, 0x00280101, (uint32_t)bits);
    dicom_short(file, 0x00280103, 0);
}

static inline void dicom_bytes(dicom_file *file, uint32_t tag, const unsigned char *bytes,
                               size_t count)
{
    dicom_head(file, tag, "OB", (uint32_t)count);
    memcpy(file->bytes + file->count, bytes, count);
    file->count += count;
}

/// One region of 2-D tissue, cm a pixel; the sequence and its item of undefined length when asked.
static inline void dicom_region(dicom_file *file, const uint32_t place[4], const double delta[2],
                                bool is_open)
{
    dicom_file item = *file;
    item.count = 0;
    dicom_short(&item, 0x00186012, 1), dicom_short(&item, 0x00186014, 1);
    dicom_long(&item, 0x00186016, 0);
    for (uint32_t i = 0; i < 4; i++) dicom_long(&item, 0x00186018 + 2 * i, place[i]);
    dicom_short(&item, 0x00186024, 3), dicom_short(&item, 0x00186026, 3);
    dicom_real(&item, 0x0018602C, delta[0]), dicom_real(&item, 0x0018602E, delta[1]);
    uint32_t length = (uint32_t)item.count, open = 0xFFFFFFFF;
    dicom_head(file, 0x00186011, "SQ", is_open ? open : length + 8);
    dicom_head(file, 0xFFFEE000, "", is_open ? open : length);
    memcpy(file->bytes + file->count, item.bytes, item.count);
    file->count += item.count;
    if (is_open) dicom_head(file, 0xFFFEE00D, "", 0), dicom_head(file, 0xFFFEE0DD, "", 0);
}

#endif
