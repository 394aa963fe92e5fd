// SPDX-License-Identifier: GPL-3.0-or-later
//
// record: a person's visit as plain structs, read from its case file. No I/O.
//
//     hw_visit visit = {0};
//     hw_faults faults = {.into = into};
//     HW_TRY(hw_visit_read(job, bytes, into, &visit, &faults));   // all faults at once
//     hw_mech_subject subject = hw_visit_subject(&visit, HW_SIDE_LEFT, &foot);
//
// Values stand here as typed, in the clinic's units, each with its unit in its name; the functions
// at the end are the only place where they become SI. What is absent stays absent. docs/case.md is
// the file's schema.
#ifndef HW_RECORD_H
#define HW_RECORD_H

#include "clinic/clinic.h"
#include "foot/foot.h"
#include "gait/gait.h"
#include "mech/mech.h"
#include "mill.h" // IWYU pragma: export
#include "orthosis/orthosis.h"
#include "scan/scan.h"
#include "ultrasound/ultrasound.h"

/// A scan as the case names it.
typedef struct hw_visit_scan {
    const char *file; // as typed, relative to the case file; NULL: no scan
    const char *unit; // "mm", "cm", "dm", "m", "inch"; NULL: to be inferred
    hw_loading loading;
    bool is_side_confirmed; // somebody has looked and said: this is that foot
    hw_scan_axis up, toes;  // as stated of the file; unknown: to be inferred
    hw_scan_extent extent;
    hw_scan_cast cast;
    bool keeps_all, leaves_holes;         // nothing is removed, nothing filled
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
    const char *shell;   // hw_shell_material_word; NULL: default
    const char *length;  // hw_orthosis_length_word; NULL: default
    const char *met_pad; // hw_met_pad_word; NULL: none
    const char *cover;   // hw_top_cover_word; NULL: none
    bool rearfoot_intrinsic, forefoot_intrinsic;
    bool balances_heel, recess_is_plugged, is_embossed;
    hw_maybe terms[HW_TERMS]; // mm or degrees
} hw_visit_orthosis;

/// An ultrasound picture and the thickness read from it. It counts only with both edges accepted.
typedef struct hw_visit_ultrasound {
    const char *file; // NULL: none
    hw_maybe frame;   // 1 the first
    hw_us_site site;
    hw_us_plane plane;
    const char *scale;  // where its millimetres come from, as hw_us_scale_word says it
    const char *method; // "traced", "calipers"
    hw_maybe thickness_mm, half_width_95_mm;
    bool is_accepted[2]; // superficial edge, deep edge
} hw_visit_ultrasound;

/// A recorded walk, and the stance of this foot in it.
typedef struct hw_visit_walk {
    const char *file;        // NULL: none
    const char *forces_file; // of the same trial, where the first holds markers only
    const char *unit;        // of a table that names none
    hw_maybe plate, step;    // 1 the first
    hw_gait_names markers;
} hw_visit_walk;

/// A plantar pressure file.
typedef struct hw_visit_pressure {
    const char *file; // NULL: none
    const char *unit; // "kPa", "N/cm2"; NULL: the file says it
    hw_maybe cell_length_mm, cell_breadth_mm, frame_ms;
} hw_visit_pressure;

typedef struct hw_visit_foot {
    bool is_given;
    bool has_measures;
    hw_visit_scan scan;
    hw_visit_measures measures;
    hw_visit_orthosis orthosis;
    hw_visit_ultrasound ultrasound;
    hw_visit_walk walk;
    hw_visit_pressure pressure;
} hw_visit_foot;

typedef struct hw_visit_shoe {
    bool is_given;
    hw_maybe inner_length_mm;
    hw_maybe inner_width_mm; // of its insole at the ball
    hw_maybe heel_width_mm;  // of its insole at the heel
    hw_maybe pitch_mm;
    hw_maybe toe_spring_mm;
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

/// Whose stance on which plate, for hw_gait_find_stance; the foot's length may be unknown.
hw_gait_walker hw_visit_walker(const hw_visit *visit, hw_side side, hw_maybe foot_length_m);
/// How this foot's recording is to be read.
hw_gait_ask hw_visit_gait_ask(const hw_visit *visit, hw_side side);
/// How this foot's pressure table is to be read.
hw_pressure_ask hw_visit_pressure_ask(const hw_visit *visit, hw_side side);

/// The accepted thickness of this side as a reading; is_accepted is false where there is none.
hw_us_reading hw_visit_us_reading(const hw_visit *visit, hw_side side);

/// The subject of the foot model: mass, these measures, the calf test that was made.
///
///   fails   HW_BAD_INPUT without a mass, or when a measured foot length is missing
HW_MUST_USE hw_status hw_visit_subject(hw_job *job, const hw_visit *visit, hw_side side,
                                       const hw_foot_measures *measures, hw_mech_subject *out);

/// The order for this foot: the trade's defaults for the scan's loading state, mass and foot
/// posture, then what the case asks for, and its shoe.
hw_orthosis_order hw_visit_orthosis_order(const hw_visit *visit, hw_side side);

/// Where a number of that order comes from: "as asked", or the rule of its default with its source.
const char *hw_visit_order_why(const hw_visit *visit, hw_side side, hw_order_term term);

/// The key of a number of an order in case file and JSON, unit included: "heel_cup_mm".
enum { HW_ORDER_KEY = 40 };
/// `heel_cup_mm` of the heel cup: word and unit.
void hw_order_key(hw_order_term term, char key[static HW_ORDER_KEY]);

/// A value of a row in mm or degrees; the order's own.
double hw_order_in_unit(const hw_order_row *row, double value);
/// The order's own, in the row's unit.
double hw_order_typed(const hw_orthosis_order *order, hw_order_term term);

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

/// One sheet of answers to a questionnaire.
typedef struct hw_score_sheet {
    hw_date date;
    hw_item *items;
    int count;
} hw_score_sheet;

/// Sheets to score: {"scale": "ffi", "sheets": [{"date": "2026-03-02", "items": [3, null, "not
/// applicable", ...]}]}; in place of "scale" the text of a questionnaire may stand as
/// "questionnaire".
typedef struct hw_score_request {
    hw_questionnaire questionnaire;
    bool is_highest_best;   // of a grade: "best_grade" is its highest
    hw_score_sheet *sheets; // by date
    int count;
} hw_score_request;

/// Reads it; sheets in any order.
///
///   fails   HW_BAD_FORMAT not JSON; HW_BAD_INPUT faults, all of them; HW_NO_MEMORY
HW_MUST_USE hw_status hw_score_read(hw_job *job, hw_bytes bytes, hw_arena *into,
                                    hw_score_request *out, hw_faults *faults);

struct hw_json;

/// Trials the clinic adds, each an object: source, treatment, control, outcome, unit, weeks,
/// people_treated, people_control and what was printed: mean_, sd_, events_ of both, or difference
/// with low and high.
///
///   out     `count` rows in `into`, ids "own-1", ...
///   fails   HW_BAD_INPUT faults, all of them; HW_NO_MEMORY
HW_MUST_USE hw_status hw_trials_read(hw_job *job, const struct hw_json *const *bodies, int count,
                                     hw_arena *into, hw_trial **out, hw_faults *faults);

#endif
