// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

#include <math.h>

static void share(hw_json_out *out, const char *key, const hw_heel_share *of)
{
    hw_json_open(out, key, '{');
    hw_json_int(out, "count", of->count);
    hw_json_int(out, "of", of->of);
    if (of->of > 0) {
        hw_json_number(out, "share", of->share.estimate, 3);
        hw_json_number(out, "low", of->share.low, 3);
        hw_json_number(out, "high", of->share.high, 3);
    }
    hw_json_close(out);
}

static void curve(hw_json_out *out, const hw_survival *of)
{
    hw_json_maybe(out, "median_weeks_until_gone", of->median, 1.0, 1);
    hw_json_open(out, "still_in_pain", '[');
    for (int i = 0; i < of->count; i++) {
        const hw_survival_step *step = &of->steps[i];
        hw_json_open(out, NULL, '{');
        hw_json_number(out, "week", step->time, 2);
        hw_json_number(out, "share", step->share, 4);
        hw_json_number(out, "low", step->low, 4);
        hw_json_number(out, "high", step->high, 4);
        hw_json_int(out, "at_risk", step->at_risk);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void group(hw_json_out *out, const char *key, const hw_heel_group *of)
{
    hw_json_open(out, key, '{');
    if (of->act) hw_json_text(out, "act", of->act);
    hw_json_int(out, "heels", of->heels);
    hw_json_int(out, "followed", of->followed);
    hw_json_int(out, "lost", of->lost);
    share(out, "better", &of->better);
    share(out, "gone", &of->gone);
    hw_json_maybe(out, "first_score_median", of->first_score, 1.0, 1);
    hw_json_maybe(out, "onset_weeks_median", of->onset_weeks, 1.0, 0);
    hw_json_maybe(out, "age_median", of->age_years, 1.0, 0);
    if (of->against_forecast.known) {
        hw_json_maybe(out, "against_forecast", of->against_forecast, 1.0, 2);
        hw_json_number(out, "against_low", of->against_low, 2);
        hw_json_number(out, "against_high", of->against_high, 2);
    }
    if (of->followed > 0) {
        hw_json_number(out, "median_change", of->median_change, 2);
        curve(out, &of->until_gone);
    }
    if (of->act && of->followed > 0) {
        hw_json_number(out, "funnel_low", of->funnel_low, 3);
        hw_json_number(out, "funnel_high", of->funnel_high, 3);
        hw_json_bool(out, "outside_funnel", of->outside_funnel);
    }
    hw_json_close(out);
}

static void beside(hw_json_out *out, const hw_caseload *of)
{
    hw_json_open(out, "beside_trials", '[');
    for (int i = 0; i < of->beside_count; i++) {
        const hw_beside_trials *row = &of->beside[i];
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "act", row->act);
        share(out, "here", &row->here);
        share(out, "published", &row->published);
        if (row->here.of > 0) {
            hw_json_number(out, "difference", row->difference.estimate, 3);
            hw_json_number(out, "low", row->difference.low, 3);
            hw_json_number(out, "high", row->difference.high, 3);
        }
        hw_json_int(out, "trials", row->trials);
        hw_json_text(out, "first_source", row->first_source);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void harms(hw_json_out *out, const hw_caseload *of)
{
    hw_json_open(out, "harms", '[');
    for (int i = 0; i < of->harm_count; i++) {
        const hw_act_harm *row = &of->harms[i];
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "act", row->act);
        hw_json_int(out, "given", row->given);
        hw_json_int(out, "events", row->events);
        hw_json_number(out, "share", row->share.estimate, 4);
        hw_json_number(out, "low", row->share.low, 4);
        hw_json_number(out, "high", row->share.high, 4);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void control(hw_json_out *out, const hw_caseload *of)
{
    char date[HW_DATE_TEXT];
    hw_json_number(out, "control_target", of->control_target, 3);
    hw_json_number(out, "control_limit", of->control_limit, 1);
    hw_json_open(out, "control", '[');
    for (int i = 0; i < of->control_count; i++) {
        const hw_control_step *step = &of->control[i];
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "date", hw_date_text((hw_date){step->day, true}, date));
        hw_json_bool(out, "better", step->better);
        hw_json_number(out, "sum", step->sum, 3);
        hw_json_bool(out, "signal", step->signal);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void adjusted(hw_json_out *out, const hw_two_groups *of)
{
    static const char *const names[HW_ADJUSTED] = {"first against second", "a point of first score",
                                                   "a week of pain", "a year of age"};
    if (of->not_adjusted) {
        hw_json_text(out, "not_adjusted", of->not_adjusted);
        return;
    }
    const hw_hazards *cox = &of->adjusted[HW_TIES_EFRON];
    hw_json_int(out, "adjusted_heels", cox->people);
    hw_json_int(out, "adjusted_events", cox->events);
    hw_json_open(out, "adjusted", '[');
    for (int i = 0; i < HW_ADJUSTED; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "of", names[i]);
        hw_json_number(out, "ratio", exp(cox->log_ratio[i]), 4);
        hw_json_number(out, "low", cox->low[i], 4);
        hw_json_number(out, "high", cox->high[i], 4);
        hw_json_number(out, "p", cox->p[i], 4);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_open(out, "first_against_second_by_ties", '[');
    for (int i = 0; i < HW_TIES; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "ties", hw_ties_word((hw_ties)i));
        hw_json_number(out, "ratio", exp(of->adjusted[i].log_ratio[HW_ADJUSTED_ACT]), 4);
        hw_json_number(out, "low", of->adjusted[i].low[HW_ADJUSTED_ACT], 4);
        hw_json_number(out, "high", of->adjusted[i].high[HW_ADJUSTED_ACT], 4);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void largest_two(hw_json_out *out, const hw_two_groups *of)
{
    if (!of->acts[0]) return;
    hw_json_open(out, "largest_two", '{');
    hw_json_text(out, "first", of->acts[0]);
    hw_json_text(out, "second", of->acts[1]);
    if (of->test.is_known) {
        hw_json_number(out, "chi2", of->test.chi2, 4);
        hw_json_number(out, "p", of->test.p, 4);
        hw_json_number(out, "early_chi2", of->test.early_chi2, 4);
        hw_json_number(out, "early_p", of->test.early_p, 4);
    } else {
        hw_json_text(out, "no_test",
                     "no heel became free of pain while heels of both were still watched");
    }
    hw_json_maybe(out, "heels_needed_each", of->needed_each, 1.0, 0);
    adjusted(out, of);
    hw_json_close(out);
}

hw_status hw_report_caseload_json(hw_job *job, const hw_caseload *of, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    hw_json_number(&json, "gone_at_or_below", of->gone, 1);
    hw_json_number(&json, "change_that_matters", of->matters, 1);
    hw_json_text(&json, "change_that_matters_source", hw_pain_scale_of(HW_PAIN_FIRST_STEP).source);
    group(&json, "all", &of->all);
    hw_json_open(&json, "acts", '[');
    for (int i = 0; i < of->act_count; i++) group(&json, NULL, &of->acts[i]);
    hw_json_close(&json);
    beside(&json, of);
    harms(&json, of);
    control(&json, of);
    largest_two(&json, &of->first_two);
    hw_json_text(
        &json, "caution",
        "Heels are not randomised to treatments: groups differ in more than the treatment, "
        "and those who stay away may fare better or worse. Counts, no causes.");
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
