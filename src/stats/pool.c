// SPDX-License-Identifier: GPL-3.0-or-later
#include "pool.h"
#include "moderate.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>

hw_trial_effect hw_effect_mean_difference(const hw_arm *a, const hw_arm *b)
{
    return (hw_trial_effect){a->mean - b->mean,
                             a->sd * a->sd / a->count + b->sd * b->sd / b->count};
}

hw_trial_effect hw_effect_standardised(const hw_arm *a, const hw_arm *b)
{
    double df = a->count + b->count - 2.0;
    double pooled =
        sqrt(((a->count - 1.0) * a->sd * a->sd + (b->count - 1.0) * b->sd * b->sd) / df);
    double correction = exp(lgammafn(0.5 * df) - lgammafn(0.5 * (df - 1.0))) / sqrt(0.5 * df);
    double g = correction * (a->mean - b->mean) / pooled;
    return (hw_trial_effect){g, 1.0 / a->count + 1.0 / b->count +
                                    g * g / (2.0 * (a->count + b->count))};
}

static hw_two_by_two without_empty_cells(const hw_two_by_two *of)
{
    hw_two_by_two t = *of;
    if (t.events_a > 0.0 && t.others_a > 0.0 && t.events_b > 0.0 && t.others_b > 0.0) return t;
    return (hw_two_by_two){t.events_a + 0.5, t.others_a + 0.5, t.events_b + 0.5, t.others_b + 0.5};
}

hw_trial_effect hw_effect_log_risk_ratio(const hw_two_by_two *table)
{
    hw_two_by_two t = without_empty_cells(table);
    double a = t.events_a + t.others_a, b = t.events_b + t.others_b;
    return (hw_trial_effect){log(t.events_a / a * b / t.events_b),
                             1.0 / t.events_a - 1.0 / a + 1.0 / t.events_b - 1.0 / b};
}

hw_trial_effect hw_effect_log_odds_ratio(const hw_two_by_two *table)
{
    hw_two_by_two t = without_empty_cells(table);
    return (hw_trial_effect){log(t.events_a * t.others_b / (t.others_a * t.events_b)),
                             1.0 / t.events_a + 1.0 / t.others_a + 1.0 / t.events_b +
                                 1.0 / t.others_b};
}

hw_trial_effect hw_effect_risk_difference(const hw_two_by_two *t)
{
    double a = t->events_a + t->others_a, b = t->events_b + t->others_b;
    double p = t->events_a / a, q = t->events_b / b;
    return (hw_trial_effect){p - q, p * (1.0 - p) / a + q * (1.0 - q) / b};
}

static double z_975(void)
{
    return qnorm(0.975, 0.0, 1.0, 1, 0);
}

bool hw_effect_from_interval(double estimate, double low, double high, hw_trial_effect *out)
{
    if (!(low < high) || !isfinite(low) || !isfinite(high) || !isfinite(estimate)) return false;
    double se = (high - low) / (2.0 * z_975());
    *out = (hw_trial_effect){estimate, se * se};
    return true;
}

double hw_effect_p(const hw_trial_effect *effect)
{
    return 2.0 * pnorm(-fabs(effect->effect) / sqrt(effect->variance), 0.0, 1.0, 1, 0);
}

const char *hw_pool_word(hw_pool_method method)
{
    static const char *const words[HW_POOL_METHODS] = {
        "common effect", "DerSimonian-Laird", "REML", "Paule-Mandel", "ML",
        "Hedges",        "Sidik-Jonkman"};
    HW_ASSERT(method >= 0 && method < HW_POOL_METHODS);
    return words[method];
}

// Sums over the trials at one variance between them.
typedef struct pool_sums {
    double w, w2; // of the weights and their squares
    double mean;
    double q; // of weighted squares about the mean
} pool_sums;

static pool_sums sum_at(const hw_trial_effect *effects, int count, double tau2)
{
    pool_sums s = {0};
    for (int i = 0; i < count; i++) {
        double w = 1.0 / (effects[i].variance + tau2);
        s.w += w;
        s.w2 += w * w;
        s.mean += w * effects[i].effect;
    }
    s.mean /= s.w;
    for (int i = 0; i < count; i++) {
        double off = effects[i].effect - s.mean;
        s.q += off * off / (effects[i].variance + tau2);
    }
    return s;
}

static bool tau2_of(const hw_trial_effect *effects, int count, hw_pool_method method, double *tau2)
{
    *tau2 = 0.0;
    return count < 2 || hw_spread_between(effects, NULL, 0, count, method, tau2);
}

static void put_intervals(const pool_sums *s, int count, hw_pooled *out)
{
    double z = z_975();
    out->mean = s->mean;
    out->se = 1.0 / sqrt(s->w);
    out->low = s->mean - z * out->se;
    out->high = s->mean + z * out->se;
    out->p = 2.0 * pnorm(-fabs(s->mean) / out->se, 0.0, 1.0, 1, 0);
    out->hk_se = out->se, out->hk_low = out->low, out->hk_high = out->high, out->hk_p = out->p;
    if (count < 2) return;
    double df = count - 1, t = qt(0.975, df, 1, 0);
    out->hk_se = sqrt(s->q / df / s->w);
    out->hk_low = s->mean - t * out->hk_se;
    out->hk_high = s->mean + t * out->hk_se;
    if (out->hk_se > 0.0) out->hk_p = 2.0 * pt(-fabs(s->mean) / out->hk_se, df, 1, 0);
    out->hk_is_narrower = out->hk_high - out->hk_low < out->high - out->low;
}

static void put_heterogeneity(const hw_trial_effect *effects, int count, hw_pool_method method,
                              hw_pooled *out)
{
    pool_sums common = sum_at(effects, count, 0.0);
    double df = count - 1;
    out->q = common.q;
    out->q_p = count > 1 ? pchisq(common.q, df, 0, 0) : 1.0;
    if (count < 2) return;
    double typical = df * common.w / (common.w * common.w - common.w2);
    out->i2_percent = 100.0 * out->tau2 / (out->tau2 + typical);
    if (method == HW_POOL_COMMON && common.q > 0.0)
        out->i2_percent = fmax(0.0, 100.0 * (common.q - df) / common.q);
    if (count < 3) return;
    double t = qt(0.975, count - 2, 1, 0), spread = sqrt(out->tau2 + out->se * out->se);
    out->predict_is_known = true;
    out->predict_low = out->mean - t * spread;
    out->predict_high = out->mean + t * spread;
}

static hw_status put_each(hw_job *job, const hw_trial_effect *effects, int count,
                          hw_pool_method method, hw_arena *into, hw_pooled *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    double *weights = NULL, *without = NULL;
    hw_trial_effect *rest = NULL;
    HW_ALLOC(job, into, weights, count);
    HW_ALLOC(job, into, without, count);
    HW_ALLOC(job, tmp.arena, rest, count);
    pool_sums all = sum_at(effects, count, out->tau2);
    for (int i = 0; i < count; i++) {
        weights[i] = 1.0 / (effects[i].variance + out->tau2) / all.w;
        int kept = 0;
        for (int j = 0; j < count; j++)
            if (j != i) rest[kept++] = effects[j];
        double tau2 = 0.0;
        without[i] = out->mean;
        if (!kept) continue;
        if (!tau2_of(rest, kept, method, &tau2))
            return hw_fail(job, HW_NO_ANSWER,
                           "the pooled estimate without trial %d does not settle", i + 1);
        without[i] = sum_at(rest, kept, tau2).mean;
    }
    hw_scratch_end(tmp);
    out->weights = weights;
    out->left_out_mean = without;
    return HW_OK;
}

hw_status hw_pool(hw_job *job, const hw_trial_effect *effects, int count, hw_pool_method method,
                  hw_arena *into, hw_pooled *out)
{
    if (count < 1) return hw_fail(job, HW_BAD_INPUT, "no trial to pool");
    for (int i = 0; i < count; i++)
        if (!isfinite(effects[i].effect) || !(effects[i].variance > 0.0) ||
            !isfinite(effects[i].variance))
            return hw_fail(job, HW_BAD_INPUT,
                           "trial %d has no finite effect with a positive variance", i + 1);
    hw_pooled pooled = {.count = count};
    if (!tau2_of(effects, count, method, &pooled.tau2))
        return hw_fail(job, HW_NO_ANSWER, "the variance between the trials does not settle");
    pool_sums s = sum_at(effects, count, pooled.tau2);
    put_intervals(&s, count, &pooled);
    put_heterogeneity(effects, count, method, &pooled);
    HW_TRY(put_each(job, effects, count, method, into, &pooled));
    *out = pooled;
    return HW_OK;
}

// Sums over the tables: what speaks for, what against, and what the variance stands on.
typedef struct mantel {
    double r, s, variance;
} mantel;

static mantel add_risks(mantel sum, const hw_two_by_two *of)
{
    const double n1 = of->events_a + of->others_a, n0 = of->events_b + of->others_b, n = n1 + n0;
    const double m1 = of->events_a + of->events_b;
    sum.r += of->events_a * n0 / n, sum.s += of->events_b * n1 / n;
    sum.variance += (m1 * n1 * n0 - of->events_a * of->events_b * n) / (n * n);
    return sum;
}

static hw_trial_effect mantel_odds(const hw_two_by_two *tables, int count)
{
    double r = 0.0, s = 0.0, pr = 0.0, ps_qr = 0.0, qs = 0.0;
    for (int i = 0; i < count; i++) {
        const hw_two_by_two *of = &tables[i];
        const double n = of->events_a + of->others_a + of->events_b + of->others_b;
        const double p = (of->events_a + of->others_b) / n, q = (of->others_a + of->events_b) / n;
        const double here_r = of->events_a * of->others_b / n,
                     here_s = of->others_a * of->events_b / n;
        r += here_r, s += here_s;
        pr += p * here_r, ps_qr += p * here_s + q * here_r, qs += q * here_s;
    }
    return (hw_trial_effect){log(r / s),
                             pr / (2.0 * r * r) + ps_qr / (2.0 * r * s) + qs / (2.0 * s * s)};
}

hw_status hw_pool_tables(hw_job *job, const hw_two_by_two *tables, int count, bool is_odds,
                         hw_trial_effect *out)
{
    mantel sum = {0};
    for (int i = 0; i < count; i++) sum = add_risks(sum, &tables[i]);
    if (!(sum.r > 0.0) || !(sum.s > 0.0))
        return hw_fail(job, HW_BAD_INPUT, "one arm has no event in any of the tables");
    *out = is_odds ? mantel_odds(tables, count)
                   : (hw_trial_effect){log(sum.r / sum.s), sum.variance / (sum.r * sum.s)};
    return HW_OK;
}

hw_status hw_pool_peto(hw_job *job, const hw_two_by_two *tables, int count, hw_trial_effect *out)
{
    double off = 0.0, variance = 0.0;
    for (int i = 0; i < count; i++) {
        const hw_two_by_two *of = &tables[i];
        const double n1 = of->events_a + of->others_a, n0 = of->events_b + of->others_b;
        const double n = n1 + n0, events = of->events_a + of->events_b;
        if (!(n > 1.0)) continue;
        off += of->events_a - n1 * events / n; // observed less expected
        variance += n1 * n0 * events * (n - events) / (n * n * (n - 1.0));
    }
    if (!(variance > 0.0))
        return hw_fail(job, HW_BAD_INPUT, "no table in which arms or outcomes differ");
    *out = (hw_trial_effect){off / variance, 1.0 / variance};
    return HW_OK;
}

// Q falls as the variance between trials grows: halve until the two ends are one number.
static double tau2_where(const hw_trial_effect *effects, int count, double q)
{
    double low = 0.0, high = 1.0;
    if (sum_at(effects, count, 0.0).q <= q) return 0.0;
    while (sum_at(effects, count, high).q > q) high *= 2.0;
    for (int i = 0; i < 200; i++) {
        const double middle = 0.5 * (low + high);
        if (sum_at(effects, count, middle).q > q)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

hw_status hw_pool_tau2_interval(hw_job *job, const hw_trial_effect *effects, int count, double *low,
                                double *high)
{
    if (count < 2) return hw_fail(job, HW_BAD_INPUT, "%d trials; a spread needs two", count);
    for (int i = 0; i < count; i++)
        if (!(effects[i].variance > 0.0) || !isfinite(effects[i].effect))
            return hw_fail(job, HW_BAD_INPUT, "trial %d has no positive variance", i + 1);
    *low = tau2_where(effects, count, qchisq(0.975, count - 1, 1, 0));
    *high = tau2_where(effects, count, qchisq(0.025, count - 1, 1, 0));
    return HW_OK;
}
