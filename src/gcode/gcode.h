// SPDX-License-Identifier: GPL-3.0-or-later
//
// gcode: a milling program read again, strictly, and cut in memory, before anybody may have it.
//
//     hw_gcode_program program = {0};
//     HW_TRY(hw_gcode_read(job, bytes, &rules, into, &program, &faults));    // each fault with its line
//     HW_TRY(hw_gcode_carve(job, &program, &rules, &ask, into, &cut, &faults));
//
// It knows the subset of docs/milling.md and nothing else: what it does not know, it refuses. It
// shares no code with toolpath, which writes such programs; neither module can see the other.
// Frames: that of the program, X0 Y0 the left pin, Z0 the bed; a turned block lies as (x, -y,
// height - z).
#ifndef HW_GCODE_H
#define HW_GCODE_H

#include "geom/geom.h"

/// A tool as the clinic's table has it.
typedef struct hw_gcode_tool {
    int number;
    bool is_ball; // else flat
    double radius_m, reach_m, depth_m;
    double feed_max_m_per_s, plunge_max_m_per_s, spindle_per_min;
} hw_gcode_tool;

enum { HW_GCODE_TOOLS_MAX = 8, HW_GCODE_WORDS_MAX = 8, HW_GCODE_HOLDS_MAX = 4 };
enum { HW_GCODE_KEEP_OUTS_MAX = 4, HW_GCODE_PARTS_MAX = 2, HW_GCODE_FAULTS_MAX = 40 };

/// What must hold at the machine.
typedef struct hw_gcode_rules {
    hw_box travel, stock;                     // of the tip; of the block
    double clear_z_m;                         // lowest height at which the tool may travel
    hw_box keep_outs[HW_GCODE_KEEP_OUTS_MAX]; // pins, clamps: no part of a tool enters
    int keep_out_count;
    double feed_max_m_per_s, rapid_m_per_s, acceleration_m_per_s2;
    double spindle_min_per_min, spindle_max_per_min, dwell_min_s;
    bool dwells_in_ms;
    hw_gcode_tool tools[HW_GCODE_TOOLS_MAX];
    int tool_count;
    int side_count; // 2: exactly one stop to turn the block over
    const char
        *must_say[HW_GCODE_WORDS_MAX]; // comments of the head, whole: side, code, NOT RELEASED
    int must_say_count;
} hw_gcode_rules;

/// One straight move.
typedef struct hw_gcode_move {
    hw_vec3 from, to;
    double feed_m_per_s; // 0: rapid
    int tool, side;      // index in the rules' tools; 0 or 1
    int line;
    bool in_air; // a rapid, or straight down faster than the tool may plunge: must meet no stock
} hw_gcode_move;

typedef struct hw_gcode_program {
    hw_gcode_move *moves;
    int move_count, line_count, stop_count;
    double cut_m, travel_m; // way at feed and in rapids
    double time_low_s,
        time_high_s; // without and with stops at every corner; stops for people not counted
} hw_gcode_program;

/// Reads a program and holds it against the rules. Every fault has a key "line N".
///
///   faults  at most HW_GCODE_FAULTS_MAX
///   fails   HW_BAD_INPUT there are faults;  HW_NO_MEMORY;  HW_CANCELLED
///   source  words: facts 3.3 (ISO 6983-1 by its public word lists); rules: docs/milling.md
HW_MUST_USE hw_status hw_gcode_read(hw_job *job, hw_bytes text, const hw_gcode_rules *rules,
                                    hw_arena *into, hw_gcode_program *out, hw_faults *faults);

/// A closed solid that is to come out of the block.
typedef struct hw_gcode_design {
    const hw_mesh *shape;             // program frame of the first side
    hw_box holds[HW_GCODE_HOLDS_MAX]; // tabs: what lies there may stay, and must
    int hold_count;
} hw_gcode_design;

typedef struct hw_gcode_ask {
    hw_gcode_design designs[HW_GCODE_PARTS_MAX];
    int design_count;
    double gouge_max_m; // deepest cut below the design
    double ridge_max_m; // highest ridge over it where the finishing tool reaches
    int finish_tool;    // index in the rules' tools
} hw_gcode_ask;

/// What became of one place of a design.
typedef enum hw_gcode_state {
    HW_GCODE_NOTHING = 0, // the design is not seen there
    HW_GCODE_MET,         // within what was asked
    HW_GCODE_UNREACHED,   // the ball is too big for the hollow: stock stays
    HW_GCODE_HELD,        // a tab is in the ball's way
    HW_GCODE_LEFT,        // a fault: stock stays where the ball would reach
    HW_GCODE_GOUGED,      // a fault: cut below the design
} hw_gcode_state;

/// One design seen from one side. Row j, column i: low + step * (i, j), in that side's frame.
typedef struct hw_gcode_map {
    double low_x, low_y, step;
    int columns, rows;
    float *off_m;            // normal distance of what was cut from the design, stock +, gouge -
    unsigned char *state;    // hw_gcode_state
    double gouge_m, ridge_m; // greatest; the gouge with what may hide between places
    double unreached_m;      // highest stock the ball cannot reach
    double tab_cut_m;        // deepest cut into a tab from this side
    hw_vec3 tab_cut_at;      // where, in this side's frame
    double seen_m2, unreached_m2, held_m2; // areas in plan
} hw_gcode_map;

typedef struct hw_gcode_cut {
    hw_gcode_map maps[2][HW_GCODE_PARTS_MAX]; // side, design
    double step_m;
} hw_gcode_cut;

/// Cuts the block in memory and compares it with the designs.
///
///   program  of hw_gcode_read without faults
///   fails    HW_BAD_INPUT rapids through stock, cuts too deep, gouges, stock left, tabs cut, a part cut
///            free without tabs;  HW_NO_MEMORY;  HW_CANCELLED.  `out` is filled also where the designs
///            are not met
///   cost     figures in bench/milling.md
///   source   heights over a grid; ball and flat end mill swept along straight moves in closed form
HW_MUST_USE hw_status hw_gcode_carve(hw_job *job, const hw_gcode_program *program,
                                     const hw_gcode_rules *rules, const hw_gcode_ask *ask,
                                     hw_arena *into, hw_gcode_cut *out, hw_faults *faults);

#endif
