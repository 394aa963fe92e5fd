// SPDX-License-Identifier: GPL-3.0-or-later
// What was counted of causes and of the course, for what was found in this person, each with what
// speaks against it. Odds of others, never a forecast for one: nothing here is multiplied.
#ifndef HW_CLINIC_RISK_H
#define HW_CLINIC_RISK_H

#include "rules.h"

typedef enum hw_risk_kind {
    HW_RISK_OF_PAIN = 0, // how much more often people with it had heel pain
    HW_RISK_OF_COURSE,   // how it goes on
} hw_risk_kind;

/// A reading within (above, up_to], and what was counted of it.
typedef struct hw_risk_row {
    hw_risk_kind kind;
    hw_subject subject;
    unsigned key;
    double above, up_to;
    const char *name;
    const char *what; // "odds ratio of heel pain"
    hw_maybe ratio, low, high;
    const char *source;  // key
    const char *against; // what contradicts it, or limits it; NULL: nothing found
} hw_risk_row;

/// What raises the risk or changes the course, row by row.
const hw_risk_row *hw_risk_rows(int *count);

/// Whether the row holds at this heel; unknown where it was not found out.
hw_verdict hw_risk_holds(const hw_risk_row *row, const hw_situation *one);

/// Share that still has it so many years after the onset, as one hospital cohort counted it; NULL
/// beyond.
typedef struct hw_history_row {
    double years, percent;
} hw_history_row;

const hw_history_row *hw_history_rows(int *count); // hansen-2018

/// What other reviews say instead: both figures are shown, never one alone.
const char *hw_history_against(void);

#endif
