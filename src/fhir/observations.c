// SPDX-License-Identifier: GPL-3.0-or-later
// Every finding of the visit and every measure of the feet. "Not asked" is written as such, never
// as no.
#include "fhir_internal.h"

#include <stdio.h>
#include <string.h>

// Findings with a published code; the unit it demands is the one we have.
typedef struct known_code {
    hw_finding_id finding;
    const char *loinc, *display;
    bool is_vital_sign;
} known_code;

static const known_code known_codes[] = {
    {HW_FINDING_MASS_KG, "29463-7", "Body weight", true},
    {HW_FINDING_HEIGHT_CM, "8302-2", "Body height", true},
    {HW_FINDING_HBA1C_PERCENT, "4548-4", "Hemoglobin A1c/Hemoglobin.total in Blood", false},
    {HW_FINDING_AVERAGE_PAIN_0_10, "72514-3", "Pain severity - 0-10 verbal numeric rating", false},
};

static const known_code *known_code_of(hw_finding_id id)
{
    for (size_t i = 0; i < sizeof known_codes / sizeof *known_codes; i++)
        if (known_codes[i].finding == id) return &known_codes[i];
    return NULL;
}

static const char *ucum_of(const hw_finding_row *row)
{
    if (strcmp(row->unit, "weeks") == 0) return "wk";
    if (strcmp(row->unit, "10^9/L") == 0) return "10*9/L";
    if (row->unit[0] == 0) return strstr(row->key, "_0_10") ? "{score}" : "1";
    return row->unit;
}

static void category(fhir_out *out, const char *code)
{
    hw_json_open(&out->json, "category", '[');
    fhir_concept(out, NULL, "http://terminology.hl7.org/CodeSystem/observation-category", code,
                 NULL);
    hw_json_close(&out->json);
}

static void value_of(fhir_out *out, const hw_finding_row *row, hw_finding finding)
{
    if (finding.given == HW_GIVEN_NOT_ASKED)
        fhir_concept(out, "dataAbsentReason",
                     "http://terminology.hl7.org/CodeSystem/data-absent-reason", "not-asked",
                     "Not Asked");
    else if (row->kind == HW_KIND_NUMBER)
        fhir_quantity(out, "valueQuantity", finding.number, 9, ucum_of(row));
    else if (row->kind == HW_KIND_ANSWER)
        hw_json_bool(&out->json, "valueBoolean", finding.word == HW_WORD_YES);
    else
        hw_json_text(&out->json, "valueString", row->words[finding.word]);
}

static void finding_row(fhir_out *out, const hw_finding_row *row, hw_finding finding, hw_side side)
{
    char name[96];
    const known_code *known = known_code_of(row->id);
    if (finding.given == HW_GIVEN_ABSENT || row->id == HW_FINDING_BIRTH_YEAR ||
        row->id == HW_FINDING_SEX) // of the Patient
        return;
    snprintf(name, sizeof name, "finding-%s-%s", hw_side_word(side), row->key);
    fhir_open(out, "Observation", name);
    hw_json_text(&out->json, "status", "final");
    category(out, known && known->is_vital_sign ? "vital-signs" : "exam");
    if (known)
        fhir_concept(out, "code", "http://loinc.org", known->loinc, known->display);
    else
        fhir_own_concept(out, "code", row->key, row->what);
    fhir_reference(out, "subject", "patient");
    fhir_reference(out, "encounter", "encounter");
    bool is_mass = row->id == HW_FINDING_MASS_KG;
    hw_date weighed = out->of->visit->findings.mass_measured_on;
    fhir_date(out, "effectiveDateTime", is_mass && weighed.known ? weighed : fhir_visit_date(out));
    value_of(out, row, finding);
    if (side != HW_SIDE_UNKNOWN) fhir_side(out, "bodySite", side);
    fhir_close(out);
}

static void measure(fhir_out *out, const char *key, hw_maybe metres, hw_side side)
{
    char name[64];
    if (!metres.known) return;
    snprintf(name, sizeof name, "measure-%s-%s", hw_side_word(side), key);
    fhir_open(out, "Observation", name);
    hw_json_text(&out->json, "status", "final");
    category(out, "exam");
    fhir_own_concept(out, "code", key, key);
    fhir_reference(out, "subject", "patient");
    fhir_reference(out, "encounter", "encounter");
    fhir_date(out, "effectiveDateTime", fhir_visit_date(out));
    fhir_quantity(out, "valueQuantity", hw_mm_from_m(metres.value), 1, "mm");
    fhir_side(out, "bodySite", side);
    fhir_close(out);
}

static void measures(fhir_out *out, const hw_foot_measures *of, hw_side side)
{
    if (!of) return;
    measure(out, "foot length", of->foot_length_m, side);
    measure(out, "truncated length", of->truncated_length_m, side);
    measure(out, "ball breadth", of->ball_breadth_m, side);
    measure(out, "heel breadth", of->heel_breadth_m, side);
    measure(out, "dorsum height", of->dorsum_height_m, side);
    measure(out, "arch apex height", of->arch_apex_height_m, side);
}

void fhir_observations(fhir_out *out)
{
    const hw_findings *findings = &out->of->visit->findings;
    const hw_finding_row *rows = hw_finding_rows();
    for (int i = 0; i < HW_FINDING_COUNT; i++) {
        bool is_of_foot = rows[i].scope == HW_SCOPE_FOOT || rows[i].scope == HW_SCOPE_HEEL_PAIN;
        if (!is_of_foot) finding_row(out, &rows[i], findings->values[i], HW_SIDE_UNKNOWN);
        for (int foot = 0; is_of_foot && foot < 2; foot++)
            finding_row(out, &rows[i], findings->feet[foot].values[i],
                        foot ? HW_SIDE_RIGHT : HW_SIDE_LEFT);
    }
    measures(out, out->of->feet[0].measures, HW_SIDE_LEFT);
    measures(out, out->of->feet[1].measures, HW_SIDE_RIGHT);
}
