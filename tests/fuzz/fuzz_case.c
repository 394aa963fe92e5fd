// SPDX-License-Identifier: GPL-3.0-or-later
#include "record/record.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)64 << 20);
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    hw_visit visit = {0};
    hw_faults faults = {.into = into};
    hw_status status = hw_visit_read(&job, (hw_bytes){data, size}, into, &visit, &faults);
    // What is read without a fault must stand: code and a foot are there.
    if (status == HW_OK && (!visit.code || (!visit.feet[0].is_given && !visit.feet[1].is_given)))
        abort();
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
