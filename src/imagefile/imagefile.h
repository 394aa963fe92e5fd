// SPDX-License-Identifier: GPL-3.0-or-later
//
// imagefile: pictures from outside: DICOM (native, RLE, JPEG, JPEG-LS, JPEG 2000; grey, palette,
// RGB, YBR; one frame or many) and screen grabs as PNG, JPEG or TIFF. It owns the libraries of
// these codecs.
//
//     hw_image image = {0};
//     HW_TRY(hw_image_read(job, file, into, &image));        // only in the sandboxed child
//     HW_TRY(hw_image_pack(job, &image, into, &plain));      // what crosses to the parent
//     HW_TRY(hw_image_unpack(job, plain, into, &image));     // anywhere: no codec, checked bounds
//
// It says what a file holds and measures nothing: whether a length may be read off a picture is the
// module ultrasound's to say. It has no encryption, no network and no DICOM writing.
#ifndef HW_IMAGEFILE_H
#define HW_IMAGEFILE_H

#include "base/base.h"
#include <stdint.h>

enum {
    HW_IMAGE_REGIONS = 32,   // of one file
    HW_IMAGE_SIDE_MAX = 8192 // columns and rows
};

/// A part of the picture with its own scale, as DICOM PS3.3 C.8.5.5 writes it (one item of the
/// sequence 0018,6011). Codes and numbers stand as in the file.
typedef struct hw_image_region {
    int32_t spatial_format; // 1: two-dimensional; 2 M-mode; 3 spectral; 4 waveform; 5 graphics
    int32_t data_type;      // 1: tissue
    int32_t min_x, min_y, max_x, max_y; // pixels of the whole picture
    int32_t units_x, units_y;           // 3: cm, the only unit of length; 0: none
    double delta_x, delta_y;            // units per pixel, may be negative
    bool is_complete;                   // all that the standard demands was there
} hw_image_region;

enum { HW_IMAGE_TEXT = 68 };

/// What the file says of whom and what it shows; "" where it says nothing. For a person to compare.
typedef struct hw_image_about {
    char kind[HW_IMAGE_TEXT]; // "DICOM, JPEG baseline", "PNG"
    char patient_name[HW_IMAGE_TEXT], patient_id[HW_IMAGE_TEXT], birth_date[HW_IMAGE_TEXT];
    char study_date[HW_IMAGE_TEXT];
    char laterality[HW_IMAGE_TEXT]; // "L", "R"
    char body_part[HW_IMAGE_TEXT];
    char burned_in[HW_IMAGE_TEXT]; // "YES", "NO": whether names may stand in the pixels
} hw_image_about;

/// A picture, or a film of several frames of one size.
typedef struct hw_image {
    int columns, rows, frames;
    const unsigned char *pixels; // frames x rows x columns x {red, green, blue}, top row first
    hw_image_about about;
    hw_image_region regions[HW_IMAGE_REGIONS];
    int region_count;
    hw_maybe row_spacing_m, column_spacing_m; // PixelSpacing (0028,0030): between rows, columns
    bool is_spacing_calibrated;               // PixelSpacingCalibrationType (0028,0A02) is there
    bool is_lossy;                            // was compressed with loss
} hw_image;

/// Reads a file of any of the kinds above.
///
///   bytes   untrusted: called in the sandboxed child, and by tests
///   out     pixels in `into`
///   fails   HW_BAD_FORMAT what is wrong and where, with the remedy for encodings that are not read
///           (deflated, video, lossless JPEG of process 14, high-throughput JPEG 2000); HW_NO_MEMORY
///   cost    decodes all frames; at most 400 MB of pixels
///   source  DICOM PS3.3 C.7.6.3, C.8.5.5, PS3.5 7, 8, annex G
HW_MUST_USE hw_status hw_image_read(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out);

/// The picture as plain bytes: "HWI1", a head of fixed size, pixels.
HW_MUST_USE hw_status hw_image_pack(hw_job *job, const hw_image *image, hw_arena *into,
                                    hw_bytes *out);

/// Back; `pixels` stay in `bytes`.
///
///   fails   HW_BAD_FORMAT
HW_MUST_USE hw_status hw_image_unpack(hw_job *job, hw_bytes bytes, hw_image *out);

/// Whether `bytes` are a packed picture.
bool hw_image_is_packed(hw_bytes bytes);

/// Pixels {red, green, blue} of one frame as a PNG; the same pixels give the same bytes.
///
///   size    columns, rows
HW_MUST_USE hw_status hw_image_png(hw_job *job, const unsigned char *pixels, const int size[2],
                                   hw_arena *into, hw_bytes *out);

/// The first pixel of a frame, 0..frames-1.
const unsigned char *hw_image_frame(const hw_image *image, int frame);

/// Brightness 0..255 of the pixel at `pixels`: the mean of a grey picture's three equal bytes, else
/// ITU-R BT.601's weights.
double hw_image_luma(const unsigned char *pixel);

#endif
