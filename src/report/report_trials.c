// SPDX-License-Identifier: GPL-3.0-or-later
// The trials as rows with their effects recomputed, and what may be pooled, by every method: the choice
// of method can change the verdict, so all stand side by side.
#include "json_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { POOLED_MAX = 240 };

static void effect_of(hw_json_out *out, const char *key, const hw_trial_effect *effect, bool is_log)
{
    double spread = 1.959964 * sqrt(effect->variance),
           values[3] = {effect->effect, effect->effect - spread, effect->effect + spread};
    static const char *const names[3] = {"estimate", "low", "high"};
    hw_json_open(out, key, '{');
    for (int i = 0; i < 3; i++)
        hw_json_number(out, names[i], is_log ? exp(values[i]) : values[i], 4);
    hw_json_close(out);
}

static void counts_of(hw_json_out *out, const hw_trial *trial)
{
    hw_trial_effect odds;
    if (!hw_trial_log_odds(trial, &odds)) return;
    hw_two_by_two table = {trial->events_a, trial->count_a - trial->events_a, trial->events_b,
                           trial->count_b - trial->events_b};
    hw_trial_effect risk = hw_effect_log_risk_ratio(&table);
    hw_interval difference =
        hw_share_difference(trial->events_a, trial->count_a, trial->events_b, trial->count_b);
    hw_json_int(out, "events_treated", trial->events_a);
    hw_json_int(out, "events_control", trial->events_b);
    hw_json_bool(out, "event_is_bad", trial->event_is_bad);
    effect_of(out, "odds_ratio_of_good", &odds, true);
    effect_of(out, "risk_ratio_of_event", &risk, true);
    hw_json_open(out, "risk_difference", '{');
    hw_json_number(out, "estimate", difference.estimate, 4);
    hw_json_number(out, "low", difference.low, 4);
    hw_json_number(out, "high", difference.high, 4);
    hw_json_close(out);
    hw_json_number(out, "number_to_treat", hw_number_to_treat(&difference).estimate, 2);
}

static void trial_row(hw_json_out *out, const hw_trial *trial)
{
    hw_trial_effect g;
    double p;
    bool contradicts = false;
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "id", trial->id);
    hw_json_text(out, "source", trial->source);
    hw_json_text(out, "status", trial->status);
    hw_json_text(out, "note", trial->note);
    hw_json_text(out, "treatment", trial->treatment);
    hw_json_text(out, "control", trial->control);
    hw_json_text(out, "outcome", trial->outcome);
    hw_json_text(out, "unit", trial->unit);
    hw_json_number(out, "weeks", trial->weeks, 1);
    hw_json_bool(out, "lower_is_better", trial->lower_is_better);
    if (trial->count_a) hw_json_int(out, "people_treated", trial->count_a);
    if (trial->count_b) hw_json_int(out, "people_control", trial->count_b);
    hw_json_maybe(out, "difference", trial->difference, 1.0, 3);
    hw_json_maybe(out, "low", trial->low, 1.0, 3);
    hw_json_maybe(out, "high", trial->high, 1.0, 3);
    hw_json_maybe(out, "printed_p", trial->printed_p, 1.0, 4);
    if (hw_trial_p(trial, &p, &contradicts)) hw_json_number(out, "recomputed_p", p, 5);
    if (contradicts)
        hw_json_text(out, "flag", "the printed p does not follow from the printed numbers");
    if (hw_trial_standardised(trial, &g)) effect_of(out, "standardised_better", &g, false);
    counts_of(out, trial);
    hw_json_text(out, "pool", trial->pool);
    hw_json_close(out);
}

static void method_row(hw_json_out *out, hw_pool_method method, const hw_pooled *of, bool is_log)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "method", hw_pool_word(method));
    hw_json_number(out, "estimate", is_log ? exp(of->mean) : of->mean, 4);
    hw_json_number(out, "low", is_log ? exp(of->low) : of->low, 4);
    hw_json_number(out, "high", is_log ? exp(of->high) : of->high, 4);
    hw_json_number(out, "p", of->p, 5);
    hw_json_number(out, "hartung_knapp_low", is_log ? exp(of->hk_low) : of->hk_low, 4);
    hw_json_number(out, "hartung_knapp_high", is_log ? exp(of->hk_high) : of->hk_high, 4);
    hw_json_number(out, "hartung_knapp_p", of->hk_p, 5);
    hw_json_bool(out, "hartung_knapp_is_narrower", of->hk_is_narrower);
    hw_json_number(out, "q", of->q, 4);
    hw_json_number(out, "q_p", of->q_p, 5);
    hw_json_number(out, "tau2", of->tau2, 5);
    hw_json_number(out, "i2_percent", of->i2_percent, 1);
    if (of->predict_is_known) {
        hw_json_number(out, "prediction_low", is_log ? exp(of->predict_low) : of->predict_low, 4);
        hw_json_number(out, "prediction_high", is_log ? exp(of->predict_high) : of->predict_high,
                       4);
    }
    hw_json_close(out);
}

typedef struct pool_of_trials {
    const hw_trial *trials[POOLED_MAX];
    hw_trial_effect effects[POOLED_MAX];
    int count;
    bool is_log;
} pool_of_trials;

static pool_of_trials gather(const hw_trial *rows, int count, const char *name)
{
    pool_of_trials pool = {0};
    for (int i = 0; i < count && pool.count < POOLED_MAX; i++) {
        if (!rows[i].pool || strcmp(rows[i].pool, name) != 0) continue;
        pool.is_log = rows[i].events_a >= 0;
        bool known = pool.is_log ? hw_trial_log_odds(&rows[i], &pool.effects[pool.count])
                                 : hw_trial_standardised(&rows[i], &pool.effects[pool.count]);
        if (known) pool.trials[pool.count++] = &rows[i];
    }
    return pool;
}

// The pool without each of its trials in turn: whether one of them carries it alone.
static hw_status leave_one_out(hw_job *job, hw_json_out *out, const pool_of_trials *pool,
                               hw_arena *into)
{
    hw_json_open(out, "without", '[');
    for (int i = 0; i < pool->count && pool->count > 2; i++) {
        hw_trial_effect rest[POOLED_MAX];
        hw_pooled of = {0};
        int count = 0;
        for (int k = 0; k < pool->count; k++)
            if (k != i) rest[count++] = pool->effects[k];
        HW_TRY(hw_pool(job, rest, count, HW_POOL_REML, into, &of));
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "trial", pool->trials[i]->id);
        hw_json_number(out, "estimate", pool->is_log ? exp(of.mean) : of.mean, 4);
        hw_json_number(out, "low", pool->is_log ? exp(of.low) : of.low, 4);
        hw_json_number(out, "high", pool->is_log ? exp(of.high) : of.high, 4);
        hw_json_close(out);
    }
    hw_json_close(out);
    return HW_OK;
}

// Ten trials and more: Egger's test, and the pool with the funnel made even beside it.
static hw_status asymmetry_row(hw_job *job, hw_json_out *out, const pool_of_trials *pool)
{
    hw_funnel funnel = {0};
    hw_filled filled = {0};
    char text[256];
    if (pool->count < 10) {
        hw_json_text(out, "asymmetry", "not enough trials: below 10 a funnel says nothing");
        return HW_OK;
    }
    HW_TRY(hw_pool_asymmetry(job, pool->effects, pool->count, &funnel));
    HW_TRY(hw_pool_filled(job, pool->effects, pool->count, HW_POOL_REML, &filled));
    snprintf(text, sizeof text,
             "funnel: t %.2f, p %.3f. Made even with %d trials mirrored in, the pool would be %.2f "
             "(%.2f to %.2f): a sensitivity, not an answer",
             funnel.t, funnel.p, filled.added, pool->is_log ? exp(filled.mean) : filled.mean,
             pool->is_log ? exp(filled.low) : filled.low,
             pool->is_log ? exp(filled.high) : filled.high);
    hw_json_text(out, "asymmetry", text);
    return HW_OK;
}

static hw_status pool_row(hw_job *job, hw_json_out *out, const char *name,
                          const pool_of_trials *pool, hw_arena *into)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "pool", name);
    hw_json_text(out, "scale",
                 pool->is_log ? "odds ratio of a good outcome; above 1 the treated did better"
                              : "standardised difference; above 0 the treated did better");
    hw_json_open(out, "trials", '[');
    for (int i = 0; i < pool->count; i++) hw_json_text(out, NULL, pool->trials[i]->id);
    hw_json_close(out);
    hw_json_open(out, "methods", '[');
    for (int m = 0; m < HW_POOL_METHODS; m++) {
        hw_pooled pooled = {0};
        HW_TRY(hw_pool(job, pool->effects, pool->count, (hw_pool_method)m, into, &pooled));
        method_row(out, (hw_pool_method)m, &pooled, pool->is_log);
    }
    hw_json_close(out);
    double low, high;
    HW_TRY(hw_pool_tau2_interval(job, pool->effects, pool->count, &low, &high));
    hw_json_number(out, "tau2_low", low, 5);
    hw_json_number(out, "tau2_high", high, 5);
    HW_TRY(leave_one_out(job, out, pool, into));
    HW_TRY(asymmetry_row(job, out, pool));
    hw_json_close(out);
    return HW_OK;
}

// A pool is written where its first row stands.
static bool is_first_of_pool(const hw_trial *rows, int i)
{
    if (!rows[i].pool) return false;
    for (int j = 0; j < i; j++)
        if (rows[j].pool && strcmp(rows[j].pool, rows[i].pool) == 0) return false;
    return true;
}

// The table's rows, then the clinic's.
static hw_status join_rows(hw_job *job, const hw_trial *own, int own_count, hw_arena *into,
                           const hw_trial **out, int *count)
{
    int table = 0;
    hw_trial *all = NULL;
    const hw_trial *rows = hw_trials(&table);
    HW_ALLOC(job, into, all, table + own_count);
    memcpy(all, rows, (size_t)table * sizeof *all);
    if (own_count > 0) memcpy(all + table, own, (size_t)own_count * sizeof *all);
    *out = all, *count = table + own_count;
    return HW_OK;
}

hw_status hw_report_trials_json(hw_job *job, const hw_trial *own, int own_count, hw_arena *into,
                                hw_bytes *out)
{
    int count = 0;
    const hw_trial *rows = NULL;
    HW_TRY(join_rows(job, own, own_count, into, &rows, &count));
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    hw_json_open(&json, "trials", '[');
    for (int i = 0; i < count; i++) trial_row(&json, &rows[i]);
    hw_json_close(&json);
    hw_json_open(&json, "pools", '[');
    for (int i = 0; i < count; i++) {
        if (!is_first_of_pool(rows, i)) continue;
        pool_of_trials pool = gather(rows, count, rows[i].pool);
        if (pool.count > 1) HW_TRY(pool_row(job, &json, rows[i].pool, &pool, into));
    }
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
