// SPDX-License-Identifier: GPL-3.0-or-later
#include "geom_internal.h"

#include <limits.h>

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

static int list_uses(const hw_mesh *mesh, hw_edge_use *uses)
{
    int count = 0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *corner = mesh->triangles[i];
        if (!hw_triangle_is_inside(mesh, i)) continue;
        if (corner[0] == corner[1] || corner[1] == corner[2] || corner[2] == corner[0]) continue;
        for (int k = 0; k < 3; k++) {
            int from = corner[k], to = corner[(k + 1) % 3];
            bool rising = from < to;
            uses[count++] = (hw_edge_use){rising ? from : to, rising ? to : from, i, rising};
        }
    }
    return count;
}

// One stable counting pass; `starts` holds point_count + 1 numbers.
static void sort_pass(const hw_edge_use *from, hw_edge_use *to, int count, bool by_low, int *starts,
                      int point_count)
{
    for (int i = 0; i <= point_count; i++) starts[i] = 0;
    for (int i = 0; i < count; i++) starts[(by_low ? from[i].low : from[i].high) + 1]++;
    for (int i = 0; i < point_count; i++) starts[i + 1] += starts[i];
    for (int i = 0; i < count; i++) to[starts[by_low ? from[i].low : from[i].high]++] = from[i];
}

hw_status hw_mesh_edge_uses(hw_job *job, const hw_mesh *mesh, hw_arena *into, hw_edge_use **out,
                            int *count)
{
    if (mesh->triangle_count > INT_MAX / 3)
        return hw_fail(job, HW_BAD_INPUT, "%d triangles are more than can be checked",
                       mesh->triangle_count);
    hw_edge_use *uses = NULL;
    HW_ALLOC(job, into, uses, 3 * mesh->triangle_count);
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_edge_use *half_sorted = NULL;
    int *starts = NULL;
    HW_ALLOC(job, tmp.arena, half_sorted, 3 * mesh->triangle_count);
    HW_ALLOC(job, tmp.arena, starts, (size_t)mesh->point_count + 1);
    int found = list_uses(mesh, uses);
    sort_pass(uses, half_sorted, found, false, starts, mesh->point_count);
    sort_pass(half_sorted, uses, found, true, starts, mesh->point_count);
    hw_scratch_end(tmp);
    *out = uses;
    *count = found;
    return HW_OK;
}

int hw_edge_use_run(const hw_edge_use *uses, int count, int at)
{
    int end = at + 1;
    while (end < count && uses[end].low == uses[at].low && uses[end].high == uses[at].high) end++;
    return end - at;
}
