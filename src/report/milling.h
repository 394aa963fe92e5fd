// SPDX-License-Identifier: GPL-3.0-or-later
// A milling program that was read again and cut in memory, for the JSON and the sheet beside it.
#ifndef HW_REPORT_MILLING_H
#define HW_REPORT_MILLING_H

#include "gcode/gcode.h"
#include "record/record.h"

enum { HW_MILLED_MAX = 2 }; // programs of a visit: a pair in one block, or one each

typedef struct hw_milled {
    const char *name; // of its file
    hw_side sides[HW_TOOLPATH_PARTS_MAX];
    int part_count;
    hw_toolpath made;
    hw_gcode_program program;
    hw_gcode_rules rules;
    hw_gcode_cut cut;
    bool is_released;
} hw_milled;

/// All programs of a visit, made by one choice.
typedef struct hw_milling {
    const hw_mill *mill;
    hw_milled programs[HW_MILLED_MAX];
    int count;
} hw_milling;

#endif
