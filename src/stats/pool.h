// SPDX-License-Identifier: GPL-3.0-or-later
// Trials: effect of one, and several pooled.
#ifndef HW_STATS_POOL_H
#define HW_STATS_POOL_H

#include "num/num.h"

/// One trial's effect on a scale where zero is no difference: a mean difference, a standardised
/// one, a log ratio.
typedef struct hw_trial_effect {
    double effect;
    double variance; // of it, > 0
} hw_trial_effect;

/// One arm with means.
typedef struct hw_arm {
    double count, mean, sd;
} hw_arm;

/// Mean of the first less that of the second; variance from both standard deviations.
hw_trial_effect hw_effect_mean_difference(const hw_arm *a, const hw_arm *b);

/// Hedges' g with the exact gamma correction; variance 1/n + 1/m + g^2 / (2 (n + m)).
hw_trial_effect hw_effect_standardised(const hw_arm *a, const hw_arm *b);

/// A two-by-two table: events and others, with treatment and without.
typedef struct hw_two_by_two {
    double events_a, others_a, events_b, others_b;
} hw_two_by_two;

/// Logarithms, with their variances. Where a cell is empty 1/2 is added to all four
/// (common practice) and the interval is wide.
hw_trial_effect hw_effect_log_risk_ratio(const hw_two_by_two *table);
/// As the risk ratio, of the odds.
hw_trial_effect hw_effect_log_odds_ratio(const hw_two_by_two *table);
/// Treated less control, no logarithm.
hw_trial_effect hw_effect_risk_difference(const hw_two_by_two *table);

/// The effect behind a published estimate and its 95 % interval. False where low < high fails.
bool hw_effect_from_interval(double estimate, double low, double high, hw_trial_effect *out);

/// Two-sided p of an effect by the normal distribution: to hold against the printed one.
double hw_effect_p(const hw_trial_effect *effect);

typedef enum hw_pool_method {
    HW_POOL_COMMON, // one true effect, inverse variances
    HW_POOL_DL,     // DerSimonian and Laird
    HW_POOL_REML,   // restricted maximum likelihood
    HW_POOL_PAULE,  // Paule and Mandel
    HW_POOL_ML,     // maximum likelihood; low with few trials
    HW_POOL_HEDGES, // unweighted squares less the trials' own variances
    HW_POOL_SIDIK,  // Sidik and Jonkman; never 0
    HW_POOL_METHODS,
} hw_pool_method;

/// "common effect", "DerSimonian-Laird", "REML", "Paule-Mandel", "ML", "Hedges", "Sidik-Jonkman".
const char *hw_pool_word(hw_pool_method method);

typedef struct hw_pooled {
    double mean, se, low, high, p;       // by the normal distribution
    double hk_se, hk_low, hk_high, hk_p; // Hartung and Knapp, t with count - 1
    bool hk_is_narrower;                 // than the normal interval: then it is no safer, say so
    double q, q_p;                       // heterogeneity
    double tau2;                         // between trials; 0 for the common effect
    double i2_percent;                   // Higgins, from tau2 and the typical variance
    double predict_low, predict_high;    // where a new trial's true effect would lie
    bool predict_is_known;               // three trials and more
    const double *weights;               // share of each, adding to 1
    const double *left_out_mean;         // the mean without trial i
    int count;
} hw_pooled;

/// Pools `count` >= 1 effects. The prediction interval is the t form with count - 2 degrees
/// (Higgins 2009); with one trial Hartung and Knapp's values repeat the normal ones.
///
///   fails   HW_BAD_INPUT no effect, or a variance that is not a positive number; HW_NO_ANSWER when
///           the likelihood does not settle
///   source  DerSimonian 1986; Paule 1982; Viechtbauer 2005; Hartung 2001; Higgins 2002, 2009; from
///           memory: Hedges 1985, Sidik and Jonkman 2005
HW_MUST_USE hw_status hw_pool(hw_job *job, const hw_trial_effect *effects, int count,
                              hw_pool_method method, hw_arena *into, hw_pooled *out);

/// Mantel and Haenszel's common risk ratio (or odds ratio) of several tables, as a logarithm with
/// its variance.
///
///   fails   HW_BAD_INPUT no event in one of the arms of all tables
///   source  Greenland and Robins 1985; Robins, Breslow and Greenland 1986 (from memory)
HW_MUST_USE hw_status hw_pool_tables(hw_job *job, const hw_two_by_two *tables, int count,
                                     bool is_odds, hw_trial_effect *out);

/// Peto's common odds ratio of several tables, as a logarithm with its variance: for rare events
/// and arms of like size; elsewhere it is biased (Greenland and Salvan 1990, from memory).
///
///   fails   HW_BAD_INPUT no event, or nothing but events, in all tables
///   source  Yusuf 1985 (from memory)
HW_MUST_USE hw_status hw_pool_peto(hw_job *job, const hw_two_by_two *tables, int count,
                                   hw_trial_effect *out);

/// 95 % interval of the variance between trials, by the profile of Q (Viechtbauer 2007, from
/// memory).
///
///   fails   HW_BAD_INPUT fewer than two trials, or a variance that is not a positive number
HW_MUST_USE hw_status hw_pool_tau2_interval(hw_job *job, const hw_trial_effect *effects, int count,
                                            double *low, double *high);

#endif
