// SPDX-License-Identifier: GPL-3.0-or-later
// Before against after, and one way of measuring against another.
#ifndef HW_STATS_TWO_H
#define HW_STATS_TWO_H

#include "counts.h"

typedef struct hw_paired {
    double mean; // of first less second
    double sd, low, high;
    double t, df, p;
    double rank_sum; // of the positive differences, zeros dropped (Wilcoxon 1945)
    double rank_p;   // exact where no ties and fewer than 50, else normal with continuity
    bool rank_is_exact;
} hw_paired;

/// Paired comparison of `count` >= 2 pairs.
///
///   fails   HW_BAD_INPUT fewer than 2 pairs or differences that are all alike; HW_NO_MEMORY
HW_MUST_USE hw_status hw_compare_pairs(hw_job *job, const double *first, const double *second,
                                       int count, hw_paired *out);

/// Interval of a mean by Student's t. The ends are infinite below two values.
hw_interval hw_mean_of(double mean, double sd, int count);

/// Chance that a two-sided t test at 5 % of two groups of `each` >= 2 finds a difference of this
/// many standard deviations; and how many each group must have for that chance (a fraction: round
/// up). Both groups spread alike.
///
///   source  noncentral t; check values: R 4.2.2 power.t.test
double hw_t_power(double each, double difference_sd);
double hw_t_size(double difference_sd, double power);

typedef struct hw_agreement {
    double bias, sd;
    double low, high; // limits of agreement: bias -+ 1.96 sd (Bland and Altman 1986)
} hw_agreement;

/// Bland and Altman: mean and spread of `first` less `second`.
///
///   fails   HW_BAD_INPUT fewer than two pairs
HW_MUST_USE hw_status hw_agree(hw_job *job, const double *first, const double *second, int count,
                               hw_agreement *out);

/// Intraclass correlations of `targets` x `judges`, row-major (Shrout and Fleiss 1979).
typedef struct hw_icc {
    double one_1, two_1, three_1; // (1,1), (2,1), (3,1)
    double one_k, two_k, three_k;
} hw_icc;

///   fails   HW_BAD_INPUT fewer than 2 targets or 2 judges, or no variance
HW_MUST_USE hw_status hw_icc_of(hw_job *job, const double *scores, int targets, int judges,
                                hw_icc *out);

/// Smallest detectable change at 95 %: 1.96 sqrt(2) sd sqrt(1 - icc).
double hw_detectable_change(double sd, double icc);

#endif
