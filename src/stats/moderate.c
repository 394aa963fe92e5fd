// SPDX-License-Identifier: GPL-3.0-or-later
// Everything stands on P = W - W X (X'W X)^-1 X'W at one variance between trials: P y are the
// weighted residuals, and traces of P and P P come from X'W X, X'W^2 X and X'W^3 X alone.
#include "moderate.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>
#include <stdlib.h>

enum { COLUMNS = 1 + HW_MODERATORS_MAX, SQUARE = COLUMNS * COLUMNS, STEPS = 1000 };

typedef struct trials {
    const hw_trial_effect *effects;
    const double *moderators;
    int count, columns;
} trials;

typedef struct fit_at {
    double value[COLUMNS], inverse[SQUARE]; // of X'W X
    double w, w2;                           // sums of the weights and their squares
    double q, q2;                           // y'P y and y'P P y
    double trace, trace2;                   // of P and P P
    double log_weights, log_det;            // sum over the weights; of X'W X
} fit_at;

static double column(const trials *of, int trial, int c)
{
    return c == 0 ? 1.0 : of->moderators[trial * (of->columns - 1) + c - 1];
}

static bool invert(int n, const double *matrix, double *inverse)
{
    for (int c = 0; c < n; c++) {
        double a[SQUARE], b[COLUMNS] = {0};
        for (int i = 0; i < n * n; i++) a[i] = matrix[i];
        b[c] = 1.0;
        if (!hw_solve_small(n, a, b)) return false;
        for (int r = 0; r < n; r++) inverse[r * n + c] = b[r];
    }
    return true;
}

// Of a symmetric positive matrix, by elimination without pivots.
static double log_determinant(int n, const double *matrix)
{
    double a[SQUARE], sum = 0.0;
    for (int i = 0; i < n * n; i++) a[i] = matrix[i];
    for (int k = 0; k < n; k++) {
        sum += log(a[k * n + k]);
        for (int r = k + 1; r < n; r++)
            for (int c = n - 1; c >= k; c--)
                a[r * n + c] -= a[r * n + k] / a[k * n + k] * a[k * n + c];
    }
    return sum;
}

static double trace_of_product(int n, const double *a, const double *b)
{
    double sum = 0.0;
    for (int r = 0; r < n; r++)
        for (int c = 0; c < n; c++) sum += a[r * n + c] * b[c * n + r];
    return sum;
}

static double trace_of_four(int n, const double *a, const double *b)
{
    double ab[SQUARE] = {0};
    for (int r = 0; r < n; r++)
        for (int c = 0; c < n; c++)
            for (int k = 0; k < n; k++) ab[r * n + c] += a[r * n + k] * b[k * n + c];
    return trace_of_product(n, ab, ab);
}

static double residual(const trials *of, int trial, const double *value)
{
    double off = of->effects[trial].effect;
    for (int c = 0; c < of->columns; c++) off -= column(of, trial, c) * value[c];
    return off;
}

// Weights 1 / (variance + tau2); all 1 where `even`.
static bool fit(const trials *of, double tau2, bool even, fit_at *out)
{
    const int n = of->columns;
    double xwx[SQUARE] = {0}, xw2x[SQUARE] = {0}, xw3x[SQUARE] = {0}, xwy[COLUMNS] = {0};
    fit_at at = {0};
    for (int i = 0; i < of->count; i++) {
        const double w = even ? 1.0 : 1.0 / (of->effects[i].variance + tau2);
        at.w += w, at.w2 += w * w;
        at.log_weights += log(w);
        for (int r = 0; r < n; r++) {
            const double x = column(of, i, r);
            xwy[r] += w * x * of->effects[i].effect;
            for (int c = 0; c < n; c++) {
                const double xx = x * column(of, i, c);
                xwx[r * n + c] += w * xx;
                xw2x[r * n + c] += w * w * xx;
                xw3x[r * n + c] += w * w * w * xx;
            }
        }
    }
    if (!invert(n, xwx, at.inverse)) return false;
    at.log_det = log_determinant(n, xwx);
    for (int r = 0; r < n; r++)
        for (int c = 0; c < n; c++) at.value[r] += at.inverse[r * n + c] * xwy[c];
    for (int i = 0; i < of->count; i++) {
        const double w = even ? 1.0 : 1.0 / (of->effects[i].variance + tau2);
        const double off = w * residual(of, i, at.value);
        at.q += off * off / w, at.q2 += off * off;
    }
    at.trace = at.w - trace_of_product(n, at.inverse, xw2x);
    at.trace2 =
        at.w2 - 2.0 * trace_of_product(n, at.inverse, xw3x) + trace_of_four(n, at.inverse, xw2x);
    *out = at;
    return true;
}

static bool tau2_dl(const trials *of, double *tau2)
{
    fit_at at;
    if (!fit(of, 0.0, false, &at)) return false;
    *tau2 = fmax(0.0, (at.q - (of->count - of->columns)) / at.trace);
    return true;
}

// Even weights: squares left over, less what the trials' own variances put into them.
static bool tau2_hedges(const trials *of, double *tau2)
{
    const int n = of->columns;
    double own = 0.0;
    fit_at at;
    if (!fit(of, 0.0, true, &at)) return false;
    for (int i = 0; i < of->count; i++) {
        double lever = 0.0;
        for (int r = 0; r < n; r++)
            for (int c = 0; c < n; c++)
                lever += column(of, i, r) * at.inverse[r * n + c] * column(of, i, c);
        own += of->effects[i].variance * (1.0 - lever);
    }
    *tau2 = fmax(0.0, (at.q - own) / (of->count - n));
    return true;
}

// From a first guess, the mean square of the effects about their plain mean.
static bool tau2_sidik(const trials *of, double *tau2)
{
    double mean = 0.0, guess = 0.0;
    fit_at at;
    for (int i = 0; i < of->count; i++) mean += of->effects[i].effect / of->count;
    for (int i = 0; i < of->count; i++) {
        const double off = of->effects[i].effect - mean;
        guess += off * off / of->count;
    }
    if (!fit(of, guess, false, &at)) return false;
    *tau2 = guess * at.q / (of->count - of->columns);
    return true;
}

static double log_likelihood(const fit_at *at, bool restricted)
{
    return 0.5 * (at->log_weights - at->q - (restricted ? at->log_det : 0.0));
}

// Fisher scoring; the step is halved while it would leave the positive side (Viechtbauer 2005).
static bool climb(const trials *of, bool restricted, double *tau2, double *value)
{
    fit_at at;
    for (int i = 0; i < STEPS; i++) {
        if (!fit(of, *tau2, false, &at)) return false;
        double step = restricted ? (at.q2 - at.trace) / at.trace2 : (at.q2 - at.w) / at.w2;
        const double scale = 1.0 + *tau2;
        if (*tau2 + step < 0.0) step = *tau2 > 1e-12 * scale ? -0.5 * *tau2 : 0.0;
        *tau2 += step;
        *value = log_likelihood(&at, restricted);
        if (fabs(step) <= 1e-13 * scale) {
            if (*tau2 < 1e-11) *tau2 = 0.0;
            return true;
        }
    }
    return false;
}

// The likelihood may have two peaks: the higher of those reached from none, a middling and a wide
// spread.
static bool tau2_likely(const trials *of, bool restricted, double *tau2)
{
    double starts[4] = {0}, best = -INFINITY;
    if (!tau2_dl(of, &starts[1]) || !tau2_hedges(of, &starts[2]) || !tau2_sidik(of, &starts[3]))
        return false;
    for (int i = 0; i < 4; i++) {
        double value = 0.0;
        if (!climb(of, restricted, &starts[i], &value) || value <= best) continue;
        best = value, *tau2 = starts[i];
    }
    return isfinite(best);
}

// The variance at which the weighted squares are what chance alone gives (Paule 1982).
static bool tau2_paule(const trials *of, double *tau2)
{
    fit_at at;
    *tau2 = 0.0;
    for (int i = 0; i < STEPS; i++) {
        if (!fit(of, *tau2, false, &at)) return false;
        const double over = at.q - (of->count - of->columns);
        if (over <= 1e-12 * of->count && (i == 0 || fabs(over) <= 1e-10 * of->count)) return true;
        // q falls with tau2, convex: Newton from below never oversteps.
        const double step = over / at.q2;
        *tau2 += step;
        if (fabs(step) <= 1e-14 * (1.0 + *tau2)) return true;
    }
    return false;
}

bool hw_spread_between(const hw_trial_effect *effects, const double *moderators,
                       int moderator_count, int count, hw_pool_method method, double *tau2)
{
    const trials of = {effects, moderators, count, 1 + moderator_count};
    *tau2 = 0.0;
    switch (method) {
    case HW_POOL_DL:
        return tau2_dl(&of, tau2);
    case HW_POOL_REML:
        return tau2_likely(&of, true, tau2);
    case HW_POOL_ML:
        return tau2_likely(&of, false, tau2);
    case HW_POOL_PAULE:
        return tau2_paule(&of, tau2);
    case HW_POOL_HEDGES:
        return tau2_hedges(&of, tau2);
    case HW_POOL_SIDIK:
        return tau2_sidik(&of, tau2);
    case HW_POOL_COMMON:
    case HW_POOL_METHODS:
        break;
    }
    return true;
}

static hw_status check_trials(hw_job *job, const trials *of)
{
    if (of->count <= of->columns)
        return hw_fail(job, HW_BAD_INPUT, "%d trials are too few for %d moderators", of->count,
                       of->columns - 1);
    for (int i = 0; i < of->count; i++) {
        if (!isfinite(of->effects[i].effect) || !(of->effects[i].variance > 0.0) ||
            !isfinite(of->effects[i].variance))
            return hw_fail(job, HW_BAD_INPUT,
                           "trial %d has no finite effect with a positive variance", i + 1);
        for (int c = 1; c < of->columns; c++)
            if (!isfinite(column(of, i, c)))
                return hw_fail(job, HW_BAD_INPUT, "moderator %d of trial %d is not a number", c,
                               i + 1);
    }
    return HW_OK;
}

hw_status hw_pool_moderated(hw_job *job, const hw_trial_effect *effects, const double *moderators,
                            int moderator_count, int count, hw_pool_method method,
                            hw_moderated *out)
{
    HW_ASSERT(moderator_count >= 0 && moderator_count <= HW_MODERATORS_MAX);
    const trials of = {effects, moderators, count, 1 + moderator_count};
    hw_moderated got = {.count = of.columns, .freedom = count - of.columns};
    fit_at common, at;
    HW_TRY(check_trials(job, &of));
    if (!fit(&of, 0.0, false, &common))
        return hw_fail(job, HW_BAD_INPUT,
                       "a moderator is the same in all trials or follows from the others");
    if (!hw_spread_between(effects, moderators, moderator_count, count, method, &got.tau2) ||
        !fit(&of, got.tau2, false, &at))
        return hw_fail(job, HW_NO_ANSWER, "the variance between the trials does not settle");
    got.q = common.q;
    got.q_p = pchisq(common.q, got.freedom, 0, 0);
    got.hk_scale = at.q / got.freedom;
    for (int c = 0; c < of.columns; c++) {
        got.value[c] = at.value[c];
        got.se[c] = sqrt(at.inverse[c * of.columns + c]);
        got.hk_se[c] = got.se[c] * sqrt(got.hk_scale);
        got.p[c] = 2.0 * pnorm(-fabs(got.value[c]) / got.se[c], 0.0, 1.0, 1, 0);
        got.hk_p[c] = got.hk_se[c] > 0.0
                          ? 2.0 * pt(-fabs(got.value[c]) / got.hk_se[c], got.freedom, 1, 0)
                          : got.p[c];
    }
    *out = got;
    return HW_OK;
}

static int by_effect(const void *a, const void *b)
{
    const double x = ((const hw_trial_effect *)a)->effect;
    const double y = ((const hw_trial_effect *)b)->effect;
    return (x > y) - (x < y);
}

static hw_status mean_of(hw_job *job, const hw_trial_effect *effects, int count,
                         hw_pool_method method, hw_moderated *out)
{
    return hw_pool_moderated(job, effects, NULL, 0, count, method, out);
}

// L0 of Duval and Tweedie: how many stand alone on the right, by the ranks of their distances.
static int alone_on_the_right(const hw_trial_effect *sorted, int count, double mean)
{
    double ranks = 0.0;
    for (int i = 0; i < count; i++) {
        const double off = sorted[i].effect - mean;
        if (off <= 0.0) continue;
        int below = 0, even = 0;
        for (int j = 0; j < count; j++) {
            const double other = fabs(sorted[j].effect - mean);
            below += other < off, even += other == off;
        }
        ranks += below + 0.5 * (even + 1);
    }
    const double alone = (4.0 * ranks - count * (count + 1.0)) / (2.0 * count - 1.0);
    return alone > 0.0 ? (int)nearbyint(alone) : 0;
}

// `sorted` rises and its right side holds more; trims that side until the number settles.
static hw_status trim(hw_job *job, const hw_trial_effect *sorted, int count, hw_pool_method method,
                      int *alone, double *mean)
{
    *alone = 0;
    for (int i = 0; i < 100; i++) {
        hw_moderated kept = {0};
        HW_TRY(mean_of(job, sorted, count - *alone, method, &kept));
        const int next = alone_on_the_right(sorted, count, kept.value[0]);
        *mean = kept.value[0];
        if (next == *alone) return HW_OK;
        if (count - next < 2) break;
        *alone = next;
    }
    return hw_fail(job, HW_NO_ANSWER, "the number of trials that stand alone does not settle");
}

hw_status hw_pool_filled(hw_job *job, const hw_trial_effect *effects, int count,
                         hw_pool_method method, hw_filled *out)
{
    if (count < 10)
        return hw_fail(job, HW_BAD_INPUT, "%d trials; below 10 a funnel's asymmetry says nothing",
                       count);
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_trial_effect *all = NULL;
    double *errors = NULL, mean = 0.0;
    int alone = 0;
    hw_moderated pooled = {0};
    HW_ALLOC(job, tmp.arena, all, 2 * count);
    HW_ALLOC(job, tmp.arena, errors, count);
    for (int i = 0; i < count; i++) errors[i] = sqrt(effects[i].variance);
    // Where small trials tell of more, those that told of less are missing on the left.
    HW_TRY(hw_pool_moderated(job, effects, errors, 1, count, method, &pooled));
    const double side = pooled.value[1] < 0.0 ? -1.0 : 1.0;
    for (int i = 0; i < count; i++)
        all[i] = (hw_trial_effect){side * effects[i].effect, effects[i].variance};
    qsort(all, (size_t)count, sizeof *all, by_effect);
    HW_TRY(trim(job, all, count, method, &alone, &mean));
    for (int i = 0; i < alone; i++) {
        const hw_trial_effect *far = &all[count - 1 - i];
        all[count + i] = (hw_trial_effect){2.0 * mean - far->effect, far->variance};
    }
    HW_TRY(mean_of(job, all, count + alone, method, &pooled));
    hw_scratch_end(tmp);
    const double half = qnorm(0.975, 0.0, 1.0, 1, 0) * pooled.se[0];
    mean = side * pooled.value[0];
    *out = (hw_filled){alone, side > 0.0, mean, pooled.se[0], mean - half, mean + half};
    return HW_OK;
}
