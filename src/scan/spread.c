// SPDX-License-Identifier: GPL-3.0-or-later
// How far each measure would have come out differently, had the same foot been scanned, sampled and
// posed again: seeded repetitions with the noise that the surface itself shows.
#include "scan_internal.h"

#include <stdlib.h>

enum { RUNS = 32, RUNS_LEAST = 20, THIN_POINTS = 12000, CELLS_MAX = 6000000, NOISE_PLACES = 20000 };

static const double noise_least = 0.0002;           // m: no scanner is better by much
static const double noise_most = 0.003;             // m: rougher than that is shape
static const double turned_sd = 0.05;               // rad, of the stance that is refined again
static const double cell_from = 0.5, cell_to = 1.0; // of the mean edge: a mesh as fine, or coarser
static const double cell_least = 0.0015;            // m
// Repetitions share this scan's own noise, and so differ less from it than two scans differ from
// each other. Chosen on perturbed feet as those of tests/scan/test_perturbed.c, other seeds:
// docs/repeatability.md.
static const double noise_again = 1.5, normal_95 = 1.96 * 1.06;
static const double stance_stands = 0.004; // rad; as `settled` in scan.c

double mean_edge(const hw_mesh *mesh)
{
    double sum = 0.0;
    int step = mesh->triangle_count / NOISE_PLACES + 1, count = 0;
    for (int i = 0; i < mesh->triangle_count; i += step, count++)
        sum += hw_vec3_distance(mesh->points[mesh->triangles[i][0]],
                                mesh->points[mesh->triangles[i][1]]);
    return count ? sum / count : 0.0;
}

// Grid of cells over a box; one cell more at each end, so that it may be shifted by up to one.
typedef struct cells {
    hw_vec3 low;
    double size;
    int count[3];
} cells;

static bool make_cells(const hw_mesh *mesh, double size, hw_vec3 shift, cells *out)
{
    hw_box box = hw_mesh_box(mesh);
    hw_vec3 extent = hw_vec3_sub(box.high, box.low);
    const double along[3] = {extent.x, extent.y, extent.z};
    double all = 1.0;
    for (int k = 0; k < 3; k++) {
        out->count[k] = (int)fmin(1e6, along[k] / size) + 2;
        all *= out->count[k];
    }
    out->low = hw_vec3_sub(box.low, hw_vec3_scale(shift, size));
    out->size = size;
    return all <= CELLS_MAX;
}

static int cell_of(const cells *in, hw_vec3 p)
{
    hw_vec3 at = hw_vec3_scale(hw_vec3_sub(p, in->low), 1.0 / in->size);
    return ((int)at.x * in->count[1] + (int)at.y) * in->count[2] + (int)at.z;
}

// All points of a cell become their middle; triangles that lose a corner go.
static hw_status merge_cells(hw_job *job, const hw_mesh *mesh, const cells *by, hw_arena *into,
                             hw_mesh *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    int *first = NULL, *to = NULL, *weights = NULL;
    hw_mesh merged = {0};
    HW_ALLOC(job, tmp.arena, first, by->count[0] * by->count[1] * by->count[2]);
    HW_ALLOC(job, tmp.arena, to, mesh->point_count);
    HW_ALLOC(job, tmp.arena, weights, mesh->point_count);
    HW_ALLOC(job, into, merged.points, mesh->point_count);
    HW_ALLOC(job, into, merged.triangles, mesh->triangle_count);
    for (int i = 0; i < mesh->point_count; i++) {
        int *at = &first[cell_of(by, mesh->points[i])];
        if (*at == 0) *at = ++merged.point_count;
        to[i] = *at - 1;
        weights[to[i]]++;
        merged.points[to[i]] = hw_vec3_add(merged.points[to[i]], mesh->points[i]);
    }
    for (int i = 0; i < merged.point_count; i++)
        merged.points[i] = hw_vec3_scale(merged.points[i], 1.0 / weights[i]);
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *t = mesh->triangles[i];
        int a = to[t[0]], b = to[t[1]], c = to[t[2]];
        if (a == b || b == c || c == a) continue;
        int *row = merged.triangles[merged.triangle_count++];
        row[0] = a, row[1] = b, row[2] = c;
    }
    hw_scratch_end(tmp);
    *out = merged;
    return HW_OK;
}

hw_status thin_surface(hw_job *job, const hw_mesh *surface, double edge, hw_arena *into,
                       hw_mesh *out)
{
    *out = *surface;
    if (surface->point_count <= THIN_POINTS) return HW_OK;
    cells by = {0};
    double size = edge * sqrt((double)surface->point_count / THIN_POINTS);
    if (!make_cells(surface, size, (hw_vec3){0.5, 0.5, 0.5}, &by)) return HW_OK;
    return merge_cells(job, surface, &by, into, out);
}

// What all repetitions share.
typedef struct repetition {
    const hw_mesh *thin;
    const hw_scan_result *scan;
    hw_foot_load load;
    double length, noise, edge;
    hw_foot_measures *results; // RUNS
    bool *is_good;             // RUNS
    hw_status *statuses;       // RUNS
} repetition;

static hw_mesh shaken(const repetition *of, hw_random *random, hw_vec3 *room)
{
    hw_mesh mesh = *of->thin;
    mesh.points = room;
    for (int i = 0; i < mesh.point_count; i++) {
        hw_vec3 d = {hw_random_normal(random), hw_random_normal(random), hw_random_normal(random)};
        room[i] = hw_vec3_add(of->thin->points[i], hw_vec3_scale(d, noise_again * of->noise));
    }
    return mesh;
}

// The stance of the foot frame, turned a little, so that it has to be found again.
static stance turned_stance(const repetition *of, hw_random *random)
{
    hw_vec3 x = {1.0, turned_sd * hw_random_normal(random), turned_sd * hw_random_normal(random)};
    hw_vec3 z = {turned_sd * hw_random_normal(random), turned_sd * hw_random_normal(random), 1.0};
    stance s = {.length = of->length, .is_sole_only = of->scan->is_sole_only};
    s.axes.x = hw_vec3_unit(x);
    z = hw_vec3_sub(z, hw_vec3_scale(s.axes.x, hw_vec3_dot(z, s.axes.x)));
    s.axes.z = hw_vec3_unit(z);
    s.axes.y = hw_vec3_cross(s.axes.z, s.axes.x);
    return s;
}

static hw_status repeat(hw_job *job, repetition *of, int i)
{
    hw_random random = hw_random_begin(0x5CA9 + (uint64_t)i);
    hw_arena *into = job->scratch[0];
    hw_vec3 *room = NULL;
    HW_ALLOC(job, into, room, of->thin->point_count);
    hw_mesh mesh = shaken(of, &random, room), coarse = {0};
    double share = cell_from + (cell_to - cell_from) * hw_random_uniform(&random);
    hw_vec3 shift = {hw_random_uniform(&random), hw_random_uniform(&random),
                     hw_random_uniform(&random)};
    cells by = {0};
    if (make_cells(&mesh, fmax(cell_least, share * of->edge), shift, &by))
        HW_TRY(merge_cells(job, &mesh, &by, into, &coarse));
    else
        coarse = mesh;
    double noise = 0.0;
    HW_TRY(find_noise(job, &coarse, &noise));
    HW_TRY(without_noise(job, &coarse, noise, of->length, into, &coarse));
    stance s = turned_stance(of, &random);
    if (refine_stance(coarse.points, coarse.point_count, -1.0, &s) > stance_stands) return HW_OK;
    for (int k = 0; k < coarse.point_count; k++) // into the frame found this time, m
        coarse.points[k] = hw_vec3_scale(share_of(&s, coarse.points[k]), s.length);
    // How far this person's arch comes down is not known: each repetition is another person's.
    hw_foot_load load = of->load;
    load.arch_lowering_m = hw_known(
        fmax(0.0, HW_FOOT_ARCH_LOWERING + HW_FOOT_ARCH_LOWERING_SD * hw_random_normal(&random)));
    hw_landmarks at = {0};
    find_landmarks(&coarse, s.length, s.is_sole_only, NULL, &at);
    HW_TRY(hw_foot_measure_surface(job, &coarse, &at, &load, &of->results[i]));
    of->is_good[i] = true;
    return HW_OK;
}

// In a thread of its own, with a job of its own.
static void repeat_in_parallel(void *with, int i)
{
    repetition *of = with;
    hw_job job;
    of->statuses[i] = hw_job_open(&job, (size_t)256 << 20);
    if (of->statuses[i] != HW_OK) return;
    of->statuses[i] = repeat(&job, of, i);
    hw_job_close(&job);
}

// So many times the root mean square distance from the measure as taken; unknown where it came out
// known in too few repetitions, and where it rests on a landmark placed by hand: how well a hand
// places it again, repetitions cannot tell.
static hw_maybe half_width(const repetition *of, hw_measure which)
{
    hw_maybe taken = hw_foot_measure_of(&of->scan->foot.measures, which);
    double sum = 0.0;
    int count = 0;
    taken.known = taken.known && !hw_scan_is_by_hand(of->scan, which);
    for (int i = 0; i < RUNS && taken.known; i++) {
        hw_maybe again = hw_foot_measure_of(&of->results[i], which);
        if (!of->is_good[i] || !again.known) continue;
        sum += (again.value - taken.value) * (again.value - taken.value);
        count++;
    }
    if (count < RUNS_LEAST) return (hw_maybe){0};
    return hw_known(normal_95 * sqrt(sum / count));
}

hw_status find_spread(hw_job *job, const hw_mesh *surface, const hw_foot_load *load,
                      hw_scan_result *scan)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_mesh thin = {0};
    double noise = 0.0;
    HW_TRY(find_noise(job, &scan->foot.surface, &noise));
    HW_TRY(thin_surface(job, surface, mean_edge(surface), tmp.arena, &thin));
    const hw_landmarks *at = &scan->foot.landmarks;
    double length = at->complete ? at->toe_tip.x : hw_mesh_box(surface).high.x;
    repetition of = {.thin = &thin, .scan = scan, .load = *load, .length = length};
    of.noise = fmin(noise_most, fmax(noise_least, noise));
    of.edge = mean_edge(&thin);
    HW_ALLOC(job, tmp.arena, of.results, RUNS);
    HW_ALLOC(job, tmp.arena, of.is_good, RUNS);
    HW_ALLOC(job, tmp.arena, of.statuses, RUNS);
    hw_parallel(RUNS, repeat_in_parallel, &of);
    hw_scan_spread found = {.is_known = true, .runs = RUNS, .noise_m = of.noise};
    for (int i = 0; i < RUNS; i++) {
        if (of.statuses[i] == HW_NO_MEMORY)
            return hw_fail(job, HW_NO_MEMORY, "no memory for the repetitions of the measures");
        found.lost += !of.is_good[i];
    }
    for (int k = 0; k < HW_MEASURES; k++) found.half_width_95[k] = half_width(&of, (hw_measure)k);
    hw_scratch_end(tmp);
    scan->spread = found;
    return hw_job_ask(job);
}
