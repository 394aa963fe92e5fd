// SPDX-License-Identifier: GPL-3.0-or-later
// What the finished device measures, so that the order sheet need not believe the order.
#include "orthosis_internal.h"

#include <float.h>

// The part of the foot's surface that can be nearest to the device: a distance tree of all of it
// would cost more than the shell.
static hw_status foot_below(hw_job *job, const hw_foot *foot, const hw_mesh *device, hw_arena *into,
                            hw_mesh *out)
{
    const double margin = 0.015; // m around the device
    const hw_mesh *whole = &foot->surface;
    hw_box box = hw_mesh_box(device);
    hw_mesh part = {.points = whole->points, .point_count = whole->point_count};
    HW_ALLOC(job, into, part.triangles, whole->triangle_count + 1);
    for (int t = 0; t < whole->triangle_count; t++) {
        const int *c = whole->triangles[t];
        double low_x =
            fmin(whole->points[c[0]].x, fmin(whole->points[c[1]].x, whole->points[c[2]].x));
        double low_z =
            fmin(whole->points[c[0]].z, fmin(whole->points[c[1]].z, whole->points[c[2]].z));
        if (low_x > box.high.x + margin || low_z > box.high.z + margin) continue;
        int *kept = part.triangles[part.triangle_count++];
        for (int k = 0; k < 3; k++) kept[k] = c[k];
    }
    *out = part;
    return HW_OK;
}

// Thickness everywhere; distance from the foot where the scan shows it.
static hw_status measure_walls(hw_job *job, const hw_foot *foot, const unsigned char *shown,
                               hw_orthosis *device)
{
    const int grid = GRID_U * GRID_V;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_mesh lower = {
        .points = device->bottom, .point_count = grid, .triangle_count = GRID_TRIANGLES};
    hw_mesh sole = {0};
    const hw_near *to_lower = NULL, *to_foot = NULL;
    HW_ALLOC(job, tmp.arena, lower.triangles, GRID_TRIANGLES);
    grid_triangles(lower.triangles);
    HW_TRY(foot_below(job, foot, &device->solid, tmp.arena, &sole));
    HW_TRY(hw_near_build(job, &lower, tmp.arena, &to_lower));
    HW_TRY(hw_near_build(job, &sole, tmp.arena, &to_foot));
    int count = 0;
    device->thickness_min_m = DBL_MAX;
    for (int k = 0; k < grid; k++) {
        double wall = hw_near_distance(to_lower, device->top[k], NULL);
        device->thickness_min_m = fmin(device->thickness_min_m, wall);
        if (shown[k] != SOLE_SHOWN) continue;
        double away = hw_near_distance(to_foot, device->top[k], NULL);
        device->deviation_max_m = fmax(device->deviation_max_m, away);
        device->deviation_mean_m += away;
        count++;
    }
    if (count > 0) device->deviation_mean_m /= count;
    hw_scratch_end(tmp);
    return HW_OK;
}

static void measure_distal(const hw_foot *foot, hw_orthosis *device)
{
    const hw_landmarks *at = &foot->landmarks;
    double slope = (at->mth5.x - at->mth1.x) / (at->mth5.y - at->mth1.y);
    device->distal_gap_min_m = DBL_MAX;
    device->distal_gap_max_m = -DBL_MAX;
    const int corner = GRID_V / 5; // rounded, so further behind
    for (int j = corner; j < GRID_V - corner; j++) {
        hw_vec3 edge = device->top[grid_index(GRID_U - 1, j)];
        double line_x = at->mth1.x + slope * (edge.y - at->mth1.y);
        double gap = line_x - edge.x - device->rounding_radius_m;
        device->distal_gap_min_m = fmin(device->distal_gap_min_m, gap);
        device->distal_gap_max_m = fmax(device->distal_gap_max_m, gap);
    }
}

// Area of the top that the scan does not show, m2.
static double filled_area(const hw_orthosis *device, const unsigned char *shown)
{
    double twice = 0.0;
    for (int t = 0; t < device->top_triangle_count; t++) {
        const int *c = device->solid.triangles[t];
        if (shown[c[0]] && shown[c[1]] && shown[c[2]]) continue; // none of them SOLE_HIDDEN
        hw_vec3 a = device->top[c[0]], ab = hw_vec3_sub(device->top[c[1]], a);
        twice += hw_vec3_norm(hw_vec3_cross(ab, hw_vec3_sub(device->top[c[2]], a)));
    }
    return 0.5 * twice;
}

// Depth of the cup behind the heel's lowest point, and what lies under that point.
static void measure_cup(const hw_foot *foot, hw_orthosis *device)
{
    double back = foot->landmarks.heel_back.x, crest = -DBL_MAX;
    int lowest = 0;
    for (int k = 0; k < GRID_U * GRID_V; k++)
        if (device->top[k].x < foot->landmarks.heel_medial.x &&
            device->top[k].z < device->top[lowest].z)
            lowest = k;
    for (int k = 0; k < device->solid.point_count; k++)
        if (device->solid.points[k].x < back + 0.015)
            crest = fmax(crest, device->solid.points[k].z);
    device->cup_depth_m = crest - device->top[lowest].z;
    device->heel_stack_m = hw_vec3_distance(device->top[lowest], device->bottom[lowest]);
}

// The plane of least squares through the bottom around the heel's middle.
static void measure_post(const hw_foot *foot, hw_orthosis *device)
{
    const hw_landmarks *at = &foot->landmarks;
    double x0 = 0.5 * (at->heel_medial.x + at->heel_lateral.x);
    double y0 = 0.5 * (at->heel_medial.y + at->heel_lateral.y);
    double a[9] = {0}, b[3] = {0};
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        const double u[3] = {1.0, device->bottom[k].x - x0, device->bottom[k].y - y0};
        if (fabs(u[1]) > 0.4 * x0 || fabs(u[2]) > 0.010) continue;
        for (int i = 0; i < 3; i++) {
            b[i] += u[i] * device->bottom[k].z;
            for (int j = 0; j < 3; j++) a[3 * i + j] += u[i] * u[j];
        }
    }
    if (hw_solve_small(3, a, b)) device->post_rad = hw_known(atan(b[2]));
}

hw_status measure_device(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                         const unsigned char *shown, hw_orthosis *device)
{
    device->volume_m3 = hw_mesh_volume(&device->solid);
    device->mass_kg = device->volume_m3 * hw_shell_material_density(order->material);
    device->lift_m = -hw_mesh_box(&device->solid).low.z;
    device->filled_area_m2 = filled_area(device, shown);
    for (int k = 0; k < GRID_LOOP; k++) device->outline[k] = device->top[grid_loop(k)];
    HW_TRY(measure_walls(job, foot, shown, device));
    measure_cup(foot, device);
    if ((order->rearfoot_post_rad != 0.0 && !order->rearfoot_intrinsic) ||
        order->heel_raise_m > 0.0)
        measure_post(foot, device); // as typed: zero is none
    if (!device->is_long && !device->is_cup) measure_distal(foot, device);
    return HW_OK;
}
