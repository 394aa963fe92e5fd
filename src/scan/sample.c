// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan_internal.h"

// The k-th place inside a triangle: a fixed spread that fills it evenly.
// source  from memory: Roberts 2018, the R2 low-discrepancy sequence
static hw_vec3 place_inside(const hw_mesh *mesh, int triangle, int k)
{
    double whole, u = modf(0.5 + 0.7548776662466927 * k, &whole);
    double v = modf(0.5 + 0.5698402909980532 * k, &whole);
    if (u + v > 1.0) {
        u = 1.0 - u;
        v = 1.0 - v;
    }
    const int *corner = mesh->triangles[triangle];
    hw_vec3 a = hw_vec3_scale(mesh->points[corner[0]], 1.0 - u - v);
    hw_vec3 b = hw_vec3_scale(mesh->points[corner[1]], u);
    return hw_vec3_add(hw_vec3_add(a, b), hw_vec3_scale(mesh->points[corner[2]], v));
}

hw_status sample_surface(hw_job *job, const hw_mesh *mesh, hw_arena *into, samples *out)
{
    samples found = {.area = hw_mesh_area(mesh)};
    HW_ALLOC(job, into, found.places, SAMPLES);
    HW_ALLOC(job, into, found.normals, SAMPLES);
    // One place whenever another share of the area has gone by.
    double share = found.area / SAMPLES, passed = 0.0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        hw_vec3 normal = hw_triangle_normal(mesh, i);
        passed += 0.5 * hw_vec3_norm(normal);
        for (; found.count < SAMPLES && passed > share * (found.count + 0.5); found.count++) {
            found.places[found.count] = place_inside(mesh, i, found.count);
            found.normals[found.count] = hw_vec3_unit(normal);
        }
    }
    if (found.count < SAMPLES / 2)
        return hw_fail(job, HW_BAD_INPUT, "the scan's surface has no area to speak of");
    *out = found;
    return HW_OK;
}
