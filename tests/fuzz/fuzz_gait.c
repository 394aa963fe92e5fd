// SPDX-License-Identifier: GPL-3.0-or-later
// Recorded walks from outside: what is read must survive its own plain form, and any stance found in it must be one.
#include "gait/gait.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

static void check(hw_job *job, const hw_gait_record *record, hw_arena *into)
{
    hw_bytes plain = {0};
    hw_gait_record back = {0};
    hw_gait_stance stance = {0};
    if (hw_gait_pack(job, record, into, &plain) != HW_OK) return;
    // Numbers beyond what the plain form takes (not finite) may be refused there, never changed.
    if (hw_gait_unpack(job, plain, into, &back) == HW_OK &&
        back.marker_count != record->marker_count)
        abort();
    for (int plate = 0; plate < record->plate_count; plate++) {
        hw_gait_walker walker = {.mass_kg = 80, .foot_length_m = 0.26, .plate = plate};
        if (record->marker_count > 1)
            walker.names.heel = record->names[0], walker.names.head_1 = record->names[1];
        if (hw_gait_find_stance(job, record, &walker, &stance) != HW_OK) continue;
        if (!(stance.end_s > stance.begin_s)) abort();
        for (int i = 0; i < HW_GAIT_INSTANTS; i++)
            if (!isfinite(stance.force_z[i]) ||
                (stance.has_pressure && !isfinite(stance.pressure_x[i])))
                abort();
    }
}

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)256 << 20);
    hw_gait_record record = {0};
    const hw_gait_ask ask = {.m_per_unit = 1e-3};
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    unsigned char *bytes = malloc(size + 1); // of its exact size, so that an overrun is seen
    if (!bytes) abort();
    memcpy(bytes, data, size);
    if (hw_gait_read(&job, (hw_bytes){bytes, size}, &ask, into, &record) == HW_OK)
        check(&job, &record, into);
    if (hw_gait_unpack(&job, (hw_bytes){bytes, size}, into, &record) == HW_OK)
        check(&job, &record, into);
    free(bytes);
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
