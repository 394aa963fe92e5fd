// SPDX-License-Identifier: GPL-3.0-or-later
#include "gcode/gcode.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

// A small block, so that what is read can be carved too.
static const hw_gcode_rules rules = {
    .travel = {{-0.1, -0.1, 0.0}, {0.1, 0.1, 0.05}},
    .stock = {{0.0, -0.01, 0.0}, {0.02, 0.01, 0.01}},
    .clear_z_m = 0.015,
    .feed_max_m_per_s = 0.1,
    .rapid_m_per_s = 0.1,
    .acceleration_m_per_s2 = 0.5,
    .spindle_min_per_min = 1,
    .spindle_max_per_min = 30000,
    .dwell_min_s = 1.0,
    .tools = {{1, true, 3e-3, 0.04, 9e-3, 0.05, 0.02, 12000},
              {2, false, 3e-3, 0.04, 9e-3, 0.05, 0.02, 12000}},
    .tool_count = 2,
    .side_count = 1,
};

// A program that passed must hold only moves inside the machine's travel, and none below the bed.
int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)64 << 20);
    if (!into || hw_job_open(&job, (size_t)64 << 20) != HW_OK) abort();
    hw_gcode_program program = {0};
    hw_gcode_cut cut = {0};
    hw_faults faults = {.into = into};
    hw_gcode_ask ask = {.finish_tool = 0};
    hw_status status = hw_gcode_read(&job, (hw_bytes){data, size}, &rules, into, &program, &faults);
    for (int i = 0; status == HW_OK && i < program.move_count; i++) {
        const hw_gcode_move *move = &program.moves[i];
        if (move->to.z < -1e-5 || fabs(move->to.x) > 0.1001 || fabs(move->to.y) > 0.1001) abort();
        if (move->feed_m_per_s == 0.0 && move->from.z < 0.0149 && move->to.z < 0.0149) abort();
    }
    if (status == HW_OK && program.move_count < 200)
        status = hw_gcode_carve(&job, &program, &rules, &ask, into, &cut, &faults);
    if (status == HW_BAD_INPUT && faults.count == 0) abort();
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
