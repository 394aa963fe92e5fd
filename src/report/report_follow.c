// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void points(hw_json_out *out, const hw_follow_up *of)
{
    hw_json_open(out, "course", '[');
    for (int i = 0; i < HW_FOLLOW_POINTS; i++) {
        const hw_growth_view *view = &of->view[i];
        hw_json_open(out, NULL, '{');
        hw_json_number(out, "week", of->week[i], 2);
        hw_json_number(out, "level", view->mean, 2);
        hw_json_number(out, "low", view->low, 2);
        hw_json_number(out, "high", view->high, 2);
        hw_json_number(out, "score_low", view->score_low, 2);
        hw_json_number(out, "score_high", view->score_high, 2);
        hw_json_close(out);
    }
    hw_json_close(out);
}

static void prior(hw_json_out *out, const hw_pain_scale *scale)
{
    const hw_growth_prior *of = &scale->prior;
    hw_json_open(out, "prior", '{');
    hw_json_number(out, "level", of->level_mean, 2);
    hw_json_number(out, "level_sd", of->level_sd, 2);
    hw_json_number(out, "fall", of->fall_mean, 2);
    hw_json_number(out, "fall_sd", of->fall_sd, 2);
    hw_json_number(out, "weeks", of->weeks, 1);
    hw_json_number(out, "one_rating_sd", of->noise_sd, 2);
    hw_json_text(out, "source", scale->prior_source);
    hw_json_close(out);
}

hw_status hw_report_follow_json(hw_job *job, const hw_follow_request *asked, const hw_follow_up *of,
                                hw_arena *into, hw_bytes *out)
{
    char date[HW_DATE_TEXT];
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    hw_json_text(&json, "pain", hw_pain_word(asked->kind));
    hw_json_text(&json, "week_0", hw_date_text(asked->dated[0].date, date));
    hw_json_int(&json, "scores", of->scores);
    hw_json_number(&json, "last_week", of->last_week, 2);
    hw_json_number(&json, "last_score", of->last_score, 1);
    hw_json_maybe(&json, "change_that_matters", of->scale.matters, 1.0, 1);
    hw_json_text(&json, "change_that_matters_source", of->scale.source);
    hw_json_number(&json, "gone_at_or_below", of->gone, 1);
    hw_json_number(&json, "chance_gone_in_12_weeks", of->chance_gone_12, 2);
    hw_json_number(&json, "chance_gone_in_26_weeks", of->chance_gone_26, 2);
    hw_json_maybe(&json, "chance_change_matters_in_12_weeks", of->chance_matters_12, 1.0, 2);
    hw_json_open(&json, "signals", '[');
    for (int i = 0; i < of->signal_count; i++) hw_json_text(&json, NULL, of->signals[i]);
    hw_json_close(&json);
    points(&json, of);
    prior(&json, &of->scale);
    hw_json_text(
        &json, "caution",
        "A forecast from this heel's own ratings and a wide prior; 90 % bands. It names no "
        "treatment as the cause.");
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
