// SPDX-License-Identifier: GPL-3.0-or-later
//
// toolpath: solids and a machine in, a milling program out.
//
//     hw_toolpath_ask ask = {.machine = &machine, .block = &block, .rough = &flat, .finish = &ball};
//     ask.scallop_m = 50e-6, ask.side_count = 2, ask.code = "HB-0042";
//     HW_TRY(hw_toolpath_make(job, parts, 2, &ask, into, &made));
//     HW_TRY(hw_file_set_add(job, &files, "pair.nc", made.program));
//
// Three axes, cutter along -Z, two sides by turning the block over about X. Program frame: X0 Y0 is
// the middle of the left registration pin, Z0 the bed the block lies on, X along the block. It
// writes, and never judges what it wrote: see gcode, which shares no code with it. It knows no
// feet.
#ifndef HW_TOOLPATH_H
#define HW_TOOLPATH_H

#include "geom/geom.h"

typedef enum hw_cutter {
    HW_CUTTER_FLAT = 0, // flat end mill
    HW_CUTTER_BALL,     // ball-nose end mill
} hw_cutter;

/// One tool as it stands in the clinic's table.
typedef struct hw_mill_tool {
    int number; // 1..99, as the machine calls it
    hw_cutter cutter;
    double radius_m;
    double reach_m;         // from the tip to the holder or to whatever is wider than the cutter
    double depth_m;         // most it cuts at a time
    double step_share;      // of its diameter, between two passes of roughing; 0..0.7
    double feed_m_per_s;    // along its way
    double plunge_m_per_s;  // the downward part of it
    double spindle_per_min; // turns
} hw_mill_tool;

/// A machine. Its travel is counted from the left pin and the bed.
typedef struct hw_mill_machine {
    const char *name;
    hw_box travel; // of the tip, m, program frame
    double rapid_m_per_s, feed_max_m_per_s, acceleration_m_per_s2;
    double spindle_min_per_min, spindle_max_per_min;
    double spindle_start_s;  // dwell after the spindle was started
    bool dwells_in_ms;       // what its control takes G4 P for; else seconds
    bool ends_lines_with_cr; // CR LF, else LF
} hw_mill_machine;

/// A block of stock on its two pins, which stand on its middle line along X.
typedef struct hw_mill_block {
    const char *name, *material;
    double length_m, width_m, height_m; // x, y, z; the height is measured before milling
    double pin_inset_m;                 // middle of a pin from the block's end
    double clamp_inset_m;               // from each end that pins and clamps need: not cut there
} hw_mill_block;

/// A closed solid to be milled: any frame, z up when the first side is cut.
typedef struct hw_toolpath_part {
    const hw_mesh *shape;
    const char *label; // in capitals, for the comments: "LEFT FOOT"
} hw_toolpath_part;

enum { HW_TOOLPATH_PARTS_MAX = 2, HW_TOOLPATH_TABS = 4 };

/// What is asked for.
typedef struct hw_toolpath_ask {
    const hw_mill_machine *machine;
    const hw_mill_block *block;
    const hw_mill_tool *rough, *finish; // a flat and a ball end mill
    double scallop_m;                   // highest ridge that finishing may leave, 5e-6..5e-4
    double allowance_m;                 // left by roughing for finishing, 2e-4..2e-3
    int side_count;                     // 2: cut free but for tabs; 1: on the block's own base
    const char *code;                   // on the program: a person's code, never a name
    bool is_released;                   // else NOT RELEASED stands in the program's head
    const char *date;                   // YYYY-MM-DD, of the visit
} hw_toolpath_ask;

/// Where a part stands in the block, program frame of the first side.
typedef struct hw_toolpath_place {
    hw_vec3 shift;                 // added to the part's points
    hw_box tabs[HW_TOOLPATH_TABS]; // what holds it, when cut on two sides
    int tab_count;
} hw_toolpath_place;

typedef struct hw_toolpath {
    hw_bytes program; // ISO 6983 subset: docs/milling.md
    hw_toolpath_place places[HW_TOOLPATH_PARTS_MAX];
    double safe_z_m;                       // where the tool travels
    double base_m;                         // one side: height of the base that is left standing
    int line_count, run_count, pass_count; // lines written; finishing runs; rows they lie on
} hw_toolpath;

/// Whether two parts lie side by side in the block's width, each with its channel. It says nothing
/// of what one of them alone may be refused for.
bool hw_toolpath_pair_fits(const hw_toolpath_part parts[2], const hw_toolpath_ask *ask);

/// The program for one or two parts in one block.
///
///   fails   HW_BAD_INPUT a tool, machine or block that cannot be used, or a part that does not fit,
///           with the measures;  HW_NO_MEMORY;  HW_CANCELLED
///   cost    figures in bench/milling.md
///   source  drop-cutter: each of vertex, edge and facet in closed form; scallop R - sqrt(R2 - s2/4)
///           (facts 7.1, 7.2: common practice)
HW_MUST_USE hw_status hw_toolpath_make(hw_job *job, const hw_toolpath_part *parts, int part_count,
                                       const hw_toolpath_ask *ask, hw_arena *into,
                                       hw_toolpath *out);

/// A closed solid under an open surface that faces up: walls straight down from its edge to a flat
/// base `below` under the edge's lowest point.
///
///   fails   HW_BAD_INPUT the surface is empty, closed, or not turned alike;  HW_NO_MEMORY
HW_MUST_USE hw_status hw_toolpath_stand(hw_job *job, const hw_mesh *surface, double below,
                                        hw_arena *into, hw_mesh *out);

/// Where a ball or flat end mill of the given radius comes to rest on a solid, exactly.
typedef struct hw_drop hw_drop;

/// `out` keeps a reference to the mesh's points.
///
///   mesh    closed; what faces down is not touched
///   fails   HW_BAD_INPUT no triangle faces up, radius not above 0;  HW_NO_MEMORY
HW_MUST_USE hw_status hw_drop_build(hw_job *job, const hw_mesh *mesh, double radius, hw_arena *into,
                                    const hw_drop **out);

/// Height of the tip with the axis over (x, y), -INFINITY where the cutter passes the solid by.
/// `contact`: the point it rests on, may be NULL.
double hw_drop_ball(const hw_drop *drop, double x, double y, hw_vec3 *contact);
/// The same for a flat end.
double hw_drop_flat(const hw_drop *drop, double x, double y);

#endif
