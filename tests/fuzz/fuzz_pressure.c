// SPDX-License-Identifier: GPL-3.0-or-later
// Plantar pressure from outside: whatever is read has regions that add up.
#include "gait/gait.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)64 << 20);
    hw_pressure_map map = {0};
    hw_pressure_measures of = {0};
    hw_gait_stance stance = {0};
    hw_pressure_ask asks[2] = {{{0.008, 0.008}, 1e3, 0.02}, {{0.0, 0.0}, 0.0, 0.0}};
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    unsigned char *bytes = malloc(size + 1);
    if (!bytes) abort();
    memcpy(bytes, data, size);
    for (int i = 0; i < 2; i++) {
        if (hw_pressure_read(&job, (hw_bytes){bytes, size}, &asks[i], into, &map) != HW_OK)
            continue;
        if (hw_pressure_measure(&job, &map, into, &of) != HW_OK) continue;
        double sum = 0.0;
        for (int k = 0; k < HW_PRESSURE_REGIONS; k++) sum += of.part[k].force_N;
        if (!(fabs(sum - of.whole.force_N) <= 1e-6 * (1.0 + of.whole.force_N))) abort();
        if (hw_pressure_stance(&job, &map, 80, into, &stance) == HW_OK &&
            !isfinite(stance.impulse_bw_s))
            abort();
    }
    free(bytes);
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
