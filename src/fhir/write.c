// SPDX-License-Identifier: GPL-3.0-or-later
// The datatypes of FHIR that we use.
#include "fhir_internal.h"

#include <stdio.h>
#include <string.h>

// Names-based identifiers need a name space of their own: ours, drawn once.
static const char name_space[] = "heelwright visit bundle 1";
static const char own_codes[] = "urn:uuid:5f2d1c0e-8a4b-5c7d-9e1f-3b6a0d2c4e58";

static void urn_of(const char *name, char text[static FHIR_URN])
{
    unsigned char d[FHIR_SHA1];
    fhir_sha1((hw_bytes){(const unsigned char *)name, strlen(name)}, d);
    d[6] = (unsigned char)((d[6] & 0x0f) | 0x50); // version 5
    d[8] = (unsigned char)((d[8] & 0x3f) | 0x80);
    int used = snprintf(text, FHIR_URN, "urn:uuid:");
    for (int i = 0; i < 16; i++)
        used += snprintf(text + used, FHIR_URN - (size_t)used, "%s%02x",
                         i == 4 || i == 6 || i == 8 || i == 10 ? "-" : "", d[i]);
}

const char *fhir_urn(const fhir_out *out, const char *name, char text[static FHIR_URN])
{
    char whole[400], date[HW_DATE_TEXT];
    // A person is the same at every visit; all else is of this one.
    bool is_person = strcmp(name, "patient") == 0;
    snprintf(whole, sizeof whole, "%s/%.120s/%s/%.200s", name_space, out->of->visit->code,
             is_person ? "" : hw_date_text(fhir_visit_date(out), date), name);
    urn_of(whole, text);
    return text;
}

hw_date fhir_visit_date(const fhir_out *out)
{
    return out->of->visit->findings.visit_date;
}

void fhir_open(fhir_out *out, const char *type, const char *name)
{
    char urn[FHIR_URN];
    hw_json_open(&out->json, NULL, '{');
    hw_json_text(&out->json, "fullUrl", fhir_urn(out, name, urn));
    hw_json_open(&out->json, "resource", '{');
    hw_json_text(&out->json, "resourceType", type);
    hw_json_text(&out->json, "id", urn + strlen("urn:uuid:"));
}

void fhir_close(fhir_out *out)
{
    hw_json_close(&out->json);
    hw_json_close(&out->json);
}

void fhir_reference(fhir_out *out, const char *key, const char *name)
{
    char urn[FHIR_URN];
    hw_json_open(&out->json, key, '{');
    hw_json_text(&out->json, "reference", fhir_urn(out, name, urn));
    hw_json_close(&out->json);
}

void fhir_concept(fhir_out *out, const char *key, const char *system, const char *code,
                  const char *text)
{
    hw_json_open(&out->json, key, '{');
    if (system) {
        hw_json_open(&out->json, "coding", '[');
        hw_json_open(&out->json, NULL, '{');
        hw_json_text(&out->json, "system", system);
        hw_json_text(&out->json, "code", code);
        if (text) hw_json_text(&out->json, "display", text);
        hw_json_close(&out->json);
        hw_json_close(&out->json);
    }
    if (text) hw_json_text(&out->json, "text", text);
    hw_json_close(&out->json);
}

void fhir_own_concept(fhir_out *out, const char *key, const char *code, const char *text)
{
    fhir_concept(out, key, own_codes, code, text);
}

void fhir_quantity(fhir_out *out, const char *key, double value, int decimals, const char *ucum)
{
    hw_json_open(&out->json, key, '{');
    hw_json_number(&out->json, "value", value, decimals);
    hw_json_text(&out->json, "unit", ucum);
    hw_json_text(&out->json, "system", "http://unitsofmeasure.org");
    hw_json_text(&out->json, "code", ucum);
    hw_json_close(&out->json);
}

// HL7's value set bodysite-laterality.
void fhir_side(fhir_out *out, const char *key, hw_side side)
{
    if (side == HW_SIDE_UNKNOWN)
        fhir_concept(out, key, NULL, NULL, "side not recorded");
    else if (side == HW_SIDE_LEFT)
        fhir_concept(out, key, "http://snomed.info/sct", "419161000", "Unilateral left");
    else
        fhir_concept(out, key, "http://snomed.info/sct", "419465000", "Unilateral right");
}

void fhir_date(fhir_out *out, const char *key, hw_date date)
{
    char text[HW_DATE_TEXT];
    if (date.known) hw_json_text(&out->json, key, hw_date_text(date, text));
}
