// SPDX-License-Identifier: GPL-3.0-or-later
// What the two files of the plan share.
#ifndef HW_CLINIC_PLAN_INTERNAL_H
#define HW_CLINIC_PLAN_INTERNAL_H

#include "plan.h"

enum { HW_PLAN_NOTES = 128 }; // two feet, and one for each option that could not be dated

/// A plan being made.
typedef struct hw_planner {
    hw_job *job;
    hw_arena *into;
    const hw_findings *findings;
    hw_situation visit; // the visit day, the past, no side
    hw_questions questions;
    hw_option *options;
    int option_count;
    const char **notes; // HW_PLAN_NOTES
    int note_count;
    hw_differential differentials[2];
    int differential_count;
    bool flagged; // a red flag stands and is not overruled
} hw_planner;

/// "tape, left heel", or the act's word alone for the person as a whole.
HW_MUST_USE hw_status hw_plan_name(hw_planner *planner, hw_act act, hw_side side, const char **out);

/// Dates the options; entries live in the planner's arena.
HW_MUST_USE hw_status hw_plan_timeline(hw_planner *planner, const hw_entry **entries, int *count);

#endif
