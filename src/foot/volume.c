// SPDX-License-Identifier: GPL-3.0-or-later
// Area of the sole and volume below the ankle.
#include "foot_internal.h"

static const double ankle_height = 0.30;      // of foot length
static const double disagreement_most = 0.01; // of the volume

// Flux of (x, 0, 0) and (0, y, 0) through the part of a triangle below a height. The cut at the top
// faces up and adds nothing to either, so that it need not be closed.
typedef struct fluxes {
    double x, y;
} fluxes;

static void add_triangle(const hw_vec3 c[3], fluxes *sum)
{
    hw_vec3 n = hw_vec3_cross(hw_vec3_sub(c[1], c[0]), hw_vec3_sub(c[2], c[0])); // twice the area
    sum->x += (c[0].x + c[1].x + c[2].x) / 3.0 * 0.5 * n.x;
    sum->y += (c[0].y + c[1].y + c[2].y) / 3.0 * 0.5 * n.y;
}

// The part below the height as a fan of at most two triangles.
static void add_below(const hw_vec3 c[3], double height, fluxes *sum)
{
    hw_vec3 kept[4];
    int count = 0;
    for (int k = 0; k < 3; k++) {
        hw_vec3 a = c[k], b = c[(k + 1) % 3];
        if (a.z <= height) kept[count++] = a;
        if ((a.z <= height) != (b.z <= height))
            kept[count++] = hw_vec3_mix(a, b, (height - a.z) / (b.z - a.z));
    }
    for (int k = 2; k < count; k++)
        add_triangle((const hw_vec3[3]){kept[0], kept[k - 1], kept[k]}, sum);
}

// Only the foot itself: a leg that leans behind the heel lies above the height anyway.
void measure_volume(const hw_mesh *surface, const hw_landmarks *at, hw_foot_measures *out)
{
    double height = ankle_height * working_length(at);
    fluxes sum = {0};
    for (int i = 0; i < surface->triangle_count; i++) {
        hw_vec3 c[3];
        for (int k = 0; k < 3; k++) c[k] = surface->points[surface->triangles[i][k]];
        if (c[0].z <= height || c[1].z <= height || c[2].z <= height) add_below(c, height, &sum);
    }
    double volume = 0.5 * (sum.x + sum.y);
    bool is_high = hw_mesh_box(surface).high.z >= height;
    bool is_closed = volume > 0.0 && fabs(sum.x - sum.y) <= disagreement_most * volume;
    settle_measure(out, HW_MEASURE_VOLUME_BELOW_ANKLE, (hw_maybe){volume, is_high && is_closed},
                   is_high ? "the surface has holes below the ankle"
                           : "the scan ends below the ankle's height");
}

hw_status measure_sole_area(hw_job *job, const hw_mesh *surface, const hw_landmarks *at,
                            hw_foot_measures *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_foot_print sole = {0};
    HW_TRY(sole_heights(job, surface, working_length(at), tmp.arena, &sole));
    int count = 0;
    for (int i = 0; i < sole.size[0] * sole.size[1]; i++) count += isfinite(sole.height[i]) != 0;
    hw_scratch_end(tmp);
    settle_measure(out, HW_MEASURE_PLANTAR_AREA,
                   (hw_maybe){count * sole.cell * sole.cell, count > 0}, "there is no sole");
    return HW_OK;
}
