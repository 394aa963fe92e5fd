// SPDX-License-Identifier: GPL-3.0-or-later
#include "fit.h"

// Rmath.h defines what other headers declare, so it comes alone.
#define MATHLIB_STANDALONE
#include <Rmath.h>

#include <math.h>

static double weight_of(const double *weights, int i)
{
    return weights ? weights[i] : 1.0;
}

// Mean of values about `origin`, a second pass taking off what the first lost.
static double mean_about(const double *values, const double *weights, int count)
{
    const double origin = values[0];
    double mean = 0.0, total = 0.0, lost = 0.0;
    for (int i = 0; i < count; i++) {
        mean += weight_of(weights, i) * (values[i] - origin);
        total += weight_of(weights, i);
    }
    mean /= total;
    for (int i = 0; i < count; i++) lost += weight_of(weights, i) * ((values[i] - origin) - mean);
    return mean + lost / total; // less the origin
}

hw_status hw_fit_line(hw_job *job, const double *x, const double *y, const double *weights,
                      int count, hw_line_fit *out)
{
    if (count < 3) return hw_fail(job, HW_BAD_INPUT, "%d points; a line needs three", count);
    const double mean_x = mean_about(x, weights, count), mean_y = mean_about(y, weights, count);
    double xx = 0.0, xy = 0.0, yy = 0.0, rest = 0.0, total = 0.0;
    for (int i = 0; i < count; i++) {
        const double w = weight_of(weights, i);
        const double dx = (x[i] - x[0]) - mean_x, dy = (y[i] - y[0]) - mean_y;
        xx += w * dx * dx, xy += w * dx * dy, yy += w * dy * dy, total += w;
    }
    if (!(xx > 0.0)) return hw_fail(job, HW_BAD_INPUT, "all x are the same: no line");
    const double slope = xy / xx;
    for (int i = 0; i < count; i++) {
        const double off = ((y[i] - y[0]) - mean_y) - slope * ((x[i] - x[0]) - mean_x);
        rest += weight_of(weights, i) * off * off;
    }
    const double variance = rest / (count - 2), x_mean = x[0] + mean_x;
    *out = (hw_line_fit){.start = y[0] + mean_y - slope * x_mean,
                         .slope = slope,
                         .start_se = sqrt(variance * (1.0 / total + x_mean * x_mean / xx)),
                         .slope_se = sqrt(variance / xx),
                         .residual_sd = sqrt(variance),
                         .r2 = yy > 0.0 ? 1.0 - rest / yy : 0.0,
                         .freedom = count - 2};
    return HW_OK;
}

// Group means about the first value, and how many are in each.
static hw_status group_means(hw_job *job, const double *values, const int *groups, int count,
                             int group_count, double *means, int *sizes)
{
    for (int i = 0; i < count; i++) {
        HW_ASSERT(groups[i] >= 0 && groups[i] < group_count);
        means[groups[i]] += values[i] - values[0], sizes[groups[i]]++;
    }
    for (int g = 0; g < group_count; g++) {
        if (sizes[g] == 0) return hw_fail(job, HW_BAD_INPUT, "group %d is empty", g + 1);
        means[g] /= sizes[g];
    }
    return HW_OK;
}

static void add_squares(const double *values, const int *groups, int count, const double *means,
                        hw_one_way *out)
{
    const double all = mean_about(values, NULL, count);
    for (int i = 0; i < count; i++) {
        const double mean = means[groups[i]], off = (values[i] - values[0]) - mean;
        out->within_squares += off * off;
        out->between_squares += (mean - all) * (mean - all);
    }
}

hw_status hw_one_way_of(hw_job *job, const double *values, const int *groups, int count,
                        int group_count, hw_one_way *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_one_way found = {.between_freedom = group_count - 1, .within_freedom = count - group_count};
    double *means = NULL;
    int *sizes = NULL;
    if (group_count < 2 || count <= group_count)
        return hw_fail(job, HW_BAD_INPUT, "%d values in %d groups cannot be compared", count,
                       group_count);
    HW_ALLOC(job, tmp.arena, means, group_count);
    HW_ALLOC(job, tmp.arena, sizes, group_count);
    HW_TRY(group_means(job, values, groups, count, group_count, means, sizes));
    add_squares(values, groups, count, means, &found);
    hw_scratch_end(tmp);
    const double within = found.within_squares / found.within_freedom;
    found.residual_sd = sqrt(within);
    found.f = found.between_squares / found.between_freedom / within;
    found.p = pf(found.f, found.between_freedom, found.within_freedom, 0, 0);
    found.r2 = found.between_squares / (found.between_squares + found.within_squares);
    *out = found;
    return HW_OK;
}
