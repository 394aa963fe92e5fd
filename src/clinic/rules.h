// SPDX-License-Identifier: GPL-3.0-or-later
// Safety rules as rows, one evaluator for all, and where each row comes from.
//
//     hw_situation one = {.findings = &findings, .side = HW_SIDE_LEFT, .date = findings.visit_date,
//                    .acts = findings.past, .act_count = findings.past_count};
//     hw_judgement judged = {0};
//     HW_TRY(hw_judge(job, &one, HW_ACT_SHOCKWAVE_RADIAL, into, &judged));
//
// A row answers yes, no or unknown. Yes of a `never` row cannot be overruled; yes of a `stop` row
// needs a clinician, a reason and a second person; yes of a `caution` row is acknowledged. Unknown
// of a row that must be answered holds the act and is an open question.
#ifndef HW_CLINIC_RULES_H
#define HW_CLINIC_RULES_H

#include "findings.h"
#include "names.h"
#include <stdint.h>

/// Changes with any change to a row; stored visits cite it.
#define HW_RULES_VERSION "2026-11-25.2"

typedef struct hw_source {
    const char *key;
    const char *citation;
    const char *says;   // in our words
    const char *design; // trial, review, label, ...
    const char *size;   // people, studies; "" where it does not apply
    const char *status; // seen, memory, common practice, derived
    const char *checked_by;
    const char *checked_on; // YYYY-MM
} hw_source;

/// All sources; the same lines as data/sources.csv.
const hw_source *hw_source_rows(int *count);

/// NULL when there is none.
const hw_source *hw_source_by_key(const char *key);

typedef enum hw_rule_kind {
    HW_RULE_CAUTION = 0,
    HW_RULE_STOP,
    HW_RULE_NEVER,
} hw_rule_kind;

/// What a row looks at; `key` says which one.
typedef enum hw_subject {
    HW_SUBJECT_NOTHING = 0,
    HW_SUBJECT_FINDING,               // key: hw_finding_id; the number, or the word's index
    HW_SUBJECT_AGE,                   // years
    HW_SUBJECT_BODY_MASS_INDEX,       // kg/m2
    HW_SUBJECT_MASS_AGE,              // days since weighed
    HW_SUBJECT_MEDICINE,              // key: hw_medicine_group; 1 when one is taken
    HW_SUBJECT_UNRECOGNISED_MEDICINE, // unknown as long as a name is in no table
    HW_SUBJECT_CONDITION,             // key: hw_condition_group
    HW_SUBJECT_UNRECOGNISED_CONDITION,
    HW_SUBJECT_ALLERGY, // key: hw_allergen
    HW_SUBJECT_UNRECOGNISED_ALLERGY,
    HW_SUBJECT_DAYS_SINCE,           // key: hw_acts; days since the last, of this heel or person
    HW_SUBJECT_TIMES_IN_YEAR,        // key: hw_acts; in the 365 days up to the date
    HW_SUBJECT_TIMES_EVER,           // key: hw_acts
    HW_SUBJECT_ANAESTHETIC_FRACTION, // of the maximum, all agents, both feet, that day
    HW_SUBJECT_STEROID_DAY_TOTAL,    // mg of hydrocortisone's equivalent, both feet, that day
    HW_SUBJECT_BOTH_HEELS,           // 1 when both hurt
    HW_SUBJECT_NOT_FASCIA,           // 1 when the fascia's pattern does not fit this heel
} hw_subject;

typedef enum hw_comparison {
    HW_IS = 0,
    HW_BELOW,
    HW_ABOVE,
    HW_AT_LEAST,
} hw_comparison;

typedef struct hw_test {
    hw_subject subject;
    unsigned key;
    hw_comparison comparison;
    double limit; // in the unit of the subject
} hw_test;

/// What an unknown does.
typedef enum hw_unanswered {
    HW_UNANSWERED_ASKS = 0, // an open question
    HW_UNANSWERED_HOLDS,    // and the act is held
} hw_unanswered;

/// How soon somebody else must see it.
typedef enum hw_urgency {
    HW_URGENCY_NONE = 0,
    HW_URGENCY_SOON,
    HW_URGENCY_URGENT,
    HW_URGENCY_SAME_DAY,
    HW_URGENCY_EMERGENCY,
} hw_urgency;

/// How soon, in words for screen and letter.
const char *hw_urgency_word(hw_urgency urgency);

typedef struct hw_rule {
    const char *id; // never renamed or reused
    hw_rule_kind kind;
    hw_acts acts; // 0: the plan as a whole (red flags)
    hw_test when;
    hw_test only_if; // subject nothing: always
    hw_unanswered unanswered;
    hw_urgency urgency;
    const char *sentence;
    const char *source; // key
    bool retired;       // kept for stored visits, not judged
} hw_rule;

/// Rows about acts, and red flags: rows about the plan as a whole.
const hw_rule *hw_rule_rows(int *count);
/// The red flags alone.
const hw_rule *hw_red_flag_rows(int *count);

/// Changes with anything a row says or is judged by: data/rule_reviews.csv holds who reviewed it.
uint64_t hw_rule_digest(const hw_rule *rule);

/// By id, in both tables; NULL when there is none.
const hw_rule *hw_rule_by_id(const char *id);

/// One dose of local anaesthetic that is ordered now.
typedef struct hw_anaesthetic_dose {
    const char *agent; // substance
    double concentration_percent;
    double volume_mL;
    bool with_adrenaline;
} hw_anaesthetic_dose;

/// What a rule is judged on.
typedef struct hw_situation {
    const hw_findings *findings;
    hw_side side;            // unknown: the person as a whole, then any hurting foot counts
    hw_date date;            // the day judged; visit or later
    const hw_past_act *acts; // done, and planned before or on that day
    int act_count;
    const hw_anaesthetic_dose *doses; // ordered for that day, both feet; may be NULL
    int dose_count;
} hw_situation;

typedef enum hw_verdict {
    HW_VERDICT_NO = 0,
    HW_VERDICT_YES,
    HW_VERDICT_UNKNOWN,
} hw_verdict;

/// Judges one row. Never fails: what cannot be said is unknown.
hw_verdict hw_rule_judge(const hw_rule *rule, const hw_situation *one);

/// Whether this visit overrules the row. Says nothing of whether it may: hw_judge checks that.
bool hw_rule_overruled(const hw_rule *rule, const hw_findings *findings);

/// A value against a limit as decimals: a value typed at the limit is at the limit, whatever binary
/// arithmetic made of it.
bool hw_compare(double value, hw_comparison comparison, double limit);

typedef enum hw_eligibility {
    HW_AVAILABLE = 0,
    HW_HELD,    // open questions
    HW_STOPPED, // a stop row stands, not overruled
    HW_REFUSED, // a never row stands
} hw_eligibility;

/// "available", "held", "stopped", "never".
const char *hw_eligibility_word(hw_eligibility state);

/// A row that stands.
typedef struct hw_reason {
    const hw_rule *rule;
    hw_side side;        // of the foot it stands for, or unknown
    const char *reading; // what was found: "apixaban", "51 days"; in `into`
    bool overruled;      // with reason and second person
} hw_reason;

/// What must be answered.
typedef struct hw_question {
    const char *key;  // as in the case file: "red_flags.fever", "feet.left.pulses"
    const char *text; // for a clinician
    hw_side side;     // or unknown: the person
    hw_acts holds;    // acts that wait for it
    bool not_asked;   // marked so, rather than absent
} hw_question;

typedef struct hw_questions {
    hw_question *rows;
    int count;
    int capacity;
} hw_questions;

typedef struct hw_judgement {
    hw_eligibility state;
    hw_reason *reasons; // the gravest first
    int reason_count;
    hw_questions questions;
} hw_judgement;

/// Judges all rows about one act.
///
///   fails   HW_NO_MEMORY; HW_BAD_INPUT an overrule names no row, a never row, or lacks reason,
///           clinician or second person
HW_MUST_USE hw_status hw_judge(hw_job *job, const hw_situation *one, hw_act act, hw_arena *into,
                               hw_judgement *out);

/// The same over the red flags: state available means none stands and all were answered no.
HW_MUST_USE hw_status hw_judge_red_flags(hw_job *job, const hw_situation *one, hw_arena *into,
                                         hw_judgement *out);

/// Adds a question, or adds `holds` to the one with the same key. Text and key are kept, not
/// copied.
HW_MUST_USE hw_status hw_questions_add(hw_job *job, hw_questions *questions, hw_arena *into,
                                       hw_question question);

#endif
