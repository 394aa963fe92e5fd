// SPDX-License-Identifier: GPL-3.0-or-later
// Noise taken off a surface without drawing it together.
#include "geom_internal.h"

#include <string.h>

// source  from memory: Taubin 1995, a signal processing approach to fair surface design: a step towards
//         the neighbours' mean and a slightly larger one back; waves longer than about ten edges stay
static const double towards = 0.5, back = -0.53;

void hw_mesh_add_neighbours(const hw_mesh *mesh, const hw_vec3 *of, hw_vec3 *sums, int *counts)
{
    for (int i = 0; i < mesh->triangle_count; i++)
        for (int k = 0; k < 3; k++) {
            const int *t = mesh->triangles[i];
            hw_vec3 both = hw_vec3_add(of[t[(k + 1) % 3]], of[t[(k + 2) % 3]]);
            sums[t[k]] = hw_vec3_add(sums[t[k]], both);
            if (counts) counts[t[k]] += 2;
        }
}

// How many neighbours each point has in those sums; 0 for points at an open edge, which stay.
static hw_status count_neighbours(hw_job *job, const hw_mesh *mesh, hw_arena *scratch, int *counts)
{
    hw_edge_use *uses = NULL;
    int count = 0;
    HW_TRY(hw_mesh_edge_uses(job, mesh, scratch, &uses, &count));
    for (int i = 0; i < mesh->triangle_count; i++)
        for (int k = 0; k < 3; k++) counts[mesh->triangles[i][k]] += 2;
    for (int at = 0; at < count;) {
        int run = hw_edge_use_run(uses, count, at);
        if (run == 1) counts[uses[at].low] = counts[uses[at].high] = 0;
        at += run;
    }
    return HW_OK;
}

hw_status hw_mesh_smooth(hw_job *job, const hw_mesh *mesh, int rounds, hw_arena *into, hw_mesh *out)
{
    hw_mesh smooth = *mesh;
    HW_ALLOC(job, into, smooth.points, mesh->point_count);
    memcpy(smooth.points, mesh->points, (size_t)mesh->point_count * sizeof *smooth.points);
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_vec3 *sums = NULL;
    int *counts = NULL;
    HW_ALLOC(job, tmp.arena, sums, mesh->point_count);
    HW_ALLOC(job, tmp.arena, counts, mesh->point_count);
    HW_TRY(count_neighbours(job, mesh, tmp.arena, counts));
    for (int step = 0; step < 2 * rounds; step++) {
        double share = step % 2 ? back : towards;
        HW_TRY(hw_job_ask(job));
        memset(sums, 0, (size_t)mesh->point_count * sizeof *sums);
        hw_mesh_add_neighbours(mesh, smooth.points, sums, NULL);
        for (int i = 0; i < mesh->point_count; i++) {
            if (counts[i] == 0) continue;
            hw_vec3 mean = hw_vec3_scale(sums[i], 1.0 / counts[i]);
            smooth.points[i] = hw_vec3_mix(smooth.points[i], mean, share);
        }
    }
    hw_scratch_end(tmp);
    *out = smooth;
    return HW_OK;
}
