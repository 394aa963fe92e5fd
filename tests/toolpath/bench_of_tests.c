// SPDX-License-Identifier: GPL-3.0-or-later
#include "bench_of_tests.h"
#include "near.h"

void bench_fill(test_bench *bench, double length, double width, double height)
{
    *bench = (test_bench){
        .machine = {.name = "test machine",
                    .travel = {{-0.1, -0.3, 0.0}, {0.6, 0.3, 0.15}},
                    .rapid_m_per_s = 0.1,
                    .feed_max_m_per_s = 0.1,
                    .acceleration_m_per_s2 = 0.5,
                    .spindle_min_per_min = 3000,
                    .spindle_max_per_min = 24000,
                    .spindle_start_s = 3.0},
        .block = {"test block", "foam", length, width, height, 0.01, 0.02},
        .flat = {1, HW_CUTTER_FLAT, 3e-3, 0.06, 4e-3, 0.45, 0.05, 0.02, 12000},
        .ball = {2, HW_CUTTER_BALL, 3e-3, 0.06, 6e-3, 0.0, 0.05, 0.02, 15000},
    };
    bench->ask = (hw_toolpath_ask){.machine = &bench->machine,
                                   .block = &bench->block,
                                   .rough = &bench->flat,
                                   .finish = &bench->ball,
                                   .scallop_m = 40e-6,
                                   .allowance_m = 0.5e-3,
                                   .side_count = 2,
                                   .code = "HB-0042",
                                   .date = "2026-03-02"};
}

static hw_gcode_tool told(const hw_mill_tool *tool)
{
    return (hw_gcode_tool){tool->number,         tool->cutter == HW_CUTTER_BALL,
                           tool->radius_m,       tool->reach_m,
                           tool->depth_m,        tool->feed_m_per_s,
                           tool->plunge_m_per_s, tool->spindle_per_min};
}

hw_gcode_rules bench_rules(const test_bench *bench, const hw_toolpath *made)
{
    const hw_mill_block *block = &bench->block;
    hw_gcode_rules rules = {
        .travel = bench->machine.travel,
        .stock = {{-block->pin_inset_m, -0.5 * block->width_m, 0.0},
                  {block->length_m - block->pin_inset_m, 0.5 * block->width_m, block->height_m}},
        .clear_z_m = block->height_m + 0.005,
        .feed_max_m_per_s = bench->machine.feed_max_m_per_s,
        .rapid_m_per_s = bench->machine.rapid_m_per_s,
        .acceleration_m_per_s2 = bench->machine.acceleration_m_per_s2,
        .spindle_min_per_min = bench->machine.spindle_min_per_min,
        .spindle_max_per_min = bench->machine.spindle_max_per_min,
        .dwell_min_s = bench->machine.spindle_start_s,
        .tools = {told(&bench->flat), told(&bench->ball)},
        .tool_count = 2,
        .side_count = bench->ask.side_count,
        .must_say = {"CODE HB-0042  DATE 2026-03-02", "PART 1: LEFT FOOT",
                     "NOT RELEASED: DO NOT MILL"},
        .must_say_count = bench->ask.is_released ? 2 : 3,
        .keep_out_count = 2,
    };
    hw_box low = rules.stock, high = rules.stock;
    low.high.x = low.low.x + block->clamp_inset_m;
    high.low.x = high.high.x - block->clamp_inset_m;
    rules.keep_outs[0] = low, rules.keep_outs[1] = high;
    assert_true(made->safe_z_m >= rules.clear_z_m);
    return rules;
}

hw_gcode_ask bench_ask(hw_arena *into, const test_bench *bench, const hw_toolpath_part *parts,
                       int part_count, const hw_toolpath *made)
{
    hw_gcode_ask ask = {.design_count = part_count,
                        .gouge_max_m = 20e-6,
                        .ridge_max_m = bench->ask.scallop_m,
                        .finish_tool = 1};
    for (int i = 0; i < part_count; i++) {
        const hw_toolpath_place *place = &made->places[i];
        hw_mesh *moved = hw_arena_take(into, 1, sizeof *moved);
        *moved = *parts[i].shape;
        moved->points = hw_arena_take(into, (size_t)moved->point_count, sizeof *moved->points);
        for (int k = 0; k < moved->point_count; k++)
            moved->points[k] = hw_vec3_add(parts[i].shape->points[k], place->shift);
        ask.designs[i].shape = moved;
        ask.designs[i].hold_count = place->tab_count;
        for (int k = 0; k < place->tab_count; k++) ask.designs[i].holds[k] = place->tabs[k];
    }
    return ask;
}
