// SPDX-License-Identifier: GPL-3.0-or-later
// What else it may be: each cause with the features that speak for it, and the tests with their
// ratios.
#include "json_parts.h"

static const char *answer(hw_verdict of, const char *yes, const char *no, const char *unknown)
{
    return of == HW_VERDICT_YES ? yes : of == HW_VERDICT_NO ? no : unknown;
}

static void source(hw_json_out *out, const char *key)
{
    const hw_source *of = hw_source_by_key(key);
    hw_json_text(out, "source", key);
    hw_json_text(out, "source_status", of ? of->status : NULL);
}

static void cause(hw_json_out *out, const hw_cause_fit *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "name", of->row->name);
    hw_json_text(out, "fits", answer(of->fits, "fits", "does not fit", "cannot be said"));
    hw_json_open(out, "features", '[');
    for (int i = 0; i < HW_CAUSE_FEATURES && of->row->features[i].weight; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "text", of->row->features[i].text);
        hw_json_text(out, "found", answer(of->features[i], "yes", "no", "unknown"));
        hw_json_int(out, "weight", of->row->features[i].weight);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_int(out, "needed_weight", of->row->needed);
    hw_json_text(out, "next_step", of->row->next_step);
    hw_json_text(out, "urgency", hw_urgency_word(of->row->urgency));
    source(out, of->row->source);
    hw_json_close(out);
}

static void estimate(hw_json_out *out, const char *key, const hw_estimate *of, int decimals)
{
    hw_json_open(out, key, '{');
    hw_json_number(out, "value", of->value, decimals);
    hw_json_number(out, "low", of->low, decimals);
    hw_json_number(out, "high", of->high, decimals);
    hw_json_close(out);
}

static void result(hw_json_out *out, const hw_test_result *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "test", of->row->name);
    hw_json_text(out, "about", hw_cause_rows()[of->row->cause].name);
    hw_json_text(out, "result", of->is_positive ? "positive" : "negative");
    estimate(out, "likelihood_ratio", &of->ratio, 3);
    hw_json_bool(out, "zero_cell_corrected", of->ratio.is_corrected);
    hw_json_bool(out, "used", of->is_used);
    if (!of->is_used)
        hw_json_text(out, "why_not", "another test of the same tissue is used: not multiplied");
    hw_json_bool(out, "split_assumed", of->row->is_split_assumed);
    hw_json_text(out, "note", of->row->note);
    source(out, of->row->source);
    hw_json_close(out);
}

static void one(hw_json_out *out, const hw_differential *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "foot", hw_side_word(of->side));
    hw_json_text(out, "outcome", hw_outcome_word(of->outcome));
    hw_json_text(out, "sentence", of->sentence);
    hw_json_text(out, "urgency", hw_urgency_word(of->urgency));
    estimate(out, "fascia_before", &of->before, 3);
    hw_json_text(out, "fascia_before_source", "yi-2011");
    estimate(out, "fascia_after", &of->after, 3);
    hw_json_open(out, "tests", '[');
    for (int i = 0; i < of->result_count; i++) result(out, &of->results[i]);
    hw_json_close(out);
    hw_json_text(out, "test_that_would_tell_most", of->tells_most ? of->tells_most->name : NULL);
    if (of->tells_most) hw_json_number(out, "it_would_tell_bits", of->tells_bits, 3);
    hw_json_text(out, "finding_most_patterns_wait_for", of->missing ? of->missing->text : NULL);
    hw_json_int(out, "patterns_waiting_for_it", of->missing_patterns);
    hw_json_open(out, "causes", '[');
    for (int i = 0; i < HW_CAUSE_COUNT; i++) cause(out, &of->causes[i]);
    hw_json_close(out);
    hw_json_text(out, "not_looked_for", "gout, Paget's disease, a foreign body");
    hw_json_close(out);
}

void json_differential(hw_json_out *out, const hw_plan *plan)
{
    hw_json_open(out, "differential", '[');
    for (int i = 0; i < plan->differential_count; i++) one(out, &plan->differentials[i]);
    hw_json_close(out);
}
