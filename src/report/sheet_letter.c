// SPDX-License-Identifier: GPL-3.0-or-later
// The letter to the family doctor, one page: why, found, planned, asked. What was not asked is
// said.
#include "sheet.h"

#include <stdio.h>
#include <string.h>

static double reason(sheet *on, double y)
{
    static const char *const sides[2] = {"left", "right"};
    const hw_findings *findings = &on->report->visit->findings;
    char text[400];
    for (int i = 0; i < 2; i++) {
        const hw_foot_findings *foot = &findings->feet[i];
        if (foot->heel_pain != HW_ANSWER_YES) continue;
        hw_maybe weeks = hw_finding_number(foot->values[HW_FINDING_WEEKS_SINCE_ONSET]);
        hw_maybe pain = hw_finding_number(foot->values[HW_FINDING_FIRST_STEP_PAIN_0_10]);
        int used = snprintf(text, sizeof text, "Pain under the %s heel", sides[i]);
        if (weeks.known)
            used += snprintf(text + used, sizeof text - (size_t)used, ", %.0f weeks", weeks.value);
        if (pain.known)
            used += snprintf(text + used, sizeof text - (size_t)used,
                             ", first steps of the morning %.0f of 10", pain.value);
        snprintf(text + used, sizeof text - (size_t)used, ".");
        y = sheet_line(on, y, text);
    }
    return y;
}

static double red_flags(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    char text[500];
    for (int i = 0; i < plan->red_flag_count; i++) {
        snprintf(text, sizeof text, "RED FLAG (%s): %s",
                 hw_urgency_word(plan->red_flags[i].rule->urgency),
                 plan->red_flags[i].rule->sentence);
        y = sheet_text(on, &sheet_strong, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                       text) +
            0.6;
    }
    int open = 0;
    for (int i = 0; i < plan->question_count; i++)
        open += strncmp(plan->questions[i].key, "red_flags.", 10) == 0;
    if (plan->red_flag_count == 0 && open == 0)
        y = sheet_line(on, y, "Red flags were all asked about; none is present.");
    if (open > 0) {
        snprintf(text, sizeof text, "%d red flag%s not asked about: nothing is said of %s here.",
                 open, open == 1 ? " was" : "s were", open == 1 ? "it" : "them");
        y = sheet_line(on, y, text);
    }
    return y;
}

// A foot's finding in words, "not asked" where it was not.
static double found_row(sheet *on, double y, hw_finding_id id, const char *name)
{
    const hw_findings *findings = &on->report->visit->findings;
    const hw_finding_row *row = &hw_finding_rows()[id];
    char text[300];
    int used = snprintf(text, sizeof text, "%s: ", name);
    for (int i = 0; i < 2; i++) {
        if (!on->report->feet[i].is_given) continue;
        hw_finding finding = findings->feet[i].values[id];
        hw_maybe number = hw_finding_number(finding);
        bool has_word = row->kind != HW_KIND_NUMBER && finding.given == HW_GIVEN_VALUE;
        const char *side = i ? "right" : "left";
        if (row->kind == HW_KIND_NUMBER && number.known)
            used += snprintf(text + used, sizeof text - (size_t)used, "%s %.0f %s", side,
                             number.value, row->unit);
        else
            used += snprintf(text + used, sizeof text - (size_t)used, "%s %s", side,
                             has_word ? hw_finding_word(row, finding) : "not asked");
        if (i == 0 && on->report->feet[1].is_given)
            used += snprintf(text + used, sizeof text - (size_t)used, ", ");
    }
    return sheet_line(on, y, text);
}

// Another cause is said in its own words; what cannot be said is said to be so.
static double causes(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    char text[500];
    for (int i = 0; i < plan->differential_count; i++) {
        const hw_differential *of = &plan->differentials[i];
        snprintf(text, sizeof text, "%s.", of->sentence);
        text[0] = (char)(text[0] >= 'a' && text[0] <= 'z' ? text[0] - 32 : text[0]);
        y = sheet_line(on, y, text);
        for (int k = HW_CAUSE_FASCIA + 1; k < HW_CAUSE_COUNT; k++)
            if (of->causes[k].fits == HW_VERDICT_YES && y < SHEET_FLOOR - 90.0)
                y = sheet_line(on, y, of->causes[k].row->letter);
    }
    return y;
}

// To the tenth; with the picture it was read from where there is one.
static double thickness_of(sheet *on, double y, int index)
{
    const hw_visit *visit = on->report->visit;
    const hw_visit_ultrasound *of = &visit->feet[index].ultrasound;
    hw_maybe value =
        hw_finding_number(visit->findings.feet[index].values[HW_FINDING_FASCIA_THICKNESS_MM]);
    const char *side = index ? "right" : "left";
    char text[400];
    if (!value.known)
        snprintf(text, sizeof text, "Plantar fascia at its origin, %s: not measured.", side);
    else if (of->thickness_mm.known && of->site == HW_US_SITE_ORIGIN)
        snprintf(text, sizeof text,
                 "Plantar fascia at its origin, %s: %.1f mm ± %.1f mm (95 %% of the %s alone), "
                 "ultrasound, "
                 "%s; scale: %s. Both edges looked at and accepted.",
                 side, value.value, of->half_width_95_mm.value,
                 of->method && of->method[0] == 't' ? "tracing" : "calipers",
                 hw_us_plane_word(of->plane), of->scale);
    else
        snprintf(text, sizeof text,
                 "Plantar fascia at its origin, %s: %.1f mm by ultrasound, as typed.", side,
                 value.value);
    return sheet_line(on, y, text);
}

static double thickness(sheet *on, double y)
{
    for (int i = 0; i < 2; i++)
        if (on->report->feet[i].is_given) y = thickness_of(on, y, i);
    return y;
}

static double found(sheet *on, double y)
{
    y = causes(on, red_flags(on, y));
    y = found_row(on, y, HW_FINDING_MONOFILAMENT, "Protective sensation (10 g monofilament)");
    y = found_row(on, y, HW_FINDING_PULSES, "Foot pulses");
    y = found_row(on, y, HW_FINDING_TENDER_AT, "Most tender at");
    y = thickness(on, y);
    return found_row(on, y, HW_FINDING_LUNGE_DEG, "Ankle dorsiflexion, loaded, knee bent");
}

static double planned(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    char text[400], date[HW_DATE_TEXT];
    if (!plan->released) return sheet_line(on, y, plan->verdict);
    for (int i = 0; i < plan->entry_count && y < SHEET_FLOOR - 62.0; i++) {
        const hw_entry *entry = &plan->timeline[i];
        snprintf(text, sizeof text, "%s  %s%s%s%s", hw_date_text(entry->date, date),
                 entry->text ? entry->text : hw_act_rows()[entry->act].word,
                 entry->only_if ? " (" : "", entry->only_if ? entry->only_if : "",
                 entry->only_if ? ")" : "");
        y = sheet_line(on, y, text);
    }
    return y;
}

static double names(sheet *on, double y, const char *what, const hw_names *list)
{
    char text[500];
    int used = snprintf(text, sizeof text, "%s: ", what);
    if (list->given != HW_GIVEN_VALUE)
        snprintf(text + used, sizeof text - (size_t)used, "not asked");
    else if (list->count == 0)
        snprintf(text + used, sizeof text - (size_t)used, "none");
    for (int i = 0; list->given == HW_GIVEN_VALUE && i < list->count && used < 440; i++)
        used += snprintf(text + used, sizeof text - (size_t)used, "%s%.60s", i ? ", " : "",
                         list->rows[i].name);
    return sheet_line(on, y, text);
}

// What stands in the way of a treatment because of medicines or conditions is the doctor's to know.
static double asked(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    const hw_findings *findings = &on->report->visit->findings;
    char text[500];
    y = names(on, y, "Medicines as told to us", &findings->medicines);
    y = names(on, y, "Conditions as told to us", &findings->conditions);
    y = names(on, y, "Allergies as told to us", &findings->allergies);
    for (int i = 0; i < plan->red_flag_count; i++)
        y = sheet_line(on, y,
                       "Please see this person for the red flag above, in the time it names.");
    for (int i = 0; i < plan->option_count && y < SHEET_FLOOR - 8.0; i++) {
        const hw_option *option = &plan->options[i];
        if (option->state < HW_STOPPED || option->reason_count == 0) continue;
        snprintf(text, sizeof text, "%s not now: %s", hw_act_rows()[option->act].word,
                 option->reasons[0].rule->sentence);
        text[0] = (char)(text[0] >= 'a' && text[0] <= 'z' ? text[0] - 32 : text[0]);
        bool is_twin = i > 0 && plan->options[i - 1].act == option->act;
        if (!is_twin) y = sheet_line(on, y, text);
    }
    return sheet_line(on, y,
                      "Please tell us what of this is not so, and of any change of medicines.");
}

void sheet_letter_page(sheet *on)
{
    double y = sheet_page(on);
    y = sheet_line(on, y,
                   "To the family doctor. This person came to us with heel pain; this is what we "
                   "found and what we mean to do.");
    y = sheet_head(on, y, "Why they came");
    y = reason(on, y);
    y = sheet_head(on, y, "What was found");
    y = found(on, y);
    y = sheet_head(
        on, y, on->report->plan->released ? "What is planned" : "What is planned: not released");
    y = planned(on, y);
    y = sheet_head(on, y, "What we know of medicines and conditions, and what we ask");
    asked(on, y);
}
