// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of toolpath: a side of a part, ways of the tip over it, and their links.
#ifndef HW_TOOLPATH_INTERNAL_H
#define HW_TOOLPATH_INTERNAL_H

#include "toolpath/toolpath.h"

/// The starting points of all sides where the surface that faces up ends: the outline seen from
/// above.
HW_MUST_USE hw_status drop_rim(hw_job *job, const hw_drop *drop, hw_arena *into, hw_vec3 **out,
                               int *count);

/// A way the tip goes at feed without leaving the stock: m, program frame of its side.
typedef struct mill_way {
    hw_vec3 *points;
    int count;
    double air; // height over its first point down to which the tool meets nothing
} mill_way;

typedef struct mill_ways {
    mill_way *ways;
    int count;
} mill_ways;

/// What roughing leaves, at the places of its grid; from above.
typedef struct mill_left {
    double low_x, low_y, grid;
    int nx, ny;
    double *height; // row by row
} mill_left;

/// One side of one part, as it lies when it is cut.
typedef struct mill_side {
    const hw_mesh *shape; // the part alone
    const hw_mesh *tabs;  // NULL: none
    hw_box stock;         // of the whole block
    double floor;         // lowest that roughing goes beside the part
    bool is_open;         // all of the stock beside the part goes, not only a channel
    double clamp;         // from the stock's ends along x that stay
    mill_left left;       // filled by roughing
} mill_side;

/// Grid of roughing, and how far from the part's outline its channel's outer wall stands.
double rough_grid(const hw_toolpath_ask *ask);
double rough_channel(const hw_toolpath_ask *ask);

/// Layers from the top down, each a zigzag that rides over the part and its allowance; entered by
/// ramps. Fills side->left.
HW_MUST_USE hw_status rough_side(hw_job *job, mill_side *side, const hw_toolpath_ask *ask,
                                 hw_arena *into, mill_ways *out);

/// A zigzag of the ball over the part, with rows put in between where two are too far apart for the
/// scallop.
HW_MUST_USE hw_status finish_side(hw_job *job, const mill_side *side, const hw_toolpath_ask *ask,
                                  hw_arena *into, mill_ways *out, hw_toolpath *facts);

/// How the tip gets from one end of a way to the next without leaving the surface.
typedef struct link_rule {
    double longest; // m; further apart: over the stock
    double step;    // between two looks
    /// Tip height over (x, y) on the way; INFINITY: it must not go there.
    double (*height)(const void *with, double x, double y);
    const void *with;
    double ceiling; // a link that would rise above goes over the stock
} link_rule;

/// The same ways in an order of short travel, turned about where that helps, joined where the rule
/// allows.
HW_MUST_USE hw_status link_ways(hw_job *job, const mill_ways *runs, const link_rule *rule,
                                hw_arena *into, mill_ways *out);

/// Drops points that lie within `tolerance` of the straight line between others; in place, returns
/// how many are left.
int way_simplify(hw_vec3 *points, int count, double tolerance);

/// The parts' places, their tabs, floors and heights.
typedef struct mill_layout {
    hw_toolpath_place places[HW_TOOLPATH_PARTS_MAX];
    mill_side sides[2][HW_TOOLPATH_PARTS_MAX];
    double safe, base;
} mill_layout;

HW_MUST_USE hw_status lay_out_parts(hw_job *job, const hw_toolpath_part *parts, int part_count,
                                    const hw_toolpath_ask *ask, hw_arena *into, mill_layout *out);

/// The ways of both sides as text.
typedef struct mill_work {
    mill_ways rough[2][HW_TOOLPATH_PARTS_MAX], finish[2][HW_TOOLPATH_PARTS_MAX];
} mill_work;

HW_MUST_USE hw_status write_program(hw_job *job, const hw_toolpath_part *parts, int part_count,
                                    const hw_toolpath_ask *ask, const mill_work *work,
                                    hw_arena *into, hw_toolpath *out);

#endif
