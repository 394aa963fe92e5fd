// SPDX-License-Identifier: GPL-3.0-or-later
// A line for each person around a common line.
#ifndef HW_STATS_MIXED_H
#define HW_STATS_MIXED_H

#include "num/num.h"

typedef struct hw_repeat {
    int person; // any number: people are told apart by it
    double x, y;
} hw_repeat;

typedef struct hw_mixed {
    double intercept, intercept_se;
    double slope, slope_se;
    double var_intercept, var_slope, covariance; // between people
    double var_residual;
    double criterion; // -2 log likelihood, restricted or not
    int people, rows;
} hw_mixed;

/// How a line is fitted. 0: the intercept alone varies, by restricted maximum likelihood.
enum {
    HW_MIXED_SLOPES = 1, // the slope varies as well
    // Unrestricted: to compare lines by their likelihoods; spreads come out too small.
    HW_MIXED_ML = 2,
};

/// y = intercept + slope x, both varying between people (or the intercept only), by restricted (or
/// full) maximum likelihood over a log-Cholesky parametrisation; missing rows are just absent
/// (valid when what is missing depends only on what was seen).
///
///   fails   HW_BAD_INPUT fewer than 3 people or fewer rows than people + 3; HW_NO_ANSWER when the
///           likelihood does not settle
HW_MUST_USE hw_status hw_fit_mixed(hw_job *job, const hw_repeat *rows, int count, unsigned how,
                                   hw_mixed *out);

#endif
