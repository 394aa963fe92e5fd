// SPDX-License-Identifier: GPL-3.0-or-later
// The noise of a scanner, seen on the surface itself, and what is measured without it.
#include "scan_internal.h"

#include <stdlib.h>

enum { NOISE_PLACES = 20000, ROUNDS_MOST = 5 };

static const double equilateral = 2.3094; // edge squared over area of such a triangle: 4 / sqrt(3)
// Of foot length, about 0.2 mm: below it smoothing gives nothing that a measure would show.
static const double worth_smoothing = 0.0007;
// Rounds by noise over the length of an edge: fine meshes bear many, on coarse ones a toe would
// shrink. Chosen on tests/scan/test_perturbed.c.
static const double rounds_by_roughness = 22.0;
static const double noise_moves_most = 3.0; // of its sd, across the surface: further is shape

static void less_their_mean(const hw_mesh *mesh, const int *counts, hw_vec3 *sums, hw_vec3 *values)
{
    for (int i = 0; i < mesh->point_count; i++) {
        if (counts[i] == 0) continue;
        hw_vec3 mean = hw_vec3_scale(sums[i], 1.0 / counts[i]);
        values[i] = hw_vec3_sub(values[i], mean);
        sums[i] = (hw_vec3){0};
    }
}

// Noise across the surface, m (sd): the median of what is left of each point when the mean of its
// neighbours is taken away twice, so that an even curvature leaves nothing. A regular mesh of six
// neighbours turns noise of 1 into 1.359 so; a normal spread's median is 1 / 1.4826 of its sd.
hw_status find_noise(hw_job *job, const hw_mesh *mesh, double *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_vec3 *values = NULL, *sums = NULL, *normals = NULL;
    int *counts = NULL, n = mesh->point_count, found = 0;
    double *rest = NULL;
    HW_ALLOC(job, tmp.arena, values, n);
    HW_ALLOC(job, tmp.arena, sums, n);
    HW_ALLOC(job, tmp.arena, normals, n);
    HW_ALLOC(job, tmp.arena, counts, n);
    HW_ALLOC(job, tmp.arena, rest, NOISE_PLACES + 1);
    for (int i = 0; i < n; i++) values[i] = mesh->points[i];
    hw_mesh_add_neighbours(mesh, values, sums, counts);
    less_their_mean(mesh, counts, sums, values);
    hw_mesh_add_neighbours(mesh, values, sums, NULL);
    less_their_mean(mesh, counts, sums, values);
    hw_mesh_add_normals(mesh, normals);
    int step = n / NOISE_PLACES + 1;
    for (int i = 0; i < n; i += step)
        rest[found++] = fabs(hw_vec3_dot(values[i], hw_vec3_unit(normals[i])));
    *out = found ? hw_quantile(rest, found, 0.5) * 1.4826 / 1.359 : 0.0;
    hw_scratch_end(tmp);
    return HW_OK;
}

// Noise moves a point across the surface by little more than its own size: what smoothing moved
// further was shape, as the tip of a toe on a coarse mesh, and goes back where it was.
static hw_status give_shape_back(hw_job *job, const hw_mesh *mesh, double most, hw_mesh *smooth)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_vec3 *normals = NULL;
    HW_ALLOC(job, tmp.arena, normals, mesh->point_count);
    hw_mesh_add_normals(smooth, normals);
    for (int i = 0; i < mesh->point_count; i++) {
        hw_vec3 moved = hw_vec3_sub(smooth->points[i], mesh->points[i]);
        double across = fabs(hw_vec3_dot(moved, hw_vec3_unit(normals[i])));
        if (across > most) smooth->points[i] = mesh->points[i];
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status without_noise(hw_job *job, const hw_mesh *mesh, double noise, double length,
                        hw_arena *into, hw_mesh *out)
{
    const hw_mesh rough = *mesh; // `out` may be the same
    *out = rough;
    if (noise < worth_smoothing * length || rough.triangle_count == 0) return HW_OK;
    double edge = sqrt(hw_mesh_area(&rough) / rough.triangle_count * equilateral);
    int rounds = (int)fmin(ROUNDS_MOST, rounds_by_roughness * noise / edge);
    if (rounds < 1) return HW_OK;
    HW_TRY(hw_mesh_smooth(job, &rough, rounds, into, out));
    return give_shape_back(job, &rough, noise_moves_most * noise, out);
}
