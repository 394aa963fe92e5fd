// SPDX-License-Identifier: GPL-3.0-or-later
// From findings to a plan: red flags, options of the three principles, what is open, released or not.
#include "plan_internal.h"

#include <stdio.h>
#include <string.h>

static const hw_side both_sides[2] = {HW_SIDE_LEFT, HW_SIDE_RIGHT};

static bool hurts(const hw_findings *findings, hw_side side)
{
    return hw_foot_of(findings, side)->heel_pain == HW_ANSWER_YES;
}

static bool concerns(const hw_findings *findings, hw_side side)
{
    return hurts(findings, side) || hw_foot_of(findings, side)->scan_used;
}

static hw_case case_of(const hw_findings *findings, hw_side side)
{
    return (hw_case){.findings = findings,
                     .side = side,
                     .date = findings->visit_date,
                     .acts = findings->past,
                     .act_count = findings->past_count};
}

static hw_status check_dates(hw_job *job, const hw_findings *findings)
{
    if (!findings->visit_date.known)
        return hw_fail(job, HW_BAD_INPUT, "visit_date is not known; nothing can be dated");
    for (int i = 0; i < findings->past_count; i++)
        if (findings->past[i].date.known &&
            hw_date_days(findings->visit_date, findings->past[i].date) > 0)
            return hw_fail(job, HW_BAD_INPUT, "past_treatments[%d] lies after the visit", i);
    return HW_OK;
}

hw_date hw_earliest(const hw_case *one, hw_act act, hw_date from, const hw_rule **moved_by)
{
    enum { SEARCHED = 730 };
    int count = 0;
    const hw_rule *rules = hw_rule_rows(&count);
    hw_case there = *one;
    for (int day = 0; day < SEARCHED; day++) {
        bool free = true;
        there.date = hw_date_plus(from, day);
        for (int i = 0; free && i < count; i++) {
            if (rules[i].retired || !(rules[i].acts & (1u << act)) ||
                !hw_test_is_of_time(&rules[i].when) ||
                hw_rule_judge(&rules[i], &there) != HW_VERDICT_YES)
                continue;
            free = false;
            if (moved_by) *moved_by = &rules[i];
        }
        if (free) return there.date;
    }
    return (hw_date){0};
}

// Evidence rows about an act.
static hw_status gather_evidence(plan_maker *make, hw_option *option)
{
    int count = 0;
    const hw_evidence *rows = hw_evidence_rows(&count);
    const hw_evidence **kept = NULL;
    HW_ALLOC(make->job, make->into, kept, count + 1);
    for (int i = 0; i < count; i++)
        if (rows[i].acts & (1u << option->act)) kept[option->evidence_count++] = &rows[i];
    option->evidence = kept;
    return HW_OK;
}

// What a maximum of lidocaine 1 % comes to for this person, with the bound that limited it.
static hw_status anaesthetic_text(plan_maker *make, bool with_adrenaline, const char **out)
{
    const hw_anaesthetic_dose dose = {"lidocaine", 1.0, 0.0, with_adrenaline};
    hw_anaesthetic_maximum most = {0};
    hw_status status = hw_anaesthetic_limit(make->job, make->findings, &dose, &most);
    if (status == HW_NO_MEMORY) return status;
    if (status != HW_OK) return HW_OK; // no mass: the open question says so
    return hw_text_format(make->job, make->into, out,
                          "Lidocaine 1 %%%s: at most %.0f mg (%.1f mL) in one day, all sites "
                          "together; bound by %s.",
                          with_adrenaline ? " with adrenaline" : "", most.maximum_mg,
                          most.maximum_mL, hw_bound_word(most.bound));
}

static hw_status shell_text(plan_maker *make, hw_side side, const char **out)
{
    hw_maybe mass = hw_finding_number(make->findings->values[HW_FINDING_MASS_KG]);
    hw_maybe posture =
        hw_finding_number(hw_finding_at(make->findings, side, HW_FINDING_FOOT_POSTURE_INDEX));
    bool edge = false;
    if (!mass.known || !posture.known) return HW_OK;
    double thickness = hw_clinic_shell_thickness_mm(posture.value, mass.value, &edge);
    return hw_text_format(make->job, make->into, out,
                          "Polypropylene %.1f mm for %.0f kg and a foot posture index of %.0f%s.",
                          thickness, mass.value, posture.value,
                          edge ? " (at the edge of the published rule)" : "");
}

static hw_status personal_dose(plan_maker *make, hw_option *option)
{
    const char **out = &option->dose_for_this_person;
    hw_maybe run = hw_finding_number(make->findings->values[HW_FINDING_LONGEST_RUN_30_DAYS_KM]);
    switch (option->act) {
    case HW_ACT_LOCAL_ANAESTHETIC:
        return anaesthetic_text(make, false, out);
    case HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE:
        return anaesthetic_text(make, true, out);
    case HW_ACT_ORTHOSIS:
        if (option->side == HW_SIDE_UNKNOWN) return HW_OK;
        return shell_text(make, option->side, out);
    case HW_ACT_RETURN_TO_IMPACT:
        if (!run.known) return HW_OK;
        return hw_text_format(make->job, make->into, out, "Next run at most %.1f km.",
                              hw_next_run_km(run.value));
    default:
        return HW_OK;
    }
}

static hw_status add_option(plan_maker *make, hw_act act, hw_side side)
{
    const hw_act_row *row = &hw_act_rows()[act];
    hw_case one = case_of(make->findings, side);
    hw_judgement judged = {0};
    hw_option *option = &make->options[make->plan->option_count];
    HW_TRY(hw_judge(make->job, &one, act, make->into, &judged));
    *option = (hw_option){.act = act,
                          .side = side,
                          .principle = row->principle,
                          .changes = row->changes,
                          .state = judged.state,
                          .reasons = judged.reasons,
                          .reason_count = judged.reason_count,
                          .questions = judged.questions.rows,
                          .question_count = judged.questions.count,
                          .dose = hw_dose_of(act)};
    option->earliest = hw_earliest(&one, act, one.date, &option->waits_for);
    HW_TRY(personal_dose(make, option));
    HW_TRY(gather_evidence(make, option));
    for (int i = 0; i < judged.questions.count; i++)
        HW_TRY(hw_questions_add(make->job, &make->other, make->into, judged.questions.rows[i]));
    make->plan->option_count++;
    return HW_OK;
}

static hw_status add_options_of(plan_maker *make, const hw_act_row *row)
{
    if (!row->per_heel) return add_option(make, row->act, HW_SIDE_UNKNOWN);
    for (int i = 0; i < 2; i++) {
        bool wanted = hurts(make->findings, both_sides[i]);
        if (row->act == HW_ACT_ORTHOSIS) wanted = concerns(make->findings, both_sides[i]);
        if (wanted) HW_TRY(add_option(make, row->act, both_sides[i]));
    }
    return HW_OK;
}

static hw_status add_options(plan_maker *make)
{
    HW_ALLOC(make->job, make->into, make->options, 2 * HW_ACT_COUNT);
    make->plan->options = make->options;
    if (!hurts(make->findings, HW_SIDE_LEFT) && !hurts(make->findings, HW_SIDE_RIGHT)) return HW_OK;
    for (int principle = 0; principle < HW_PRINCIPLE_COUNT; principle++)
        for (int act = 0; act < HW_ACT_COUNT; act++) {
            const hw_act_row *row = &hw_act_rows()[act];
            if (row->offered && (int)row->principle == principle) HW_TRY(add_options_of(make, row));
        }
    return HW_OK;
}

static hw_status block(plan_maker *make, const char *key, const char *text, bool not_asked)
{
    const hw_question question = {.key = key, .text = text, .not_asked = not_asked};
    return hw_questions_add(make->job, &make->blocking, make->into, question);
}

static hw_status block_foot(plan_maker *make, hw_side side, const char *key, const char *text,
                            bool not_asked)
{
    const char *path = NULL;
    HW_TRY(hw_text_format(make->job, make->into, &path, "feet.%s.%s", hw_side_word(side), key));
    return block(make, path, text, not_asked);
}

static hw_status ask_of_list(plan_maker *make, const hw_names *names, const char *key,
                             const char *text)
{
    if (names->given == HW_GIVEN_VALUE) return HW_OK;
    return block(make, key, text, names->given == HW_GIVEN_NOT_ASKED);
}

static hw_status ask_of_foot(plan_maker *make, hw_side side)
{
    const hw_foot_findings *foot = hw_foot_of(make->findings, side);
    hw_finding filament = foot->values[HW_FINDING_MONOFILAMENT],
               pulses = foot->values[HW_FINDING_PULSES];
    if (!concerns(make->findings, side)) return HW_OK;
    if (filament.given != HW_GIVEN_VALUE)
        HW_TRY(block_foot(make, side, "monofilament", "Is the 10 g monofilament felt?",
                          filament.given == HW_GIVEN_NOT_ASKED));
    if (pulses.given != HW_GIVEN_VALUE)
        HW_TRY(block_foot(make, side, "pulses", "Are the foot pulses present?",
                          pulses.given == HW_GIVEN_NOT_ASKED));
    if (foot->scan_used && !foot->loading_known)
        HW_TRY(block_foot(make, side, "scan.loading",
                          "Was the foot hanging, sitting or standing while it was scanned?",
                          false));
    if (foot->scan_used && !foot->side_confirmed)
        HW_TRY(block_foot(make, side, "scan.side_confirmed", "Look at the scan: is it this foot?",
                          false));
    return HW_OK;
}

// What must be answered before anything is released.
static hw_status ask_what_blocks(plan_maker *make, const hw_judgement *flags)
{
    const hw_findings *findings = make->findings;
    for (int i = 0; i < flags->questions.count; i++)
        HW_TRY(hw_questions_add(make->job, &make->blocking, make->into, flags->questions.rows[i]));
    HW_TRY(ask_of_list(make, &findings->medicines, "medicines", "Which medicines are taken?"));
    HW_TRY(ask_of_list(make, &findings->allergies, "allergies", "Are there allergies?"));
    hw_finding pregnancy = findings->values[HW_FINDING_PREGNANCY];
    if (hw_pregnancy_applies(findings) && pregnancy.given != HW_GIVEN_VALUE)
        HW_TRY(block(make, "person.pregnancy", "Is there a pregnancy?",
                     pregnancy.given == HW_GIVEN_NOT_ASKED));
    for (int i = 0; i < 2; i++) HW_TRY(ask_of_foot(make, both_sides[i]));
    return HW_OK;
}

// Blocking questions first, then the others that are not among them.
static hw_status join_questions(plan_maker *make)
{
    make->plan->blocking_count = make->blocking.count;
    for (int i = 0; i < make->other.count; i++)
        HW_TRY(hw_questions_add(make->job, &make->blocking, make->into, make->other.rows[i]));
    make->plan->questions = make->blocking.rows;
    make->plan->question_count = make->blocking.count;
    return HW_OK;
}

static hw_status judge(plan_maker *make, const hw_judgement *flags)
{
    hw_plan *plan = make->plan;
    int standing = 0;
    for (int i = 0; i < flags->reason_count; i++) {
        if (flags->reasons[i].overruled) continue;
        standing++;
        if (flags->reasons[i].rule->urgency > plan->urgency)
            plan->urgency = flags->reasons[i].rule->urgency;
    }
    plan->red_flags = flags->reasons;
    plan->red_flag_count = flags->reason_count;
    plan->released = standing == 0 && plan->blocking_count == 0;
    if (plan->released)
        return hw_text_copy(make->job, make->into,
                            "Released: what must be answered is answered, and no red flag stands.",
                            &plan->verdict);
    if (standing)
        return hw_text_format(
            make->job, make->into, &plan->verdict,
            "NOT RELEASED: a red flag stands (%s). Refer first; %d question%s open.",
            hw_urgency_word(plan->urgency), plan->blocking_count,
            plan->blocking_count == 1 ? " is" : "s are");
    return hw_text_format(make->job, make->into, &plan->verdict,
                          "NOT RELEASED: %d question%s open.", plan->blocking_count,
                          plan->blocking_count == 1 ? " is" : "s are");
}

static hw_status add_notes(plan_maker *make)
{
    const char **notes = NULL;
    HW_ALLOC(make->job, make->into, notes, 3);
    for (int i = 0; i < 2; i++) {
        hw_answer pain = hw_foot_of(make->findings, both_sides[i])->heel_pain;
        if (pain == HW_ANSWER_YES) continue;
        HW_TRY(hw_text_format(
            make->job, make->into, &notes[make->plan->note_count++],
            "%s foot: heel pain %s; no treatment is planned for it%s.", hw_side_word(both_sides[i]),
            pain == HW_ANSWER_NO ? "none" : hw_answer_word(pain),
            concerns(make->findings, both_sides[i]) ? " beyond its half of a pair of orthoses"
                                                    : ""));
    }
    make->plan->notes = notes;
    return HW_OK;
}

hw_status hw_clinic_plan(hw_job *job, const hw_findings *findings, hw_arena *into, hw_plan *out)
{
    hw_plan plan = {.rules_version = HW_RULES_VERSION};
    plan_maker make = {.job = job, .into = into, .findings = findings, .plan = &plan};
    hw_judgement flags = {0};
    HW_TRY(check_dates(job, findings));
    hw_case whole = case_of(findings, HW_SIDE_UNKNOWN);
    HW_TRY(hw_judge_red_flags(job, &whole, into, &flags));
    HW_TRY(add_options(&make));
    HW_TRY(ask_what_blocks(&make, &flags));
    HW_TRY(join_questions(&make));
    HW_TRY(judge(&make, &flags));
    HW_TRY(plan_timeline(&make));
    HW_TRY(add_notes(&make));
    *out = plan;
    return HW_OK;
}
