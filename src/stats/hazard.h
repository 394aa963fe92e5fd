// SPDX-License-Identifier: GPL-3.0-or-later
// What makes an event come sooner: proportional hazards.
#ifndef HW_STATS_HAZARD_H
#define HW_STATS_HAZARD_H

#include "survival.h"

enum { HW_HAZARDS_MAX = 4 };

typedef struct hw_hazards {
    int count;                                        // of what was asked about
    double log_ratio[HW_HAZARDS_MAX];                 // of the rate, per unit
    double se[HW_HAZARDS_MAX], p[HW_HAZARDS_MAX];     // Wald
    double low[HW_HAZARDS_MAX], high[HW_HAZARDS_MAX]; // of the ratio itself
    double log_likelihood;                            // partial
    int people, events;
} hw_hazards;

/// Cox's regression on `column_count` values per person (row-major), ties by Efron. Groups are ignored.
///
///   fails   HW_BAD_INPUT a time that is negative or no number, a value that is not finite, no event,
///           a value that is the same in all; HW_NO_ANSWER a value parts those with the event from those
///           without
///   source  Cox 1972, Efron 1977 (from memory)
HW_MUST_USE hw_status hw_fit_hazards(hw_job *job, const hw_follow *people, const double *columns,
                                     int column_count, int count, hw_hazards *out);

#endif
