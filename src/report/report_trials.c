// SPDX-License-Identifier: GPL-3.0-or-later
// The trials as rows with their effects recomputed, and what may be pooled, all methods side by
// side.
#include "json_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

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

// On the pool's own scale: ratios are pooled as logarithms.
static double shown(const hw_trials_pool *pool, double value)
{
    return pool->is_ratio ? exp(value) : value;
}

static void interval(hw_json_out *out, const hw_trials_pool *pool, double mean, double low,
                     double high)
{
    hw_json_number(out, "estimate", shown(pool, mean), 4);
    hw_json_number(out, "low", shown(pool, low), 4);
    hw_json_number(out, "high", shown(pool, high), 4);
}

static void method_row(hw_json_out *out, const hw_trials_pool *pool, hw_pool_method method)
{
    const hw_pooled *of = &pool->methods[method].of;
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "method", hw_pool_word(method));
    interval(out, pool, of->mean, of->low, of->high);
    hw_json_number(out, "p", of->p, 5);
    hw_json_number(out, "hartung_knapp_low", shown(pool, of->hk_low), 4);
    hw_json_number(out, "hartung_knapp_high", shown(pool, of->hk_high), 4);
    hw_json_number(out, "hartung_knapp_p", of->hk_p, 5);
    hw_json_bool(out, "hartung_knapp_is_narrower", of->hk_is_narrower);
    hw_json_number(out, "q", of->q, 4);
    hw_json_number(out, "q_p", of->q_p, 5);
    hw_json_number(out, "tau2", of->tau2, 5);
    hw_json_number(out, "i2_percent", of->i2_percent, 1);
    if (of->predict_is_known) {
        hw_json_number(out, "prediction_low", shown(pool, of->predict_low), 4);
        hw_json_number(out, "prediction_high", shown(pool, of->predict_high), 4);
    }
    hw_json_close(out);
}

// Methods that have an answer, and by name those that have none.
static void methods(hw_json_out *out, const hw_trials_pool *pool)
{
    hw_json_open(out, "methods", '[');
    for (int m = 0; m < HW_POOL_METHODS && pool->count > 0; m++)
        if (!pool->methods[m].why) method_row(out, pool, (hw_pool_method)m);
    hw_json_close(out);
    hw_json_open(out, "without_answer", '[');
    for (int m = 0; m < HW_POOL_METHODS && pool->count > 0; m++) {
        if (!pool->methods[m].why) continue;
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "method", hw_pool_word((hw_pool_method)m));
        hw_json_text(out, "why", pool->methods[m].why);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void without(hw_json_out *out, const hw_trials_pool *pool)
{
    hw_json_open(out, "without", '[');
    for (int i = 0; i < pool->count && pool->without; i++) {
        const hw_pool_try *rest = &pool->without[i];
        if (rest->why) continue;
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "trial", pool->trials[i]->id);
        interval(out, pool, rest->of.mean, rest->of.low, rest->of.high);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void tables_row(hw_json_out *out, const hw_trials_pool *pool, const char *word,
                       const hw_trial_effect *of)
{
    const double spread = 1.959964 * sqrt(of->variance);
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "method", word);
    interval(out, pool, of->effect, of->effect - spread, of->effect + spread);
    hw_json_number(out, "p", hw_effect_p(of), 5);
    hw_json_close(out);
}

static void asymmetry(hw_json_out *out, const hw_trials_pool *pool)
{
    char mixed[60] = "not settled", text[400];
    const hw_funnel *of = &pool->funnel;
    const hw_filled *filled = &pool->filled;
    if (pool->no_funnel) {
        hw_json_text(out, "asymmetry", pool->no_funnel);
        return;
    }
    if (of->has_mixed) snprintf(mixed, sizeof mixed, "z %.2f, p %.3f", of->mixed_z, of->mixed_p);
    snprintf(
        text, sizeof text,
        "funnel: Egger t %.2f, p %.3f; with a spread between trials %s; Begg's ranks tau %.2f, "
        "p %.3f. Made even with %d trials mirrored in, the pool would be %.2f (%.2f to %.2f): a "
        "sensitivity, not an answer",
        of->t, of->p, mixed, of->tau, of->tau_p, filled->added, shown(pool, filled->mean),
        shown(pool, filled->low), shown(pool, filled->high));
    hw_json_text(out, "asymmetry", text);
}

// How the effect changes with the weeks of follow-up, by trials that differ in more than that.
static void horizon(hw_json_out *out, const hw_trials_pool *pool)
{
    char text[400];
    const hw_moderated *of = &pool->horizon;
    if (pool->no_horizon) {
        hw_json_text(out, "horizon", pool->no_horizon);
        return;
    }
    const double per = 4.0 * of->value[1], reach = 4.0 * 1.959964 * of->se[1];
    snprintf(
        text, sizeof text,
        "each 4 weeks of later follow-up %s the effect by %.3f (95 %% %.3f to %.3f, p %.3f; after "
        "Knapp and Hartung p %.3f; tau2 left %.3f): seen between trials, not within one",
        pool->is_ratio ? "multiply" : "change", shown(pool, per), shown(pool, per - reach),
        shown(pool, per + reach), of->p[1], of->hk_p[1], of->tau2);
    hw_json_text(out, "horizon", text);
}

static void pool_row(hw_json_out *out, const hw_trials_pool *pool)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "pool", pool->name);
    hw_json_bool(out, "is_ratio", pool->is_ratio);
    hw_json_text(out, "scale",
                 pool->is_ratio ? "odds ratio of a good outcome; above 1 the treated did better"
                                : "standardised difference; above 0 the treated did better");
    hw_json_open(out, "trials", '[');
    for (int i = 0; i < pool->count; i++) hw_json_text(out, NULL, pool->trials[i]->id);
    hw_json_close(out);
    hw_json_open(out, "left_out", '[');
    for (int i = 0; i < pool->left_out_count; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "trial", pool->left_out[i].trial->id);
        hw_json_text(out, "why", pool->left_out[i].why);
        hw_json_close(out);
    }
    hw_json_close(out);
    methods(out, pool);
    if (pool->has_spread) {
        hw_json_number(out, "tau2_low", pool->tau2_low, 5);
        hw_json_number(out, "tau2_high", pool->tau2_high, 5);
    }
    hw_json_open(out, "tables", '[');
    if (pool->has_tables) {
        tables_row(out, pool, "Mantel-Haenszel", &pool->mantel_haenszel);
        tables_row(out, pool, "Peto", &pool->peto);
    }
    hw_json_close(out);
    without(out, pool);
    if (pool->count > 0) asymmetry(out, pool);
    if (pool->count > 0) horizon(out, pool);
    hw_json_close(out);
}

hw_status hw_report_trials_json(hw_job *job, const hw_trial *own, int own_count, hw_arena *into,
                                hw_bytes *out)
{
    int count = 0;
    const hw_trial *rows = NULL;
    hw_trials_pool *pools = NULL;
    int pool_count = 0;
    HW_TRY(hw_trials_with(job, own, own_count, into, &rows, &count));
    HW_TRY(hw_pools_of(job, rows, count, into, &pools, &pool_count));
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    hw_json_open(&json, "trials", '[');
    for (int i = 0; i < count; i++) trial_row(&json, &rows[i]);
    hw_json_close(&json);
    hw_json_open(&json, "pools", '[');
    for (int i = 0; i < pool_count; i++) pool_row(&json, &pools[i]);
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
