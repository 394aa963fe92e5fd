// SPDX-License-Identifier: GPL-3.0-or-later
// What makes an event come sooner: proportional hazards.
#ifndef HW_STATS_HAZARD_H
#define HW_STATS_HAZARD_H

#include "survival.h"

enum { HW_HAZARDS_MAX = 4 };

/// How people who share a time of the event are counted.
typedef enum hw_ties {
    HW_TIES_EFRON,   // one after the other, each taking an even part of all: near the exact one
    HW_TIES_BRESLOW, // all as if nobody had left: nearer to no difference
    HW_TIES_EXACT,   // all choices of so many out of those at risk: time in steps
    HW_TIES,
} hw_ties;

/// "Efron", "Breslow", "exact".
const char *hw_ties_word(hw_ties ties);

/// What is regressed on what.
typedef struct hw_hazards_of {
    const hw_follow *people; // groups are ignored
    const double *columns;   // column_count values per person, row-major
    int column_count, count;
    hw_ties ties;
} hw_hazards_of;

typedef struct hw_hazards {
    int count;                                        // of what was asked about
    double log_ratio[HW_HAZARDS_MAX];                 // of the rate, per unit
    double se[HW_HAZARDS_MAX], p[HW_HAZARDS_MAX];     // Wald
    double low[HW_HAZARDS_MAX], high[HW_HAZARDS_MAX]; // of the ratio itself
    double log_likelihood;                            // partial
    int people, events;
} hw_hazards;

/// Cox's regression.
///
///   fails   HW_BAD_INPUT a time that is negative or no number, a value that is not finite, no event,
///           a value that is the same in all; HW_NO_ANSWER a value parts those with the event from those
///           without; with exact ties also more choices than numbers can hold
///   cost    O(people); with exact ties times the most that share one time
///   source  Cox 1972 (exact), Breslow 1974, Efron 1977; Gail 1981 (counting choices); from memory
HW_MUST_USE hw_status hw_fit_hazards(hw_job *job, const hw_hazards_of *of, hw_hazards *out);

#endif
