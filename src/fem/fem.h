// SPDX-License-Identifier: GPL-3.0-or-later
//
// fem: a solid of quadratic bricks under loads, on supports it may lift from; moves and stresses
// out.
//
//     hw_fem_mesh mesh = {0};
//     HW_TRY(hw_fem_sheet_mesh(job, &sheet, into, &mesh, NULL)); // from two faces' points
//     hw_fem_model model = {.mesh = &mesh, .material = {1.3e9, 0.42}, .holds = holds, ...};
//     hw_fem_case load = {.forces = forces};
//     HW_TRY(hw_fem_solve(job, &model, &load, 1, into, &answer));
//     double sink = answer.moves[middle].z;
//
// It hides the element (20 nodes, 2 x 2 x 2 points), the sparse factor and how it is reused, and
// Newton's method with its line search. Isotropic linear elasticity; with `large` set, large
// rotations too (total Lagrangian, St Venant-Kirchhoff), loads keeping their directions.
// It will not do plasticity, heat, dynamics, friction, or loads that turn with the solid.
#ifndef HW_FEM_H
#define HW_FEM_H

#include "num/num.h"

enum { HW_FEM_NODES = 20, HW_FEM_RIDERS = 8, HW_FEM_UNKNOWNS_MAX = 600000 };

/// Bricks of 20 nodes. Corners 0..3 around the lower face, 4..7 above them, anticlockwise seen from
/// above; then the middles of the edges 0-1 1-2 2-3 3-0, 4-5 5-6 6-7 7-4, 0-4 1-5 2-6 3-7.
typedef struct hw_fem_mesh {
    hw_vec3 *nodes; // m
    int node_count;
    int (*elements)[HW_FEM_NODES];
    int element_count;
} hw_fem_mesh;

/// What a structured mesh is made from: points of its lower and upper face, twice as fine as the
/// elements, so that the elements' edges bend with the faces.
typedef struct hw_fem_sheet {
    const hw_vec3 *low, *high; // [i * (2 * nv + 1) + j], i = 0..2 nu, j = 0..2 nv; m
    int nu, nv, layers;        // elements along, across, through; each >= 1
    // (direction of i) x (direction of j) must point from low to high.
} hw_fem_sheet;

/// Nodes of a sheet's faces by the index of the point they stand on; -1 where an element has none
/// (the middles of its faces).
typedef struct hw_fem_sheet_nodes {
    int *low, *high;
} hw_fem_sheet_nodes;

/// Builds it. Nodes run along i slowest.
///
///   faces   may be NULL; arrays live in `into`
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_fem_sheet_mesh(hw_job *job, const hw_fem_sheet *sheet, hw_arena *into,
                                        hw_fem_mesh *out, hw_fem_sheet_nodes *faces);

/// Faces of an element: the lower, the upper, then the sides on edges 0-1, 1-2, 2-3, 3-0.
typedef enum hw_fem_face {
    HW_FEM_LOW = 0,
    HW_FEM_HIGH,
    HW_FEM_SIDE_01,
    HW_FEM_SIDE_12,
    HW_FEM_SIDE_23,
    HW_FEM_SIDE_30,
} hw_fem_face;

/// A load spread over one face: what hangs on it and what presses on it, the undeformed face's.
typedef struct hw_fem_spread {
    hw_vec3 traction; // Pa
    double pressure;  // Pa, against the outward normal
} hw_fem_spread;

/// Adds its nodal forces, N, to `forces` (one per node of the mesh).
void hw_fem_spread_on(const hw_fem_mesh *mesh, int element, hw_fem_face face,
                      const hw_fem_spread *spread, hw_vec3 *forces);

typedef struct hw_fem_material {
    double young;   // Pa, > 0
    double poisson; // 0 .. < 0.5
} hw_fem_material;

/// A node's way along one axis (0 x, 1 y, 2 z) is given.
typedef struct hw_fem_hold {
    int node, axis;
    double move; // m
} hw_fem_hold;

/// A spring of a node to the ground that pulls and pushes.
typedef struct hw_fem_spring {
    int node;
    hw_vec3 way;      // unit
    double stiffness; // N/m
} hw_fem_spring;

/// A piece of soft ground that presses on a point of a face and never pulls. Pressure over strain
/// e: modulus / exponent (exp(exponent e) - 1), or modulus e for exponent 0; straight on from e =
/// 0.75.
typedef struct hw_fem_bed {
    int element;
    hw_fem_face face;
    double shares[8]; // of the face's nodes, corners then middles, in what happens at the point
    double area;      // m2 of the bed that belongs to the point
    hw_vec3 push;     // unit; the way in which it presses on the solid
    double gap;       // m between solid and bed at first; < 0: pressed already
    double thickness; // m, > 0
    double modulus;   // Pa, > 0
    double exponent;
    double rides[HW_FEM_RIDERS]; // shares of the riders' travels in its own; all 0: it stands still
} hw_fem_bed;

/// Where the beds of a face stand.
typedef struct hw_fem_bed_place {
    hw_vec3 point, outward; // m; unit
} hw_fem_bed_place;

enum { HW_FEM_FACE_BEDS = 4 };

/// Sets element, face, shares and area of the four beds of a face, and `push` against its outward
/// normal; the rest is the caller's. Their places go to `places`.
void hw_fem_beds_on(const hw_fem_mesh *mesh, int element, hw_fem_face face,
                    hw_fem_bed beds[HW_FEM_FACE_BEDS], hw_fem_bed_place places[HW_FEM_FACE_BEDS]);

/// Shares of a face's nodes (corners, then middles) in what happens at a place of it, each
/// coordinate -1..1: along its first edge, and along its last turned round.
void hw_fem_face_shares(const double at[2], double shares[8]);

/// The k-th node of an element's face, as the shares count them.
int hw_fem_face_node(const hw_fem_mesh *mesh, int element, hw_fem_face face, int k);

/// Pressure of a bed at a strain, Pa; 0 below 0. Its slope goes to `slope` (may be NULL), Pa.
double hw_fem_bed_pressure(const hw_fem_bed *bed, double strain, double *slope);

/// The solid and what it stands on. All counts may be 0.
typedef struct hw_fem_model {
    const hw_fem_mesh *mesh;
    hw_fem_material material;
    const hw_fem_hold *holds;
    const hw_fem_spring *springs;
    const hw_fem_bed *beds;
    int hold_count, spring_count, bed_count;
    int rider_count;                   // 0..HW_FEM_RIDERS: stiff bodies that carry beds,
    hw_vec3 rider_ways[HW_FEM_RIDERS]; // each free to move along its way (unit) only; loads > 0
    bool large;                        // with large rotations
} hw_fem_model;

typedef struct hw_fem_case {
    const hw_vec3 *forces;             // N, one per node; NULL: none
    double rider_loads[HW_FEM_RIDERS]; // N along its way; 0: it stands still
    int load_steps;                    // 0 as 1; more help where `large`
    double rider_start[HW_FEM_RIDERS]; // m, to begin with; only beside `start`
    const hw_vec3 *start;              // moves to begin with, m; NULL: none
} hw_fem_case;

typedef struct hw_fem_answer {
    hw_vec3 *moves;        // m, per node
    double (*stress)[6];   // Pa, per node: xx yy zz xy yz zx, mean of the elements that meet there
    double *von_mises;     // Pa, per node, of that mean
    hw_vec3 *reactions;    // N, per node: what holds and springs and beds give
    double *bed_pressures; // Pa, per bed
    double rider_travel[HW_FEM_RIDERS]; // m along its way
    int iterations;                     // of Newton's method, all steps
    double residual;                    // force out of balance, as a part of the load
} hw_fem_answer;

/// Solves each case on the same model.
///
///   out     `case_count` answers, in `into`
///   fails   HW_BAD_INPUT a material or mesh that is none (an element turned inside out: which);
///           HW_NO_ANSWER not held, buckling, or not settled (why: residual); HW_NO_MEMORY;
///           HW_CANCELLED
///   cost    the linear case without beds is one factor for all cases; each Newton step of a bed or
///           of `large` is one more; figures in bench/
///   source  Zienkiewicz & Taylor, The Finite Element Method (serendipity brick, reduced
///           integration); Bathe 1996, 6.3 (total Lagrangian): from memory
HW_MUST_USE hw_status hw_fem_solve(hw_job *job, const hw_fem_model *model, const hw_fem_case *cases,
                                   int case_count, hw_arena *into, hw_fem_answer *out);

#endif
