// SPDX-License-Identifier: GPL-3.0-or-later
#include "geom_internal.h"

#include <limits.h>
#include <stdlib.h>

bool hw_triangle_is_inside(const hw_mesh *mesh, int triangle)
{
    for (int k = 0; k < 3; k++) {
        int corner = mesh->triangles[triangle][k];
        if (corner < 0 || corner >= mesh->point_count) return false;
    }
    return true;
}

hw_vec3 hw_triangle_normal(const hw_mesh *mesh, int triangle)
{
    const int *corner = mesh->triangles[triangle];
    hw_vec3 a = mesh->points[corner[0]];
    return hw_vec3_cross(hw_vec3_sub(mesh->points[corner[1]], a),
                         hw_vec3_sub(mesh->points[corner[2]], a));
}

// The sides of a triangle; none where a corner is no point or comes twice.
static int sides_of(const hw_mesh *mesh, int triangle, hw_edge_use out[3])
{
    const int *corner = mesh->triangles[triangle];
    if (!hw_triangle_is_inside(mesh, triangle)) return 0;
    if (corner[0] == corner[1] || corner[1] == corner[2] || corner[2] == corner[0]) return 0;
    for (int k = 0; k < 3; k++) {
        int from = corner[k], to = corner[(k + 1) % 3];
        out[k] = from < to ? (hw_edge_use){from, to, 2 * triangle + 1}
                           : (hw_edge_use){to, from, 2 * triangle};
    }
    return 3;
}

static int by_high_then_triangle(const void *a, const void *b)
{
    const hw_edge_use *p = a, *q = b;
    if (p->high != q->high) return p->high < q->high ? -1 : 1;
    return (p->twice > q->twice) - (p->twice < q->twice);
}

// The uses of one low point, in the order of their triangles; a handful but for a fan.
static void sort_by_high(hw_edge_use *uses, int count)
{
    enum { FEW = 24 };
    if (count > FEW) {
        qsort(uses, (size_t)count, sizeof *uses, by_high_then_triangle);
        return;
    }
    for (int i = 1; i < count; i++) {
        hw_edge_use use = uses[i];
        int at = i;
        for (; at > 0 && uses[at - 1].high > use.high; at--) uses[at] = uses[at - 1];
        uses[at] = use;
    }
}

hw_status hw_mesh_edge_uses(hw_job *job, const hw_mesh *mesh, hw_arena *into, hw_edge_use **out,
                            int *count)
{
    if (mesh->triangle_count > INT_MAX / 3)
        return hw_fail(job, HW_BAD_INPUT, "%d triangles are more than can be checked",
                       mesh->triangle_count);
    hw_edge_use *uses = NULL, sides[3];
    HW_ALLOC(job, into, uses, 3 * mesh->triangle_count);
    hw_scratch tmp = hw_scratch_begin(job, into);
    int *ends = NULL; // of each low point's uses; shifted by one and by two while they are laid out
    HW_ALLOC(job, tmp.arena, ends, (size_t)mesh->point_count + 2);
    for (int i = 0; i < mesh->triangle_count; i++)
        for (int k = sides_of(mesh, i, sides); k-- > 0;) ends[sides[k].low + 2]++;
    for (int i = 0; i < mesh->point_count; i++) ends[i + 2] += ends[i + 1];
    for (int i = 0; i < mesh->triangle_count; i++) {
        int side_count = sides_of(mesh, i, sides);
        for (int k = 0; k < side_count; k++) uses[ends[sides[k].low + 1]++] = sides[k];
    }
    for (int i = 0; i < mesh->point_count; i++) sort_by_high(&uses[ends[i]], ends[i + 1] - ends[i]);
    *out = uses;
    *count = ends[mesh->point_count];
    hw_scratch_end(tmp);
    return HW_OK;
}

int hw_edge_use_run(const hw_edge_use *uses, int count, int at)
{
    int end = at + 1;
    while (end < count && uses[end].low == uses[at].low && uses[end].high == uses[at].high) end++;
    return end - at;
}

hw_status hw_mesh_open_sides(hw_job *job, const hw_mesh *mesh, hw_arena *into, int (**out)[2],
                             int *count)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_edge_use *uses = NULL;
    int(*found)[2] = NULL, use_count = 0, found_count = 0;
    HW_TRY(hw_mesh_edge_uses(job, mesh, tmp.arena, &uses, &use_count));
    HW_ALLOC(job, into, found, (size_t)use_count + 1);
    for (int at = 0, run; at < use_count; at += run) {
        run = hw_edge_use_run(uses, use_count, at);
        bool rises = hw_edge_use_rises(uses[at]);
        if (run > 2 || (run == 2 && rises == hw_edge_use_rises(uses[at + 1])))
            return hw_fail(job, HW_BAD_INPUT, "the surface is not turned alike everywhere");
        if (run == 2) continue;
        found[found_count][0] = rises ? uses[at].low : uses[at].high;
        found[found_count++][1] = rises ? uses[at].high : uses[at].low;
    }
    hw_scratch_end(tmp);
    *out = found;
    *count = found_count;
    return HW_OK;
}
