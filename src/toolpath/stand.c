// SPDX-License-Identifier: GPL-3.0-or-later
// A solid under a surface, for what is cut on one side and stands on the block's own base.
#include "toolpath_internal.h"

#include <stdlib.h>

// A directed side of a triangle.
typedef struct side_end {
    int low, high;
    bool is_rising; // it runs from low to high
} side_end;

static int by_ends(const void *a, const void *b)
{
    const side_end *one = a, *other = b;
    if (one->low != other->low) return one->low < other->low ? -1 : 1;
    if (one->high != other->high) return one->high < other->high ? -1 : 1;
    return one->is_rising - other->is_rising;
}

static bool is_same(const side_end *one, const side_end *other)
{
    return one->low == other->low && one->high == other->high;
}

// The sides that belong to one triangle only, as {from, to} in that triangle's direction.
static hw_status open_sides(hw_job *job, const hw_mesh *surface, hw_arena *into, int (**out)[2],
                            int *count)
{
    const int all = 3 * surface->triangle_count;
    side_end *ends = NULL;
    int(*found)[2] = NULL;
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, ends, all + 1);
    HW_ALLOC(job, into, found, all + 1);
    for (int i = 0; i < all; i++) {
        int a = surface->triangles[i / 3][i % 3], b = surface->triangles[i / 3][(i + 1) % 3];
        ends[i] = (side_end){a < b ? a : b, a < b ? b : a, a < b};
    }
    qsort(ends, (size_t)all, sizeof *ends, by_ends);
    *count = 0;
    for (int i = 0, run; i < all; i += run) {
        for (run = 1; i + run < all && is_same(&ends[i], &ends[i + run]);) run++;
        if (run > 2 || (run == 2 && ends[i].is_rising == ends[i + 1].is_rising))
            return hw_fail(job, HW_BAD_INPUT, "the surface is not turned alike everywhere");
        if (run == 2) continue;
        found[*count][0] = ends[i].is_rising ? ends[i].low : ends[i].high;
        found[*count][1] = ends[i].is_rising ? ends[i].high : ends[i].low;
        (*count)++;
    }
    hw_scratch_end(tmp);
    if (*count == 0) return hw_fail(job, HW_BAD_INPUT, "the surface has no edge to stand on");
    *out = found;
    return HW_OK;
}

hw_status hw_toolpath_stand(hw_job *job, const hw_mesh *surface, double below, hw_arena *into,
                            hw_mesh *out)
{
    const int points = surface->point_count, triangles = surface->triangle_count;
    int(*sides)[2] = NULL, side_count = 0;
    hw_mesh raw = {.point_count = 2 * points};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(open_sides(job, surface, tmp.arena, &sides, &side_count));
    double floor_z = INFINITY;
    for (int k = 0; k < side_count; k++) floor_z = fmin(floor_z, surface->points[sides[k][0]].z);
    HW_ALLOC(job, tmp.arena, raw.points, raw.point_count);
    HW_ALLOC(job, tmp.arena, raw.triangles, 2 * triangles + 2 * side_count);
    for (int i = 0; i < points; i++) {
        raw.points[i] = raw.points[points + i] = surface->points[i];
        raw.points[points + i].z = floor_z - below;
    }
    for (int t = 0; t < triangles; t++) {
        const int *c = surface->triangles[t];
        const int up[3] = {c[0], c[1], c[2]},
                  down[3] = {points + c[0], points + c[2], points + c[1]};
        for (int k = 0; k < 3; k++)
            raw.triangles[t][k] = up[k], raw.triangles[triangles + t][k] = down[k];
    }
    raw.triangle_count = 2 * triangles;
    for (int k = 0; k < side_count; k++) {
        int a = sides[k][0], b = sides[k][1];
        const int wall[2][3] = {{b, a, points + a}, {b, points + a, points + b}};
        for (int half = 0; half < 2; half++, raw.triangle_count++)
            for (int c = 0; c < 3; c++) raw.triangles[raw.triangle_count][c] = wall[half][c];
    }
    // Points that no triangle uses go, and with them those of surfaces that are part of another.
    HW_TRY(hw_mesh_weld(job, &raw, 0.0, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}
