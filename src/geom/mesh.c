// SPDX-License-Identifier: GPL-3.0-or-later
#include "geom_internal.h"

#include <float.h>
#include <string.h>

hw_box hw_mesh_box(const hw_mesh *mesh)
{
    hw_box box = {{DBL_MAX, DBL_MAX, DBL_MAX}, {-DBL_MAX, -DBL_MAX, -DBL_MAX}};
    for (int i = 0; i < mesh->point_count; i++) {
        hw_vec3 p = mesh->points[i];
        box.low =
            (hw_vec3){hw_least(box.low.x, p.x), hw_least(box.low.y, p.y), hw_least(box.low.z, p.z)};
        box.high =
            (hw_vec3){hw_most(box.high.x, p.x), hw_most(box.high.y, p.y), hw_most(box.high.z, p.z)};
    }
    return box;
}

hw_status hw_mesh_place(hw_job *job, const hw_mesh *mesh, const hw_pose *pose, hw_arena *into,
                        hw_mesh *out)
{
    hw_mesh placed = {.point_count = mesh->point_count, .triangle_count = mesh->triangle_count};
    HW_ALLOC(job, into, placed.points, mesh->point_count);
    HW_ALLOC(job, into, placed.triangles, mesh->triangle_count);
    for (int i = 0; i < mesh->point_count; i++)
        placed.points[i] = hw_pose_point(pose, mesh->points[i]);
    HW_TRY(hw_mesh_keep_colours(job, mesh, NULL, into, &placed));
    bool turn_over = hw_pose_mirrors(pose);
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *corner = mesh->triangles[i];
        placed.triangles[i][0] = corner[0];
        placed.triangles[i][1] = corner[turn_over ? 2 : 1];
        placed.triangles[i][2] = corner[turn_over ? 1 : 2];
    }
    *out = placed;
    return HW_OK;
}

hw_status hw_mesh_keep_colours(hw_job *job, const hw_mesh *mesh, const int *number, hw_arena *into,
                               hw_mesh *out)
{
    if (!mesh->colours) return HW_OK;
    HW_ALLOC(job, into, out->colours, out->point_count + 1);
    for (int i = 0; i < mesh->point_count; i++) {
        int to = number ? number[i] : i + 1;
        if (to > 0) memcpy(out->colours[to - 1], mesh->colours[i], sizeof *out->colours);
    }
    return HW_OK;
}

double hw_mesh_volume(const hw_mesh *mesh)
{
    double six_volumes = 0.0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *corner = mesh->triangles[i];
        hw_vec3 a = mesh->points[corner[0]], b = mesh->points[corner[1]];
        six_volumes += hw_vec3_dot(a, hw_vec3_cross(b, mesh->points[corner[2]]));
    }
    return six_volumes / 6.0;
}

double hw_mesh_area(const hw_mesh *mesh)
{
    double twice_area = 0.0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *corner = mesh->triangles[i];
        hw_vec3 a = mesh->points[corner[0]];
        hw_vec3 ab = hw_vec3_sub(mesh->points[corner[1]], a);
        twice_area += hw_vec3_norm(hw_vec3_cross(ab, hw_vec3_sub(mesh->points[corner[2]], a)));
    }
    return 0.5 * twice_area;
}

void hw_mesh_add_normals(const hw_mesh *mesh, hw_vec3 *normals)
{
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *t = mesh->triangles[i];
        const hw_vec3 n = hw_triangle_normal(mesh, i);
        for (int k = 0; k < 3; k++) normals[t[k]] = hw_vec3_add(normals[t[k]], n);
    }
}
