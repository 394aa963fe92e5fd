// SPDX-License-Identifier: GPL-3.0-or-later
// What the readers share.
#ifndef HW_IMAGEFILE_INTERNAL_H
#define HW_IMAGEFILE_INTERNAL_H

#include "imagefile/imagefile.h"

#include <stdint.h>

/// Pixels of `frames` frames in `into`.
///
///   fails   HW_BAD_FORMAT a size of zero, beyond HW_IMAGE_SIDE_MAX, or over 400 MB in all
HW_MUST_USE hw_status image_alloc(hw_job *job, hw_arena *into, const long size[3], hw_image *out,
                                  unsigned char **pixels);

HW_MUST_USE hw_status image_read_png(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out);
HW_MUST_USE hw_status image_read_jpeg(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out);
HW_MUST_USE hw_status image_read_tiff(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out);
HW_MUST_USE hw_status image_read_dicom(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out);

/// One element of a DICOM data set.
typedef struct dicom_element {
    uint32_t tag;   // group << 16 | element
    char kind[3];   // value representation; "" in implicit files
    bool is_open;   // of undefined length: value ends before its delimiter
    hw_bytes value; // inside the file
} dicom_element;

/// A data set: its elements in the file's order, and how its bytes are read.
typedef struct dicom_set {
    dicom_element *elements;
    int count;
    bool is_explicit, is_big;
} dicom_set;

/// Reads all elements of one level. Sequences stay bytes: see dicom_items.
///
///   how     is_explicit, is_big: how
///   used    NULL: `bytes` must be the set's whole; else bytes read up to an item's delimiter
HW_MUST_USE hw_status dicom_read_set(hw_job *job, hw_bytes bytes, dicom_set how, hw_arena *into,
                                     dicom_set *out);

/// The data set of a whole file, after its head; `syntax` gets the transfer syntax.
HW_MUST_USE hw_status dicom_open(hw_job *job, hw_bytes file, hw_arena *into, dicom_set *out,
                                 char syntax[static HW_IMAGE_TEXT]);

/// The values of a sequence's items (or the fragments of encapsulated pixels), up to `most`.
HW_MUST_USE hw_status dicom_items(hw_job *job, const dicom_set *set, const dicom_element *sequence,
                                  int most, hw_bytes *items, int *count);

const dicom_element *dicom_find(const dicom_set *set, uint32_t tag);          // NULL: not there
uint32_t dicom_word(const dicom_set *set, hw_bytes value, int at, int bytes); // bytes: 2 or 4

/// The `index`-th number of a value of 2- or 4-byte integers; false: not there.
bool dicom_number(const dicom_set *set, uint32_t tag, int bytes, int index, int32_t *out);
bool dicom_double(const dicom_set *set, uint32_t tag, double *out);             // FD
bool dicom_decimal(const dicom_set *set, uint32_t tag, int index, double *out); // DS, IS
void dicom_text(const dicom_set *set, uint32_t tag, char out[static HW_IMAGE_TEXT]);

/// How the pixels of all frames are written.
typedef struct dicom_pixels {
    int columns, rows, frames, samples; // samples a pixel, 1 or 3
    int bits;                           // allocated, 8 or 16
    int stored;                         // bits of them that count
    bool is_signed, is_planar, is_big;
    char colour[HW_IMAGE_TEXT]; // photometric interpretation
} dicom_pixels;

/// A colour table: 2^stored or fewer entries from `first` on; beyond its ends the end's colour.
typedef struct dicom_palette {
    const unsigned char *colours; // count x {red, green, blue}
    int count, first;
} dicom_palette;

HW_MUST_USE hw_status dicom_read_palette(hw_job *job, const dicom_set *set, hw_arena *into,
                                         dicom_palette *out);

/// Decodes one frame into samples, interleaved by pixel: columns x rows x samples.
///
///   frame   its bytes, as the transfer syntax has them
///   room    for the answer
typedef hw_status dicom_decode(hw_job *job, const dicom_pixels *how, hw_bytes frame, hw_arena *tmp,
                               uint16_t *room);

dicom_decode dicom_decode_native, dicom_decode_rle, dicom_decode_jpeg, dicom_decode_jpegls,
    dicom_decode_jpeg2000;

/// A transfer syntax: how it is read, or why not.
typedef struct dicom_syntax {
    const char *uid, *name;
    dicom_decode *decode;
    bool is_encapsulated;
} dicom_syntax;

const dicom_syntax *dicom_syntax_of(const char *uid); // NULL: not known

/// JPEG of 8 bits to bytes, interleaved: 1 or 3 a pixel.
HW_MUST_USE hw_status image_decode_jpeg(hw_job *job, hw_bytes bytes, const int size[2], int samples,
                                        unsigned char *out);

#endif
