// SPDX-License-Identifier: GPL-3.0-or-later
// What geom's own files share and no caller needs.
#ifndef HW_GEOM_INTERNAL_H
#define HW_GEOM_INTERNAL_H

#include "geom/geom.h"

/// One side of one triangle. `low` < `high` are its ends.
typedef struct hw_edge_use {
    int low, high;
    int twice; // 2 triangle + 1 where that runs from low to high
} hw_edge_use;

static inline int hw_edge_use_triangle(hw_edge_use use)
{
    return use.twice / 2;
}

static inline bool hw_edge_use_rises(hw_edge_use use)
{
    return use.twice % 2;
}

/// All sides of all triangles, sorted by (low, high) and then by triangle, so that the uses of one
/// edge stand together. Triangles with a corner outside the points or with a repeated corner are
/// left out. A fan of n triangles around one point costs n log n.
HW_MUST_USE hw_status hw_mesh_edge_uses(hw_job *job, const hw_mesh *mesh, hw_arena *into,
                                        hw_edge_use **out, int *count);

/// How many uses from `at` on belong to the same edge.
int hw_edge_use_run(const hw_edge_use *uses, int count, int at);

/// True where all three corners are points of the mesh.
bool hw_triangle_is_inside(const hw_mesh *mesh, int triangle);

/// Root of `i` in a forest of disjoint sets; halves the path on its way.
static inline int hw_set_root(int *parent, int i)
{
    while (parent[i] != i) {
        parent[i] = parent[parent[i]];
        i = parent[i];
    }
    return i;
}

#endif
