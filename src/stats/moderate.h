// SPDX-License-Identifier: GPL-3.0-or-later
// Trials pooled along what they differ in: meta-regression, and the spread that is left.
#ifndef HW_STATS_MODERATE_H
#define HW_STATS_MODERATE_H

#include "pool.h"

enum { HW_MODERATORS_MAX = 3 };

/// Start and slopes of effect = start + slope[1] x[1] + ..., the trials weighted as in hw_pool.
typedef struct hw_moderated {
    int count; // of coefficients: 1 + moderators; the start is the first
    double value[1 + HW_MODERATORS_MAX];
    double se[1 + HW_MODERATORS_MAX], p[1 + HW_MODERATORS_MAX];       // by the normal distribution
    double hk_se[1 + HW_MODERATORS_MAX], hk_p[1 + HW_MODERATORS_MAX]; // Knapp and Hartung, by t
    double hk_scale; // squares left over per degree of freedom; below 1 hk_se is the smaller one
    double tau2;     // between trials, of what the moderators leave
    double q, q_p;   // heterogeneity left
    int freedom;
} hw_moderated;

/// Fits `moderators` (rows of `moderator_count` values, one row per trial, NULL for none).
///
///   fails   HW_BAD_INPUT no more trials than coefficients, a value that is not finite, a moderator that
///           is the same in all trials or follows from the others; HW_NO_ANSWER the variance between
///           trials does not settle
///   source  Viechtbauer 2005, 2010; Knapp and Hartung 2003 (from memory)
HW_MUST_USE hw_status hw_pool_moderated(hw_job *job, const hw_trial_effect *effects,
                                        const double *moderators, int moderator_count, int count,
                                        hw_pool_method method, hw_moderated *out);

/// The variance between trials alone; false where its search does not settle or the moderators are
/// not independent.
HW_MUST_USE bool hw_spread_between(const hw_trial_effect *effects, const double *moderators,
                                   int moderator_count, int count, hw_pool_method method,
                                   double *tau2);

/// The funnel made even: trials mirrored in until both sides hold as many (Duval and Tweedie 2000,
/// L0), pooled by `method` again. A sensitivity, never the answer: asymmetry has more causes than
/// trials left unpublished.
typedef struct hw_filled {
    int added;        // trials thought of
    bool on_the_left; // they would have stood below the mean
    double mean, se, low, high;
} hw_filled;

///   fails   HW_BAD_INPUT fewer than 10 trials; HW_NO_ANSWER as hw_pool
HW_MUST_USE hw_status hw_pool_filled(hw_job *job, const hw_trial_effect *effects, int count,
                                     hw_pool_method method, hw_filled *out);

#endif
