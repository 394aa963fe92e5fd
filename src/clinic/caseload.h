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
    int first_day;        // of its first score, days since 1970-01-01; orders the control chart
    hw_maybe onset_weeks; // how long it had hurt at its first score
    hw_maybe age_years;   // at the first visit
} hw_heel_course;

/// One act that was really given.
typedef struct hw_given_act {
    const char *act;
    bool had_event; // an adverse event is written down with it
} hw_given_act;

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
    // What the group began with: where groups differ here, their outcomes cannot be compared.
    hw_maybe first_score, onset_weeks, age_years; // medians
    int onset_known, age_known;                   // heels behind the medians
    // Against the course published for such heels: last score less the forecast from the first one.
    hw_maybe against_forecast;        // mean, points; negative is better
    double against_low, against_high; // by Student's t
} hw_heel_group;

/// A treatment's share of better heels beside what arms of published trials counted as success.
typedef struct hw_beside_trials {
    const char *act;
    hw_heel_share here, published; // summed over the trials' arms
    hw_interval difference;        // here less published (Newcombe); only where both have people
    int trials;
    const char *first_source; // of the trials, as cited
} hw_beside_trials;

/// How often an adverse event is written down with an act.
typedef struct hw_act_harm {
    const char *act;
    int given, events;
    hw_interval share; // exact
} hw_act_harm;

/// One step of the control chart: a heel's outcome, in the order in which heels began.
typedef struct hw_control_step {
    int day;     // the heel's first score
    bool better; // by what matters
    double sum;  // log-likelihood CUSUM for a doubling of the odds of not getting better
    bool signal; // it has reached the limit; the sum starts anew behind it
} hw_control_step;

/// What a rate is held level for when two treatments are compared, in the order of `adjusted`.
enum { HW_ADJUSTED_ACT, HW_ADJUSTED_FIRST_SCORE, HW_ADJUSTED_ONSET, HW_ADJUSTED_AGE, HW_ADJUSTED };

/// Time until the pain is gone in the two treatments with the most heels followed. They were not
/// given by chance: what is not held level here, and what nobody wrote down, differs between them
/// as well.
typedef struct hw_two_groups {
    const char *acts[2]; // the larger first; NULL: too few heels
    hw_logrank test;     // as they are, adjusted for nothing
    // Rate of becoming free of pain: the first act against the second, per point of the first
    // score, per week it had hurt, per year of age (Cox). Of the heels of which all three are
    // known. Heels are rated at visits, so that many share a week: by each way of counting those.
    hw_hazards adjusted[HW_TIES];
    // Heels each would need for a t test to see a difference of what matters in 4 of 5 such
    // comparisons.
    hw_maybe needed_each;
    const char *not_adjusted; // why there is none; NULL where there is
} hw_two_groups;

typedef struct hw_caseload {
    hw_heel_group all;
    hw_heel_group acts[HW_CASELOAD_ACTS]; // by name
    int act_count;
    double gone, matters; // the limits used, points
    hw_beside_trials beside[HW_CASELOAD_ACTS];
    int beside_count;
    hw_act_harm harms[HW_CASELOAD_ACTS]; // by name
    int harm_count, given_count;
    const hw_control_step *control; // one per followed heel
    int control_count;
    double control_target, control_limit; // share not better that is expected; where it signals
    hw_two_groups first_two;
} hw_caseload;

/// What the counting is of.
typedef struct hw_caseload_books {
    const hw_heel_course *heels;
    int heel_count;
    const hw_given_act *given;
    int given_count;
} hw_caseload_books;

/// Counts them. Heels are not randomised to treatments: groups differ in more than the treatment.
///
///   fails   HW_BAD_INPUT a score outside 0..10; HW_NO_MEMORY
///   source  Spiegelhalter 2005 (funnel); Steiner 2000 Biostatistics 1:441, from memory (the chart);
///           check values: facts of tests/stats, R
HW_MUST_USE hw_status hw_count_caseload(hw_job *job, const hw_caseload_books *of, hw_arena *into,
                                        hw_caseload *out);

#endif
