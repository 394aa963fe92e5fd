// SPDX-License-Identifier: GPL-3.0-or-later
// What was counted of causes and course, with what contradicts it.
#include "json_parts.h"

static void row(hw_json_out *out, const hw_risk_row *of, hw_verdict holds)
{
    const hw_source *source = hw_source_by_key(of->source);
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "kind", of->kind == HW_RISK_OF_PAIN ? "risk" : "course");
    hw_json_text(out, "name", of->name);
    hw_json_text(out, "holds", holds == HW_VERDICT_YES ? "yes" : "unknown");
    hw_json_text(out, "what", of->what);
    hw_json_maybe(out, "ratio", of->ratio, 1.0, 2);
    hw_json_maybe(out, "low", of->low, 1.0, 2);
    hw_json_maybe(out, "high", of->high, 1.0, 2);
    hw_json_text(out, "source", of->source);
    hw_json_text(out, "source_status", source ? source->status : NULL);
    hw_json_text(out, "against", of->against);
    hw_json_close(out);
}

static void foot(hw_json_out *out, const hw_findings *findings, hw_side side)
{
    int count = 0;
    const hw_risk_row *rows = hw_risk_rows(&count);
    const hw_situation one = {.findings = findings,
                              .side = side,
                              .date = findings->visit_date,
                              .acts = findings->past,
                              .act_count = findings->past_count};
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "foot", hw_side_word(side));
    hw_json_open(out, "rows", '[');
    for (int i = 0; i < count; i++) {
        const hw_verdict holds = hw_risk_holds(&rows[i], &one);
        if (holds != HW_VERDICT_NO) row(out, &rows[i], holds);
    }
    hw_json_close(out);
    hw_json_close(out);
}

void json_risk(hw_json_out *out, const hw_findings *findings)
{
    int count = 0;
    const hw_history_row *history = hw_history_rows(&count);
    hw_json_open(out, "risk", '{');
    hw_json_open(out, "feet", '[');
    for (int i = 0; i < 2; i++)
        if (findings->feet[i].heel_pain == HW_ANSWER_YES)
            foot(out, findings, i ? HW_SIDE_RIGHT : HW_SIDE_LEFT);
    hw_json_close(out);
    hw_json_open(out, "still_there", '[');
    for (int i = 0; i < count; i++) {
        hw_json_open(out, NULL, '{');
        hw_json_number(out, "years", history[i].years, 0);
        hw_json_number(out, "percent", history[i].percent, 1);
        hw_json_close(out);
    }
    hw_json_close(out);
    hw_json_text(out, "still_there_source", "hansen-2018");
    hw_json_text(out, "still_there_against", hw_history_against());
    hw_json_close(out);
}
