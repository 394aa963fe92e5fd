// SPDX-License-Identifier: GPL-3.0-or-later
#include "person.h"

hw_date day(const char *text)
{
    hw_date out = {0};
    HW_ASSERT(hw_date_parse(text, &out));
    return out;
}

// The first word of an answer is the harmless one: no, negative, felt, present. But blood that
// was not identified is not.
static hw_finding harmless(const hw_finding_row *row)
{
    static const struct {
        hw_finding_id id;
        double number;
    } numbers[] = {
        {HW_FINDING_MASS_KG, 70.0},
        {HW_FINDING_HEIGHT_CM, 170.0},
        {HW_FINDING_BIRTH_YEAR, 1976.0},
        {HW_FINDING_HBA1C_PERCENT, 5.4},
        {HW_FINDING_INR, 1.0},
        {HW_FINDING_PLATELET_COUNT, 250.0},
        {HW_FINDING_HAEMOGLOBIN_G_PER_L, 140.0},
        {HW_FINDING_WEEKS_SINCE_ONSET, 20.0},
        {HW_FINDING_LUNGE_DEG, 40.0},
        {HW_FINDING_FOOT_POSTURE_INDEX, 3.0},
        {HW_FINDING_STEPS_PER_DAY, 8000.0},
        {HW_FINDING_LONGEST_RUN_30_DAYS_KM, 8.0},
        {HW_FINDING_MORNING_STIFFNESS_MIN, 0.0},
        {HW_FINDING_HEEL_PAD_LOADED_MM, 8.0},
    };
    if (row->id == HW_FINDING_BLOOD_IDENTITY_CHECKED) return hw_finding_of_word(HW_WORD_YES);
    if (row->kind != HW_KIND_NUMBER) return hw_finding_of_word(0);
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        if (numbers[i].id == row->id) return hw_finding_of_number(numbers[i].number);
    return hw_finding_of_number(row->low > 0.0 ? row->low : 1.0);
}

hw_findings healthy_person(void)
{
    hw_findings out = {.visit_date = day("2026-03-02"), .mass_measured_on = day("2026-03-02")};
    for (int i = 0; i < HW_FINDING_COUNT; i++) {
        const hw_finding_row *row = &hw_finding_rows()[i];
        out.values[i] = out.feet[0].values[i] = out.feet[1].values[i] = harmless(row);
    }
    out.feet[0].heel_pain = HW_ANSWER_YES, out.feet[1].heel_pain = HW_ANSWER_NO;
    out.medicines.given = out.conditions.given = out.allergies.given = HW_GIVEN_VALUE;
    out.past_given = HW_GIVEN_VALUE;
    return out;
}

hw_situation case_of(const hw_findings *findings, hw_side side)
{
    return (hw_situation){.findings = findings,
                          .side = side,
                          .date = findings->visit_date,
                          .acts = findings->past,
                          .act_count = findings->past_count};
}
