// SPDX-License-Identifier: GPL-3.0-or-later
// Reads sets of numbers, prints what src/stats makes of them: the shell of tests/end_to_end/test_statistics.py.
//
//     pool METHOD ROWS MODERATORS      then  effect variance x1 ..   per row
//     filled METHOD ROWS 0             then  effect variance
//     follow 0 ROWS 1                  then  time happened group
//     hazards 0 ROWS COLUMNS           then  time happened x1 ..
//     mixed SLOPE_VARIES ROWS 0        then  person x y
//
// One line of names and numbers per set.
#include "stats/stats.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 400, WIDE = 6 };

typedef struct set {
    char kind[16];
    int option, count, columns;
    double rows[MOST][WIDE];
} set;

static bool read_set(set *into)
{
    if (scanf("%15s %d %d %d", into->kind, &into->option, &into->count, &into->columns) != 4)
        return false;
    const bool is_pool = !strcmp(into->kind, "pool") || !strcmp(into->kind, "filled");
    int wide = into->columns + 2;
    if (!strcmp(into->kind, "mixed")) wide = 3;
    if (into->count > MOST || wide > WIDE) return false;
    if (is_pool && (into->option < 0 || into->option >= HW_POOL_METHODS)) return false;
    for (int i = 0; i < into->count; i++)
        for (int c = 0; c < wide; c++)
            if (scanf("%lf", &into->rows[i][c]) != 1) return false;
    return true;
}

static void put(const char *name, double value)
{
    printf(" %s %.17g", name, value);
}

static hw_status pool(hw_job *job, const set *of, hw_arena *into)
{
    hw_trial_effect effects[MOST];
    double columns[MOST * WIDE];
    hw_moderated got = {0};
    hw_pooled plain = {0};
    for (int i = 0; i < of->count; i++) {
        effects[i] = (hw_trial_effect){of->rows[i][0], of->rows[i][1]};
        for (int c = 0; c < of->columns; c++) columns[i * of->columns + c] = of->rows[i][2 + c];
    }
    if (!strcmp(of->kind, "filled")) {
        hw_filled filled = {0};
        HW_TRY(hw_pool_filled(job, effects, of->count, (hw_pool_method)of->option, &filled));
        put("added", filled.added), put("mean", filled.mean), put("se", filled.se);
        return HW_OK;
    }
    HW_TRY(hw_pool_moderated(job, effects, columns, of->columns, of->count,
                             (hw_pool_method)of->option, &got));
    put("tau2", got.tau2), put("q", got.q), put("hk_scale", got.hk_scale);
    for (int c = 0; c < got.count; c++) {
        put("value", got.value[c]), put("se", got.se[c]), put("p", got.p[c]);
        put("hk_se", got.hk_se[c]), put("hk_p", got.hk_p[c]);
    }
    if (of->columns > 0) return HW_OK;
    HW_TRY(hw_pool(job, effects, of->count, (hw_pool_method)of->option, into, &plain));
    put("mean", plain.mean), put("mean_se", plain.se);
    put("low", plain.low), put("high", plain.high);
    put("mean_hk_se", plain.hk_se), put("i2", plain.i2_percent);
    put("predict_low", plain.predict_low), put("predict_high", plain.predict_high);
    return HW_OK;
}

static hw_status follow(hw_job *job, const set *of, hw_arena *into)
{
    hw_follow people[MOST];
    double columns[MOST * WIDE];
    const bool is_hazards = !strcmp(of->kind, "hazards");
    for (int i = 0; i < of->count; i++) {
        people[i] =
            (hw_follow){of->rows[i][0], of->rows[i][1] > 0.0, is_hazards ? 0 : (int)of->rows[i][2]};
        for (int c = 0; c < of->columns; c++) columns[i * of->columns + c] = of->rows[i][2 + c];
    }
    if (is_hazards) {
        hw_hazards got = {0};
        const hw_hazards_of asked = {people, columns, of->columns, of->count, (hw_ties)of->option};
        HW_TRY(hw_fit_hazards(job, &asked, &got));
        put("likelihood", got.log_likelihood);
        for (int c = 0; c < got.count; c++) put("ratio", got.log_ratio[c]), put("se", got.se[c]);
        return HW_OK;
    }
    hw_logrank test = {0};
    HW_TRY(hw_compare_survival(job, people, of->count, &test));
    put("chi2", test.chi2), put("early_chi2", test.early_chi2);
    for (int group = 0; group < 2; group++) {
        hw_survival curve = {0};
        HW_TRY(hw_survival_of(job, people, of->count, group, into, &curve));
        put("median", curve.median.known ? curve.median.value : -1.0);
        for (int i = 0; i < curve.count; i++) {
            put("time", curve.steps[i].time), put("share", curve.steps[i].share);
            if (curve.steps[i].share > 0.0)
                put("share_se", curve.steps[i].se), put("share_low", curve.steps[i].low);
        }
    }
    return HW_OK;
}

static hw_status mixed(hw_job *job, const set *of)
{
    hw_repeat rows[MOST];
    hw_mixed got = {0};
    for (int i = 0; i < of->count; i++)
        rows[i] = (hw_repeat){(int)of->rows[i][0], of->rows[i][1], of->rows[i][2]};
    HW_TRY(hw_fit_mixed(job, rows, of->count, (unsigned)of->option, &got));
    put("intercept", got.intercept), put("intercept_se", got.intercept_se);
    put("slope", got.slope), put("slope_se", got.slope_se);
    put("var_residual", got.var_residual), put("criterion", got.criterion);
    return HW_OK;
}

static hw_status answer(hw_job *job, const set *of, hw_arena *into)
{
    if (!strcmp(of->kind, "pool") || !strcmp(of->kind, "filled")) return pool(job, of, into);
    if (!strcmp(of->kind, "mixed")) return mixed(job, of);
    return follow(job, of, into);
}

int main(void)
{
    static set of;
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)1 << 28);
    if (!into || hw_job_open(&job, (size_t)1 << 28) != HW_OK) return 1;
    while (read_set(&of)) {
        if (answer(&job, &of, into) != HW_OK) printf(" failed 1 # %s", job.why);
        printf("\n");
    }
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
