// SPDX-License-Identifier: GPL-3.0-or-later
#include "geom_internal.h"

#include <stdlib.h>

typedef struct piece {
    double area;
    int first_triangle; // breaks ties, so that the order is always the same
    int root;
} piece;

static int larger_first(const void *a, const void *b)
{
    const piece *p = a, *q = b;
    if (p->area != q->area) return p->area > q->area ? -1 : 1;
    return p->first_triangle < q->first_triangle ? -1 : p->first_triangle > q->first_triangle;
}

static void join_corners(const hw_mesh *mesh, int *parent)
{
    for (int i = 0; i < mesh->point_count; i++) parent[i] = i;
    for (int i = 0; i < mesh->triangle_count; i++) {
        int a = hw_set_root(parent, mesh->triangles[i][0]);
        for (int k = 1; k < 3; k++) {
            int b = hw_set_root(parent, mesh->triangles[i][k]);
            if (a > b) {
                parent[a] = b;
                a = b;
            } else {
                parent[b] = a;
            }
        }
    }
}

// Fills `pieces` in order of first triangle; `number` (zeroed, per point): 1 + piece at each root.
static int list_pieces(const hw_mesh *mesh, int *parent, int *number, piece *pieces)
{
    int count = 0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        int root = hw_set_root(parent, mesh->triangles[i][0]);
        if (!number[root]) {
            pieces[count++] = (piece){.first_triangle = i, .root = root};
            number[root] = count;
        }
        pieces[number[root] - 1].area += 0.5 * hw_vec3_norm(hw_triangle_normal(mesh, i));
    }
    return count;
}

hw_status hw_mesh_pieces(hw_job *job, const hw_mesh *mesh, hw_arena *into, int **piece_of_triangle,
                         int *piece_count)
{
    int *of_triangle = NULL;
    HW_ALLOC(job, into, of_triangle, mesh->triangle_count);
    hw_scratch tmp = hw_scratch_begin(job, into);
    int *parent = NULL, *number = NULL;
    piece *pieces = NULL;
    HW_ALLOC(job, tmp.arena, parent, mesh->point_count);
    HW_ALLOC(job, tmp.arena, number, mesh->point_count);
    HW_ALLOC(job, tmp.arena, pieces, mesh->triangle_count);
    join_corners(mesh, parent);
    int count = list_pieces(mesh, parent, number, pieces);
    qsort(pieces, (size_t)count, sizeof *pieces, larger_first);
    for (int i = 0; i < count; i++) number[pieces[i].root] = i;
    for (int i = 0; i < mesh->triangle_count; i++)
        of_triangle[i] = number[hw_set_root(parent, mesh->triangles[i][0])];
    hw_scratch_end(tmp);
    *piece_of_triangle = of_triangle;
    *piece_count = count;
    return HW_OK;
}
