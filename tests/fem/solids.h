// SPDX-License-Identifier: GPL-3.0-or-later
// Solids of the tests: a sheet from a formula, nodes found by place, the suites.
#ifndef HW_TESTS_FEM_SOLIDS_H
#define HW_TESTS_FEM_SOLIDS_H

#include "fem/fem.h"
#include "near.h"

enum { HOLDS_MAX = 20000 };

/// A point of the solid at u, v, w in 0..1: along, across, through.
typedef hw_vec3 (*solid_map)(double u, double v, double w, const void *with);

typedef struct solid {
    hw_test_room room;
    hw_fem_mesh mesh;
    hw_fem_sheet_nodes faces;
    int nu, nv, layers;
    hw_fem_model model;
    hw_fem_hold *holds;
    hw_vec3 *forces;
} solid;

/// Ready for supports and loads; `with` goes to the map.
solid solid_of(solid_map map, const void *with, const int counts[3], hw_fem_material material);
void solid_free(solid *of);

/// Holds one axis of a node.
void hold(solid *of, int node, int axis, double move);

/// Holds an axis of all nodes whose coordinate `where` (0 x, 1 y, 2 z) is within 1e-9 of `at`.
void hold_plane(solid *of, int where, double at, int axis);

/// The node nearest to a point.
int node_at(const solid *of, hw_vec3 point);

/// The node of a face at fine grid place i, j; the test fails where there is none.
int face_node(const solid *of, bool high, int i, int j);

hw_fem_answer solved(solid *of, int load_steps);

double coordinate(hw_vec3 point, int axis);

int run_beam_tests(void);
int run_shell_tests(void);
int run_bed_tests(void);
int run_large_tests(void);
int run_shell_row_tests(void);

#endif
