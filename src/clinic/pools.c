// SPDX-License-Identifier: GPL-3.0-or-later
#include "pools.h"

#include <string.h>

// Below it neither a funnel nor a slope says anything (common practice: Cochrane handbook 10.11,
// 13.3).
enum { ENOUGH_TRIALS = 10 };

typedef struct work {
    hw_job *job;
    hw_arena *into;
    const hw_trial *rows;
    int count;
} work;

// Keeps why a computation has no answer, gives its memory back, and lets what is no answer pass.
static hw_status settle(const work *of, hw_scratch tmp, hw_status status, const char **why)
{
    hw_scratch_end(tmp);
    if (status != HW_BAD_INPUT && status != HW_NO_ANSWER) return status;
    return hw_text_copy(of->job, of->into, of->job->why, why);
}

static hw_status pool(const work *of, const hw_trial_effect *effects, int count,
                      hw_pool_method method, hw_pool_try *out)
{
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    hw_status status = hw_pool(of->job, effects, count, method, of->into, &out->of);
    return settle(of, tmp, status, &out->why);
}

static bool effect_on(const hw_trial *trial, bool is_ratio, hw_trial_effect *out)
{
    return is_ratio ? hw_trial_log_odds(trial, out) : hw_trial_standardised(trial, out);
}

// The rows of this name on the scale of its first one; the others are left out and say why.
static hw_status gather(const work *of, hw_trials_pool *pool)
{
    HW_ALLOC(of->job, of->into, pool->trials, of->count);
    HW_ALLOC(of->job, of->into, pool->effects, of->count);
    HW_ALLOC(of->job, of->into, pool->left_out, of->count);
    for (int i = 0; i < of->count; i++) {
        const hw_trial *trial = &of->rows[i];
        if (!trial->pool || strcmp(trial->pool, pool->name) != 0) continue;
        if (effect_on(trial, pool->is_ratio, &pool->effects[pool->count]))
            pool->trials[pool->count++] = trial;
        else
            pool->left_out[pool->left_out_count++] = (hw_left_out){
                trial,
                pool->is_ratio
                    ? "no events of so many people, in which this pool is counted"
                    : "no means with deviations, or difference with its interval, and people: this "
                      "pool is of standardised differences"};
    }
    return HW_OK;
}

// The pool without each of its trials in turn: whether one of them carries it alone.
static hw_status leave_one_out(const work *of, hw_trials_pool *out)
{
    hw_trial_effect *rest = NULL;
    if (out->count < 3) return HW_OK;
    HW_ALLOC(of->job, of->into, out->without, out->count);
    HW_ALLOC(of->job, of->into, rest, out->count);
    for (int i = 0; i < out->count; i++) {
        int count = 0;
        for (int k = 0; k < out->count; k++)
            if (k != i) rest[count++] = out->effects[k];
        HW_TRY(pool(of, rest, count, HW_POOL_REML, &out->without[i]));
    }
    return HW_OK;
}

static hw_two_by_two table_of_good(const hw_trial *trial)
{
    const double a = trial->events_a, b = trial->events_b;
    const double not_a = trial->count_a - a, not_b = trial->count_b - b;
    return trial->event_is_bad ? (hw_two_by_two){not_a, a, not_b, b}
                               : (hw_two_by_two){a, not_a, b, not_b};
}

static hw_status pool_tables(const work *of, hw_trials_pool *out)
{
    hw_two_by_two *tables = NULL;
    const char *why = NULL; // an arm without an outcome in all tables: there is nothing to say
    if (!out->is_ratio) return HW_OK;
    HW_ALLOC(of->job, of->into, tables, out->count);
    for (int i = 0; i < out->count; i++) tables[i] = table_of_good(out->trials[i]);
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    hw_status status = hw_pool_tables(of->job, tables, out->count, true, &out->mantel_haenszel);
    if (status == HW_OK) status = hw_pool_peto(of->job, tables, out->count, &out->peto);
    out->has_tables = status == HW_OK;
    return settle(of, tmp, status, &why);
}

static hw_status look_at_funnel(const work *of, hw_trials_pool *out)
{
    if (out->count < ENOUGH_TRIALS) {
        out->no_funnel = "not enough trials: below 10 a funnel says nothing";
        return HW_OK;
    }
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    hw_status status = hw_pool_asymmetry(of->job, out->effects, out->count, &out->funnel);
    if (status == HW_OK)
        status = hw_pool_filled(of->job, out->effects, out->count, HW_POOL_REML, &out->filled);
    return settle(of, tmp, status, &out->no_funnel);
}

static hw_status look_at_horizon(const work *of, hw_trials_pool *out)
{
    double *weeks = NULL;
    if (out->count < ENOUGH_TRIALS) {
        out->no_horizon = "not enough trials: below 10 a slope over the weeks says nothing";
        return HW_OK;
    }
    HW_ALLOC(of->job, of->into, weeks, out->count);
    for (int i = 0; i < out->count; i++) weeks[i] = out->trials[i]->weeks;
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    hw_status status =
        hw_pool_moderated(of->job, out->effects, weeks, 1, out->count, HW_POOL_REML, &out->horizon);
    return settle(of, tmp, status, &out->no_horizon);
}

static hw_status work_out(const work *of, hw_trials_pool *out)
{
    for (int m = 0; m < HW_POOL_METHODS; m++)
        HW_TRY(pool(of, out->effects, out->count, (hw_pool_method)m, &out->methods[m]));
    if (out->count > 1) {
        HW_TRY(hw_pool_tau2_interval(of->job, out->effects, out->count, &out->tau2_low,
                                     &out->tau2_high));
        out->has_spread = true;
    }
    HW_TRY(leave_one_out(of, out));
    HW_TRY(pool_tables(of, out));
    HW_TRY(look_at_funnel(of, out));
    return look_at_horizon(of, out);
}

static bool is_first_of_pool(const work *of, int i)
{
    if (!of->rows[i].pool) return false;
    for (int j = 0; j < i; j++)
        if (of->rows[j].pool && strcmp(of->rows[j].pool, of->rows[i].pool) == 0) return false;
    return true;
}

hw_status hw_pools_of(hw_job *job, const hw_trial *rows, int count, hw_arena *into,
                      hw_trials_pool **out, int *out_count)
{
    const work of = {job, into, rows, count};
    hw_trials_pool *pools = NULL;
    int found = 0;
    HW_ALLOC(job, into, pools, count + 1);
    for (int i = 0; i < count; i++) {
        if (!is_first_of_pool(&of, i)) continue;
        hw_trials_pool one = {.name = rows[i].pool, .is_ratio = rows[i].events_a >= 0};
        HW_TRY(gather(&of, &one));
        if (one.count < 2 && one.left_out_count == 0) continue;
        if (one.count > 0) HW_TRY(work_out(&of, &one));
        pools[found++] = one;
    }
    *out = pools, *out_count = found;
    return HW_OK;
}
