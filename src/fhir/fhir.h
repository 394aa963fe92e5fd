// SPDX-License-Identifier: GPL-3.0-or-later
//
// fhir: a visit as an HL7 FHIR R4 (4.0.1) Bundle for other programs, and our own bundles back.
//
//     HW_TRY(hw_fhir_bundle(job, &visit, into, &json));     // {"resourceType": "Bundle", ...}
//     HW_TRY(hw_fhir_case(job, json, into, &case_file));    // the case file, byte for byte
//
// Codes are only those that were seen in a published source; everything else has our own code and
// its words. No name is written but those given here. What FHIR cannot hold travels in the case
// file, which a DocumentReference carries: docs/fhir.md lists it. It reads no other program's
// bundles.
#ifndef HW_FHIR_H
#define HW_FHIR_H

#include "files/files.h"
#include "record/record.h"

typedef struct hw_fhir_foot {
    const hw_foot_measures *measures; // NULL: none
    const hw_orthosis *orthosis;      // NULL: none made
    const hw_orthosis_order *order;   // with the orthosis
    bool is_released;                 // the orthosis
} hw_fhir_foot;

typedef struct hw_fhir_visit {
    const hw_visit *visit;
    const hw_plan *plan;
    hw_fhir_foot feet[2];
    hw_bytes case_file;        // carried whole
    const hw_file_set *papers; // named with size and hash, not carried; may be NULL
    const char *practitioner;  // name; NULL: not given
    const char *organization;
} hw_fhir_visit;

/// A Bundle of type collection. The same visit gives the same bytes: identifiers are name-based.
///
///   fails   HW_BAD_INPUT no visit date;  HW_NO_MEMORY
///   source  HL7 FHIR R4 4.0.1; RFC 4122 section 4.3 (name-based identifiers)
HW_MUST_USE hw_status hw_fhir_bundle(hw_job *job, const hw_fhir_visit *of, hw_arena *into,
                                     hw_bytes *out);

/// The case file in a bundle of ours, its hash checked.
///
///   fails   HW_BAD_FORMAT no Bundle, no case file in it, or not the bytes its hash was made of
HW_MUST_USE hw_status hw_fhir_case(hw_job *job, hw_bytes bundle, hw_arena *into, hw_bytes *out);

#endif
