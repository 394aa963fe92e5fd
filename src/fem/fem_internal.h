// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of fem: the element, the sparse system, the beds.
#ifndef HW_FEM_INTERNAL_H
#define HW_FEM_INTERNAL_H

#include "fem/fem.h"

enum {
    NODES = HW_FEM_NODES,
    POINTS = 8,                      // integration points, 2 x 2 x 2
    PAIRS = NODES * (NODES + 1) / 2, // blocks of an element's stiffness, row >= column
};

// 1 / sqrt 3: the points of Gauss's rule of two.
#define HEX_GAUSS 0.57735026918962576451

/// One integration point of one element, undeformed.
typedef struct hex_point {
    double slopes[NODES][3]; // of the shape functions, 1/m
    double volume;           // m3 that it stands for
} hex_point;

/// First and second constant of Lame, Pa.
typedef struct lame {
    double lambda, mu;
} lame;

/// Shape functions of a corner or middle at natural coordinates, and their slopes there.
double hex_shape(int node, const double at[3], double slopes[3]);

/// Natural coordinates (-1, 0, 1) of a node.
extern const signed char hex_places[NODES][3];

/// Corners and middles of a face, anticlockwise seen from outside: 4 corners, then the middle after
/// each corner.
extern const signed char hex_faces[6][8];

/// Points of an element.
///
///   fails   false where it is turned inside out
HW_MUST_USE bool hex_prepare(const hw_fem_mesh *mesh, int element, hex_point points[POINTS]);

/// What one element needs to answer.
typedef struct hex_view {
    const hex_point *points; // POINTS of them
    const int *nodes;
    const hw_vec3 *moves; // of all nodes
    lame constants;
    bool large;
    bool slack; // leave out what stress adds to the stiffness
} hex_view;

static inline int pair_of(int a, int b) // a >= b
{
    return a * (a + 1) / 2 + b;
}

/// Stiffness: blocks[pair of (row a, column b), a >= b, at a (a + 1) / 2 + b][3 x 3 row-major],
/// N/m.
void hex_stiffness(const hex_view *view, double blocks[PAIRS][9]);

/// Adds the element's forces on its nodes to `forces`, N: what must hold them in place.
void hex_forces(const hex_view *view, double *forces);

/// True stress at the corners and middles, from the points: xx yy zz xy yz zx, Pa.
void hex_stress(const hex_view *view, double stress[NODES][6]);

/// The sparse system: pattern and order once, then values and factors. Owns memory of its own.
typedef struct sparse sparse;

/// `columns_max`: the most right-hand sides of one solve. After it sparse_close is due, whatever
/// happened.
HW_MUST_USE hw_status sparse_open(hw_job *job, const hw_fem_mesh *mesh, int columns_max,
                                  hw_arena *into, sparse **out);
void sparse_close(sparse *system);

void sparse_clear(sparse *system);
void sparse_add_element(sparse *system, int element, const double blocks[PAIRS][9]);
void sparse_add_node(sparse *system, int node, hw_vec3 way, double stiffness);

/// Adds stiffness s s^T of a bed: s = way times the shares of the face's nodes.
void sparse_add_bed(sparse *system, const hw_fem_bed *bed, double stiffness);

/// Keeps the values of now, and takes them back.
void sparse_keep(sparse *system);
void sparse_take_back(sparse *system);

/// Makes unknowns with held[k] != 0 independent of the others, then factors.
///
///   fails   HW_NO_ANSWER not positive definite; HW_NO_MEMORY
HW_MUST_USE hw_status sparse_factor(hw_job *job, sparse *system, const unsigned char *held);

/// Solves for `count` right-hand sides in place, one after the other in `columns`.
HW_MUST_USE hw_status sparse_solve(hw_job *job, sparse *system, double *columns, int count);

/// One solve: what stays the same for all cases, then the state of the one that runs.
typedef struct solver {
    hw_job *job;
    const hw_fem_model *model;
    const hw_fem_case *load;
    lame constants;
    hex_point (*points)[POINTS];
    sparse *system;
    unsigned char *held;
    bool has_factor; // of the elastic matrix alone
    bool slack;      // the last matrix is without what stress adds: it was not positive definite
    hw_vec3 *moves, *trial;
    double travel[HW_FEM_RIDERS], trial_travel[HW_FEM_RIDERS];
    double *inner;          // forces of the solid on its nodes
    double *out_of_balance; // what is missing, then also of each rider
    double missing[HW_FEM_RIDERS];
    double *pending; // given moves of held unknowns not yet made: part of the next step
    double part;     // of the step that the trial has gone
    double *columns; // 1 + riders right-hand sides
    double step_travel[HW_FEM_RIDERS];
    double share;      // of the case's loads
    double force_size; // largest force on a node or rider
    double least_size; // a force that strains an element by 1e-6; balance is never asked finer
    int iterations;
    double residual;
} solver;

static inline int unknowns(const solver *s)
{
    return 3 * s->model->mesh->node_count;
}

static inline hex_view view_of(const solver *s, int element, const hw_vec3 *moves)
{
    return (hex_view){s->points[element],
                      s->model->mesh->elements[element],
                      moves,
                      s->constants,
                      s->model->large,
                      s->slack};
}

static inline void add_vector(double *forces, int node, hw_vec3 way, double size)
{
    forces[3 * node] += size * way.x;
    forces[3 * node + 1] += size * way.y;
    forces[3 * node + 2] += size * way.z;
}

static inline bool is_free(const solver *s, int rider)
{
    return s->load->rider_loads[rider] != 0.0;
}

/// How far a rider's travel presses a bed, per metre; 0 where it stands still.
double lever(const solver *s, const hw_fem_bed *bed, int rider);

/// Strain of a bed; < 0: open.
double bed_strain(const solver *s, const hw_fem_bed *bed, const hw_vec3 *moves,
                  const double *travel);

/// Adds a force along a bed's push to its face's nodes.
void add_along_bed(const solver *s, const hw_fem_bed *bed, double *forces, double size);

/// Fills in what is out of balance at these moves.
void weigh(solver *s, const hw_vec3 *moves, const double *travel);

/// The largest force out of balance, as a part of the largest force.
double imbalance(const solver *s);

/// Stiffness of solid and springs at the moves of now.
HW_MUST_USE hw_status assemble_solid(solver *s);

/// Newton's method from the moves of now to balance.
///
///   is_first  nothing is known of which beds are pressed
///   fails     HW_NO_ANSWER not settled; HW_CANCELLED
HW_MUST_USE hw_status settle(solver *s, bool is_first);

#endif
