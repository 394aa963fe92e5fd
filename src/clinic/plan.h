// SPDX-License-Identifier: GPL-3.0-or-later
// The plan: red flags first, then the options of the three principles with reason and dose, then
// dated acts. Computed is not released: `released` says whether all that must be answered was.
#ifndef HW_CLINIC_PLAN_H
#define HW_CLINIC_PLAN_H

#include "differential.h"
#include "dose.h"
#include "orders.h"

typedef struct hw_option {
    hw_act act;
    hw_side side; // unknown: the person
    hw_principle principle;
    hw_load_change changes;
    hw_eligibility state; // on the visit date
    const hw_reason *reasons;
    int reason_count;
    const hw_question *questions; // that hold or touch this act
    int question_count;
    const hw_dose_row *dose;
    const char *dose_for_this_person; // what the numbers come to here; NULL when nothing to add
    const hw_evidence *const *evidence;
    int evidence_count;
    hw_date earliest; // first day on which no spacing row stands; unknown: none in two years
    const hw_rule *waits_for; // the spacing row that moved it, or NULL
} hw_option;

typedef enum hw_entry_kind {
    HW_ENTRY_ACT = 0,
    HW_ENTRY_REVIEW,
    HW_ENTRY_STEP, // of a programme that runs already
} hw_entry_kind;

typedef struct hw_entry {
    hw_entry_kind kind;
    hw_date date;
    int week; // from the visit
    hw_act act;
    hw_side side;
    int session; // 1 of sessions
    int sessions;
    const char *only_if; // NULL: in any case
    const char *text;
    const hw_rule *moved_by; // the row that made it later than usual, or NULL
    bool is_by_hand;         // where the clinician put it
    hw_date refused;         // where the clinician put it and a rule did not let it
    const hw_rule
        *against; // the row that stands then: a stop of what was refused, a caution of what was not
} hw_entry;

typedef struct hw_plan {
    const char *rules_version;
    bool released;
    const char *verdict;        // one sentence: released, or not and why
    const hw_reason *red_flags; // that stand, the most urgent first
    int red_flag_count;
    hw_urgency urgency;                   // the most urgent
    const hw_differential *differentials; // of each painful heel
    int differential_count;
    const hw_question *questions; // all open ones; those that block the release first
    int question_count;
    int blocking_count;
    const hw_option *options; // by principle, then act, then side
    int option_count;
    const hw_order_sheet *orders; // worked out
    int order_count;
    const hw_entry *timeline; // by date
    int entry_count;
    const char *const *notes; // "right foot: no heel pain, no plan for it"
    int note_count;
} hw_plan;

/// The plan of a visit.
///
///   findings  as recorded; nothing in it is changed
///   out       lives in `into`
///   fails     HW_BAD_INPUT no visit date, a past act after it, a bad overrule;  HW_NO_MEMORY
HW_MUST_USE hw_status hw_clinic_plan(hw_job *job, const hw_findings *findings, hw_arena *into,
                                     hw_plan *out);

/// The first day from `from` on which no row about days or counts of past acts stands for this act,
/// given acts done and planned (earlier or later). Unknown when there is none within two years.
///
///   moved_by  the last row that stood in the way, or NULL
hw_date hw_earliest(const hw_situation *one, hw_act act, hw_date from, const hw_rule **moved_by);

#endif
