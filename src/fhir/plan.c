// SPDX-License-Identifier: GPL-3.0-or-later
// What is planned, what stands in the way, and the devices.
#include "fhir_internal.h"

#include <stdio.h>
#include <string.h>

static void activity(fhir_out *out, const hw_entry *entry)
{
    const hw_dose_row *dose = entry->kind == HW_ENTRY_ACT ? hw_dose_of(entry->act) : NULL;
    const char *word = entry->kind == HW_ENTRY_ACT ? hw_act_rows()[entry->act].word : "review";
    hw_json_open(&out->json, NULL, '{');
    hw_json_open(&out->json, "detail", '{');
    fhir_own_concept(out, "code", word, entry->text ? entry->text : word);
    hw_json_text(&out->json, "status", "not-started");
    if (entry->only_if) fhir_concept(out, "statusReason", NULL, NULL, entry->only_if);
    hw_json_open(&out->json, "scheduledPeriod", '{');
    fhir_date(out, "start", entry->date);
    hw_json_close(&out->json);
    if (dose) hw_json_text(&out->json, "description", dose->text);
    hw_json_close(&out->json);
    hw_json_close(&out->json);
}

static void addresses(fhir_out *out)
{
    const hw_findings *findings = &out->of->visit->findings;
    if (findings->feet[0].heel_pain != HW_ANSWER_YES &&
        findings->feet[1].heel_pain != HW_ANSWER_YES)
        return;
    hw_json_open(&out->json, "addresses", '[');
    if (findings->feet[0].heel_pain == HW_ANSWER_YES) fhir_reference(out, NULL, "heel-pain-left");
    if (findings->feet[1].heel_pain == HW_ANSWER_YES) fhir_reference(out, NULL, "heel-pain-right");
    hw_json_close(&out->json);
}

static void care_plan(fhir_out *out)
{
    const hw_plan *plan = out->of->plan;
    fhir_open(out, "CarePlan", "plan");
    hw_json_text(&out->json, "status", plan->released ? "active" : "draft");
    hw_json_text(&out->json, "intent", plan->released ? "plan" : "proposal");
    hw_json_text(&out->json, "description", plan->verdict);
    fhir_reference(out, "subject", "patient");
    fhir_reference(out, "encounter", "encounter");
    hw_json_open(&out->json, "period", '{');
    fhir_date(out, "start", fhir_visit_date(out));
    hw_json_close(&out->json);
    fhir_date(out, "created", fhir_visit_date(out));
    addresses(out);
    if (plan->entry_count > 0) {
        hw_json_open(&out->json, "activity", '[');
        for (int i = 0; i < plan->entry_count; i++) activity(out, &plan->timeline[i]);
        hw_json_close(&out->json);
    }
    fhir_close(out);
}

static void stop(fhir_out *out, const hw_option *option, const hw_reason *reason, int index)
{
    char name[96];
    snprintf(name, sizeof name, "stop-%d", index);
    fhir_open(out, "DetectedIssue", name);
    hw_json_text(&out->json, "status", "final");
    fhir_own_concept(out, "code", reason->rule->id, hw_act_rows()[option->act].word);
    hw_json_text(&out->json, "severity", reason->rule->kind == HW_RULE_NEVER ? "high" : "moderate");
    fhir_reference(out, "patient", "patient");
    fhir_date(out, "identifiedDateTime", fhir_visit_date(out));
    hw_json_text(&out->json, "detail", reason->rule->sentence);
    if (reason->overruled) {
        hw_json_open(&out->json, "mitigation", '[');
        hw_json_open(&out->json, NULL, '{');
        fhir_concept(out, "action", NULL, NULL,
                     "overruled by the clinician with reason and second person");
        hw_json_close(&out->json);
        hw_json_close(&out->json);
    }
    fhir_close(out);
}

static void stops(fhir_out *out)
{
    const hw_plan *plan = out->of->plan;
    int written = 0;
    for (int i = 0; i < plan->option_count; i++)
        for (int k = 0; k < plan->options[i].reason_count; k++) {
            const hw_reason *reason = &plan->options[i].reasons[k];
            if (reason->rule->kind != HW_RULE_CAUTION)
                stop(out, &plan->options[i], reason, written++);
        }
}

static void flags(fhir_out *out)
{
    const hw_plan *plan = out->of->plan;
    char name[40];
    for (int i = 0; i < plan->red_flag_count; i++) {
        snprintf(name, sizeof name, "flag-%d", i);
        fhir_open(out, "Flag", name);
        hw_json_text(&out->json, "status", "active");
        fhir_own_concept(out, "code", plan->red_flags[i].rule->id,
                         plan->red_flags[i].rule->sentence);
        fhir_reference(out, "subject", "patient");
        hw_json_open(&out->json, "period", '{');
        fhir_date(out, "start", fhir_visit_date(out));
        hw_json_close(&out->json);
        fhir_close(out);
    }
}

void fhir_plan(fhir_out *out)
{
    care_plan(out);
    stops(out);
    flags(out);
}

static void parameter(fhir_out *out, const char *name, double value, const char *ucum)
{
    hw_json_open(&out->json, NULL, '{');
    fhir_own_concept(out, "code", name, name);
    fhir_quantity(out, "valueQuantity", value, 3, ucum);
    hw_json_close(&out->json);
}

static void parameters(fhir_out *out, const hw_orthosis_order *order, hw_side side)
{
    hw_json_open(&out->json, "parameter", '[');
    hw_json_open(&out->json, NULL, '{');
    fhir_own_concept(out, "code", "side", "side");
    fhir_side(out, "valueCodeableConcept", side);
    hw_json_close(&out->json);
    hw_json_open(&out->json, NULL, '{');
    fhir_own_concept(out, "code", "shell material", "shell material");
    fhir_concept(out, "valueCodeableConcept", NULL, NULL, hw_shell_material_word(order->material));
    hw_json_close(&out->json);
    parameter(out, "shell thickness", hw_mm_from_m(order->shell_thickness_m), "mm");
    parameter(out, "heel cup depth", hw_mm_from_m(order->heel_cup_depth_m), "mm");
    parameter(out, "arch fill", hw_mm_from_m(order->arch_fill_m), "mm");
    parameter(out, "heel expansion", hw_mm_from_m(order->heel_expansion_m), "mm");
    parameter(out, "border expansion", hw_mm_from_m(order->border_expansion_m), "mm");
    parameter(out, "rearfoot post, varus positive", hw_deg_from_rad(order->rearfoot_post_rad),
              "deg");
    hw_json_close(&out->json);
}

static void request(fhir_out *out, const hw_fhir_foot *foot)
{
    char name[40], reason[40];
    hw_side side = foot->orthosis->side;
    snprintf(name, sizeof name, "device-request-%s", hw_side_word(side));
    snprintf(reason, sizeof reason, "heel-pain-%s", hw_side_word(side));
    fhir_open(out, "DeviceRequest", name);
    hw_json_text(&out->json, "status", foot->is_released ? "active" : "draft");
    hw_json_text(&out->json, "intent", foot->is_released ? "order" : "proposal");
    fhir_own_concept(out, "codeCodeableConcept", "custom orthosis",
                     side == HW_SIDE_LEFT ? "custom foot orthosis, left foot"
                                          : "custom foot orthosis, right foot");
    parameters(out, foot->order, side);
    fhir_reference(out, "subject", "patient");
    fhir_reference(out, "encounter", "encounter");
    fhir_date(out, "authoredOn", fhir_visit_date(out));
    if (hw_foot_of(&out->of->visit->findings, side)->heel_pain == HW_ANSWER_YES) {
        hw_json_open(&out->json, "reasonReference", '[');
        fhir_reference(out, NULL, reason);
        hw_json_close(&out->json);
    }
    fhir_close(out);
}

static void device(fhir_out *out, const hw_fhir_foot *foot)
{
    char name[40], title[160], date[HW_DATE_TEXT];
    hw_side side = foot->orthosis->side;
    snprintf(name, sizeof name, "device-%s", hw_side_word(side));
    snprintf(title, sizeof title, "custom foot orthosis, %s foot", hw_side_word(side));
    fhir_open(out, "Device", name);
    hw_json_open(&out->json, "identifier", '[');
    hw_json_open(&out->json, NULL, '{');
    char value[160];
    snprintf(value, sizeof value, "%.100s-%s-%s", out->of->visit->code, hw_side_word(side),
             hw_date_text(fhir_visit_date(out), date));
    hw_json_text(&out->json, "value", value);
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    hw_json_text(&out->json, "status", "inactive"); // designed, not yet made
    hw_json_open(&out->json, "deviceName", '[');
    hw_json_open(&out->json, NULL, '{');
    hw_json_text(&out->json, "name", title);
    hw_json_text(&out->json, "type", "user-friendly-name");
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    hw_json_open(&out->json, "property", '[');
    hw_json_open(&out->json, NULL, '{');
    fhir_own_concept(out, "type", "side", "side");
    hw_json_open(&out->json, "valueCode", '[');
    fhir_side(out, NULL, side);
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    hw_json_open(&out->json, NULL, '{');
    fhir_own_concept(out, "type", "mass", "mass");
    hw_json_open(&out->json, "valueQuantity", '[');
    fhir_quantity(out, NULL, hw_g_from_kg(foot->orthosis->mass_kg), 1, "g");
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    fhir_reference(out, "patient", "patient");
    hw_json_open(&out->json, "note", '[');
    hw_json_open(&out->json, NULL, '{');
    hw_json_text(&out->json, "text",
                 foot->is_released
                     ? "custom-made device for the exclusive use of this person; designed, "
                       "not yet made"
                     : "NOT RELEASED: not to be made");
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    fhir_close(out);
}

void fhir_devices(fhir_out *out)
{
    for (int i = 0; i < 2; i++) {
        if (!out->of->feet[i].orthosis) continue;
        request(out, &out->of->feet[i]);
        device(out, &out->of->feet[i]);
    }
}
