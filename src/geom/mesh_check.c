// SPDX-License-Identifier: GPL-3.0-or-later
#include "geom_internal.h"

#include <string.h>

static const double flat_area = 1e-14; // m2: a sliver of 0.1 micrometre squared

static void count_edges(const hw_edge_use *uses, int count, hw_mesh_faults *faults)
{
    for (int at = 0; at < count;) {
        int run = hw_edge_use_run(uses, count, at);
        if (run == 1) faults->open_edges++;
        if (run > 2) faults->crowded_edges++;
        if (run == 2 && hw_edge_use_rises(uses[at]) == hw_edge_use_rises(uses[at + 1]))
            faults->clashing_edges++;
        at += run;
    }
}

static void count_triangles(const hw_mesh *mesh, bool *used, hw_mesh_faults *faults)
{
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *corner = mesh->triangles[i];
        if (!hw_triangle_is_inside(mesh, i)) {
            for (int k = 0; k < 3; k++)
                faults->bad_indices += corner[k] < 0 || corner[k] >= mesh->point_count;
            continue;
        }
        for (int k = 0; k < 3; k++) used[corner[k]] = true;
        double area = 0.5 * hw_vec3_norm(hw_triangle_normal(mesh, i));
        faults->flat_triangles += !(area >= flat_area); // not a number is flat, too
    }
}

static uint64_t hash_point(hw_vec3 p)
{
    uint64_t hash = 0x9E3779B97F4A7C15u;
    double xyz[3] = {p.x + 0.0, p.y + 0.0, p.z + 0.0}; // -0 becomes 0: they are one place
    for (int k = 0; k < 3; k++) {
        uint64_t bits;
        memcpy(&bits, &xyz[k], sizeof bits);
        hash = (hash ^ bits) * 0xBF58476D1CE4E5B9u;
        hash ^= hash >> 29;
    }
    return hash;
}

static hw_status count_double_points(hw_job *job, const hw_mesh *mesh, hw_arena *scratch,
                                     int *doubles)
{
    size_t size = 16;
    while (size < 2 * (size_t)mesh->point_count) size *= 2;
    int *slots = NULL; // 1 + index of a point, 0 = free
    HW_ALLOC(job, scratch, slots, size);
    for (int i = 0; i < mesh->point_count; i++) {
        hw_vec3 p = mesh->points[i];
        size_t at = hash_point(p) & (size - 1);
        for (; slots[at]; at = (at + 1) & (size - 1)) {
            hw_vec3 q = mesh->points[slots[at] - 1];
            if (p.x == q.x && p.y == q.y && p.z == q.z) break;
        }
        if (slots[at])
            ++*doubles;
        else
            slots[at] = i + 1;
    }
    return HW_OK;
}

hw_status hw_mesh_check(hw_job *job, const hw_mesh *mesh, hw_mesh_faults *out)
{
    hw_mesh_faults faults = {0};
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    bool *used = NULL;
    HW_ALLOC(job, tmp.arena, used, mesh->point_count);
    count_triangles(mesh, used, &faults);
    for (int i = 0; i < mesh->point_count; i++) faults.loose_points += !used[i];
    HW_TRY(count_double_points(job, mesh, tmp.arena, &faults.double_points));
    hw_edge_use *uses = NULL;
    int count = 0;
    HW_TRY(hw_mesh_edge_uses(job, mesh, tmp.arena, &uses, &count));
    count_edges(uses, count, &faults);
    hw_scratch_end(tmp);
    *out = faults;
    return HW_OK;
}
