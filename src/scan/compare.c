// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan_internal.h"

#include <stdlib.h>

enum { POINTS = 4000, ROUNDS = 60, BLOCK = 2048, POINTS_LEAST = 300 };

static const double kept_share = 0.8;     // of the points, those that fit best
static const double ankle = 0.3;          // of foot length; above it nothing is compared
static const double still = 1e-8;         // rad and m: a step that counts as none
static const double within = 0.001;       // m
static const double residual_most = 0.01; // m: beyond, it is not one foot twice

typedef struct pairs {
    hw_vec3 *places, *normals; // of the second, its own frame, m
    hw_vec3 *moved, *faced;    // the same under the pose
    hw_vec3 *onto;             // closest points of the first
    double *distances, *sorted;
    int count;
} pairs;

static hw_status take_points(hw_job *job, const hw_foot *foot, hw_arena *into, pairs *out)
{
    samples all = {0};
    double height = ankle * hw_mesh_box(&foot->surface).high.x;
    HW_TRY(sample_surface(job, &foot->surface, into, &all));
    out->places = all.places;
    out->normals = all.normals;
    for (int i = 0; i < all.count && out->count < POINTS; i++) {
        if (all.places[i].z > height) continue;
        out->places[out->count] = all.places[i];
        out->normals[out->count++] = all.normals[i];
    }
    HW_ALLOC(job, into, out->moved, out->count + 1);
    HW_ALLOC(job, into, out->faced, out->count + 1);
    HW_ALLOC(job, into, out->onto, out->count + 1);
    HW_ALLOC(job, into, out->distances, out->count + 1);
    HW_ALLOC(job, into, out->sorted, out->count + 1);
    if (out->count >= POINTS_LEAST) return HW_OK;
    return hw_fail(job, HW_NO_ANSWER, "the scans share too little surface to be compared");
}

// A rotation by a small vector, then made orthogonal again.
static hw_pose small_pose(const double x[6])
{
    hw_vec3 r = {x[0], x[1], x[2]};
    double angle = hw_vec3_norm(r), s = sin(angle), c = 1.0 - cos(angle);
    hw_pose pose = hw_pose_identity();
    pose.shift = (hw_vec3){x[3], x[4], x[5]};
    if (angle < 1e-15) return pose;
    hw_vec3 k = hw_vec3_scale(r, 1.0 / angle);
    const double cross[9] = {0, -k.z, k.y, k.z, 0, -k.x, -k.y, k.x, 0};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            double square = 0.0;
            for (int m = 0; m < 3; m++) square += cross[3 * i + m] * cross[3 * m + j];
            pose.rotation[3 * i + j] += s * cross[3 * i + j] + c * square;
        }
    return pose;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// Closest points under the pose, and the distance beyond which points are left out.
static double pair_up(const hw_near *near, const hw_pose *pose, pairs *of)
{
    for (int i = 0; i < of->count; i++) {
        of->moved[i] = hw_pose_point(pose, of->places[i]);
        of->faced[i] = hw_pose_direction(pose, of->normals[i]);
        of->distances[i] = hw_near_distance(near, of->moved[i], &of->onto[i]);
        of->sorted[i] = of->distances[i];
    }
    qsort(of->sorted, (size_t)of->count, sizeof *of->sorted, by_size);
    return of->sorted[(int)(kept_share * (of->count - 1))];
}

// The small motion that brings the kept points nearest to the planes of their partners.
static bool best_step(const pairs *of, double most, double step[6], double *square)
{
    double a[36] = {0}, b[6] = {0}, sum = 0.0;
    int kept = 0;
    for (int i = 0; i < of->count; i++) {
        if (of->distances[i] > most) continue;
        hw_vec3 n = of->faced[i], arm = hw_vec3_cross(of->moved[i], n);
        double rest = hw_vec3_dot(hw_vec3_sub(of->onto[i], of->moved[i]), n);
        const double row[6] = {arm.x, arm.y, arm.z, n.x, n.y, n.z};
        for (int k = 0; k < 36; k++) a[k] += row[k / 6] * row[k % 6];
        for (int k = 0; k < 6; k++) b[k] += row[k] * rest;
        sum += rest * rest;
        kept++;
    }
    for (int k = 0; k < 6; k++) step[k] = b[k];
    *square = kept ? sum / kept : 0.0;
    return kept > 6 && hw_solve_small(6, a, step);
}

static hw_status lay_onto(hw_job *job, const hw_near *near, pairs *of, hw_scan_comparison *out)
{
    out->second_to_first = hw_pose_identity();
    for (; out->rounds < ROUNDS && !out->is_settled; out->rounds++) {
        double step[6], square = 0.0, size = 0.0;
        HW_TRY(hw_job_ask(job));
        double most = pair_up(near, &out->second_to_first, of);
        if (!best_step(of, most, step, &square)) break;
        hw_pose move = small_pose(step);
        out->second_to_first = hw_pose_chain(&out->second_to_first, &move);
        out->residual = sqrt(square);
        for (int k = 0; k < 6; k++) size = fmax(size, fabs(step[k]));
        out->is_settled = size < still;
    }
    if (out->rounds > 0 && out->residual < residual_most) return HW_OK;
    return hw_fail(
        job, HW_NO_ANSWER,
        "the two scans do not lie on each other (%.1f mm apart at best): are they of feet "
        "of one size?",
        hw_mm_from_m(out->residual));
}

// Deviations of a block of points, on any thread.
typedef struct deviation_work {
    const hw_near *near;
    const hw_mesh *surface;
    const hw_vec3 *normals;
    const hw_pose *pose;
    float *out;
} deviation_work;

static void deviate(void *with, int block)
{
    const deviation_work *w = with;
    int end = (block + 1) * BLOCK;
    if (end > w->surface->point_count) end = w->surface->point_count;
    for (int i = block * BLOCK; i < end; i++) {
        hw_vec3 closest, p = hw_pose_point(w->pose, w->surface->points[i]);
        double distance = hw_near_distance(w->near, p, &closest);
        hw_vec3 n = hw_pose_direction(w->pose, w->normals[i]);
        bool inside = hw_vec3_dot(hw_vec3_sub(p, closest), n) < 0.0;
        w->out[i] = (float)(inside ? -distance : distance);
    }
}

static hw_status find_deviations(hw_job *job, const hw_near *near, const hw_foot *second,
                                 hw_arena *into, hw_scan_comparison *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    const hw_mesh *surface = &second->surface;
    hw_vec3 *normals = NULL;
    double *sizes = NULL, height = ankle * hw_mesh_box(surface).high.x;
    HW_ALLOC(job, tmp.arena, normals, surface->point_count);
    HW_ALLOC(job, tmp.arena, sizes, surface->point_count);
    HW_ALLOC(job, into, out->deviations, surface->point_count);
    out->deviation_count = surface->point_count;
    hw_mesh_add_normals(surface, normals);
    deviation_work work = {near, surface, normals, &out->second_to_first, out->deviations};
    hw_parallel((surface->point_count + BLOCK - 1) / BLOCK, deviate, &work);
    for (int i = 0; i < surface->point_count; i++) {
        if (surface->points[i].z > height) continue;
        double size = fabs((double)out->deviations[i]);
        out->within_1 += size < within;
        sizes[out->compared_count++] = size;
    }
    if (out->compared_count > 0) {
        out->within_1 /= out->compared_count;
        out->median = hw_quantile(sizes, out->compared_count, 0.5);
        out->p95 = hw_quantile(sizes, out->compared_count, 0.95);
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_scan_difference difference_of(const hw_scan_result *a, const hw_scan_result *b,
                                        hw_measure which)
{
    hw_scan_difference d = {.first = hw_foot_measure_of(&a->foot.measures, which),
                            .second = hw_foot_measure_of(&b->foot.measures, which)};
    if (d.first.known && d.second.known) d.difference = hw_known(d.second.value - d.first.value);
    hw_maybe wide[2] = {a->spread.half_width_95[which], b->spread.half_width_95[which]};
    if (d.difference.known && wide[0].known && wide[1].known) {
        d.half_width_95 = hw_known(hypot(wide[0].value, wide[1].value));
        d.is_larger = fabs(d.difference.value) > d.half_width_95.value;
    }
    return d;
}

hw_status hw_scan_compare(hw_job *job, const hw_scan_result *first, const hw_scan_result *second,
                          hw_arena *into, hw_scan_comparison *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_scan_comparison found = {0};
    const hw_near *near = NULL;
    pairs points = {0};
    HW_TRY(hw_near_build(job, &first->foot.surface, tmp.arena, &near));
    HW_TRY(take_points(job, &second->foot, tmp.arena, &points));
    HW_TRY(lay_onto(job, near, &points, &found));
    HW_TRY(find_deviations(job, near, &second->foot, into, &found));
    for (int i = 0; i < HW_MEASURES; i++)
        found.differences[i] = difference_of(first, second, (hw_measure)i);
    hw_scratch_end(tmp);
    *out = found;
    return HW_OK;
}
