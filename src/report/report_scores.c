// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void scale_values(hw_json_out *out, const hw_scale *scale)
{
    hw_json_open(out, "values", '[');
    for (int i = 0; i < HW_SCALE_VALUES && scale->values[i].name; i++) {
        const hw_scale_value *of = &scale->values[i];
        const bool is_percent =
            of->scoring == HW_SCORING_PERCENT || of->scoring == HW_SCORING_MEAN_OF_PARTS;
        const double times = of->scoring == HW_SCORING_SUM ? of->count : 1.0;
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "name", of->name);
        hw_json_text(out, "unit", is_percent ? "%" : "");
        hw_json_number(out, "low", is_percent ? 0.0 : times * scale->item_low, 2);
        hw_json_number(out, "high", is_percent ? 100.0 : times * scale->item_high, 2);
        hw_json_int(out, "least_answered", of->least_answered);
        hw_json_int(out, "of_items", of->count);
        hw_json_maybe(out, "change_that_matters", of->matters, 1.0, 2);
        hw_json_maybe(out, "smallest_change_beyond_error", of->error, 1.0, 2);
        hw_json_text(out, "source", of->source);
        hw_json_close(out);
    }
    hw_json_close(out);
}

void json_scale(hw_json_out *out, const hw_scale *scale)
{
    hw_json_text(out, "scale", scale->key);
    hw_json_text(out, "name", scale->name);
    hw_json_int(out, "items", scale->item_count);
    hw_json_int(out, "least_items", scale->least_items);
    hw_json_number(out, "item_low", scale->item_low, 2);
    hw_json_number(out, "item_high", scale->item_high, 2);
    hw_json_text(out, "better", scale->higher_is_better ? "higher" : "lower");
    hw_json_text(out, "wording",
                 scale->wording == HW_WORDING_COMMON ? "common" : "from the clinic's text file");
    hw_json_text(out, "asks", scale->items);
    hw_json_text(out, "note", scale->note);
    scale_values(out, scale);
}

static hw_status score(hw_job *job, const hw_score_request *asked, int sheet, hw_scored *out)
{
    const hw_scale *scale = asked->questionnaire.scale;
    const hw_score_sheet *of = &asked->sheets[sheet];
    HW_TRY(hw_score_items(job, scale, of->items, of->count, out));
    if (asked->is_highest_best && out->values[0].known)
        out->values[0].value = hw_grade_from_best(scale, out->values[0].value, true);
    return HW_OK;
}

static void value(hw_json_out *out, const hw_scale *scale, int index, const hw_scored *now,
                  const hw_scored *first)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "name", scale->values[index].name);
    hw_json_maybe(out, "value", now->values[index], 1.0, 2);
    hw_json_text(out, "why_not", now->why[index]);
    if (first && first->values[index].known && now->values[index].known) {
        const double from = first->values[index].value, to = now->values[index].value;
        hw_json_number(out, "since_first", to - from, 2);
        hw_json_text(out, "change", hw_change_word(hw_change_of(scale, index, from, to)));
    }
    hw_json_close(out);
}

static void sheet(hw_json_out *out, const hw_score_request *asked, int index, const hw_scored *now,
                  const hw_scored *first)
{
    char date[HW_DATE_TEXT];
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "date", hw_date_text(asked->sheets[index].date, date));
    hw_json_int(out, "answered", now->answered);
    hw_json_int(out, "missing", now->missing);
    hw_json_int(out, "not_applicable", now->not_applicable);
    hw_json_open(out, "values", '[');
    for (int i = 0; i < now->value_count; i++)
        value(out, asked->questionnaire.scale, i, now, index > 0 ? first : NULL);
    hw_json_close(out);
    hw_json_close(out);
}

hw_status hw_report_scores_json(hw_job *job, const hw_score_request *asked, hw_arena *into,
                                hw_bytes *out)
{
    const hw_questionnaire *of = &asked->questionnaire;
    hw_scored first = {0}, now = {0};
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "program", "heelwright " HW_VERSION);
    json_scale(&json, of->scale);
    hw_json_bool(&json, "is_own", of->is_own);
    if (asked->is_highest_best)
        hw_json_text(&json, "turned",
                     "grades came with 4 as the best and are shown with 1 as best");
    hw_json_open(&json, "item_words", '[');
    for (int i = 0; of->items && i < of->scale->item_count; i++)
        hw_json_text(&json, NULL, of->items[i]);
    hw_json_close(&json);
    hw_json_open(&json, "sheets", '[');
    for (int i = 0; i < asked->count; i++) {
        HW_TRY(score(job, asked, i, &now));
        if (i == 0) first = now;
        sheet(&json, asked, i, &now, &first);
    }
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

hw_status hw_report_scales_json(hw_job *job, hw_arena *into, hw_bytes *out)
{
    int count = 0;
    const hw_scale *rows = hw_scale_rows(&count);
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_open(&json, "scales", '[');
    for (int i = 0; i < count; i++) {
        hw_json_open(&json, NULL, '{');
        json_scale(&json, &rows[i]);
        hw_json_close(&json);
    }
    hw_json_close(&json);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
