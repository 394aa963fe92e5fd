// SPDX-License-Identifier: GPL-3.0-or-later
// An invented machine, block and tools; the same told to toolpath and, word for word, to gcode.
#ifndef HW_TESTS_TOOLPATH_BENCH_H
#define HW_TESTS_TOOLPATH_BENCH_H

#include "gcode/gcode.h"
#include "toolpath/toolpath.h"

typedef struct test_bench {
    hw_mill_machine machine;
    hw_mill_block block;
    hw_mill_tool flat, ball;
    hw_toolpath_ask ask;
} test_bench;

/// A small block of `length` x `width` x `height` m. `bench` must stay where it is.
void bench_fill(test_bench *bench, double length, double width, double height);

/// What the reader must hold a program of this bench to, and the designs where they were placed.
hw_gcode_rules bench_rules(const test_bench *bench, const hw_toolpath *made);
hw_gcode_ask bench_ask(hw_arena *into, const test_bench *bench, const hw_toolpath_part *parts,
                       int part_count, const hw_toolpath *made);

#endif
