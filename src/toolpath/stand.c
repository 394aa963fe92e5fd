// SPDX-License-Identifier: GPL-3.0-or-later
// A solid under a surface, for what is cut on one side and stands on the block's own base.
#include "toolpath_internal.h"

hw_status hw_toolpath_stand(hw_job *job, const hw_mesh *surface, double below, hw_arena *into,
                            hw_mesh *out)
{
    const int points = surface->point_count, triangles = surface->triangle_count;
    int(*sides)[2] = NULL, side_count = 0;
    hw_mesh raw = {.point_count = 2 * points};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(hw_mesh_open_sides(job, surface, tmp.arena, &sides, &side_count));
    if (side_count == 0) return hw_fail(job, HW_BAD_INPUT, "the surface has no edge to stand on");
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
