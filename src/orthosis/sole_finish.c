// SPDX-License-Identifier: GPL-3.0-or-later
// From distances along rays to a surface: holes closed, scanner noise smoothed, undercuts filled.
#include "orthosis_internal.h"

/// Where a filter may look: rows beyond the chart's rim repeat the rim.
static double at_clamped(const sole_chart *chart, const double *field, int i, int j)
{
    i = i < 0 ? 0 : i >= chart->na ? chart->na - 1 : i;
    j = j < 0 ? 0 : j >= chart->nb ? chart->nb - 1 : j;
    return field[i * chart->nb + j];
}

/// First guess in holes: each unseen sample next to known ones takes their mean, ring by ring.
/// `order` lists the samples so filled.
static int fill_by_rings(sole_chart *chart, int *order, unsigned char *known)
{
    int filled = 0, before = -1, size = chart->na * chart->nb;
    for (int k = 0; k < size; k++) known[k] = chart->seen[k] != SOLE_HIDDEN;
    while (filled != before) {
        before = filled;
        for (int k = 0; k < size; k++) {
            if (known[k]) continue;
            int i = k / chart->nb, j = k % chart->nb, count = 0;
            double sum = 0.0;
            for (int di = -1; di <= 1; di++)
                for (int dj = -1; dj <= 1; dj++) {
                    int ni = i + di, nj = j + dj;
                    if (ni < 0 || nj < 0 || ni >= chart->na || nj >= chart->nb) continue;
                    int n = ni * chart->nb + nj;
                    if (known[n] == 1) sum += chart->distance[n], count++;
                }
            if (count < 2) continue;
            chart->distance[k] = sum / count;
            known[k] = 2; // counts as known from the next ring on
            order[filled++] = k;
        }
        for (int m = before; m < filled; m++) known[order[m]] = 1;
    }
    return filled;
}

/// The Laplacian of the field, rim repeated; unit: field per sample squared.
static double bend(const sole_chart *chart, const double *field, int k)
{
    int i = k / chart->nb, j = k % chart->nb;
    return at_clamped(chart, field, i - 1, j) + at_clamped(chart, field, i + 1, j) +
           at_clamped(chart, field, i, j - 1) + at_clamped(chart, field, i, j + 1) - 4.0 * field[k];
}

/// A hole's samples and what the thin-plate solve needs of them.
typedef struct plate {
    const sole_chart *chart;
    const int *holes;
    int count;
    double *bends; // Laplacian, whole chart
} plate;

/// out = (bending energy's gradient) at the holes for a field on the whole chart.
static void plate_apply(const plate *p, const double *field, double *out)
{
    const int nb = p->chart->nb, size = p->chart->na * nb;
    for (int m = 0; m < p->count; m++) {
        static const int reach[5][2] = {{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}};
        for (int s = 0; s < 5; s++) {
            int n = p->holes[m] + reach[s][0] * nb + reach[s][1];
            if (n >= 0 && n < size) p->bends[n] = bend(p->chart, field, n);
        }
    }
    for (int m = 0; m < p->count; m++) out[m] = bend(p->chart, p->bends, p->holes[m]);
}

static double dot(const double *a, const double *b, int count)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++) sum += a[i] * b[i];
    return sum;
}

/// Bends the holes' first guess into the least bent plate that meets its rim in height and slope, by
/// conjugate gradients. A plate keeps the curvature of the heel where a soap film would flatten it.
static hw_status bend_holes(hw_job *job, sole_chart *chart, const int *holes, int count)
{
    const int size = chart->na * chart->nb, rounds_max = 400;
    const double enough = 1e-5; // of the first residual: far below scanner noise
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    double *r = NULL, *step = NULL, *image = NULL, *spread = NULL;
    plate p = {chart, holes, count, NULL};
    HW_ALLOC(job, tmp.arena, p.bends, size);
    HW_ALLOC(job, tmp.arena, spread, size);
    HW_ALLOC(job, tmp.arena, r, count + 1);
    HW_ALLOC(job, tmp.arena, step, count + 1);
    HW_ALLOC(job, tmp.arena, image, count + 1);
    plate_apply(&p, chart->distance, r);
    for (int m = 0; m < count; m++) step[m] = r[m] = -r[m];
    double residual = dot(r, r, count), first = residual;
    for (int round = 0; round < rounds_max && residual > enough * enough * first; round++) {
        for (int m = 0; m < count; m++) spread[holes[m]] = step[m];
        plate_apply(&p, spread, image);
        double stride = residual / dot(step, image, count);
        for (int m = 0; m < count; m++) chart->distance[holes[m]] += stride * step[m];
        for (int m = 0; m < count; m++) r[m] -= stride * image[m];
        double next = dot(r, r, count);
        for (int m = 0; m < count; m++) step[m] = r[m] + next / residual * step[m];
        residual = next;
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

/// Holes that the device may touch and that are enclosed; what lies beyond the scan keeps its rings.
static int choose_holes(const sole_chart *chart, int *order, int filled)
{
    int count = 0;
    for (int m = 0; m < filled; m++) {
        int i = order[m] / chart->nb, j = order[m] % chart->nb;
        chart_place at = {chart->a_first + i * CHART_STEP, chart->b_first + j * CHART_STEP};
        bool rim = i < 3 || j < 3 || i > chart->na - 4 || j > chart->nb - 4;
        if (!rim && sole_angle(&chart->axis, at) < 0.9 * ANGLE_MAX) order[count++] = order[m];
    }
    return count;
}

static hw_status fill_holes(hw_job *job, sole_chart *chart)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    int *order = NULL, size = chart->na * chart->nb;
    unsigned char *known = NULL;
    HW_ALLOC(job, tmp.arena, order, size);
    HW_ALLOC(job, tmp.arena, known, size);
    int filled = fill_by_rings(chart, order, known);
    for (int k = 0; k < size; k++)
        if (!known[k])
            return hw_fail(job, HW_BAD_INPUT,
                           "the scan shows nothing of the sole; is its pose right?");
    int count = choose_holes(chart, order, filled);
    HW_TRY(bend_holes(job, chart, order, count));
    hw_scratch_end(tmp);
    return HW_OK;
}

enum { KERNEL = 12 }; // samples to each side: three of the widest standard deviations

typedef struct filter {
    double weight[2 * KERNEL + 1];
    int reach; // samples to each side that count
} filter;

static filter make_filter(double sd)
{
    filter of = {.reach = (int)ceil(3.0 * sd)};
    double sum = 0.0;
    for (int d = -of.reach; d <= of.reach; d++) sum += exp(-0.5 * d * d / (sd * sd));
    for (int d = -of.reach; d <= of.reach; d++)
        of.weight[d + KERNEL] = exp(-0.5 * d * d / (sd * sd)) / sum;
    return of;
}

/// One row or column of `count` values, `stride` apart; beyond its ends the end is repeated.
static void blur_line(const filter *by, const double *from, int count, int stride, double *to)
{
    for (int i = 0; i < count; i++) {
        double sum = 0.0;
        for (int d = -by->reach; d <= by->reach; d++) {
            int at = i + d < 0 ? 0 : i + d >= count ? count - 1 : i + d;
            sum += by->weight[d + KERNEL] * from[at * stride];
        }
        to[i * stride] = sum;
    }
}

static void blur(const sole_chart *chart, const filter *by, const double *from, double *tmp,
                 double *to)
{
    const int na = chart->na, nb = chart->nb;
    for (int i = 0; i < na; i++) blur_line(by, from + i * nb, nb, 1, tmp + i * nb);
    for (int j = 0; j < nb; j++) blur_line(by, tmp + j, na, nb, to + j);
}

/// A blur, with what it took away blurred and given back once: curvature is kept, the error is of
/// fourth order (Tukey's "twicing"; from memory: Stuetzle 1979).
static hw_status smoothed(hw_job *job, const sole_chart *chart, double sd, double *out)
{
    hw_scratch scratch = hw_scratch_begin(job, NULL);
    const filter by = make_filter(sd);
    int size = chart->na * chart->nb;
    double *lost = NULL, *tmp = NULL;
    HW_ALLOC(job, scratch.arena, lost, size);
    HW_ALLOC(job, scratch.arena, tmp, size);
    blur(chart, &by, chart->distance, tmp, out);
    for (int k = 0; k < size; k++) lost[k] = chart->distance[k] - out[k];
    blur(chart, &by, lost, tmp, lost);
    for (int k = 0; k < size; k++) out[k] += lost[k];
    hw_scratch_end(scratch);
    return HW_OK;
}

/// Standard deviation of the scan about `smooth`, where it shows the flat of the sole, m.
static double roughness(const sole_chart *chart, const double *smooth)
{
    double squares = 0.0;
    int count = 0;
    for (int k = 0; k < chart->na * chart->nb; k++) {
        int i = k / chart->nb, j = k % chart->nb;
        chart_place at = {chart->a_first + i * CHART_STEP, chart->b_first + j * CHART_STEP};
        if (chart->seen[k] != SOLE_SHOWN || sole_angle(&chart->axis, at) > 0.6) continue;
        double away = chart->distance[k] - smooth[k];
        squares += away * away;
        count++;
    }
    return count > 0 ? sqrt(squares / count) : 0.0;
}

/// A filter of 2 mm leaves a fifth of a scanner's noise. A scan rougher than 0.1 mm gets a wider one,
/// up to 4 mm, so that the shell stays smooth; a clean scan keeps all its detail.
static hw_status smooth(hw_job *job, sole_chart *chart)
{
    const double least = 2.0, most = 4.0, calm = 0.0001; // samples, samples, m
    hw_scratch scratch = hw_scratch_begin(job, NULL);
    int size = chart->na * chart->nb;
    double *once = NULL;
    HW_ALLOC(job, scratch.arena, once, size);
    HW_TRY(smoothed(job, chart, least, once));
    double sd = fmin(most, least * sqrt(roughness(chart, once) / calm));
    if (sd > least) HW_TRY(smoothed(job, chart, sd, once));
    for (int k = 0; k < size; k++) chart->distance[k] = once[k];
    hw_scratch_end(scratch);
    return HW_OK;
}

static double distance_at(const sole_chart *chart, chart_place at)
{
    double u = fmin(chart->na - 1.001, fmax(0.0, (at.a - chart->a_first) / CHART_STEP));
    double v = fmin(chart->nb - 1.001, fmax(0.0, (at.b - chart->b_first) / CHART_STEP));
    int i = (int)u, j = (int)v;
    const double *d = chart->distance + i * chart->nb + j;
    u -= i, v -= j;
    return (d[0] * (1.0 - v) + d[1] * v) * (1.0 - u) +
           (d[chart->nb] * (1.0 - v) + d[chart->nb + 1] * v) * u;
}

/// How far out from the centre line, seen from above, the wall stands at a place: at least as far as
/// anywhere below it. A rigid cup that closed over the heel could not be put on.
static double upright_reach(const sole_chart *chart, chart_place at, double angle)
{
    const double from = 1.0, step = 0.02; // rad; no foot is undercut below 57 degrees
    double reach = 0.0;
    chart_place start = {fmax(at.a, chart->axis.heel.x), 0.0};
    for (double below = from; below <= angle; below += step) {
        double share = below / angle;
        chart_place there = {start.a + (at.a - start.a) * share, at.b * share};
        reach = fmax(reach, distance_at(chart, there) * sin(below));
    }
    return reach;
}

static void make_points(sole_chart *chart)
{
    for (int i = 0; i < chart->na; i++)
        for (int j = 0; j < chart->nb; j++) {
            chart_place at = {chart->a_first + i * CHART_STEP, chart->b_first + j * CHART_STEP};
            hw_vec3 centre, ray = sole_ray(&chart->axis, at, &centre);
            double angle = sole_angle(&chart->axis, at), reach = chart->distance[i * chart->nb + j];
            double flat = reach * hypot(ray.x, ray.y);
            double wider = angle > 1.0 ? fmax(flat, upright_reach(chart, at, angle)) : flat;
            double out = flat > 0.0 ? reach * wider / flat : 0.0;
            chart->points[i * chart->nb + j] =
                (hw_vec3){centre.x + out * ray.x, centre.y + out * ray.y, centre.z + reach * ray.z};
        }
}

/// The lowest point under the heel.
static double lowest_heel(const sole_chart *chart)
{
    double low = chart->axis.heel.z;
    for (int i = 0; i < chart->na; i++)
        for (int j = 0; j < chart->nb; j++) {
            double a = chart->a_first + i * CHART_STEP;
            if (a < 1.5 * chart->axis.heel.x) low = fmin(low, chart->points[i * chart->nb + j].z);
        }
    return low;
}

hw_status sole_finish(hw_job *job, sole_chart *chart)
{
    HW_TRY(fill_holes(job, chart));
    HW_TRY(smooth(job, chart));
    make_points(chart);
    chart->heel_low = lowest_heel(chart);
    return HW_OK;
}

/// Weights of a cubic through four samples at 0..1 between the middle two (Catmull-Rom).
static void cubic(double t, double *w)
{
    w[0] = 0.5 * t * (t * (2.0 - t) - 1.0);
    w[1] = 0.5 * (t * t * (3.0 * t - 5.0) + 2.0);
    w[2] = 0.5 * t * (t * (4.0 - 3.0 * t) + 1.0);
    w[3] = 0.5 * t * t * (t - 1.0);
}

hw_vec3 sole_point(const sole_chart *chart, chart_place place)
{
    double u = fmin(chart->na - 2.001, fmax(1.0, (place.a - chart->a_first) / CHART_STEP));
    double v = fmin(chart->nb - 2.001, fmax(1.0, (place.b - chart->b_first) / CHART_STEP));
    int i = (int)u, j = (int)v;
    double wu[4], wv[4];
    cubic(u - i, wu);
    cubic(v - j, wv);
    hw_vec3 sum = {0};
    for (int m = 0; m < 4; m++)
        for (int n = 0; n < 4; n++) {
            hw_vec3 p = chart->points[(i + m - 1) * chart->nb + j + n - 1];
            sum = hw_vec3_add(sum, hw_vec3_scale(p, wu[m] * wv[n]));
        }
    return sum;
}

sole_sight sole_seen(const sole_chart *chart, chart_place place)
{
    int i = (int)lround((place.a - chart->a_first) / CHART_STEP);
    int j = (int)lround((place.b - chart->b_first) / CHART_STEP);
    if (i < 0 || j < 0 || i >= chart->na || j >= chart->nb) return SOLE_HIDDEN;
    return (sole_sight)chart->seen[i * chart->nb + j];
}
