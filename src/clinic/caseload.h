// SPDX-License-Identifier: GPL-3.0-or-later
// What became of a clinic's heels, with everybody in the denominator.
#ifndef HW_CLINIC_CASELOAD_H
#define HW_CLINIC_CASELOAD_H

#include "follow.h"

/// One heel of one person.
typedef struct hw_heel_course {
    const hw_pain_score *scores; // first-step pain, weeks since the first; in order
    int count;                   // 0: never scored
    const char *act;             // the treatment it is counted under; NULL: none given
} hw_heel_course;

enum { HW_CASELOAD_ACTS = 24 };

/// A share of heels with its interval; the denominator is `of`.
typedef struct hw_heel_share {
    int count, of;
    hw_interval share; // only where of > 0
} hw_heel_share;

/// Heels counted together.
typedef struct hw_heel_group {
    const char *act;        // NULL: all
    int heels;              // all, also those never scored again
    int followed;           // with two scores
    int lost;               // scored once and never again
    hw_heel_share better;   // of the followed: fallen by what matters, first to last
    hw_heel_share gone;     // of the followed: last at or below what counts as gone
    double median_change;   // of the followed, points
    hw_survival until_gone; // weeks until the first score that counts as gone; others censored
    double funnel_low, funnel_high; // 95 % limits of chance for `better` around the clinic's share
    bool outside_funnel;
} hw_heel_group;

typedef struct hw_caseload {
    hw_heel_group all;
    hw_heel_group acts[HW_CASELOAD_ACTS]; // by name
    int act_count;
    double gone, matters; // the limits used, points
} hw_caseload;

/// Counts them. Heels are not randomised to treatments: groups differ in more than the treatment.
///
///   fails   HW_BAD_INPUT a score outside 0..10; HW_NO_MEMORY
HW_MUST_USE hw_status hw_count_caseload(hw_job *job, const hw_heel_course *heels, int count,
                                        hw_arena *into, hw_caseload *out);

#endif
