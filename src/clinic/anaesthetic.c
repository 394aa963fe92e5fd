// SPDX-License-Identifier: GPL-3.0-or-later
#include "clinic.h"
#include "readings.h"
#include <math.h>

// Where sources differ the stricter figure stands. Adrenaline does not raise bupivacaine's.
static const hw_anaesthetic_row agents[] = {
    // agent, plain mg/kg and cap mg, with adrenaline mg/kg and cap mg
    {"lidocaine", 3.0, 200.0, 7.0, 500.0, "la-teaching-uk", "spc-lidocaine"},
    {"bupivacaine", 2.0, 150.0, 2.0, 150.0, "spc-bupivacaine", "spc-bupivacaine"},
    {"levobupivacaine", 2.0, 150.0, 2.0, 150.0, "spc-levobupivacaine", "spc-levobupivacaine"},
    {"ropivacaine", 3.0, 300.0, 3.0, 300.0, "la-ropivacaine", "la-ropivacaine"},
    {"mepivacaine", 4.4, 300.0, 7.0, 500.0, "la-mepivacaine", "la-mepivacaine"},
    {"prilocaine", 5.0, 400.0, 7.5, 600.0, "la-teaching-uk", "spc-prilocaine"},
};

static const double frail_reduction = 0.7; // la-frail: about 30 % less
static const double old_age = 70.0;        // years; this program's reading of "old"
static const double percent_highest = 5.0; // no solution for injection is stronger

const hw_anaesthetic_row *hw_anaesthetic_rows(int *count)
{
    *count = (int)(sizeof agents / sizeof *agents);
    return agents;
}

const hw_anaesthetic_row *hw_anaesthetic_by_agent(const char *agent)
{
    const hw_name_row *substance = agent ? hw_substance(agent) : NULL;
    if (!substance) return NULL;
    const char *name = substance->preferred ? substance->preferred : substance->name;
    for (size_t i = 0; i < sizeof agents / sizeof *agents; i++)
        if (hw_text_same(agents[i].agent, name)) return &agents[i];
    return NULL;
}

const char *hw_bound_word(hw_bound bound)
{
    static const char *const words[] = {"mg per kg", "mg per kg of ideal mass", "absolute cap"};
    return words[bound];
}

// Devine 1974, from memory: 50 kg (women 45.5) and 2.3 kg for each inch over 5 feet. Sex unknown
// takes the lower.
static hw_maybe ideal_mass(const hw_findings *findings)
{
    const hw_maybe height = hw_finding_number(findings->values[HW_FINDING_HEIGHT_CM]);
    if (!height.known) return height;
    const hw_finding sex = findings->values[HW_FINDING_SEX];
    const bool is_male = sex.given == HW_GIVEN_VALUE && sex.word == HW_SEX_MALE;
    return hw_known((is_male ? 50.0 : 45.5) + 2.3 * (height.value - 152.4) / 2.54);
}

static const char *reduced_because(const hw_findings *findings)
{
    if (hw_finding_answer(findings->values[HW_FINDING_FRAIL]) == HW_ANSWER_YES) return "frail";
    const hw_maybe age = hw_age_at_least(findings);
    if (age.known && hw_compare(age.value, HW_AT_LEAST, old_age)) return "aged 70 or over";
    const hw_test heart_or_liver = {HW_SUBJECT_CONDITION, HW_COND_HEART | HW_COND_LIVER, HW_IS, 1};
    const hw_situation one = {.findings = findings};
    const hw_reading reading = hw_read(&heart_or_liver, &one);
    const bool has = reading.given == HW_GIVEN_VALUE && reading.number > 0.5;
    return has ? "heart or liver disease" : NULL;
}

static hw_anaesthetic_maximum limit_of(const hw_anaesthetic_row *row, bool with_adrenaline,
                                       double mass_kg, hw_maybe ideal_kg)
{
    hw_anaesthetic_maximum out = {.row = row, .bound = HW_BOUND_PER_KG, .mass_kg = mass_kg};
    if (ideal_kg.known && ideal_kg.value > 0.0 && ideal_kg.value < mass_kg)
        out.bound = HW_BOUND_PER_IDEAL_KG, out.mass_kg = ideal_kg.value;
    const double mg_per_kg = with_adrenaline ? row->adrenaline_mg_per_kg : row->plain_mg_per_kg;
    const double cap_mg = with_adrenaline ? row->adrenaline_cap_mg : row->plain_cap_mg;
    out.maximum_mg = mg_per_kg * out.mass_kg;
    if (cap_mg < out.maximum_mg) out.bound = HW_BOUND_CAP, out.maximum_mg = cap_mg;
    return out;
}

hw_status hw_anaesthetic_limit(hw_job *job, const hw_findings *findings,
                               const hw_anaesthetic_dose *dose, hw_anaesthetic_maximum *out)
{
    const hw_anaesthetic_row *row = hw_anaesthetic_by_agent(dose->agent);
    if (!row)
        return hw_fail(job, HW_BAD_INPUT, "no maximum is known for the anaesthetic '%s'",
                       dose->agent ? dose->agent : "");
    if (!(dose->concentration_percent > 0.0 && dose->concentration_percent <= percent_highest))
        return hw_fail(job, HW_BAD_INPUT,
                       "an anaesthetic of %g %% cannot be; give percent (1 %% is 10 mg/mL)",
                       dose->concentration_percent);
    const hw_maybe mass = hw_finding_number(findings->values[HW_FINDING_MASS_KG]);
    if (!mass.known)
        return hw_fail(job, HW_NOT_FOUND, "the body mass is not known: weigh the person first");
    hw_anaesthetic_maximum most =
        limit_of(row, dose->with_adrenaline, mass.value, ideal_mass(findings));
    most.why_reduced = reduced_because(findings);
    most.reduction = most.why_reduced ? frail_reduction : 1.0;
    most.maximum_mg *= most.reduction;
    most.maximum_mL = most.maximum_mg / (10.0 * dose->concentration_percent);
    *out = most;
    return HW_OK;
}

hw_maybe hw_anaesthetic_fraction(const hw_findings *findings, const hw_anaesthetic_dose *doses,
                                 int count)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++) {
        hw_job quiet = {0}; // the sentence of a failure is not wanted here, only that it failed
        hw_anaesthetic_maximum most = {0};
        if (hw_anaesthetic_limit(&quiet, findings, &doses[i], &most) != HW_OK) return (hw_maybe){0};
        if (!(doses[i].volume_mL >= 0.0)) return (hw_maybe){0};
        sum += doses[i].volume_mL / most.maximum_mL;
    }
    return hw_known(sum);
}
