// SPDX-License-Identifier: GPL-3.0-or-later
#include "two.h"
#include "fit.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>
#include <stdlib.h>

static hw_status differences(hw_job *job, const double *first, const double *second, int count,
                             double *mean, double *sd)
{
    if (count < 2) return hw_fail(job, HW_BAD_INPUT, "%d pairs; a comparison needs 2", count);
    double sum = 0.0, squares = 0.0;
    for (int i = 0; i < count; i++) sum += first[i] - second[i];
    *mean = sum / count;
    for (int i = 0; i < count; i++) {
        double off = first[i] - second[i] - *mean;
        squares += off * off;
    }
    *sd = sqrt(squares / (count - 1));
    if (!isfinite(*sd)) return hw_fail(job, HW_BAD_INPUT, "a score is not a number");
    return HW_OK;
}

static int by_size(const void *a, const void *b)
{
    double x = fabs(*(const double *)a), y = fabs(*(const double *)b);
    return (x > y) - (x < y);
}

// Rank sum of the positive differences (`sorted` by size); ties share ranks and shrink the
// variance.
static double rank_sum(const double *sorted, int count, double *ties)
{
    double sum = 0.0;
    *ties = 0.0;
    for (int i = 0; i < count;) {
        int end = i + 1;
        while (end < count && fabs(sorted[end]) == fabs(sorted[i])) end++;
        double same = end - i, rank = 0.5 * (i + 1 + end);
        *ties += same * same * same - same;
        for (; i < end; i++)
            if (sorted[i] > 0.0) sum += rank;
    }
    return sum;
}

static hw_status signed_ranks(hw_job *job, const double *first, const double *second, int count,
                              hw_paired *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    double *kept = NULL, ties = 0.0;
    int n = 0;
    HW_ALLOC(job, tmp.arena, kept, count);
    for (int i = 0; i < count; i++)
        if (first[i] != second[i]) kept[n++] = first[i] - second[i];
    out->rank_p = 1.0;
    if (n > 0) {
        qsort(kept, (size_t)n, sizeof *kept, by_size);
        out->rank_sum = rank_sum(kept, n, &ties);
        double middle = n * (n + 1) / 4.0, off = out->rank_sum - middle;
        out->rank_is_exact = ties == 0.0 && n == count && n < 50;
        if (out->rank_is_exact) {
            double tail = off > 0.0 ? psignrank(out->rank_sum - 1.0, n, 0, 0)
                                    : psignrank(out->rank_sum, n, 1, 0);
            out->rank_p = fmin(1.0, 2.0 * tail);
        } else {
            double sd = sqrt(n * (n + 1) * (2.0 * n + 1.0) / 24.0 - ties / 48.0);
            double z = (fabs(off) - 0.5) / sd; // continuity
            out->rank_p = fmin(1.0, 2.0 * pnorm(-z, 0.0, 1.0, 1, 0));
        }
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_interval hw_mean_of(double mean, double sd, int count)
{
    if (count < 2) return (hw_interval){mean, -INFINITY, INFINITY};
    const double reach = qt(0.975, count - 1, 1, 0) * sd / sqrt(count);
    return (hw_interval){mean, mean - reach, mean + reach};
}

double hw_t_power(double each, double difference_sd)
{
    const double freedom = 2.0 * (each - 1.0);
    return pnt(qt(0.025, freedom, 0, 0), freedom, sqrt(0.5 * each) * fabs(difference_sd), 0, 0);
}

// The chance grows with the groups: halve until the two ends are one number.
double hw_t_size(double difference_sd, double power)
{
    HW_ASSERT(difference_sd != 0.0 && power > 0.0 && power < 1.0);
    double low = 2.0, high = 4.0;
    if (hw_t_power(low, difference_sd) >= power) return low;
    while (hw_t_power(high, difference_sd) < power && high < 1e7) high *= 2.0;
    for (int i = 0; i < 100; i++) {
        const double middle = 0.5 * (low + high);
        if (hw_t_power(middle, difference_sd) < power)
            low = middle;
        else
            high = middle;
    }
    return high;
}

hw_status hw_compare_pairs(hw_job *job, const double *first, const double *second, int count,
                           hw_paired *out)
{
    hw_paired paired = {.df = count - 1};
    HW_TRY(differences(job, first, second, count, &paired.mean, &paired.sd));
    if (!(paired.sd > 0.0))
        return hw_fail(job, HW_BAD_INPUT, "all pairs differ by the same amount: nothing to test");
    double se = paired.sd / sqrt(count);
    const hw_interval mean = hw_mean_of(paired.mean, paired.sd, count);
    paired.low = mean.low, paired.high = mean.high;
    paired.t = paired.mean / se;
    paired.p = 2.0 * pt(-fabs(paired.t), paired.df, 1, 0);
    HW_TRY(signed_ranks(job, first, second, count, &paired));
    *out = paired;
    return HW_OK;
}

hw_status hw_agree(hw_job *job, const double *first, const double *second, int count,
                   hw_agreement *out)
{
    hw_agreement found = {0};
    HW_TRY(differences(job, first, second, count, &found.bias, &found.sd));
    found.low = found.bias - 1.96 * found.sd;
    found.high = found.bias + 1.96 * found.sd;
    *out = found;
    return HW_OK;
}

// Mean squares of a two-way table.
typedef struct squares_of_table {
    double targets, judges, rest, within;
} squares_of_table;

// Two one-way analyses of the same scores: by target, and by judge.
static hw_status mean_squares(hw_job *job, const double *scores, int n, int k,
                              squares_of_table *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_one_way targets = {0}, judges = {0};
    int *target = NULL, *judge = NULL;
    HW_ALLOC(job, tmp.arena, target, n * k);
    HW_ALLOC(job, tmp.arena, judge, n * k);
    for (int i = 0; i < n * k; i++) target[i] = i / k, judge[i] = i % k;
    HW_TRY(hw_one_way_of(job, scores, target, n * k, n, &targets));
    HW_TRY(hw_one_way_of(job, scores, judge, n * k, k, &judges));
    hw_scratch_end(tmp);
    *out =
        (squares_of_table){targets.between_squares / (n - 1), judges.between_squares / (k - 1),
                           (targets.within_squares - judges.between_squares) / ((n - 1) * (k - 1)),
                           targets.within_squares / targets.within_freedom};
    return HW_OK;
}

hw_status hw_icc_of(hw_job *job, const double *scores, int targets, int judges, hw_icc *out)
{
    if (targets < 2 || judges < 2)
        return hw_fail(job, HW_BAD_INPUT, "%d targets and %d judges; 2 of each are needed", targets,
                       judges);
    squares_of_table m = {0};
    HW_TRY(mean_squares(job, scores, targets, judges, &m));
    if (!(m.targets > 0.0)) return hw_fail(job, HW_BAD_INPUT, "all targets score the same");
    double n = targets, k = judges;
    *out = (hw_icc){
        .one_1 = (m.targets - m.within) / (m.targets + (k - 1.0) * m.within),
        .two_1 =
            (m.targets - m.rest) / (m.targets + (k - 1.0) * m.rest + k * (m.judges - m.rest) / n),
        .three_1 = (m.targets - m.rest) / (m.targets + (k - 1.0) * m.rest),
        .one_k = (m.targets - m.within) / m.targets,
        .two_k = (m.targets - m.rest) / (m.targets + (m.judges - m.rest) / n),
        .three_k = (m.targets - m.rest) / m.targets,
    };
    return HW_OK;
}

double hw_detectable_change(double sd, double icc)
{
    return 1.96 * sqrt(2.0) * sd * sqrt(1.0 - icc);
}
