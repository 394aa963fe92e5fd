// SPDX-License-Identifier: GPL-3.0-or-later
#include "plan.h"
#include "plan_internal.h"
#include "readings.h"
#include <string.h>

static const hw_side both_sides[2] = {HW_SIDE_LEFT, HW_SIDE_RIGHT};

static bool hurts(const hw_findings *findings, hw_side side)
{
    return hw_foot_of(findings, side)->heel_pain == HW_ANSWER_YES;
}

static bool is_answered(hw_answer answer)
{
    return answer == HW_ANSWER_YES || answer == HW_ANSWER_NO;
}

static hw_status check_dates(hw_job *job, const hw_findings *findings)
{
    if (!findings->visit_date.known)
        return hw_fail(job, HW_BAD_INPUT, "a plan needs the date of the visit");
    for (int i = 0; i < findings->past_count; i++) {
        const hw_past_act *past = &findings->past[i];
        if (!past->date.known || hw_date_days(past->date, findings->visit_date) >= 0) continue;
        char text[HW_DATE_TEXT], visit[HW_DATE_TEXT];
        return hw_fail(job, HW_BAD_INPUT, "past treatment '%s' of %s lies after the visit of %s",
                       hw_act_rows()[past->act].word, hw_date_text(past->date, text),
                       hw_date_text(findings->visit_date, visit));
    }
    return HW_OK;
}

// Questions that block the release, after product: red flags, protective sensation, pulses,
// allergies, medicines, pregnancy where it applies, loading state and side of a scan.

// Asks for what a test finds nothing about.
static hw_status require(hw_planner *planner, hw_test test, hw_side side)
{
    hw_situation one = planner->visit;
    one.side = side;
    if (hw_read(&test, &one).given == HW_GIVEN_VALUE) return HW_OK;
    hw_question question = {0};
    HW_TRY(hw_reading_question(planner->job, &test, &one, planner->into, &question));
    return hw_questions_add(planner->job, &planner->questions, planner->into, question);
}

static hw_status require_finding(hw_planner *planner, hw_finding_id id, hw_side side)
{
    return require(planner, (hw_test){HW_SUBJECT_FINDING, id, HW_IS, HW_WORD_YES}, side);
}

static hw_status ask_of_foot(hw_planner *planner, hw_side side, const char *key, const char *text)
{
    const hw_answer pain = hw_foot_of(planner->findings, side)->heel_pain;
    const bool about_pain = strcmp(key, "heel_pain") == 0;
    hw_question question = {.side = side, .not_asked = about_pain && pain == HW_ANSWER_NOT_ASKED};
    const char *word = hw_side_word(side);
    HW_TRY(hw_text_format(planner->job, planner->into, &question.key, "feet.%s.%s", word, key));
    HW_TRY(hw_text_format(planner->job, planner->into, &question.text, "%s foot: %s?", word, text));
    return hw_questions_add(planner->job, &planner->questions, planner->into, question);
}

static hw_status require_foot(hw_planner *planner, hw_side side)
{
    const hw_foot_findings *foot = hw_foot_of(planner->findings, side);
    const bool none_hurts =
        !hurts(planner->findings, HW_SIDE_LEFT) && !hurts(planner->findings, HW_SIDE_RIGHT);
    if (!is_answered(foot->heel_pain) && (foot->scan_used || none_hurts))
        HW_TRY(ask_of_foot(planner, side, "heel_pain", "does this heel hurt"));
    if (foot->heel_pain != HW_ANSWER_YES && !foot->scan_used) return HW_OK;
    HW_TRY(require_finding(planner, HW_FINDING_MONOFILAMENT, side));
    HW_TRY(require_finding(planner, HW_FINDING_PULSES, side));
    if (!foot->scan_used) return HW_OK;
    if (!foot->loading_known)
        HW_TRY(ask_of_foot(planner, side, "scan.loading",
                           "scanned hanging, with half or with full weight"));
    if (foot->side_confirmed) return HW_OK;
    return ask_of_foot(planner, side, "scan.side_confirmed", "is the scan of this foot");
}

static hw_status require_all(hw_planner *planner)
{
    for (int i = 0; i < HW_FINDING_COUNT; i++)
        if (hw_finding_rows()[i].scope == HW_SCOPE_RED_FLAG)
            HW_TRY(require_finding(planner, (hw_finding_id)i, HW_SIDE_UNKNOWN));
    // A list with a name no table knows was answered: that name holds acts, not the plan.
    const hw_test medicines = {HW_SUBJECT_UNRECOGNISED_MEDICINE, 0, HW_IS, 1};
    const hw_test allergies = {HW_SUBJECT_UNRECOGNISED_ALLERGY, 0, HW_IS, 1};
    if (planner->findings->medicines.given != HW_GIVEN_VALUE)
        HW_TRY(require(planner, medicines, HW_SIDE_UNKNOWN));
    if (planner->findings->allergies.given != HW_GIVEN_VALUE)
        HW_TRY(require(planner, allergies, HW_SIDE_UNKNOWN));
    HW_TRY(
        require_finding(planner, HW_FINDING_PREGNANCY, HW_SIDE_UNKNOWN)); // no where it cannot be
    for (int i = 0; i < 2; i++) HW_TRY(require_foot(planner, both_sides[i]));
    return HW_OK;
}

static hw_status add_questions(hw_planner *planner, const hw_questions *questions)
{
    for (int i = 0; i < questions->count; i++)
        HW_TRY(
            hw_questions_add(planner->job, &planner->questions, planner->into, questions->rows[i]));
    return HW_OK;
}

// Options.

static hw_status attach_evidence(hw_planner *planner, hw_option *option)
{
    int count = 0;
    const hw_evidence *lines = hw_evidence_rows(&count);
    const hw_evidence **found = NULL;
    HW_ALLOC(planner->job, planner->into, found, count);
    for (int i = 0; i < count; i++)
        if (lines[i].acts & (1u << option->act)) found[option->evidence_count++] = &lines[i];
    option->evidence = found;
    return HW_OK;
}

static hw_status anaesthetic_text(hw_planner *planner, bool with_adrenaline, const char **out)
{
    const hw_anaesthetic_dose doses[] = {{"lidocaine", 1.0, 0.0, with_adrenaline},
                                         {"bupivacaine", 0.5, 0.0, with_adrenaline}};
    const char *text = "";
    for (size_t i = 0; i < sizeof doses / sizeof *doses; i++) {
        hw_job quiet = {0}; // without a mass there is nothing to add; the rules ask for it
        hw_anaesthetic_maximum most = {0};
        if (hw_anaesthetic_limit(&quiet, planner->findings, &doses[i], &most) != HW_OK)
            return HW_OK;
        HW_TRY(hw_text_format(
            planner->job, planner->into, &text,
            "%s%s%s %g %%: at most %.0f mg = %.1f mL a day, both feet together (%s, %.1f kg%s%s)",
            text, text[0] ? "; " : "", most.row->agent, doses[i].concentration_percent,
            most.maximum_mg, most.maximum_mL, hw_bound_word(most.bound), most.mass_kg,
            most.why_reduced ? ", 30 % less: " : "", most.why_reduced ? most.why_reduced : ""));
    }
    *out = text;
    return HW_OK;
}

static hw_status shell_text(hw_planner *planner, hw_side side, const char **out)
{
    const hw_findings *findings = planner->findings;
    const hw_maybe index =
        hw_finding_number(hw_finding_at(findings, side, HW_FINDING_FOOT_POSTURE_INDEX));
    const hw_maybe mass = hw_finding_number(findings->values[HW_FINDING_MASS_KG]);
    if (!index.known || !mass.known) return HW_OK;
    bool edge = false;
    const double thickness = hw_clinic_shell_thickness_mm(index.value, mass.value, &edge);
    return hw_text_format(planner->job, planner->into, out,
                          "polypropylene shell %.1f mm for a posture index of %g and %g kg%s",
                          thickness, index.value, mass.value,
                          edge ? "; the published rule leaves this one open" : "");
}

static hw_status steps_text(hw_planner *planner, const char **out)
{
    const hw_maybe steps = hw_finding_number(planner->findings->values[HW_FINDING_STEPS_PER_DAY]);
    if (!steps.known) return HW_OK;
    const hw_dose_number *cut = hw_dose_number_of(hw_dose_of(HW_ACT_ACTIVITY), "steps cut");
    HW_ASSERT(cut != NULL);
    return hw_text_format(planner->job, planner->into, out,
                          "in a flare %.0f to %.0f steps a day instead of %.0f",
                          steps.value * (1.0 - cut->high / 100.0),
                          steps.value * (1.0 - cut->low / 100.0), steps.value);
}

static hw_status run_text(hw_planner *planner, const char **out)
{
    const hw_maybe longest =
        hw_finding_number(planner->findings->values[HW_FINDING_LONGEST_RUN_30_DAYS_KM]);
    if (!longest.known || !(longest.value > 0.0)) return HW_OK;
    double low = 1.0, high = 1.0;
    const double hazard = hw_run_hazard(longest.value, 1.25 * longest.value, &low, &high);
    return hw_text_format(
        planner->job, planner->into, out,
        "next run at most %.1f km (the longest of 30 days was %.1f km); a quarter "
        "longer carried %.2f times the hazard of an injury (%.2f to %.2f)",
        hw_next_run_km(longest.value), longest.value, hazard, low, high);
}

static hw_status weight_text(hw_planner *planner, const char **out)
{
    const hw_maybe index = hw_body_mass_index(planner->findings);
    if (!index.known) return HW_OK;
    return hw_text_format(planner->job, planner->into, out, "body mass index %.1f kg/m2",
                          index.value);
}

static hw_status personal_dose(hw_planner *planner, hw_option *option)
{
    const char **out = &option->dose_for_this_person;
    switch (option->act) {
    case HW_ACT_LOCAL_ANAESTHETIC:
        return anaesthetic_text(planner, false, out);
    case HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE:
        return anaesthetic_text(planner, true, out);
    case HW_ACT_ORTHOSIS:
        return shell_text(planner, option->side, out);
    case HW_ACT_ACTIVITY:
        return steps_text(planner, out);
    case HW_ACT_RETURN_TO_IMPACT:
        return run_text(planner, out);
    case HW_ACT_WEIGHT:
        return weight_text(planner, out);
    default:
        return HW_OK;
    }
}

static hw_status add_option(hw_planner *planner, const hw_act_row *row, hw_side side)
{
    hw_situation one = planner->visit;
    one.side = side;
    hw_judgement judged = {0};
    HW_TRY(hw_judge(planner->job, &one, row->act, planner->into, &judged));
    HW_TRY(add_questions(planner, &judged.questions));
    hw_option option = {
        .act = row->act,
        .side = side,
        .principle = row->principle,
        .changes = row->changes,
        .state = judged.state,
        .reasons = judged.reasons,
        .reason_count = judged.reason_count,
        .questions = judged.questions.rows,
        .question_count = judged.questions.count,
        .dose = hw_dose_of(row->act),
    };
    // A red flag comes before any treatment: nothing else may hide it.
    if (planner->flagged && option.state == HW_AVAILABLE) option.state = HW_HELD;
    option.earliest = hw_earliest(&one, row->act, one.date, &option.waits_for);
    HW_TRY(personal_dose(planner, &option));
    HW_TRY(attach_evidence(planner, &option));
    planner->options[planner->option_count++] = option;
    return HW_OK;
}

static hw_status add_options_of(hw_planner *planner, const hw_act_row *row)
{
    const hw_findings *findings = planner->findings;
    if (!row->per_heel) {
        const bool any = hurts(findings, HW_SIDE_LEFT) || hurts(findings, HW_SIDE_RIGHT);
        return any ? add_option(planner, row, HW_SIDE_UNKNOWN) : HW_OK;
    }
    for (int i = 0; i < 2; i++) {
        const hw_side side = both_sides[i];
        // Devices go out as pairs: a scanned foot without pain may get its half.
        const bool wanted = hurts(findings, side) ||
                            (row->act == HW_ACT_ORTHOSIS && hw_foot_of(findings, side)->scan_used);
        if (wanted) HW_TRY(add_option(planner, row, side));
    }
    return HW_OK;
}

static hw_status add_options(hw_planner *planner)
{
    HW_ALLOC(planner->job, planner->into, planner->options, 2 * HW_ACT_COUNT);
    const hw_act_row *rows = hw_act_rows();
    for (int principle = 0; principle < HW_PRINCIPLE_COUNT; principle++)
        for (int act = 0; act < HW_ACT_COUNT; act++)
            if (rows[act].offered && (int)rows[act].principle == principle)
                HW_TRY(add_options_of(planner, &rows[act]));
    return HW_OK;
}

hw_status hw_plan_name(hw_planner *planner, hw_act act, hw_side side, const char **out)
{
    const char *word = hw_act_rows()[act].word;
    if (side == HW_SIDE_UNKNOWN) return hw_text_copy(planner->job, planner->into, word, out);
    return hw_text_format(planner->job, planner->into, out, "%s, %s heel", word,
                          hw_side_word(side));
}

static hw_status note_feet(hw_planner *planner)
{
    for (int i = 0; i < 2; i++) {
        const hw_foot_findings *foot = &planner->findings->feet[i];
        if (foot->heel_pain == HW_ANSWER_YES) continue;
        const char *pain =
            foot->heel_pain == HW_ANSWER_NO ? "no heel pain" : "heel pain not answered";
        HW_TRY(hw_text_format(planner->job, planner->into, &planner->notes[planner->note_count++],
                              "%s foot: %s, %s", hw_side_word(both_sides[i]), pain,
                              foot->scan_used ? "only a device is considered for it"
                                              : "no treatment planned for it"));
    }
    return HW_OK;
}

static hw_status judge_causes(hw_planner *planner)
{
    for (int i = 0; i < 2; i++) {
        if (!hurts(planner->findings, both_sides[i])) continue;
        hw_situation one = planner->visit;
        one.side = both_sides[i];
        HW_TRY(hw_differ(planner->job, &one, planner->into,
                         &planner->differentials[planner->differential_count++]));
    }
    return HW_OK;
}

// Every painful heel has another cause: a complete outcome, not a plan that failed.
static bool is_all_elsewhere(const hw_planner *planner)
{
    for (int i = 0; i < planner->differential_count; i++)
        if (planner->differentials[i].outcome != HW_OUTCOME_NOT_FASCIA) return false;
    return planner->differential_count > 0;
}

static hw_status keep_differentials(const hw_planner *planner, hw_plan *plan)
{
    const int count = planner->differential_count;
    hw_differential *kept = NULL;
    HW_ALLOC(planner->job, planner->into, kept, count > 0 ? count : 1);
    for (int i = 0; i < count; i++) kept[i] = planner->differentials[i];
    plan->differentials = kept, plan->differential_count = count;
    return HW_OK;
}

static hw_status work_out_orders(const hw_planner *planner, hw_plan *plan)
{
    const hw_findings *findings = planner->findings;
    hw_order_sheet *sheets = NULL;
    HW_ALLOC(planner->job, planner->into, sheets, findings->order_count + 1);
    for (int i = 0; i < findings->order_count; i++)
        HW_TRY(
            hw_work_out(planner->job, findings, &findings->orders[i], planner->into, &sheets[i]));
    plan->orders = sheets, plan->order_count = findings->order_count;
    return HW_OK;
}

static hw_status write_verdict(const hw_planner *planner, hw_plan *plan)
{
    hw_job *job = planner->job;
    const int open = plan->blocking_count;
    const char *are = open == 1 ? "question is" : "questions are";
    if (planner->flagged)
        return hw_text_format(job, planner->into, &plan->verdict,
                              "NOT RELEASED: red flag, refer first: %s",
                              plan->red_flags[0].rule->sentence);
    if (open > 0)
        return hw_text_format(job, planner->into, &plan->verdict, "NOT RELEASED: %d %s open", open,
                              are);
    if (is_all_elsewhere(planner))
        return hw_text_format(job, planner->into, &plan->verdict,
                              "Released, and not the plantar fascia: %s",
                              plan->differentials[0].sentence);
    const int others = plan->question_count;
    if (others > 0)
        return hw_text_format(job, planner->into, &plan->verdict,
                              "Released: all that must be answered was; single treatments still "
                              "ask %d question%s",
                              others, others == 1 ? "" : "s");
    return hw_text_copy(job, planner->into, "Released: all that must be answered was",
                        &plan->verdict);
}

static hw_status judge_flags(hw_planner *planner, hw_plan *plan, hw_judgement *flags)
{
    HW_TRY(hw_judge_red_flags(planner->job, &planner->visit, planner->into, flags));
    plan->red_flags = flags->reasons;
    plan->red_flag_count = flags->reason_count;
    // The overruled go behind: what stands is read first, the most urgent first.
    for (int i = 1; i < flags->reason_count; i++)
        for (int j = i; j > 0 && flags->reasons[j - 1].overruled && !flags->reasons[j].overruled;
             j--) {
            const hw_reason swap = flags->reasons[j];
            flags->reasons[j] = flags->reasons[j - 1], flags->reasons[j - 1] = swap;
        }
    for (int i = 0; i < flags->reason_count; i++)
        if (!flags->reasons[i].overruled && flags->reasons[i].rule->urgency > plan->urgency)
            plan->urgency = flags->reasons[i].rule->urgency;
    planner->flagged = flags->state >= HW_STOPPED;
    return HW_OK;
}

hw_status hw_clinic_plan(hw_job *job, const hw_findings *findings, hw_arena *into, hw_plan *out)
{
    HW_TRY(check_dates(job, findings));
    hw_planner planner = {.job = job, .into = into, .findings = findings};
    planner.visit = (hw_situation){.findings = findings,
                                   .date = findings->visit_date,
                                   .acts = findings->past,
                                   .act_count = findings->past_count};
    hw_plan plan = {.rules_version = HW_RULES_VERSION};
    HW_ALLOC(job, into, planner.notes, HW_PLAN_NOTES);
    hw_judgement flags = {0};
    HW_TRY(judge_flags(&planner, &plan, &flags));
    HW_TRY(require_all(&planner));
    plan.blocking_count = planner.questions.count;
    HW_TRY(add_questions(&planner, &flags.questions));
    HW_TRY(judge_causes(&planner));
    HW_TRY(keep_differentials(&planner, &plan));
    HW_TRY(work_out_orders(&planner, &plan));
    HW_TRY(add_options(&planner));
    HW_TRY(note_feet(&planner));
    HW_TRY(hw_plan_timeline(&planner, &plan.timeline, &plan.entry_count));
    plan.questions = planner.questions.rows, plan.question_count = planner.questions.count;
    plan.options = planner.options, plan.option_count = planner.option_count;
    plan.notes = planner.notes, plan.note_count = planner.note_count;
    plan.released = !planner.flagged && plan.blocking_count == 0;
    HW_TRY(write_verdict(&planner, &plan));
    *out = plan;
    return HW_OK;
}
