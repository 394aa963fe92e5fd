// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan_internal.h"

#include <float.h>

enum { ASK_EVERY = 512 };

static const double around = 0.03;  // m about the device in which its skin lies
static const double within = 0.001; // m
static const double heel_to = 0.28, front_from = 0.6, medial_to = 0.5; // shares
static const double first_joint = 0.73; // of foot length; facts of mechanics 1.3, common practice

const char *hw_fit_region_word(hw_fit_region region)
{
    static const char *const words[] = {"heel", "medial arch", "lateral border", "front edge"};
    HW_ASSERT(region >= 0 && region < HW_FIT_REGIONS);
    return words[region];
}

// The skin near the device, so that the tree of boxes need not hold a whole leg.
static hw_status crop(hw_job *job, const hw_mesh *surface, const hw_fit_top *top, hw_arena *into,
                      hw_mesh *out)
{
    hw_vec3 low = {DBL_MAX, DBL_MAX, DBL_MAX}, high = {-DBL_MAX, -DBL_MAX, -DBL_MAX};
    for (int i = 0; i < top->rows * top->columns; i++) {
        hw_vec3 p = top->places[i];
        low = (hw_vec3){fmin(low.x, p.x), fmin(low.y, p.y), fmin(low.z, p.z)};
        high = (hw_vec3){fmax(high.x, p.x), fmax(high.y, p.y), fmax(high.z, p.z)};
    }
    *out = (hw_mesh){.points = surface->points, .point_count = surface->point_count};
    HW_ALLOC(job, into, out->triangles, surface->triangle_count + 1);
    for (int i = 0; i < surface->triangle_count; i++) {
        const int *t = surface->triangles[i];
        hw_vec3 p = surface->points[t[0]];
        if (p.x < low.x - around || p.x > high.x + around || p.y < low.y - around ||
            p.y > high.y + around || p.z > high.z + around)
            continue;
        int *row = out->triangles[out->triangle_count++];
        row[0] = t[0], row[1] = t[1], row[2] = t[2];
    }
    if (out->triangle_count > 0) return HW_OK;
    return hw_fail(job, HW_NO_ANSWER, "no skin of this foot lies near the device");
}

// The way the top faces at a place: up, to the foot.
static hw_vec3 facing(const hw_fit_top *top, int i, int j)
{
    int back = i > 0 ? i - 1 : i, ahead = i + 1 < top->rows ? i + 1 : i;
    int medial = j > 0 ? j - 1 : j, lateral = j + 1 < top->columns ? j + 1 : j;
    const hw_vec3 *at = top->places;
    hw_vec3 along = hw_vec3_sub(at[ahead * top->columns + j], at[back * top->columns + j]);
    hw_vec3 across = hw_vec3_sub(at[i * top->columns + lateral], at[i * top->columns + medial]);
    return hw_vec3_cross(along, across);
}

static hw_fit_region region_of(const hw_landmarks *at, hw_vec3 p)
{
    double length = (at->mth1.x - at->heel_back.x) / first_joint;
    double x = (p.x - at->heel_back.x) / length;
    if (x < heel_to) return HW_FIT_HEEL;
    if (x >= front_from) return HW_FIT_FRONT;
    double across = (p.y - at->mth1.y) / (at->mth5.y - at->mth1.y);
    return across < medial_to ? HW_FIT_MEDIAL_ARCH : HW_FIT_LATERAL_BORDER;
}

static void take(hw_fit_part *part, double gap)
{
    part->mean += gap; // a sum until all are taken
    part->most_air = fmax(part->most_air, gap);
    part->most_overlap = fmax(part->most_overlap, -gap);
    part->count++;
}

static void finish(hw_fit_part *part)
{
    if (part->count > 0) part->mean /= part->count;
}

hw_status hw_scan_fit_of(hw_job *job, const hw_foot *foot, const hw_fit_top *top, hw_arena *into,
                         hw_scan_fit *out)
{
    HW_ASSERT(top->rows > 1 && top->columns > 1);
    hw_scan_fit fit = {.count = top->rows * top->columns};
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh skin = {0};
    const hw_near *near = NULL;
    double *sorted = NULL;
    int close = 0;
    HW_ALLOC(job, into, fit.gaps, fit.count);
    HW_ALLOC(job, tmp.arena, sorted, fit.count);
    HW_TRY(crop(job, &foot->surface, top, tmp.arena, &skin));
    HW_TRY(hw_near_build(job, &skin, tmp.arena, &near));
    for (int i = 0; i < fit.count; i++) {
        if (i % ASK_EVERY == 0) HW_TRY(hw_job_ask(job));
        hw_vec3 p = top->places[i], onto;
        double gap = hw_near_distance(near, p, &onto);
        // The skin behind the top, seen from where the top faces: it stands inside the foot.
        hw_vec3 to_skin = hw_vec3_sub(onto, p),
                up = facing(top, i / top->columns, i % top->columns);
        if (hw_vec3_dot(to_skin, up) < 0.0) gap = -gap;
        fit.gaps[i] = (float)gap;
        sorted[i] = gap;
        close += fabs(gap) < within;
        take(&fit.all, gap);
        take(&fit.parts[region_of(&foot->landmarks, p)], gap);
    }
    finish(&fit.all);
    for (int k = 0; k < HW_FIT_REGIONS; k++) finish(&fit.parts[k]);
    fit.median = hw_quantile(sorted, fit.count, 0.5);
    fit.within_1 = (double)close / fit.count;
    hw_scratch_end(tmp);
    *out = fit;
    return HW_OK;
}
