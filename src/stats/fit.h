// SPDX-License-Identifier: GPL-3.0-or-later
// A straight line, and groups compared: sums about the means in two passes, so that digits are not
// lost where values are large and differ little.
#ifndef HW_STATS_FIT_H
#define HW_STATS_FIT_H

#include "base/base.h"

typedef struct hw_line_fit {
    double start, slope; // y = start + slope x
    double start_se, slope_se;
    double residual_sd, r2;
    int freedom; // of the residual
} hw_line_fit;

/// Least squares, with weights where given (NULL: all 1).
///
///   fails   HW_BAD_INPUT fewer than three points, or all x the same
HW_MUST_USE hw_status hw_fit_line(hw_job *job, const double *x, const double *y,
                                  const double *weights, int count, hw_line_fit *out);

typedef struct hw_one_way {
    int between_freedom, within_freedom;
    double between_squares, within_squares; // sums
    double f, p, r2, residual_sd;
} hw_one_way;

/// One-way analysis of variance: value i belongs to group groups[i], 0 to group_count - 1.
///
///   fails   HW_BAD_INPUT fewer than two groups, an empty group, no more values than groups;
///           HW_NO_MEMORY
HW_MUST_USE hw_status hw_one_way_of(hw_job *job, const double *values, const int *groups, int count,
                                    int group_count, hw_one_way *out);

#endif
