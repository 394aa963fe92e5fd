// SPDX-License-Identifier: GPL-3.0-or-later
// What was found: the vocabulary of findings as one table, and the struct that holds a visit's.
//
// The keys are those of the case file (docs: the case file). A reader of JSON loops over the rows
// of one scope, looks each key up, and checks the number against low and high or the word against
// the words; a key no row has is refused by its name.
#ifndef HW_CLINIC_FINDINGS_H
#define HW_CLINIC_FINDINGS_H

#include "base/base.h"

/// Where a finding's key stands in the case file.
typedef enum hw_scope {
    HW_SCOPE_VISIT,     // at the top: "mass_kg"
    HW_SCOPE_PERSON,    // in "person": "pregnancy"
    HW_SCOPE_RED_FLAG,  // in "red_flags": "fever"
    HW_SCOPE_FOOT,      // in "feet"."left": "lunge_deg"
    HW_SCOPE_HEEL_PAIN, // in "feet"."left"."heel_pain": "weeks_since_onset"
} hw_scope;

typedef enum hw_finding_kind {
    HW_KIND_NUMBER,
    HW_KIND_ANSWER, // yes or no
    HW_KIND_WORD,   // one of the row's words
} hw_finding_kind;

/// Nothing in the record is not the same as "not asked", and neither is "no".
typedef enum hw_given {
    HW_GIVEN_ABSENT = 0,
    HW_GIVEN_NOT_ASKED,
    HW_GIVEN_VALUE,
} hw_given;

/// A finding. Ids are not stored, keys are: ids may move, a key is never renamed or reused.
typedef enum hw_finding_id {
    // visit
    HW_FINDING_MASS_KG = 0,
    HW_FINDING_HEIGHT_CM,
    HW_FINDING_STANDING_HOURS_PER_DAY,
    HW_FINDING_STEPS_PER_DAY,
    HW_FINDING_LONGEST_RUN_30_DAYS_KM,
    // person
    HW_FINDING_BIRTH_YEAR,
    HW_FINDING_SEX,
    HW_FINDING_PREGNANCY,
    HW_FINDING_PACEMAKER,
    HW_FINDING_HBA1C_PERCENT,
    HW_FINDING_INR,
    HW_FINDING_PLATELET_COUNT,
    HW_FINDING_HAEMOGLOBIN_G_PER_L,
    HW_FINDING_FRAIL,
    HW_FINDING_SMOKING,
    HW_FINDING_PREVIOUS_CLOT,
    HW_FINDING_RECENT_SURGERY,
    HW_FINDING_RECENT_IMMOBILISATION,
    HW_FINDING_SYSTEMIC_INFECTION,
    HW_FINDING_BLOOD_IDENTITY_CHECKED,
    // red flags
    HW_FINDING_FEVER,
    HW_FINDING_SPREADING_REDNESS,
    HW_FINDING_WOUND,
    HW_FINDING_HOT_SWOLLEN_FOOT,
    HW_FINDING_CALF_SWELLING,
    HW_FINDING_BREATHLESSNESS,
    HW_FINDING_NIGHT_PAIN,
    HW_FINDING_REST_PAIN,
    HW_FINDING_UNEXPLAINED_WEIGHT_LOSS,
    HW_FINDING_CANCER_HISTORY,
    HW_FINDING_PALPABLE_MASS,
    HW_FINDING_CANNOT_BEAR_WEIGHT,
    HW_FINDING_SUDDEN_POP,
    HW_FINDING_SADDLE_NUMBNESS,
    HW_FINDING_BLADDER_BOWEL_CHANGE,
    HW_FINDING_LEG_WEAKNESS,
    HW_FINDING_INFLAMMATORY_SIGNS,
    // foot
    HW_FINDING_LUNGE_DEG,
    HW_FINDING_LUNGE_CM,
    HW_FINDING_DORSIFLEXION_KNEE_EXTENDED_DEG,
    HW_FINDING_DORSIFLEXION_KNEE_BENT_DEG,
    HW_FINDING_WEIGHT_BEARING_KNEE_STRAIGHT_DEG,
    HW_FINDING_FIRST_MTP_DORSIFLEXION_DEG,
    HW_FINDING_FOOT_POSTURE_INDEX,
    HW_FINDING_NAVICULAR_DROP_MM,
    HW_FINDING_FASCIA_THICKNESS_MM,
    HW_FINDING_HEEL_PAD_THICKNESS_MM,
    HW_FINDING_HEEL_RAISES,
    HW_FINDING_WINDLASS_TEST_STANDING,
    HW_FINDING_WINDLASS_TEST_UNLOADED,
    HW_FINDING_SQUEEZE_TEST,
    HW_FINDING_TINEL_TEST,
    HW_FINDING_TENDER_AT,
    HW_FINDING_MONOFILAMENT,
    HW_FINDING_PULSES,
    HW_FINDING_OPEN_WOUND,
    HW_FINDING_SKIN_INFECTION,
    HW_FINDING_FRAGILE_SKIN,
    HW_FINDING_TUMOUR_IN_FIELD,
    HW_FINDING_SUSPECTED_RUPTURE,
    HW_FINDING_SUSPECTED_STRESS_FRACTURE,
    HW_FINDING_OPEN_GROWTH_PLATE,
    HW_FINDING_IMPLANT_AT_HEEL,
    HW_FINDING_PAST_ULCER,
    // heel pain
    HW_FINDING_WEEKS_SINCE_ONSET,
    HW_FINDING_FIRST_STEP_PAIN_0_10,
    HW_FINDING_AVERAGE_PAIN_0_10,
    HW_FINDING_ACTIVITY_PAIN_0_10,
    // later additions, of any scope
    HW_FINDING_PAIN_PATTERN,
    HW_FINDING_BACK_PAIN,
    HW_FINDING_MORNING_STIFFNESS_MIN,
    HW_FINDING_BURNING,
    HW_FINDING_DORSIFLEXION_EVERSION_TEST,
    HW_FINDING_TRIPLE_COMPRESSION_TEST,
    HW_FINDING_ABDUCTOR_TENDER,
    HW_FINDING_FIFTH_TOE_ABDUCTION,
    HW_FINDING_HEEL_PAD_FEEL,
    HW_FINDING_HEEL_PAD_LOADED_MM,
    HW_FINDING_STRAIGHT_LEG_RAISE,
    HW_FINDING_ANKLE_REFLEX,
    HW_FINDING_BRUISE_OR_GAP,
    HW_FINDING_ARCH_NODULE,
    HW_FINDING_RESISTED_TENDON_TEST,
    // Last, though it is the visit's: ids are in the digests that data/rule_reviews.csv keeps of
    // the rules.
    HW_FINDING_WALKING_SPEED_M_PER_S,
    HW_FINDING_COUNT,
} hw_finding_id;

enum { HW_FINDING_WORDS = 6 };

typedef struct hw_finding_row {
    hw_finding_id id;
    const char *key;
    hw_scope scope;
    hw_finding_kind kind;
    const char *unit;                    // as written: "deg"; "" for answers, words and counts
    double low;                          // below is impossible, not merely unusual
    double high;                         // above is impossible
    const char *words[HW_FINDING_WORDS]; // then NULL; for an answer "no", "yes"
    const char *what;                    // for a person who has not met the key
} hw_finding_row;

/// All rows; row i has id i.
const hw_finding_row *hw_finding_rows(void);

/// The row with this key in this scope, or NULL.
const hw_finding_row *hw_finding_by_key(hw_scope scope, const char *key);

/// One finding as it stands in the record. Zero-initialised it is absent.
typedef struct hw_finding {
    hw_given given;
    double number; // kind number: in the row's unit, as typed
    int word;      // kind answer or word: index into the row's words
} hw_finding;

/// Words of the answer kind, and of the words that rules ask for by name.
enum { HW_WORD_NO = 0, HW_WORD_YES = 1 };
enum { HW_SEX_FEMALE = 0, HW_SEX_MALE, HW_SEX_OTHER };
enum { HW_TEST_NEGATIVE = 0, HW_TEST_POSITIVE };
enum { HW_FILAMENT_FELT = 0, HW_FILAMENT_NOT_FELT };
enum { HW_PULSES_PRESENT = 0, HW_PULSES_WEAK, HW_PULSES_ABSENT };
enum {
    HW_TENDER_FASCIA_ORIGIN = 0,
    HW_TENDER_HEEL_PAD,
    HW_TENDER_BACK_OF_HEEL,
    HW_TENDER_ARCH,
    HW_TENDER_INNER_ANKLE
};

/// A number that was found.
hw_finding hw_finding_of_number(double number);
/// A word that was found, by its place among the row's words.
hw_finding hw_finding_of_word(int word);
/// Said to be not asked: neither yes nor no.
hw_finding hw_finding_not_asked(void);

/// Reads a text value ("yes", "felt", "not asked") by the row's words; letters' case is ignored.
/// False when the row has no such word. A number row takes only "not asked".
bool hw_finding_from_word(const hw_finding_row *row, const char *text, hw_finding *out);

/// The word of an answer or word finding, "not asked" or "unknown".
const char *hw_finding_word(const hw_finding_row *row, hw_finding finding);

/// Within what is possible at all, ends included.
bool hw_finding_possible(const hw_finding_row *row, double number);

/// As base's answer: what is absent is unknown, never no.
hw_answer hw_finding_answer(hw_finding finding);
/// The number, unknown where none was found.
hw_maybe hw_finding_number(hw_finding finding);

enum { HW_PATTERN_FIRST_STEPS = 0, HW_PATTERN_WORSE_EACH_STEP, HW_PATTERN_LONG_STANDING };
enum { HW_TOE_STRONG = 0, HW_TOE_WEAK };
enum { HW_PAD_FIRM = 0, HW_PAD_THIN };
enum { HW_REFLEX_PRESENT = 0, HW_REFLEX_REDUCED };

/// A treatment, as given in the past, planned, or offered. Words in hw_act_rows.
typedef enum hw_act {
    HW_ACT_ACTIVITY = 0, // load rules, pacing, education
    HW_ACT_FOOTWEAR,
    HW_ACT_TAPE,
    HW_ACT_INSOLE,   // prefabricated
    HW_ACT_ORTHOSIS, // custom, with a hard shell
    HW_ACT_HEEL_RAISE,
    HW_ACT_CALF_STRETCH,
    HW_ACT_WEIGHT,
    HW_ACT_BOOT,
    HW_ACT_NIGHT_SPLINT,
    HW_ACT_MANUAL_THERAPY,
    HW_ACT_NSAID,
    HW_ACT_DRY_NEEDLING,
    HW_ACT_CORTICOSTEROID,
    HW_ACT_LOCAL_ANAESTHETIC,
    HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE,
    HW_ACT_FASCIA_STRETCH,
    HW_ACT_STRENGTH,
    HW_ACT_SHOCKWAVE_RADIAL,
    HW_ACT_SHOCKWAVE_FOCUSED,
    HW_ACT_PRP,
    HW_ACT_RETURN_TO_IMPACT, // running, jumping
    HW_ACT_SURGERY,          // as a past act
    HW_ACT_COUNT,
} hw_act;

/// A set of acts: bit 1u << act.
typedef unsigned hw_acts;

/// The three principles.
typedef enum hw_principle {
    HW_UNLOAD = 0,
    HW_SETTLE,
    HW_HEAL,
    HW_PRINCIPLE_COUNT,
} hw_principle;

/// What a treatment changes in the mechanical model of the foot, so that the caller can attach the
/// expected change of fascia load.
typedef enum hw_load_change {
    HW_LOAD_NONE = 0,
    HW_LOAD_ARCH_TAPE,
    HW_LOAD_ARCH_INSOLE,
    HW_LOAD_ARCH_ORTHOSIS,
    HW_LOAD_HEEL_RAISE,
    HW_LOAD_CALF_RANGE,
    HW_LOAD_BODY_MASS,
    HW_LOAD_STEPS,
    HW_LOAD_BOOT,
} hw_load_change;

typedef struct hw_act_row {
    hw_act act;
    const char *word;     // in the case file: "corticosteroid injection"
    const char *other[3]; // also read; then NULL
    hw_principle principle;
    hw_load_change changes;
    bool per_heel; // else for the person as a whole
    bool offered;  // an option of a plan; else only a past act or a part of another
} hw_act_row;

/// All rows; row i has act i.
const hw_act_row *hw_act_rows(void);

/// The row with this word (or another of its words), letters' case ignored, or NULL.
const hw_act_row *hw_act_by_word(const char *word);

/// Something that was done. One heel each: a treatment of both heels is two acts.
typedef struct hw_past_act {
    hw_act act;
    hw_date date;                   // first day
    hw_date until;                  // last day of a course; unknown: the same day
    hw_side side;                   // unknown counts against both heels
    const char *substance;          // may be NULL
    hw_maybe dose_mg;               // each time, in that heel
    hw_maybe concentration_percent; // local anaesthetic
    hw_maybe volume_mL;
    bool with_adrenaline;
    hw_maybe sessions;                                         // absent: one
    hw_maybe pulses, rate_Hz, pressure_bar, energy_mJ_per_mm2; // of one shockwave session, as set
    const char *head;                                          // device and handpiece; may be NULL
} hw_past_act;

/// What is ordered for today, or as a course from today on. What an act does not have is absent.
typedef struct hw_order {
    hw_act act;
    hw_side side;
    hw_date ordered_on;    // of a course that goes on; unknown: the visit day
    const char *substance; // of an injection
    hw_maybe dose_mg, vial_mg_per_mL;
    hw_maybe concentration_percent, volume_mL;
    bool with_adrenaline;
    hw_maybe sessions, pulses, rate_Hz, pressure_bar, energy_mJ_per_mm2;
    const char *energy_declared_by; // the maker's sheet: head, distance, rate
    const char *head;
    hw_maybe blood_mL, citrate_mL, plasma_mL; // platelet-rich plasma
    hw_maybe radius_cm, first_spin_rpm, second_spin_rpm;
} hw_order;

/// A name as typed in a list of medicines, conditions or allergies. A name no table knows may be
/// classified by hand: then `groups` are its groups (0: of no concern here).
typedef struct hw_named {
    const char *name;
    bool by_hand;
    unsigned groups;
} hw_named;

/// A list as given: an empty list says "none", an absent one says nothing.
typedef struct hw_names {
    hw_given given;
    const hw_named *rows;
    int count;
} hw_names;

/// A rule row overruled for this visit.
typedef struct hw_overrule {
    const char *rule_id;
    const char *reason;
    const char *clinician; // code, not name
    const char *second;    // code of who confirmed; needed for a stop
} hw_overrule;

/// A dated act moved by hand. It keeps the date only where no never and no stop stands against it
/// then.
typedef struct hw_moved {
    hw_act act;
    hw_side side; // unknown: of the person
    int session;  // 1 for the first or only one
    hw_date date;
} hw_moved;

typedef struct hw_foot_findings {
    hw_answer heel_pain;                 // yes: this heel hurts
    hw_finding values[HW_FINDING_COUNT]; // scopes foot and heel pain, at their ids
    bool scan_used;                      // a scan stands for this foot
    bool loading_known;                  // hanging, half or full weight: the scan says which
    bool side_confirmed;                 // a person said it is this foot
} hw_foot_findings;

typedef struct hw_findings {
    hw_date visit_date;
    hw_date mass_measured_on;
    hw_finding values[HW_FINDING_COUNT]; // scopes visit, person and red flag, at their ids
    hw_foot_findings feet[2];            // left, right: see hw_foot_of
    hw_names medicines;
    hw_names conditions;
    hw_names allergies;
    hw_given past_given; // an empty history is "none" only when given
    const hw_past_act *past;
    int past_count;
    const hw_overrule *overrules;
    int overrule_count;
    const hw_order *orders;
    int order_count;
    const hw_moved *moved;
    int moved_count;
    hw_acts chosen; // what the clinician wants dated; 0: the default sequence
} hw_findings;

/// The foot of a side, which must be left or right.
const hw_foot_findings *hw_foot_of(const hw_findings *findings, hw_side side);

/// A finding where it stands: foot scopes on `side`, the others of the person (side ignored).
hw_finding hw_finding_at(const hw_findings *findings, hw_side side, hw_finding_id id);

/// Whole years on the visit date, from the birth year alone: the lower of the two possible.
hw_maybe hw_age_at_least(const hw_findings *findings);

/// Body mass index, kg/m2, where mass and height are known.
hw_maybe hw_body_mass_index(const hw_findings *findings);

/// Whether pregnancy must be answered: not for a male, nor outside the ages 12 to 55.
bool hw_pregnancy_applies(const hw_findings *findings);

#endif
