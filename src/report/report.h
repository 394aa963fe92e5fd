// SPDX-License-Identifier: GPL-3.0-or-later
//
// report: what was computed of a visit, as JSON for programs and as a two-page PDF for people.
//
//     hw_report report = {...};                          // app fills it
//     HW_TRY(hw_report_pdf(job, &report, into, &pdf));
//     HW_TRY(hw_report_visit_json(job, &report, into, &json));
//
// It computes nothing: every number on a page stands in the structs it is given. Person code, side
// in words and date are on every page; no name ever is.
#ifndef HW_REPORT_H
#define HW_REPORT_H

#include "gait/gait.h"
#include "milling.h" // IWYU pragma: export
#include "record/record.h"
#include "search.h" // IWYU pragma: export
#include "ultrasound/ultrasound.h"

enum { HW_REPORT_CHANGES_MAX = 16 };

/// What papers are printed on. Both show the same; on US Letter the page is 6 % smaller.
typedef enum hw_paper { HW_PAPER_A4 = 0, HW_PAPER_LETTER } hw_paper;

/// One foot of a visit. What was not computed is NULL, with the reason beside it.
typedef struct hw_report_foot {
    bool is_given;
    const hw_scan_result *scan;       // NULL: measures were typed, or none
    const hw_foot_measures *measures; // NULL: neither scan nor typed measures
    const hw_mech_own_walk *own_walk; // recorded forces; NULL: the norm's
    const hw_mech_result *load;
    const char *load_why;
    const hw_mech_causes *causes;      // NULL with the load, or where causes_why says
    const hw_mech_lever_curve *levers; // HW_MECH_LEVER_COUNT of them, with the causes
    const hw_mech_day *day;            // NULL: steps or hours on the feet were not asked
    const char *causes_why;
    hw_maybe reference_mass_kg;                        // the mass that counts as no cause
    hw_load_change change_tags[HW_REPORT_CHANGES_MAX]; // which option load->changes[i] stands for
    const hw_orthosis *orthosis;
    const hw_orthosis_order *order;
    const char *order_whys[HW_TERMS];       // where each number of the order comes from
    hw_shoe_fit_row shoe_fit[HW_SHOE_FITS]; // with the orthosis: against the shoe
    const char *orthosis_why;
    const hw_scan_fit *fit;             // how the device lies against this foot; NULL without one
    const hw_orthosis_against *against; // an earlier device; NULL: none was given
    const hw_press *press;              // how the device bears the foot; NULL: press_why
    const char *press_why;
    const hw_search *search; // NULL: not asked for, or search_why
    const char *search_why;
    bool is_in_full; // spread of the measures, and all moments of the press; else the preview
} hw_report_foot;

typedef struct hw_report {
    const hw_visit *visit;
    hw_report_foot feet[2];    // left, right
    const hw_plan *plan;       // NULL where only a part was asked for
    const char *note;          // what the pair has different and why; NULL: nothing
    const hw_milling *milling; // NULL: no program was made
    hw_paper paper;
    int revision; // of the visit's record: a calendar made later replaces an earlier one; 0: no record
} hw_report;

/// How many rows of the clinic's books have what they should.
typedef struct hw_report_count {
    const char *what;
    int have, of;
} hw_report_count;

/// What the audit report is of.
typedef struct hw_report_audit {
    const char *clinic; // its name
    hw_date today;
    bool is_invented;
    int people, visits;
    const hw_caseload *caseload;
    const hw_report_count *quality;
    int quality_count;
} hw_report_audit;

/// One act as it was written down.
typedef struct hw_report_given {
    hw_date date;
    const char *act, *details; // details: substance, dose, batch ... as written; "" none
    hw_side side;              // unknown: not said
    const char *event;         // adverse event; NULL: none written
    const char *who;           // wrote it down
} hw_report_given;

typedef struct hw_report_rating {
    hw_date date;
    hw_side side;
    double first_step; // 0..10
} hw_report_rating;

/// All that was done for a person, oldest first.
typedef struct hw_report_course {
    const char *code;
    hw_date today;
    bool is_invented;
    const hw_report_given *given;
    int given_count;
    const hw_report_rating *ratings;
    int rating_count;
} hw_report_course;

/// What `heelwright foot` prints: side, side_confidence, unit, triangles, measures in mm,
/// landmarks, removed, warnings.
HW_MUST_USE hw_status hw_report_foot_json(hw_job *job, const hw_scan_result *scan, hw_arena *into,
                                          hw_bytes *out);

/// The same for one or both feet of a file; both stand under "feet" by their side.
HW_MUST_USE hw_status hw_report_feet_json(hw_job *job, const hw_scan_pair *pair, hw_arena *into,
                                          hw_bytes *out);

/// What is asked of an ultrasound picture.
typedef struct hw_image_ask {
    hw_us_ask measure;
    bool has_caliper, has_box;
    hw_us_point caliper[2];
    hw_us_box box; // of the band to trace
} hw_image_ask;

typedef struct hw_image_result {
    hw_image image;
    hw_image_ask ask;
    hw_us_caliper caliper;     // where asked
    const hw_us_traced *trace; // NULL: not asked
} hw_image_result;

/// What was recorded of one foot's walk.
typedef struct hw_walk_result {
    hw_gait_record record;
    hw_gait_stance stance;
    bool has_stance, has_arch;
    hw_gait_arch_course arch;
} hw_walk_result;

/// Plantar pressure, measured by region; the stance of a film where mass_kg is said.
typedef struct hw_pressure_result {
    hw_pressure_map map;
    hw_pressure_measures measures;
    bool has_stance;
    hw_gait_stance stance;
} hw_pressure_result;

/// What `heelwright gait` and `heelwright pressure` print.
HW_MUST_USE hw_status hw_report_gait_json(hw_job *job, const hw_walk_result *result, hw_arena *into,
                                          hw_bytes *out);
/// The same for plantar pressure.
HW_MUST_USE hw_status hw_report_pressure_json(hw_job *job, const hw_pressure_result *result,
                                              hw_arena *into, hw_bytes *out);

/// What `heelwright image` prints: what the file says, regions, caliper, both edges.
HW_MUST_USE hw_status hw_report_image_json(hw_job *job, const hw_image_result *result,
                                           hw_arena *into, hw_bytes *out);

/// What `heelwright compare` prints: how two scans lie on each other and differ.
HW_MUST_USE hw_status hw_report_compare_json(hw_job *job, const hw_scan_result *first,
                                             const hw_scan_result *second,
                                             const hw_scan_comparison *of, hw_arena *into,
                                             hw_bytes *out);

/// One page of A4: the foot from below, from its medial side and from behind, landmarks, measures.
///
///   person   a code, never a name; NULL: "not stated"
HW_MUST_USE hw_status hw_report_scan_pdf(hw_job *job, const hw_scan_result *scan,
                                         const char *person, hw_arena *into, hw_bytes *out);

/// What `heelwright load` prints: per foot stance, peak, mid-stance, impulse and changes.
HW_MUST_USE hw_status hw_report_load_json(hw_job *job, const hw_report *report, hw_arena *into,
                                          hw_bytes *out);

/// What the moving picture of the load is drawn from: per foot the places the model turns about,
/// the solved poses of one tissue set today and under each change, and each change's tension curve
/// ([5th percentile, median, 95th] by instant, empty where unknown).
HW_MUST_USE hw_status hw_report_walk_json(hw_job *job, const hw_report *report, hw_arena *into,
                                          hw_bytes *out);

/// What `heelwright orthosis` prints: per foot the order as made, volume, mass, checks.
HW_MUST_USE hw_status hw_report_orthosis_json(hw_job *job, const hw_report *report, hw_arena *into,
                                              hw_bytes *out);

/// What `heelwright redflags` prints: red flags, open questions, the differential of each heel.
HW_MUST_USE hw_status hw_report_screen_json(hw_job *job, const hw_report *report, hw_arena *into,
                                            hw_bytes *out);

/// What `heelwright dose` prints: options with their doses, orders worked out.
HW_MUST_USE hw_status hw_report_dose_json(hw_job *job, const hw_report *report, hw_arena *into,
                                          hw_bytes *out);

/// What `heelwright plan` prints: verdict, open questions, options, timeline.
HW_MUST_USE hw_status hw_report_plan_json(hw_job *job, const hw_report *report, hw_arena *into,
                                          hw_bytes *out);

/// All of it in one object.
HW_MUST_USE hw_status hw_report_visit_json(hw_job *job, const hw_report *report, hw_arena *into,
                                           hw_bytes *out);

/// Two pages of A4: verdict, feet, measures, load; options, timeline, cautions.
HW_MUST_USE hw_status hw_report_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                    hw_bytes *out);

/// The picture of the load, one A4 page a foot: the foot at five solved instants with its fascia
/// drawn by tension, today and with the change that helps most, the curve, causes and levers.
HW_MUST_USE hw_status hw_report_load_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                         hw_bytes *out);

/// What `heelwright trials` prints: every row of the table of trials with its effects recomputed
/// and flagged, and what may be pooled by each method.
///
///   own     rows the clinic adds, pooled with the table's; may be NULL
HW_MUST_USE hw_status hw_report_trials_json(hw_job *job, const hw_trial *own, int own_count,
                                            hw_arena *into, hw_bytes *out);

/// What `heelwright followup` prints: the course with its band, chances, signals, and the prior.
HW_MUST_USE hw_status hw_report_follow_json(hw_job *job, const hw_follow_request *asked,
                                            const hw_follow_up *of, hw_arena *into, hw_bytes *out);

/// All scales this program scores, without anybody's wording.
HW_MUST_USE hw_status hw_report_scales_json(hw_job *job, hw_arena *into, hw_bytes *out);

/// A questionnaire's sheets scored: values with range, direction, missing rule, and changes since
/// the first against what matters and against the error.
HW_MUST_USE hw_status hw_report_scores_json(hw_job *job, const hw_score_request *asked,
                                            hw_arena *into, hw_bytes *out);

/// The caseload: all heels and by treatment, with denominators, intervals and curves.
HW_MUST_USE hw_status hw_report_caseload_json(hw_job *job, const hw_caseload *of, hw_arena *into,
                                              hw_bytes *out);

/// The plan's weeks as a calendar, for the person's own: whole days, stretches daily until the next
/// review, what depends on something marked tentative.
///
///   fails   HW_BAD_INPUT the plan is not released
///   source  RFC 5545
HW_MUST_USE hw_status hw_report_calendar(hw_job *job, const hw_report *report, hw_arena *into,
                                         hw_bytes *out);

/// The letter to the family doctor, one page of A4: why, found, planned, asked.
HW_MUST_USE hw_status hw_report_letter_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                           hw_bytes *out);

/// For the person who has the pain, two pages of A4 in large type: what to do this week, exercises
/// as drawings with their doses, when to call, next dates. Of a plan that is not released one page
/// that says so and shows no exercise.
HW_MUST_USE hw_status hw_report_patient_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                            hw_bytes *out);

/// The audit report: outcomes with their denominators, treatments with what their groups began
/// from, against published results, harms, the control chart, what is missing in the books. Groups
/// of fewer than five heels are not shown.
HW_MUST_USE hw_status hw_report_audit_pdf(hw_job *job, const hw_report_audit *of, hw_paper paper,
                                          hw_arena *into, hw_bytes *out);

/// The treatment record of a person: every act with what was given, adverse events, ratings.
HW_MUST_USE hw_status hw_report_course_pdf(hw_job *job, const hw_report_course *of, hw_paper paper,
                                           hw_arena *into, hw_bytes *out);

/// The maps of the page: per foot the device's top grid with pressure, sink and stress in
/// mid-stance.
HW_MUST_USE hw_status hw_report_press_json(hw_job *job, const hw_report *report, hw_arena *into,
                                           hw_bytes *out);

/// For the page: per foot the device's top grid with the gap to the skin.
HW_MUST_USE hw_status hw_report_fit_json(hw_job *job, const hw_report *report, hw_arena *into,
                                         hw_bytes *out);

/// The same as a picture with figures, a page of A4 a device.
///
///   fails   HW_BAD_INPUT no device was made
HW_MUST_USE hw_status hw_report_fit_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                        hw_bytes *out);

/// Nothing is open, and no row stands against a hard shell under this foot.
bool hw_report_device_released(const hw_report *report, hw_side side);

/// The order sheet for the maker, a page a device: side in words, every parameter as ordered and as
/// measured, outline and two sections, NOT RELEASED where it is so.
///
///   fails   HW_BAD_INPUT no device was made
HW_MUST_USE hw_status hw_report_order_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                          hw_bytes *out);

/// How many treatments of this plan, available and released, need a written consent: injections and
/// shockwave.
int hw_report_consent_count(const hw_report *report);

/// The record of consent to them, a page each: benefit and risks as counted, with source and
/// status.
///
///   fails   HW_BAD_INPUT hw_report_consent_count is 0
HW_MUST_USE hw_status hw_report_consent_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                            hw_bytes *out);

/// Milling: what was chosen, time, what the check found.
///
///   fails   HW_BAD_INPUT no program was made
HW_MUST_USE hw_status hw_report_milling_json(hw_job *job, const hw_report *report, hw_arena *into,
                                             hw_bytes *out);

/// Its maps at about 1 mm: distance of what is cut from the design in um, the worst of each square
/// (stock +, cut into -; null: no design there), and the state as a digit of hw_gcode_state.
HW_MUST_USE hw_status hw_report_milling_map_json(hw_job *job, const hw_report *report,
                                                 hw_arena *into, hw_bytes *out);

/// The sheet for the person at the machine: a page a program with set-up, tools, cautions and maps.
HW_MUST_USE hw_status hw_report_milling_pdf(hw_job *job, const hw_report *report, hw_arena *into,
                                            hw_bytes *out);

/// What to do before the machine starts; `count` gets how many.
const char *const *hw_report_milling_cautions(int *count);

#endif
