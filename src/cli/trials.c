// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/cli.h"

#include <math.h>
#include <stdio.h>

static void print_trial(const hw_trial *trial)
{
    hw_trial_effect effect;
    double p;
    bool contradicts = false;
    printf("%-18s %s against %s, %s, week %g: ", trial->id, trial->treatment, trial->control,
           trial->outcome, trial->weeks);
    if (hw_trial_log_odds(trial, &effect))
        printf("%d of %d against %d of %d, odds ratio of good %.2f", trial->events_a,
               trial->count_a, trial->events_b, trial->count_b, exp(effect.effect));
    else if (trial->low.known)
        printf("%+.1f %s (%.1f to %.1f)", trial->difference.value, trial->unit, trial->low.value,
               trial->high.value);
    else
        printf("%+.1f %s, no interval printed", trial->difference.value, trial->unit);
    if (hw_trial_p(trial, &p, &contradicts)) printf(p < 0.001 ? ", p < 0.001" : ", p %.3f", p);
    printf("%s [%s%s%s]\n", contradicts ? ", CONTRADICTS the printed p" : "", trial->status,
           trial->note ? ": " : "", trial->note ? trial->note : "");
}

static void print_pool(const hw_trials_pool *pool)
{
    const hw_pool_try *reml = &pool->methods[HW_POOL_REML];
    printf("\n%s: %d trials, %s of the treated doing better\n", pool->name, pool->count,
           pool->is_ratio ? "log odds ratio" : "standardised difference");
    if (pool->count > 0 && reml->why) printf("  no answer by REML: %s\n", reml->why);
    if (pool->count > 0 && !reml->why)
        printf("  REML %.2f (%.2f to %.2f), after Hartung and Knapp (%.2f to %.2f), tau2 %.3f\n",
               reml->of.mean, reml->of.low, reml->of.high, reml->of.hk_low, reml->of.hk_high,
               reml->of.tau2);
    if (pool->has_tables)
        printf("  as tables: Mantel-Haenszel %.2f, Peto %.2f\n", pool->mantel_haenszel.effect,
               pool->peto.effect);
    if (pool->no_horizon) printf("  over the weeks: %s\n", pool->no_horizon);
    if (!pool->no_horizon && pool->count > 0)
        printf("  over the weeks: %+.3f each week, p %.3f (between trials, not within one)\n",
               pool->horizon.value[1], pool->horizon.p[1]);
    for (int i = 0; i < pool->left_out_count; i++)
        printf("  LEFT OUT %s: %s\n", pool->left_out[i].trial->id, pool->left_out[i].why);
}

enum { TRIALS_BYTES_MAX = 1 << 20 };

// The clinic's own file: a list of trials, or one.
static hw_status read_own(cli_room *room, const char *path, hw_trial **own, int *count)
{
    hw_bytes file = {0};
    *own = NULL, *count = 0;
    if (!path) return HW_OK;
    HW_TRY(hw_file_read(&room->job, path, TRIALS_BYTES_MAX, room->into, &file));
    return hw_app_trials(&room->job, file, room->into, own, count, &room->faults);
}

hw_status cli_trials(cli_room *room, const cli_words *words)
{
    int count = 0, own_count = 0, pool_count = 0;
    hw_trial *own = NULL;
    const hw_trial *rows = NULL;
    hw_trials_pool *pools = NULL;
    HW_TRY(read_own(room, words->second, &own, &own_count));
    if (words->is_json) {
        hw_bytes text = {0};
        HW_TRY(hw_report_trials_json(&room->job, own, own_count, room->into, &text));
        return cli_print(room, text);
    }
    HW_TRY(hw_trials_with(&room->job, own, own_count, room->into, &rows, &count));
    HW_TRY(hw_pools_of(&room->job, rows, count, room->into, &pools, &pool_count));
    for (int i = 0; i < count; i++) print_trial(&rows[i]);
    for (int i = 0; i < pool_count; i++) print_pool(&pools[i]);
    return HW_OK;
}
