// SPDX-License-Identifier: GPL-3.0-or-later
// Closed solids with known figures for the tests of toolpath and gcode.
#ifndef HW_TESTS_TOOLPATH_SOLIDS_H
#define HW_TESTS_TOOLPATH_SOLIDS_H

#include "geom/geom.h"

/// A closed box, m.
hw_mesh solid_box(hw_arena *into, hw_box box);

/// A ball of `bands` bands from pole to pole and twice as many round.
hw_mesh solid_ball(hw_arena *into, hw_vec3 middle, double radius, int bands);

/// A cylinder that lies along x with `sides` sides, its corners on the radius.
hw_mesh solid_bar(hw_arena *into, double length, double radius, int sides);

/// A closed sheet over the rectangle |x| <= half[0], |y| <= half[1]: its top is top(x, y), its bottom one
/// `thickness` lower, its rim full-round as a shell's; `cells` along x.
hw_mesh solid_sheet(hw_arena *into, const double half[2], double thickness, int cells,
                    double (*top)(double x, double y));

#endif
