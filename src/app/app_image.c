// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app.h"

// Films of scanners reach some hundred megabytes.
#define IMAGE_BYTES_MAX ((size_t)512 << 20)

hw_status hw_app_image(hw_job *job, hw_bytes file, const hw_image_ask *ask, hw_arena *into,
                       hw_image_result *out)
{
    hw_image_result result = {.ask = *ask};
    hw_bytes plain = file;
    hw_us_traced *trace = NULL;
    if (!hw_image_is_packed(file)) HW_TRY(hw_app_read(job, HW_APP_READ_IMAGE, file, into, &plain));
    HW_TRY(hw_image_unpack(job, plain, &result.image));
    if (ask->measure.frame < 0 || ask->measure.frame >= result.image.frames)
        return hw_fail(job, HW_BAD_INPUT, "there is no frame %d; the picture has %d",
                       ask->measure.frame + 1, result.image.frames);
    if (ask->has_caliper)
        HW_TRY(hw_us_measure(job, &result.image, &ask->measure, ask->caliper, &result.caliper));
    if (ask->has_box)
        HW_TRY(hw_us_trace(job, &result.image, &ask->measure, &ask->box, into, &trace));
    result.trace = trace;
    *out = result;
    return HW_OK;
}

hw_status hw_app_image_at(hw_job *job, const char *path, const hw_image_ask *ask, hw_arena *into,
                          hw_image_result *out)
{
    hw_bytes file = {0};
    HW_TRY(hw_file_read(job, path, IMAGE_BYTES_MAX, into, &file));
    return hw_app_image(job, file, ask, into, out);
}

hw_status hw_app_image_png(hw_job *job, const hw_image_result *result, hw_arena *into,
                           hw_bytes *out)
{
    const hw_image *image = &result->image;
    int frame = result->ask.measure.frame;
    const int size[2] = {image->columns, image->rows};
    unsigned char *drawn = NULL;
    if (!result->trace) return hw_image_png(job, hw_image_frame(image, frame), size, into, out);
    HW_TRY(hw_us_draw(job, image, frame, result->trace, into, &drawn));
    return hw_image_png(job, drawn, size, into, out);
}
