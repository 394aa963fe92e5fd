// SPDX-License-Identifier: GPL-3.0-or-later
//
// record: a person's visit as plain structs, read from its case file. No I/O.
//
//     hw_visit visit = {0};
//     hw_faults faults = {.into = into};
//     HW_TRY(hw_visit_read(job, bytes, into, &visit, &faults));   // all faults at once
//     hw_mech_subject subject = hw_visit_subject(&visit, HW_SIDE_LEFT, &foot);
//
// Values stand here as typed, in the clinic's units, each with its unit in its name; the functions at
// the end are the only place where they become SI. What is absent stays absent. docs/case.md is the
// file's schema.
#ifndef HW_RECORD_H
#define HW_RECORD_H

#include "clinic/clinic.h"
#include "foot/foot.h"
#include "mech/mech.h"
#include "orthosis/orthosis.h"
#include "mill.h" // IWYU pragma: export
#include "scan/scan.h"

/// A scan as the case names it.
typedef struct hw_visit_scan {
    const char *file; // as typed, relative to the case file; NULL: no scan
    const char *unit; // "mm", "cm", "dm", "m", "inch"; NULL: to be inferred
    hw_loading loading;
    bool is_side_confirmed;               // somebody has looked and said: this is that foot
    bool has_landmark[HW_LANDMARKS];      // placed by hand
    double landmarks_mm[HW_LANDMARKS][3]; // foot frame, as of a left foot: hw_landmarks
} hw_visit_scan;

/// Measures typed in place of a scan.
typedef struct hw_visit_measures {
    hw_maybe foot_length_mm;
    hw_maybe truncated_length_mm;
    hw_maybe ball_breadth_mm;
    hw_maybe heel_breadth_mm;
    hw_maybe dorsum_height_mm;
    hw_maybe arch_apex_height_mm;
    hw_loading loading;
} hw_visit_measures;

/// What is asked of this foot's orthosis; what is absent takes the default.
typedef struct hw_visit_orthosis {
    bool is_given;
    const char *shell;  // "polypropylene", "PA12"; NULL: default
    const char *length; // "three-quarter"; NULL: default
    hw_maybe thickness_mm;
    hw_maybe heel_cup_mm;
    hw_maybe arch_fill_mm;
    hw_maybe heel_expansion_mm;
    hw_maybe border_expansion_mm;
    hw_maybe rearfoot_post_deg; // varus positive
} hw_visit_orthosis;

typedef struct hw_visit_foot {
    bool is_given;
    bool has_measures;
    hw_visit_scan scan;
    hw_visit_measures measures;
    hw_visit_orthosis orthosis;
} hw_visit_foot;

typedef struct hw_visit_shoe {
    bool is_given;
    hw_maybe inner_length_mm;
    hw_maybe pitch_mm;
    const char *kind;
} hw_visit_shoe;

/// One visit of one person.
typedef struct hw_visit {
    const char *code; // of the person; never a name
    bool is_invented; // demonstration data: marked on every page
    hw_findings findings;
    hw_visit_foot feet[2]; // left, right: hw_visit_foot_of
    hw_visit_shoe shoe;
} hw_visit;

/// Reads a case file.
///
///   bytes    JSON, docs/case.md
///   faults   every fault by its key: unknown keys, wrong kinds, impossible and contradictory values
///   out      written when there is no fault
///   fails    HW_BAD_FORMAT not JSON; HW_BAD_INPUT faults (why: the first); HW_NO_MEMORY
HW_MUST_USE hw_status hw_visit_read(hw_job *job, hw_bytes bytes, hw_arena *into, hw_visit *out,
                                    hw_faults *faults);

const hw_visit_foot *hw_visit_foot_of(const hw_visit *visit, hw_side side); // side left or right

/// How the scan of this side is to be read: what the case states of it, the rest to be inferred.
hw_scan_ask hw_visit_scan_ask(const hw_visit *visit, hw_side side);

/// Typed measures in SI, with what follows from them (arch height index); unknown where not typed.
hw_foot_measures hw_visit_typed_measures(const hw_visit *visit, hw_side side);

/// The subject of the foot model: mass, these measures, the calf test that was made.
///
///   fails   HW_BAD_INPUT without a mass, or when a measured foot length is missing
HW_MUST_USE hw_status hw_visit_subject(hw_job *job, const hw_visit *visit, hw_side side,
                                       const hw_foot_measures *measures, hw_mech_subject *out);

/// The order for this foot: the trade's defaults for the scan's loading state, mass and foot posture,
/// then what the case asks for.
hw_orthosis_order hw_visit_orthosis_order(const hw_visit *visit, hw_side side);

/// One rating of one heel.
typedef struct hw_dated_score {
    hw_date date;
    double score; // 0..10
} hw_dated_score;

/// Ratings to follow: {"pain": "first step", "scores": [{"date": "2026-03-02", "score": 7}, ...]}.
typedef struct hw_follow_request {
    hw_pain_kind kind;
    hw_dated_score *dated;       // by date
    const hw_pain_score *scores; // the same in weeks since the first
    int count;
} hw_follow_request;

/// Reads it; scores in any order.
///
///   fails   HW_BAD_FORMAT not JSON; HW_BAD_INPUT faults, all of them; HW_NO_MEMORY
HW_MUST_USE hw_status hw_follow_read(hw_job *job, hw_bytes bytes, hw_arena *into,
                                     hw_follow_request *out, hw_faults *faults);

#endif
