// SPDX-License-Identifier: GPL-3.0-or-later
// A smooth surface through computed points, and the highest place of a function over a box.
// Part of stats.h.
#ifndef HW_STATS_SURFACE_H
#define HW_STATS_SURFACE_H

#include "base/base.h"

enum { HW_SURFACE_DIMS = 8, HW_SURFACE_POINTS = 1000 };

/// Cubic radial functions over a linear trend: it goes through every point.
typedef struct hw_surface {
    const double *x; // count rows of dims
    double *weights; // count, then the trend: constant and slopes
    int count, dims;
} hw_surface;

/// Fits it.
///
///   x       count rows of dims numbers, about 0..1, no two the same; kept, not copied
///   fails   HW_BAD_INPUT too few points; HW_NO_ANSWER they lie in a plane; HW_NO_MEMORY
///   source  from memory: Powell 1992 (radial basis functions with a linear tail)
HW_MUST_USE hw_status hw_surface_fit(hw_job *job, const double *x, const double *y, int count,
                                     int dims, hw_arena *into, hw_surface *out);

/// The value at a point of `dims` numbers; outside the points of the fit it is extrapolated.
double hw_surface_at(const hw_surface *surface, const double *x);

/// What is climbed, over the unit box.
typedef struct hw_climb {
    double (*height)(void *user, const double *x);
    void *user;
    int dims;
    int looks; // at the function, at most
} hw_climb;

/// Its highest place: boxes divided where they promise most, then uphill from the best of them.
///
///   x       gets the place
///   fails   HW_NO_ANSWER
///   source  NLopt: DIRECT_L (Gablonsky & Kelley 2001), BOBYQA (Powell 2009); deterministic
HW_MUST_USE hw_status hw_climb_box(hw_job *job, const hw_climb *climb, double *x, double *height);

/// The index-th place, from 0, of Halton's sequence in the unit box.
void hw_halton(int index, int dims, double *x);

#endif
