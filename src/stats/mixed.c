// SPDX-License-Identifier: GPL-3.0-or-later
// Restricted likelihood of lines around a line. Each person enters by sums alone: with X = Z = [1
// x] the inverse of I + Z L L' Z' is I - Z M Z', M = L (I + L' A L)^-1 L', A = Z'Z.
#include "mixed.h"

#include <math.h>
#include <nlopt.h>
#include <stdlib.h>

// Sums of one person's rows.
typedef struct person_sums {
    double n, x, xx, y, xy, yy;
} person_sums;

typedef struct mixed_work {
    const person_sums *people;
    int count, rows;
    bool is_restricted;
    hw_mixed at; // of the last evaluation
} mixed_work;

typedef struct two_by_two {
    double a, b, d; // symmetric: [a b; b d]
} two_by_two;

static two_by_two inverse(two_by_two m, double *determinant)
{
    *determinant = m.a * m.d - m.b * m.b;
    return (two_by_two){m.d / *determinant, -m.b / *determinant, m.a / *determinant};
}

// M and log |I + L'AL| of a person; L = [p 0; q r].
static two_by_two middle(const person_sums *s, const double l[3], double *log_det)
{
    double p = l[0], q = l[1], r = l[2];
    double ax = s->n * p + s->x * q, ay = s->x * p + s->xx * q; // A L, first column
    two_by_two inner = {1.0 + p * ax + q * ay, r * ay, 1.0 + r * s->xx * r};
    double determinant;
    two_by_two i = inverse(inner, &determinant);
    *log_det = log(determinant);
    return (two_by_two){p * p * i.a, p * (q * i.a + r * i.b),
                        q * q * i.a + 2.0 * q * r * i.b + r * r * i.d};
}

typedef struct normal_sums {
    two_by_two xx; // X'V^-1X
    double xy[2], yy, log_det;
} normal_sums;

static void add_person(const person_sums *s, const double l[3], normal_sums *sum)
{
    double log_det;
    two_by_two m = middle(s, l, &log_det);
    // G = A M, then A - G A and b - G b.
    double g[4] = {s->n * m.a + s->x * m.b, s->n * m.b + s->x * m.d, s->x * m.a + s->xx * m.b,
                   s->x * m.b + s->xx * m.d};
    sum->xx.a += s->n - g[0] * s->n - g[1] * s->x;
    sum->xx.b += s->x - g[0] * s->x - g[1] * s->xx;
    sum->xx.d += s->xx - g[2] * s->x - g[3] * s->xx;
    sum->xy[0] += s->y - g[0] * s->y - g[1] * s->xy;
    sum->xy[1] += s->xy - g[2] * s->y - g[3] * s->xy;
    sum->yy += s->yy - m.a * s->y * s->y - 2.0 * m.b * s->y * s->xy - m.d * s->xy * s->xy;
    sum->log_det += log_det;
}

// -2 log likelihood at relative Cholesky factor L, with sigma^2 and the line profiled out. The restricted
// one counts the line's two numbers off the rows, and how well the rows tell them.
static double criterion(unsigned count, const double *l, double *gradient, void *data)
{
    mixed_work *work = data;
    double full[3] = {l[0], count > 1 ? l[1] : 0.0, count > 1 ? l[2] : 0.0}, determinant;
    normal_sums sum = {0};
    (void)gradient;
    for (int i = 0; i < work->count; i++) add_person(&work->people[i], full, &sum);
    two_by_two cov = inverse(sum.xx, &determinant);
    double start = cov.a * sum.xy[0] + cov.b * sum.xy[1];
    double slope = cov.b * sum.xy[0] + cov.d * sum.xy[1];
    double df = work->is_restricted ? work->rows - 2 : work->rows;
    double variance = (sum.yy - start * sum.xy[0] - slope * sum.xy[1]) / df;
    double value = df * (1.0 + log(2.0 * HW_PI * variance)) + sum.log_det;
    if (work->is_restricted) value += log(determinant);
    work->at = (hw_mixed){.intercept = start,
                          .intercept_se = sqrt(variance * cov.a),
                          .slope = slope,
                          .slope_se = sqrt(variance * cov.d),
                          .var_intercept = variance * full[0] * full[0],
                          .covariance = variance * full[0] * full[1],
                          .var_slope = variance * (full[1] * full[1] + full[2] * full[2]),
                          .var_residual = variance,
                          .criterion = value,
                          .people = work->count,
                          .rows = work->rows};
    return isfinite(value) ? value : 1e300;
}

static int by_person(const void *a, const void *b)
{
    int x = ((const hw_repeat *)a)->person, y = ((const hw_repeat *)b)->person;
    return (x > y) - (x < y);
}

static hw_status sum_people(hw_job *job, const hw_repeat *rows, int count, hw_arena *into,
                            person_sums **out, int *people)
{
    hw_repeat *sorted = NULL;
    person_sums *sums = NULL;
    *people = 0;
    HW_ALLOC(job, into, sorted, count);
    HW_ALLOC(job, into, sums, count);
    for (int i = 0; i < count; i++) sorted[i] = rows[i];
    qsort(sorted, (size_t)count, sizeof *sorted, by_person);
    for (int i = 0; i < count; i++) {
        const hw_repeat *row = &sorted[i];
        if (!isfinite(row->x) || !isfinite(row->y))
            return hw_fail(job, HW_BAD_INPUT, "a row of person %d is not a number", row->person);
        if (i == 0 || row->person != sorted[i - 1].person) (*people)++;
        person_sums *s = &sums[*people - 1];
        s->n += 1.0, s->x += row->x, s->xx += row->x * row->x;
        s->y += row->y, s->xy += row->x * row->y, s->yy += row->y * row->y;
    }
    *out = sums;
    return HW_OK;
}

// Twice from where the last search ended: a search without slopes may stop early on a ridge.
static bool search(mixed_work *work, unsigned count, double *l)
{
    const double lower[3] = {0.0, -1e6, 0.0};
    double best = 0.0;
    bool settled = true;
    for (int round = 0; round < 3; round++) {
        nlopt_opt search = nlopt_create(round % 2 ? NLOPT_LN_NELDERMEAD : NLOPT_LN_BOBYQA, count);
        if (!search) return false;
        nlopt_set_min_objective(search, criterion, work);
        nlopt_set_lower_bounds(search, lower);
        nlopt_set_ftol_rel(search, 1e-14);
        nlopt_set_xtol_rel(search, 1e-9);
        nlopt_set_maxeval(search, 20000);
        nlopt_result result = nlopt_optimize(search, l, &best);
        // Round-off at the optimum ends a search that has nothing left to gain.
        settled = result > 0 || result == NLOPT_ROUNDOFF_LIMITED;
        nlopt_destroy(search);
    }
    criterion(count, l, NULL, work);
    return settled && isfinite(best);
}

hw_status hw_fit_mixed(hw_job *job, const hw_repeat *rows, int count, unsigned how, hw_mixed *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    mixed_work work = {.rows = count, .is_restricted = !(how & HW_MIXED_ML)};
    person_sums *people = NULL;
    if (count < 1) return hw_fail(job, HW_BAD_INPUT, "no rows to fit");
    HW_TRY(sum_people(job, rows, count, tmp.arena, &people, &work.count));
    if (work.count < 3 || count < work.count + 3)
        return hw_fail(job, HW_BAD_INPUT,
                       "%d rows of %d people: too few to tell people from chance", count,
                       work.count);
    work.people = people;
    double l[3] = {1.0, 0.0, 0.5};
    bool settled = search(&work, how & HW_MIXED_SLOPES ? 3 : 1, l);
    hw_scratch_end(tmp);
    if (!settled) return hw_fail(job, HW_NO_ANSWER, "the likelihood of the lines does not settle");
    *out = work.at;
    return HW_OK;
}
