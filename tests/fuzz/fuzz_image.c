// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures from outside: what is read must survive its own plain form, and must be measured or refused.
#include "ultrasound/ultrasound.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

static void check(hw_job *job, const hw_image *image, hw_arena *into)
{
    hw_bytes plain = {0};
    hw_image back = {0};
    hw_us_caliper caliper = {0};
    const hw_us_ask ask = {0};
    const hw_us_point ends[2] = {{0.0, 0.0}, {image->columns - 1.0, image->rows - 1.0}};
    size_t bytes = 3 * (size_t)image->columns * (size_t)image->rows * (size_t)image->frames;
    if (hw_image_pack(job, image, into, &plain) != HW_OK) return;
    if (hw_image_unpack(job, plain, &back) != HW_OK) abort();
    if (memcmp(back.pixels, image->pixels, bytes) != 0) abort();
    if (hw_us_measure(job, image, &ask, ends, &caliper) == HW_OK && !(caliper.length_m >= 0.0))
        abort();
}

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)64 << 20);
    hw_image image = {0};
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    if (hw_image_read(&job, (hw_bytes){data, size}, into, &image) == HW_OK)
        check(&job, &image, into);
    if (hw_image_unpack(&job, (hw_bytes){data, size}, &image) == HW_OK) check(&job, &image, into);
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
