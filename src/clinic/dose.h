// SPDX-License-Identifier: GPL-3.0-or-later
// Doses: the arithmetic, with the bound that limited it, and the usual dose of each treatment.
// Local rules and the product's own leaflet go first.
#ifndef HW_CLINIC_DOSE_H
#define HW_CLINIC_DOSE_H

#include "rules.h"

/// What one agent may reach, plain and with adrenaline.
typedef struct hw_anaesthetic_row {
    const char *agent;
    double plain_mg_per_kg;
    double plain_cap_mg;
    double adrenaline_mg_per_kg;
    double adrenaline_cap_mg;
    const char *source;     // of the mg per kg
    const char *cap_source; // of the caps
} hw_anaesthetic_row;

/// All local anaesthetics of the table, with limits and sources.
const hw_anaesthetic_row *hw_anaesthetic_rows(int *count);

/// By international or US name; NULL for what is not in the table.
const hw_anaesthetic_row *hw_anaesthetic_by_agent(const char *agent);

typedef enum hw_bound {
    HW_BOUND_PER_KG = 0,   // dose per kg of actual mass
    HW_BOUND_PER_IDEAL_KG, // dose per kg of ideal mass, which was lower
    HW_BOUND_CAP,
} hw_bound;

/// "mg per kg", "mg per kg of ideal mass" or "absolute cap".
const char *hw_bound_word(hw_bound bound);

typedef struct hw_anaesthetic_maximum {
    const hw_anaesthetic_row *row;
    double maximum_mg;
    double maximum_mL; // at the concentration asked
    hw_bound bound;
    double mass_kg;          // the mass it was reckoned with
    double reduction;        // 1, or 0.7 for the frail
    const char *why_reduced; // NULL when not
} hw_anaesthetic_maximum;

/// The most of one agent in one day: the stricter of mg per kg and the absolute cap.
///
///   percent  1 % is 10 mg/mL
///   fails    HW_BAD_INPUT unknown agent, percent not in (0, 5];  HW_NOT_FOUND mass not known
HW_MUST_USE hw_status hw_anaesthetic_limit(hw_job *job, const hw_findings *findings,
                                           const hw_anaesthetic_dose *dose,
                                           hw_anaesthetic_maximum *out);

/// Sum over agents of dose / maximum; 1 is the limit. Unknown when an agent or the mass is.
hw_maybe hw_anaesthetic_fraction(const hw_findings *findings, const hw_anaesthetic_dose *doses,
                                 int count);

typedef struct hw_steroid_row {
    const char *agent;
    const char *words; // how the vial calls it
    double
        equivalent_mg; // to 20 mg of hydrocortisone, by mouth or vein: for totals, not for choosing
    double usual_low_mg; // one heel
    double usual_high_mg;
    double vial_mg_per_mL; // a common strength; the vial in hand goes first
    const char *source;
} hw_steroid_row;

/// All corticosteroids of the table.
const hw_steroid_row *hw_steroid_rows(int *count);
/// The row of an agent by its name or the beginning of it; NULL where none is meant.
const hw_steroid_row *hw_steroid_by_agent(const char *agent);

/// mg of hydrocortisone with the same effect by mouth; unknown for an agent not in the table.
hw_maybe hw_hydrocortisone_mg(const char *agent, double dose_mg);

/// Total energy of a course, mJ/mm2, from the maker's declared energy per pulse; never from bar.
hw_maybe hw_shockwave_total(int sessions, int pulses, hw_maybe declared_mJ_per_mm2);

/// A shockwave session as ordered. Pressure is kept as set, energy only as declared.
typedef struct hw_shockwave_order {
    bool focused;
    int sessions;
    int pulses;
    hw_maybe rate_Hz;
    hw_maybe pressure_bar;
    hw_maybe energy_mJ_per_mm2;
    const char *energy_declared_by; // maker's sheet with head, distance and rate; NULL: none
} hw_shockwave_order;

/// All that is wrong with an order: energy without its declaration, counts that cannot be.
HW_MUST_USE hw_status hw_shockwave_check(hw_job *job, const hw_shockwave_order *order,
                                         hw_faults *faults);

/// Centrifuge: relative force (g) and speed (rpm) at a radius in cm. RCF = 1.118e-5 r rpm^2.
double hw_rcf_from_rpm(double radius_cm, double rpm);
/// The speed that gives this relative force.
double hw_rpm_from_rcf(double radius_cm, double rcf);

typedef struct hw_prp {
    double factor; // times blood
    double concentration_1e9_per_L;
    double dose_1e9; // platelets
} hw_prp;

/// Platelet-rich plasma from a blood count (1e9/L), the blood drawn, the share of platelets
/// recovered and the volume injected.
hw_prp hw_prp_yield(double count_1e9_per_L, double blood_mL, double recovery, double plasma_mL);

/// The longest next run after a longest one of the last 30 days, km.
double hw_next_run_km(double longest_km);

/// How often runners were injured by a run so much longer than their longest of the last 30 days,
/// against one at most a tenth longer: hazard ratio and its 95 % interval; 1 up to a tenth.
///
///   source  frandsen-2025: self-reported overuse injuries of any site, observational
double hw_run_hazard(double longest_km, double next_km, double *low, double *high);

typedef enum hw_pain_advice {
    HW_PAIN_GO_ON = 0,
    HW_PAIN_HOLD, // must settle by next morning
    HW_PAIN_CUT_BACK,
} hw_pain_advice;

/// Pain during exercise, 0 to 10.
hw_pain_advice hw_pain_rule(double pain_0_10);
/// As the sheet tells it to the person.
const char *hw_pain_advice_word(hw_pain_advice advice);

/// Shell thickness of a polypropylene device by foot posture index and body mass, mm. Where the
/// published rule says nothing (index 0; exactly 75 kg with a negative index) the thicker one that
/// borders on it, and `edge` is set.
double hw_clinic_shell_thickness_mm(double foot_posture_index, double mass_kg, bool *edge);

/// Heel cup for a medial skive and an inversion of the cast, mm.
double hw_clinic_heel_cup_mm(double medial_skive_mm, double inversion_deg);

/// One number of a dose; low and high are the same where there is no range.
typedef struct hw_dose_number {
    const char *name; // "sessions"
    const char *unit; // as written; "" for counts
    double low;
    double high;
} hw_dose_number;

enum { HW_DOSE_NUMBERS = 10 };

/// A step of a programme.
typedef struct hw_dose_step {
    int from_week; // counted from the start of this treatment, at the earliest
    const char *text;
    const char *when; // the criterion to go on to it; NULL: none
} hw_dose_step;

enum { HW_DOSE_STEPS = 4 };

typedef struct hw_dose_row {
    hw_act act;
    const char *text;                        // one or two sentences
    hw_dose_number numbers[HW_DOSE_NUMBERS]; // to the first without a name
    hw_dose_step steps[HW_DOSE_STEPS];       // to the first without a text
    const char *after;                       // aftercare and when to stop
    const char *source;
} hw_dose_row;

/// The usual dose of an act; NULL for what is not offered.
const hw_dose_row *hw_dose_of(hw_act act);

/// One number of a dose by name, or NULL.
const hw_dose_number *hw_dose_number_of(const hw_dose_row *dose, const char *name);

/// One line of evidence: what was found, at which horizon, by whom. Lines that disagree stand side
/// by side.
typedef struct hw_evidence {
    hw_acts acts;
    double weeks_low; // follow-up
    double weeks_high;
    const char *text;
    const char *source;
} hw_evidence;

/// What trials and guides say of each act, row by row.
const hw_evidence *hw_evidence_rows(int *count);

#endif
