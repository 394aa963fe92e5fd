// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

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
    hw_json_text(
        &json, "caution",
        "Heels are not randomised to treatments: groups differ in more than the treatment, "
        "and those who stay away may fare better or worse. Counts, no causes.");
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
