// SPDX-License-Identifier: GPL-3.0-or-later
// Which kind of file it is, and what all kinds share.
#include "imagefile_internal.h"

#include <stdio.h>
#include <string.h>

#define PIXEL_BYTES_MAX ((size_t)400 << 20)

hw_status image_alloc(hw_job *job, hw_arena *into, const long size[3], hw_image *out,
                      unsigned char **pixels)
{
    if (size[0] < 1 || size[1] < 1 || size[2] < 1 || size[0] > HW_IMAGE_SIDE_MAX ||
        size[1] > HW_IMAGE_SIDE_MAX)
        return hw_fail(
            job, HW_BAD_FORMAT,
            "the picture claims %ld x %ld pixels in %ld frames; 1 to %d a side can be read",
            size[0], size[1], size[2], HW_IMAGE_SIDE_MAX);
    size_t frame = (size_t)size[0] * (size_t)size[1] * 3;
    if ((size_t)size[2] > PIXEL_BYTES_MAX / frame)
        return hw_fail(job, HW_BAD_FORMAT,
                       "%ld frames of %ld x %ld pixels are more than the 400 MB that are read; "
                       "export fewer frames",
                       size[2], size[0], size[1]);
    HW_ALLOC(job, into, *pixels, frame * (size_t)size[2]);
    out->columns = (int)size[0], out->rows = (int)size[1], out->frames = (int)size[2];
    out->pixels = *pixels;
    return HW_OK;
}

static bool begins(hw_bytes bytes, size_t at, const char *with, size_t count)
{
    return bytes.count >= at + count && memcmp(bytes.at + at, with, count) == 0;
}

hw_status hw_image_read(hw_job *job, hw_bytes bytes, hw_arena *into, hw_image *out)
{
    hw_image image = {0};
    if (begins(bytes, 128, "DICM", 4)) {
        HW_TRY(image_read_dicom(job, bytes, into, &image));
    } else if (begins(bytes, 0, "\x89PNG\r\n\x1a\n", 8)) {
        HW_TRY(image_read_png(job, bytes, into, &image));
    } else if (begins(bytes, 0, "\xff\xd8\xff", 3)) {
        HW_TRY(image_read_jpeg(job, bytes, into, &image));
    } else if (begins(bytes, 0, "II*\0", 4) || begins(bytes, 0, "MM\0*", 4)) {
        HW_TRY(image_read_tiff(job, bytes, into, &image));
    } else {
        return hw_fail(
            job, HW_BAD_FORMAT,
            "this is neither DICOM (\"DICM\" at byte 128) nor PNG, JPEG or TIFF; export the "
            "image as one of these");
    }
    *out = image;
    return HW_OK;
}

const unsigned char *hw_image_frame(const hw_image *image, int frame)
{
    HW_ASSERT(frame >= 0 && frame < image->frames);
    return image->pixels + (size_t)frame * (size_t)image->rows * (size_t)image->columns * 3;
}

double hw_image_luma(const unsigned char *pixel)
{
    return 0.299 * pixel[0] + 0.587 * pixel[1] + 0.114 * pixel[2];
}
