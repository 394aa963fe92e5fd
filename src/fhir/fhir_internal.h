// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_FHIR_INTERNAL_H
#define HW_FHIR_INTERNAL_H

#include "fhir.h"
#include "json/json.h"

enum { FHIR_SHA1 = 20, FHIR_URN = 46 };

#define FHIR_CASE_TITLE "heelwright case file"

/// A bundle being written.
typedef struct fhir_out {
    hw_json_out json;
    const hw_fhir_visit *of;
    hw_job *job;
    hw_arena *tmp;
} fhir_out;

/// FIPS 180-4.
void fhir_sha1(hw_bytes bytes, unsigned char digest[static FHIR_SHA1]);

/// RFC 4648 section 4.
HW_MUST_USE hw_status fhir_base64(hw_job *job, hw_bytes bytes, hw_arena *into, const char **out);
HW_MUST_USE hw_status fhir_unbase64(hw_job *job, const char *text, hw_arena *into, hw_bytes *out);

/// "urn:uuid:..." of a resource of this visit: the same name, the same identifier.
const char *fhir_urn(const fhir_out *out, const char *name, char text[static FHIR_URN]);

/// Opens and closes an entry with its resource.
void fhir_open(fhir_out *out, const char *type, const char *name);
void fhir_close(fhir_out *out);

/// {"reference": "urn:uuid:..."} of the resource with this name.
void fhir_reference(fhir_out *out, const char *key, const char *name);

/// A CodeableConcept: coding where `system` is given, and text.
void fhir_concept(fhir_out *out, const char *key, const char *system, const char *code,
                  const char *text);

/// The same with our own code for it.
void fhir_own_concept(fhir_out *out, const char *key, const char *code, const char *text);

/// {"value", "unit", "system", "code"} in UCUM.
void fhir_quantity(fhir_out *out, const char *key, double value, int decimals, const char *ucum);

/// A CodeableConcept of the side.
void fhir_side(fhir_out *out, const char *key, hw_side side);
void fhir_date(fhir_out *out, const char *key, hw_date date);
hw_date fhir_visit_date(const fhir_out *out);

void fhir_people(fhir_out *out); // Patient, Practitioner, Organization, Encounter
void fhir_conditions(
    fhir_out *out); // Condition, MedicationStatement, AllergyIntolerance, Procedure
void fhir_observations(fhir_out *out); // Observation
void fhir_plan(fhir_out *out);         // CarePlan, DetectedIssue, Flag
void fhir_devices(fhir_out *out);      // DeviceRequest, Device
HW_MUST_USE hw_status fhir_documents(fhir_out *out);

#endif
