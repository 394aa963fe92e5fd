// SPDX-License-Identifier: GPL-3.0-or-later
// Solids with known figures, for the tests of geom.
#ifndef HW_TESTS_GEOM_SHAPES_H
#define HW_TESTS_GEOM_SHAPES_H

#include "geom/geom.h"

/// Cube of the given side at the origin's positive octant: 8 points, 12 triangles, turned outward.
hw_mesh shape_cube(hw_arena *into, double side);

/// Unit sphere from an octahedron, each triangle cut in four `levels` times; closed, outward.
hw_mesh shape_sphere(hw_arena *into, int levels);

/// The same triangles with corners of their own, as a file of loose triangles has them.
hw_mesh shape_torn(hw_arena *into, const hw_mesh *mesh);

/// Random triangles in the unit cube that share nothing.
hw_mesh shape_soup(hw_arena *into, int triangle_count, uint64_t seed);

#endif
