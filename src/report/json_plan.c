// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_parts.h"

static void side(hw_json_out *out, hw_side of)
{
    hw_json_text(out, "foot", of == HW_SIDE_UNKNOWN ? NULL : hw_side_word(of));
}

static void date(hw_json_out *out, const char *key, hw_date of)
{
    char text[HW_DATE_TEXT];
    hw_json_text(out, key, of.known ? hw_date_text(of, text) : NULL);
}

static void reason(hw_json_out *out, const hw_reason *of)
{
    static const char *const kinds[] = {"caution", "stop", "never"};
    const hw_source *source = hw_source_by_key(of->rule->source);
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "rule", of->rule->id);
    hw_json_text(out, "kind", kinds[of->rule->kind]);
    hw_json_text(out, "sentence", of->rule->sentence);
    hw_json_text(out, "reading", of->reading);
    if (of->rule->urgency) hw_json_text(out, "urgency", hw_urgency_word(of->rule->urgency));
    hw_json_bool(out, "overruled", of->overruled);
    hw_json_text(out, "source", of->rule->source);
    hw_json_text(out, "source_status", source ? source->status : NULL);
    hw_json_close(out);
}

static void question(hw_json_out *out, const hw_question *of)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "key", of->key);
    hw_json_text(out, "text", of->text);
    side(out, of->side);
    hw_json_bool(out, "not_asked", of->not_asked);
    hw_json_close(out);
}

static void dose(hw_json_out *out, const hw_dose_row *of)
{
    hw_json_open(out, "dose", '{');
    hw_json_text(out, "text", of->text);
    hw_json_open(out, "numbers", '[');
    for (int i = 0; i < HW_DOSE_NUMBERS && of->numbers[i].name; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "name", of->numbers[i].name);
        hw_json_text(out, "unit", of->numbers[i].unit);
        hw_json_number(out, "low", of->numbers[i].low, 4);
        hw_json_number(out, "high", of->numbers[i].high, 4);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_open(out, "steps", '[');
    for (int i = 0; i < HW_DOSE_STEPS && of->steps[i].text; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_int(out, "from_week", of->steps[i].from_week);
        hw_json_text(out, "text", of->steps[i].text);
        hw_json_text(out, "when", of->steps[i].when);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_text(out, "after", of->after);
    hw_json_text(out, "source", of->source);
    hw_json_close(out);
}

static void evidence(hw_json_out *out, const hw_option *option)
{
    hw_json_open(out, "evidence", '[');
    for (int i = 0; i < option->evidence_count; i++) {
        const hw_evidence *of = option->evidence[i];
        hw_json_open(out, NULL, '{');
        hw_json_number(out, "weeks_low", of->weeks_low, 1);
        hw_json_number(out, "weeks_high", of->weeks_high, 1);
        hw_json_text(out, "text", of->text);
        hw_json_text(out, "source", of->source);
        hw_json_close(out);
    }
    hw_json_close(out);
}

// The change of load of the foot an option is for; both feet's where it is the person's.
static void expected_load(hw_json_out *out, const hw_report *report, const hw_option *option)
{
    if (option->changes == HW_LOAD_NONE) return;
    hw_json_open(out, "expected_change_of_load", '[');
    for (int i = 0; i < 2; i++) {
        const hw_mech_result *load = report->feet[i].load;
        if (!load || option->side == (i ? HW_SIDE_LEFT : HW_SIDE_RIGHT)) continue;
        for (int k = 0; k < load->effect_count; k++) {
            if (report->feet[i].change_tags[k] != option->changes) continue;
            hw_json_open(out, NULL, '{');
            hw_json_text(out, "foot", i ? "right" : "left");
            hw_json_text(out, "change", load->effects[k].name);
            hw_json_band(out, "peak_pct", load->effects[k].peak.change, 100.0, 1);
            hw_json_band(out, "midstance_pct", load->effects[k].midstance.change, 100.0, 1);
            hw_json_band(out, "impulse_pct", load->effects[k].impulse.change, 100.0, 1);
            hw_json_close(out);
        }
    }
    hw_json_close(out);
}

static void option(hw_json_out *out, const hw_report *report, const hw_option *of)
{
    static const char *const principles[] = {"unload", "settle", "heal"};
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "act", hw_act_rows()[of->act].word);
    side(out, of->side);
    hw_json_text(out, "principle", principles[of->principle]);
    hw_json_text(out, "state", hw_eligibility_word(of->state));
    hw_json_open(out, "reasons", '[');
    for (int i = 0; i < of->reason_count; i++) reason(out, &of->reasons[i]);
    hw_json_close(out);
    hw_json_open(out, "questions", '[');
    for (int i = 0; i < of->question_count; i++) hw_json_text(out, NULL, of->questions[i].key);
    hw_json_close(out);
    if (of->dose) dose(out, of->dose);
    hw_json_text(out, "dose_for_this_person", of->dose_for_this_person);
    date(out, "earliest", of->earliest);
    hw_json_text(out, "waits_for", of->waits_for ? of->waits_for->id : NULL);
    expected_load(out, report, of);
    evidence(out, of);
    hw_json_close(out);
}

static void entry(hw_json_out *out, const hw_entry *of)
{
    hw_json_open(out, NULL, '{');
    date(out, "date", of->date);
    hw_json_int(out, "week", of->week);
    const char *kind = of->kind == HW_ENTRY_REVIEW ? "review" : NULL;
    if (of->kind == HW_ENTRY_STEP) kind = "next step";
    hw_json_text(out, "what", kind ? kind : hw_act_rows()[of->act].word);
    side(out, of->side);
    if (of->sessions > 1) {
        hw_json_int(out, "session", of->session);
        hw_json_int(out, "sessions", of->sessions);
    }
    hw_json_text(out, "text", of->text);
    hw_json_text(out, "only_if", of->only_if);
    hw_json_text(out, "moved_by", of->moved_by ? of->moved_by->id : NULL);
    if (of->is_by_hand) hw_json_bool(out, "by_hand", true);
    if (of->refused.known) date(out, "refused", of->refused);
    if (of->against) {
        hw_json_text(out, "against", of->against->id);
        hw_json_text(out, "against_sentence", of->against->sentence);
    }
    hw_json_close(out);
}

void json_options(hw_json_out *out, const hw_report *report)
{
    const hw_plan *plan = report->plan;
    hw_json_open(out, "options", '[');
    for (int i = 0; i < plan->option_count; i++) option(out, report, &plan->options[i]);
    hw_json_close(out);
}

void json_screen(hw_json_out *out, const hw_plan *plan)
{
    hw_json_open(out, "red_flags", '[');
    for (int i = 0; i < plan->red_flag_count; i++) reason(out, &plan->red_flags[i]);
    hw_json_close(out);
    json_differential(out, plan);
    hw_json_open(out, "open_questions", '[');
    for (int i = 0; i < plan->question_count; i++) question(out, &plan->questions[i]);
    hw_json_close(out);
    hw_json_int(out, "open_questions_that_block", plan->blocking_count);
}

void json_plan(hw_json_out *out, const hw_report *report)
{
    const hw_plan *plan = report->plan;
    hw_json_bool(out, "released", plan->released);
    hw_json_text(out, "verdict", plan->verdict);
    hw_json_text(out, "rules_version", plan->rules_version);
    json_screen(out, plan);
    json_risk(out, &report->visit->findings);
    json_options(out, report);
    json_orders(out, plan);
    hw_json_open(out, "timeline", '[');
    for (int i = 0; i < plan->entry_count; i++) entry(out, &plan->timeline[i]);
    hw_json_close(out);
    hw_json_open(out, "notes", '[');
    for (int i = 0; i < plan->note_count; i++) hw_json_text(out, NULL, plan->notes[i]);
    hw_json_close(out);
}
