// SPDX-License-Identifier: GPL-3.0-or-later
// Values that are each possible but not together.
#include "record/record_internal.h"

#include <stdio.h>

static hw_status against_person(case_reader *reader, const hw_visit *visit)
{
    const hw_findings *found = &visit->findings;
    hw_maybe born = hw_finding_number(found->values[HW_FINDING_BIRTH_YEAR]);
    hw_finding sex = found->values[HW_FINDING_SEX];
    hw_maybe index = hw_body_mass_index(found);
    if (born.known && found->visit_date.known && born.value > hw_date_year(found->visit_date))
        HW_TRY(hw_faults_add(reader->job, reader->faults, "person.birth_year",
                             "%g lies after the visit", born.value));
    if (sex.given == HW_GIVEN_VALUE && sex.word == HW_SEX_MALE &&
        hw_finding_answer(found->values[HW_FINDING_PREGNANCY]) == HW_ANSWER_YES)
        HW_TRY(hw_faults_add(reader->job, reader->faults, "person.pregnancy",
                             "\"yes\" and sex \"male\" cannot both stand"));
    // A slipped decimal or a mass in pounds shows here; the limits are wide on purpose.
    if (index.known && (index.value < 9.0 || index.value > 90.0))
        HW_TRY(hw_faults_add(reader->job, reader->faults, "mass_kg",
                             "with this height gives a body mass index of %.0f kg/m2; check both",
                             index.value));
    return HW_OK;
}

static hw_status against_dates(case_reader *reader, const hw_visit *visit)
{
    const hw_findings *found = &visit->findings;
    if (!found->visit_date.known) return HW_OK;
    if (found->mass_measured_on.known &&
        hw_date_days(found->visit_date, found->mass_measured_on) > 0)
        HW_TRY(
            hw_faults_add(reader->job, reader->faults, "mass_measured_on", "lies after the visit"));
    for (int i = 0; i < found->past_count; i++) {
        const hw_past_act *act = &found->past[i];
        char key[60];
        if (act->date.known && hw_date_days(found->visit_date, act->date) > 0) {
            snprintf(key, sizeof key, "past_treatments[%d].date", i);
            HW_TRY(hw_faults_add(reader->job, reader->faults, key,
                                 "lies after the visit: it is not past"));
        }
        if (act->date.known && act->until.known && hw_date_days(act->date, act->until) < 0) {
            snprintf(key, sizeof key, "past_treatments[%d].until", i);
            HW_TRY(hw_faults_add(reader->job, reader->faults, key, "lies before its first day"));
        }
    }
    return HW_OK;
}

static hw_status larger(case_reader *reader, const char *side, const char *key, hw_maybe part,
                        hw_maybe whole)
{
    if (!part.known || !whole.known || part.value < whole.value) return HW_OK;
    char path[80];
    snprintf(path, sizeof path, "feet.%s.measures.%s", side, key);
    return hw_faults_add(reader->job, reader->faults, path,
                         "%g mm cannot be as much as the %g mm it is a part of", part.value,
                         whole.value);
}

static hw_status against_foot(case_reader *reader, const hw_visit_foot *foot, const char *side)
{
    const hw_visit_measures *m = &foot->measures;
    char path[80];
    if (foot->scan.file && foot->has_measures) {
        snprintf(path, sizeof path, "feet.%s.measures", side);
        HW_TRY(hw_faults_add(reader->job, reader->faults, path,
                             "stands beside a scan; give one of them"));
    }
    if (foot->has_measures && !m->foot_length_mm.known) {
        snprintf(path, sizeof path, "feet.%s.measures.foot_length_mm", side);
        HW_TRY(hw_faults_add(reader->job, reader->faults, path,
                             "is missing or impossible; measures stand on it"));
    }
    HW_TRY(larger(reader, side, "truncated_length_mm", m->truncated_length_mm, m->foot_length_mm));
    HW_TRY(larger(reader, side, "ball_breadth_mm", m->ball_breadth_mm, m->foot_length_mm));
    HW_TRY(larger(reader, side, "heel_breadth_mm", m->heel_breadth_mm, m->foot_length_mm));
    return larger(reader, side, "arch_apex_height_mm", m->arch_apex_height_mm, m->dorsum_height_mm);
}

// A thickness of the usual site stands among the findings as well: one number, or none.
static hw_status against_picture(case_reader *reader, const hw_visit *visit, int index)
{
    const hw_visit_ultrasound *of = &visit->feet[index].ultrasound;
    hw_maybe found =
        hw_finding_number(visit->findings.feet[index].values[HW_FINDING_FASCIA_THICKNESS_MM]);
    char path[80];
    if (!of->thickness_mm.known || of->site != HW_US_SITE_ORIGIN || !found.known) return HW_OK;
    double off = found.value - of->thickness_mm.value;
    if (off < 0.051 && off > -0.051) return HW_OK;
    snprintf(path, sizeof path, "feet.%s.fascia_thickness_mm", index ? "right" : "left");
    return hw_faults_add(reader->job, reader->faults, path,
                         "is %g, and the accepted picture says %g; keep one of them", found.value,
                         of->thickness_mm.value);
}

hw_status case_find_contradictions(case_reader *reader, const hw_visit *visit)
{
    HW_TRY(against_person(reader, visit));
    HW_TRY(against_dates(reader, visit));
    for (int i = 0; i < 2; i++) HW_TRY(against_picture(reader, visit, i));
    HW_TRY(against_foot(reader, &visit->feet[0], "left"));
    return against_foot(reader, &visit->feet[1], "right");
}
