// SPDX-License-Identifier: GPL-3.0-or-later
#include "funnel.h"
#include "fit.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>
#include <stdlib.h>

enum { EXACT_BELOW = 50 };

// Pairs that rise together less those that do not; pairs tied in either count for neither.
static double concordance(const double *x, const double *y, int count)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++)
        for (int k = 0; k < i; k++) {
            const double way = (x[i] - x[k]) * (y[i] - y[k]);
            sum += (way > 0.0) - (way < 0.0);
        }
    return sum;
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// Over groups of m equal values: sums of m (m - 1), m (m - 1) (m - 2), m (m - 1) (2 m + 5).
typedef struct ties {
    double pairs, triples, spread;
} ties;

static hw_status count_ties(hw_job *job, const double *values, int count, hw_arena *tmp, ties *out)
{
    double *sorted = NULL;
    *out = (ties){0};
    HW_ALLOC(job, tmp, sorted, count);
    for (int i = 0; i < count; i++) sorted[i] = values[i];
    qsort(sorted, (size_t)count, sizeof *sorted, by_value);
    for (int i = 0, end; i < count; i = end) {
        for (end = i + 1; end < count && sorted[end] == sorted[i];) end++;
        const double m = end - i;
        out->pairs += m * (m - 1.0);
        out->triples += m * (m - 1.0) * (m - 2.0);
        out->spread += m * (m - 1.0) * (2.0 * m + 5.0);
    }
    return HW_OK;
}

// Share of the orders of `count` things in which at most `most` pairs rise together. One thing more
// can be put behind 0 to count - 1 of those before: their numbers add up over these places.
static hw_status share_of_orders(hw_job *job, int count, int most, hw_arena *tmp, double *out)
{
    double *share = NULL, *next = NULL;
    const int pairs = count * (count - 1) / 2;
    HW_ALLOC(job, tmp, share, pairs + 1);
    HW_ALLOC(job, tmp, next, pairs + 1);
    share[0] = 1.0;
    for (int n = 2; n <= count; n++) {
        double window = 0.0;
        for (int k = 0; k <= pairs; k++) {
            window += share[k];
            if (k >= n) window -= share[k - n];
            next[k] = window / n;
        }
        double *kept = share;
        share = next, next = kept;
    }
    *out = 0.0;
    for (int k = 0; k <= most; k++) *out += share[k];
    return HW_OK;
}

// Kendall's rank correlation and its two-sided p.
static hw_status rank_correlation(hw_job *job, const double *x, const double *y, int count,
                                  hw_arena *tmp, hw_funnel *out)
{
    ties in_x, in_y;
    const double n = count, pairs = n * (n - 1.0), sum = concordance(x, y, count);
    HW_TRY(count_ties(job, x, count, tmp, &in_x));
    HW_TRY(count_ties(job, y, count, tmp, &in_y));
    out->tau = 2.0 * sum / sqrt((pairs - in_x.pairs) * (pairs - in_y.pairs));
    out->tau_is_exact = in_x.pairs + in_y.pairs == 0.0 && count < EXACT_BELOW;
    if (out->tau_is_exact) {
        const int rising = (int)lround(0.5 * (0.5 * pairs + sum));
        double below = 0.0, up_to = 0.0;
        HW_TRY(share_of_orders(job, count, rising, tmp, &up_to));
        HW_TRY(share_of_orders(job, count, rising - 1, tmp, &below));
        out->tau_p = fmin(1.0, 2.0 * fmin(up_to, 1.0 - below));
        return HW_OK;
    }
    const double variance = (pairs * (2.0 * n + 5.0) - in_x.spread - in_y.spread) / 18.0 +
                            in_x.pairs * in_y.pairs / (2.0 * pairs) +
                            in_x.triples * in_y.triples / (9.0 * pairs * (n - 2.0));
    out->tau_p = 2.0 * pnorm(-fabs(sum) / sqrt(variance), 0.0, 1.0, 1, 0);
    return HW_OK;
}

// Effects less the common one, each by what its own weight leaves of its variance.
static hw_status begg(hw_job *job, const hw_trial_effect *effects, int count, hw_arena *tmp,
                      hw_funnel *out)
{
    double *standardised = NULL, *variances = NULL, weights = 0.0, mean = 0.0;
    HW_ALLOC(job, tmp, standardised, count);
    HW_ALLOC(job, tmp, variances, count);
    for (int i = 0; i < count; i++) {
        weights += 1.0 / effects[i].variance;
        mean += effects[i].effect / effects[i].variance;
    }
    mean /= weights;
    for (int i = 0; i < count; i++) {
        variances[i] = effects[i].variance;
        standardised[i] = (effects[i].effect - mean) / sqrt(variances[i] - 1.0 / weights);
    }
    return rank_correlation(job, standardised, variances, count, tmp, out);
}

hw_status hw_pool_asymmetry(hw_job *job, const hw_trial_effect *effects, int count, hw_funnel *out)
{
    if (count < 10)
        return hw_fail(job, HW_BAD_INPUT, "%d trials; below 10 a funnel's asymmetry says nothing",
                       count);
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    double *errors = NULL, *sizes = NULL, *weights = NULL;
    hw_line_fit line = {0};
    hw_moderated mixed = {0};
    hw_funnel found = {0};
    HW_ALLOC(job, tmp.arena, errors, count);
    HW_ALLOC(job, tmp.arena, sizes, count);
    HW_ALLOC(job, tmp.arena, weights, count);
    for (int i = 0; i < count; i++) {
        errors[i] = sqrt(effects[i].variance), sizes[i] = effects[i].effect;
        weights[i] = 1.0 / effects[i].variance;
    }
    HW_TRY(hw_fit_line(job, errors, sizes, weights, count, &line));
    found.t = line.slope / line.slope_se;
    found.p = 2.0 * pt(-fabs(found.t), line.freedom, 1, 0);
    HW_TRY(begg(job, effects, count, tmp.arena, &found));
    // The line was possible, so all that may fail here is the search for the spread.
    found.has_mixed =
        hw_pool_moderated(job, effects, errors, 1, count, HW_POOL_REML, &mixed) == HW_OK;
    hw_scratch_end(tmp);
    found.mixed_z = found.has_mixed ? mixed.value[1] / mixed.se[1] : 0.0;
    found.mixed_p = mixed.p[1];
    *out = found;
    return HW_OK;
}
