// SPDX-License-Identifier: GPL-3.0-or-later
// The clinic's milling table (machine, blocks, tools) and what is chosen of it for one case: plain
// structs and their JSON. docs/milling.md lists the keys.
#ifndef HW_RECORD_MILL_H
#define HW_RECORD_MILL_H

#include "toolpath/toolpath.h"

enum { HW_MILL_BLOCKS_MAX = 16, HW_MILL_TOOLS_MAX = 16 };

typedef enum hw_mill_kind {
    HW_MILL_SHELL = 0, // the device itself, cut on two sides
    HW_MILL_CAST,      // a positive of the corrected sole, to draw a heated sheet over
} hw_mill_kind;

typedef struct hw_mill {
    hw_mill_machine machine;
    hw_mill_block blocks[HW_MILL_BLOCKS_MAX];
    hw_mill_tool tools[HW_MILL_TOOLS_MAX];
    int block_count, tool_count;
    hw_mill_kind kind;
    int block, rough, finish; // index of what is chosen
    double scallop_m, allowance_m;
} hw_mill;

/// "shell" or "positive cast".
const char *hw_mill_kind_word(hw_mill_kind kind);

/// A plain table to begin with, as JSON (static text, zero byte not counted): a clinic puts its own
/// in its place. Sizes and speeds are common practice, no machine's.
hw_bytes hw_mill_table(void);

/// Reads a table and a choice; what is absent (machine, blocks, tools, any of the choice) is that
/// of hw_mill_table.
///
///   json    count 0: nothing is given
///   fails   HW_BAD_FORMAT not JSON; HW_BAD_INPUT faults, all of them; HW_NO_MEMORY
HW_MUST_USE hw_status hw_mill_read(hw_job *job, hw_bytes json, hw_arena *into, hw_mill *out,
                                   hw_faults *faults);

#endif
