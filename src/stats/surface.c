// SPDX-License-Identifier: GPL-3.0-or-later
#include "surface.h"
#include "num/num.h"

#include <math.h>
#include <nlopt.h>

static double cubic_apart(const double *a, const double *b, int dims)
{
    double square = 0.0;
    for (int k = 0; k < dims; k++) square += (a[k] - b[k]) * (a[k] - b[k]);
    return square * sqrt(square);
}

hw_status hw_surface_fit(hw_job *job, const double *x, const double *y, int count, int dims,
                         hw_arena *into, hw_surface *out)
{
    HW_ASSERT(dims >= 1 && dims <= HW_SURFACE_DIMS);
    const int n = count + dims + 1;
    double *a = NULL, *weights = NULL;
    if (count < dims + 2 || count > HW_SURFACE_POINTS)
        return hw_fail(job, HW_BAD_INPUT, "a surface in %d directions through %d points", dims,
                       count);
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, a, n * n);
    HW_ALLOC(job, into, weights, n);
    for (int i = 0; i < count; i++) {
        for (int j = 0; j < count; j++)
            a[i * n + j] = cubic_apart(x + i * dims, x + j * dims, dims);
        a[i * n + count] = a[count * n + i] = 1.0;
        for (int k = 0; k < dims; k++)
            a[i * n + count + 1 + k] = a[(count + 1 + k) * n + i] = x[i * dims + k];
        weights[i] = y[i];
    }
    if (!hw_solve_small(n, a, weights))
        return hw_fail(job, HW_NO_ANSWER, "no surface goes through these points");
    hw_scratch_end(tmp);
    *out = (hw_surface){x, weights, count, dims};
    return HW_OK;
}

double hw_surface_at(const hw_surface *of, const double *x)
{
    const double *trend = of->weights + of->count;
    double sum = trend[0];
    for (int k = 0; k < of->dims; k++) sum += trend[1 + k] * x[k];
    for (int i = 0; i < of->count; i++)
        sum += of->weights[i] * cubic_apart(x, of->x + i * of->dims, of->dims);
    return sum;
}

static double fall(unsigned count, const double *x, double *slope, void *user)
{
    const hw_climb *climb = user;
    (void)count, (void)slope; // no algorithm used here asks for it
    return -climb->height(climb->user, x);
}

static bool run(const hw_climb *climb, nlopt_algorithm way, int looks, double *x, double *low)
{
    double floor[HW_SURFACE_DIMS] = {0}, ceiling[HW_SURFACE_DIMS];
    hw_climb copy = *climb;
    nlopt_opt search = nlopt_create(way, (unsigned)climb->dims);
    if (!search) return false;
    for (int k = 0; k < climb->dims; k++) ceiling[k] = 1.0;
    nlopt_set_min_objective(search, fall, &copy);
    nlopt_set_lower_bounds(search, floor);
    nlopt_set_upper_bounds(search, ceiling);
    nlopt_set_maxeval(search, looks);
    nlopt_set_xtol_rel(search, 1e-5);
    nlopt_result result = nlopt_optimize(search, x, low);
    nlopt_destroy(search);
    return result > 0 || result == NLOPT_ROUNDOFF_LIMITED;
}

hw_status hw_climb_box(hw_job *job, const hw_climb *climb, double *x, double *height)
{
    HW_ASSERT(climb->dims >= 1 && climb->dims <= HW_SURFACE_DIMS);
    double best[HW_SURFACE_DIMS], low = 0.0;
    for (int k = 0; k < climb->dims; k++) best[k] = 0.5;
    bool found = run(climb, NLOPT_GN_DIRECT_L, 2 * climb->looks / 3, best, &low);
    // BOBYQA wants two directions; in one the boxes are fine enough
    if (found && climb->dims > 1) found = run(climb, NLOPT_LN_BOBYQA, climb->looks / 3, best, &low);
    if (!found || !isfinite(low)) return hw_fail(job, HW_NO_ANSWER, "no highest place was found");
    for (int k = 0; k < climb->dims; k++) x[k] = best[k];
    *height = -low;
    return HW_OK;
}

void hw_halton(int index, int dims, double *x)
{
    static const int primes[HW_SURFACE_DIMS] = {2, 3, 5, 7, 11, 13, 17, 19};
    for (int k = 0; k < dims; k++) {
        double part = 1.0;
        x[k] = 0.0;
        for (int left = index + 1; left > 0; left /= primes[k]) {
            part /= primes[k];
            x[k] += part * (left % primes[k]);
        }
    }
}
