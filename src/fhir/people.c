// SPDX-License-Identifier: GPL-3.0-or-later
// Who, where, what they have and take, what was done before.
#include "fhir_internal.h"

#include <stdio.h>
#include <string.h>

static void patient(fhir_out *out)
{
    const hw_findings *findings = &out->of->visit->findings;
    hw_maybe year = hw_finding_number(findings->values[HW_FINDING_BIRTH_YEAR]);
    hw_finding sex = findings->values[HW_FINDING_SEX];
    static const char *const genders[] = {"female", "male", "other"};
    char text[8];
    fhir_open(out, "Patient", "patient");
    hw_json_open(&out->json, "identifier", '[');
    hw_json_open(&out->json, NULL, '{');
    hw_json_text(&out->json, "value", out->of->visit->code);
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    hw_json_text(&out->json, "gender", sex.given == HW_GIVEN_VALUE ? genders[sex.word] : "unknown");
    if (year.known) {
        snprintf(text, sizeof text, "%04.0f", year.value);
        hw_json_text(&out->json, "birthDate", text);
    }
    fhir_close(out);
}

static void practitioner(fhir_out *out)
{
    fhir_open(out, "Practitioner", "practitioner");
    hw_json_open(&out->json, "name", '[');
    hw_json_open(&out->json, NULL, '{');
    hw_json_text(&out->json, "text", out->of->practitioner);
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    fhir_close(out);
}

static void encounter(fhir_out *out)
{
    fhir_open(out, "Encounter", "encounter");
    hw_json_text(&out->json, "status", "finished");
    hw_json_open(&out->json, "class", '{');
    hw_json_text(&out->json, "system", "http://terminology.hl7.org/CodeSystem/v3-ActCode");
    hw_json_text(&out->json, "code", "AMB");
    hw_json_text(&out->json, "display", "ambulatory");
    hw_json_close(&out->json);
    fhir_reference(out, "subject", "patient");
    if (out->of->practitioner) {
        hw_json_open(&out->json, "participant", '[');
        hw_json_open(&out->json, NULL, '{');
        fhir_reference(out, "individual", "practitioner");
        hw_json_close(&out->json);
        hw_json_close(&out->json);
    }
    hw_json_open(&out->json, "period", '{');
    fhir_date(out, "start", fhir_visit_date(out));
    fhir_date(out, "end", fhir_visit_date(out));
    hw_json_close(&out->json);
    if (out->of->organization) fhir_reference(out, "serviceProvider", "organization");
    fhir_close(out);
}

void fhir_people(fhir_out *out)
{
    patient(out);
    if (out->of->practitioner) practitioner(out);
    if (out->of->organization) {
        fhir_open(out, "Organization", "organization");
        hw_json_text(&out->json, "name", out->of->organization);
        fhir_close(out);
    }
    encounter(out);
}

static void standing_of(fhir_out *out, const char *clinical, const char *verified,
                        const char *systems[2])
{
    fhir_concept(out, "clinicalStatus", systems[0], clinical, NULL);
    fhir_concept(out, "verificationStatus", systems[1], verified, NULL);
}

static const char *condition_systems[2] = {
    "http://terminology.hl7.org/CodeSystem/condition-clinical",
    "http://terminology.hl7.org/CodeSystem/condition-ver-status"};
static const char *allergy_systems[2] = {
    "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical",
    "http://terminology.hl7.org/CodeSystem/allergyintolerance-verification"};

// The rubric M72.2 also takes plantar fasciitis; it is written only where no red flag stands, and
// as provisional: the program does not diagnose.
static void heel_pain(fhir_out *out, hw_side side)
{
    char name[40], onset[60];
    const hw_foot_findings *foot = hw_foot_of(&out->of->visit->findings, side);
    hw_maybe weeks = hw_finding_number(foot->values[HW_FINDING_WEEKS_SINCE_ONSET]);
    bool is_clear = out->of->plan->red_flag_count == 0 && out->of->plan->released;
    if (foot->heel_pain != HW_ANSWER_YES) return;
    snprintf(name, sizeof name, "heel-pain-%s", hw_side_word(side));
    fhir_open(out, "Condition", name);
    standing_of(out, "active", is_clear ? "provisional" : "unconfirmed", condition_systems);
    fhir_concept(out, "code", is_clear ? "http://hl7.org/fhir/sid/icd-10" : NULL, "M72.2",
                 "plantar heel pain");
    hw_json_open(&out->json, "bodySite", '[');
    fhir_side(out, NULL, side);
    hw_json_close(&out->json);
    fhir_reference(out, "subject", "patient");
    fhir_reference(out, "encounter", "encounter");
    if (weeks.known) {
        snprintf(onset, sizeof onset, "%g weeks before the visit", weeks.value);
        hw_json_text(&out->json, "onsetString", onset);
    }
    fhir_date(out, "recordedDate", fhir_visit_date(out));
    fhir_close(out);
}

static void known_condition(fhir_out *out, const hw_named *of, const char *name)
{
    fhir_open(out, "Condition", name);
    standing_of(out, "active", "unconfirmed", condition_systems);
    fhir_concept(out, "code", NULL, NULL, of->name);
    fhir_reference(out, "subject", "patient");
    fhir_date(out, "recordedDate", fhir_visit_date(out));
    fhir_close(out);
}

static void medicine(fhir_out *out, const hw_named *of, const char *name)
{
    fhir_open(out, "MedicationStatement", name);
    hw_json_text(&out->json, "status", "active");
    fhir_concept(out, "medicationCodeableConcept", NULL, NULL, of->name);
    fhir_reference(out, "subject", "patient");
    fhir_date(out, "dateAsserted", fhir_visit_date(out));
    fhir_reference(out, "informationSource", "patient");
    fhir_close(out);
}

static void allergy(fhir_out *out, const hw_named *of, const char *name)
{
    fhir_open(out, "AllergyIntolerance", name);
    standing_of(out, "active", "unconfirmed", allergy_systems);
    fhir_concept(out, "code", NULL, NULL, of->name);
    fhir_reference(out, "patient", "patient");
    fhir_date(out, "recordedDate", fhir_visit_date(out));
    fhir_close(out);
}

static void each(fhir_out *out, const hw_names *list, const char *what,
                 void (*write)(fhir_out *out, const hw_named *of, const char *name))
{
    char name[48];
    for (int i = 0; list->given == HW_GIVEN_VALUE && i < list->count; i++) {
        snprintf(name, sizeof name, "%s-%d", what, i);
        write(out, &list->rows[i], name);
    }
}

static void past_act(fhir_out *out, const hw_past_act *act, int index)
{
    char name[40], note[200];
    snprintf(name, sizeof name, "past-%d", index);
    fhir_open(out, "Procedure", name);
    hw_json_text(&out->json, "status", "completed");
    fhir_own_concept(out, "code", hw_act_rows()[act->act].word, hw_act_rows()[act->act].word);
    fhir_reference(out, "subject", "patient");
    if (act->until.known) {
        hw_json_open(&out->json, "performedPeriod", '{');
        fhir_date(out, "start", act->date);
        fhir_date(out, "end", act->until);
        hw_json_close(&out->json);
    } else if (act->date.known) {
        fhir_date(out, "performedDateTime", act->date);
    } else {
        hw_json_text(&out->json, "performedString", "date not recorded");
    }
    hw_json_open(&out->json, "bodySite", '[');
    fhir_side(out, NULL, act->side);
    hw_json_close(&out->json);
    int used = 0;
    if (act->substance) used = snprintf(note, sizeof note, "%.100s", act->substance);
    if (act->dose_mg.known)
        used += snprintf(note + used, sizeof note - (size_t)used, "%s%g mg", used ? ", " : "",
                         act->dose_mg.value);
    if (act->sessions.known)
        used += snprintf(note + used, sizeof note - (size_t)used, "%s%g sessions", used ? ", " : "",
                         act->sessions.value);
    if (used) {
        hw_json_open(&out->json, "note", '[');
        hw_json_open(&out->json, NULL, '{');
        hw_json_text(&out->json, "text", note);
        hw_json_close(&out->json);
        hw_json_close(&out->json);
    }
    fhir_close(out);
}

void fhir_conditions(fhir_out *out)
{
    const hw_findings *findings = &out->of->visit->findings;
    heel_pain(out, HW_SIDE_LEFT);
    heel_pain(out, HW_SIDE_RIGHT);
    each(out, &findings->conditions, "condition", known_condition);
    each(out, &findings->medicines, "medicine", medicine);
    each(out, &findings->allergies, "allergy", allergy);
    for (int i = 0; i < findings->past_count; i++) past_act(out, &findings->past[i], i);
}
