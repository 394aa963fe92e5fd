// SPDX-License-Identifier: GPL-3.0-or-later
// Time until the pain is gone, with people still in it and people lost.
#ifndef HW_STATS_SURVIVAL_H
#define HW_STATS_SURVIVAL_H

#include "num/num.h"

typedef struct hw_follow {
    double time;
    bool happened; // false: not yet when last seen
    int group;     // 0 ..
} hw_follow;

typedef struct hw_survival_step {
    double time;
    int at_risk, events, censored; // censored: from here until the next step
    double share;                  // still without the event
    double se;                     // Greenwood
    double low, high;              // by the logarithm, within 0..1
} hw_survival_step;

typedef struct hw_survival {
    const hw_survival_step *steps; // one per time of an event
    int count;
    hw_maybe median; // first time at which the share is 1/2 or less
    int people, events;
} hw_survival;

/// Kaplan and Meier's curve of one group. At ties events come before censorings.
///
///   fails   HW_BAD_INPUT a time that is negative or no number; nobody in the group
HW_MUST_USE hw_status hw_survival_of(hw_job *job, const hw_follow *people, int count, int group,
                                     hw_arena *into, hw_survival *out);

typedef struct hw_logrank {
    bool is_known; // false: no event came while both groups were watched, so there is no test
    double observed[2], expected[2];
    double chi2, p;
    double early_chi2, early_p; // Peto and Peto's: early events weigh more
} hw_logrank;

/// Log-rank test of groups 0 and 1, and Peto and Peto's with each event weighed by the share of all
/// still without one just before (Harrington and Fleming 1982, rho 1; from memory).
HW_MUST_USE hw_status hw_compare_survival(hw_job *job, const hw_follow *people, int count,
                                          hw_logrank *out);

#endif
