// SPDX-License-Identifier: GPL-3.0-or-later
// The Newton step by the Jacobian's own shape: a ray feels its neighbours and the few unknowns that
// all share (height, pitch, roll, toes), so the five rays are a tridiagonal block.
#include "mech_internal.h"

enum { SHARED_MOST = 4, COLUMNS = SHARED_MOST + 1 }; // the shared unknowns, and the right side

// Places of the shared unknowns and equations among all.
static const int shared[SHARED_MOST] = {U_HEIGHT, U_PITCH, U_ROLL, U_TOES};

// Rays: after it, `rays[i]` holds what each shared unknown, and the right side, make of ray i.
// Elimination runs down the diagonal without pivoting; false where a pivot is next to nothing.
static bool solve_rays(const hw_mech_balance *of, int columns, double rays[RAYS][COLUMNS])
{
    const double least = 1e-6; // of a scaled slope; a ray's own is of the order of 1
    double diagonal[RAYS], upper[RAYS];
    for (int i = 0; i < RAYS; i++) {
        const double *row = &of->jacobian[(U_RAY + i) * of->count];
        for (int k = 0; k < columns - 1; k++) rays[i][k] = row[shared[k]];
        rays[i][columns - 1] = -of->residual[U_RAY + i];
        diagonal[i] = row[U_RAY + i];
        upper[i] = i + 1 < RAYS ? row[U_RAY + i + 1] : 0.0;
        if (i > 0) {
            double factor = row[U_RAY + i - 1] * diagonal[i - 1]; // that is its inverse by now
            diagonal[i] -= factor * upper[i - 1];
            for (int k = 0; k < columns; k++) rays[i][k] -= factor * rays[i - 1][k];
        }
        if (!(fabs(diagonal[i]) > least)) return false;
        diagonal[i] = 1.0 / diagonal[i];
    }
    for (int i = RAYS - 1; i >= 0; i--)
        for (int k = 0; k < columns; k++) {
            if (i + 1 < RAYS) rays[i][k] -= upper[i] * rays[i + 1][k];
            rays[i][k] *= diagonal[i];
        }
    return true;
}

static bool solve_dense(const hw_mech_balance *of, double *step)
{
    double matrix[UNKNOWNS * UNKNOWNS];
    int n = of->count;
    for (int i = 0; i < n * n; i++) matrix[i] = of->jacobian[i];
    for (int i = 0; i < n; i++) step[i] = -of->residual[i];
    return hw_solve_small(n, matrix, step);
}

bool hw_mech_solve_step(const hw_mech_balance *of, double *step)
{
    double rays[RAYS][COLUMNS], matrix[SHARED_MOST * SHARED_MOST], right[SHARED_MOST];
    int n = of->count - RAYS;
    if (!solve_rays(of, n + 1, rays)) return solve_dense(of, step);
    // What the rays leave to the shared equations.
    for (int i = 0; i < n; i++) {
        const double *row = &of->jacobian[shared[i] * of->count];
        right[i] = -of->residual[shared[i]];
        for (int k = 0; k < n; k++) matrix[i * n + k] = row[shared[k]];
        for (int r = 0; r < RAYS; r++) {
            double by_ray = row[U_RAY + r];
            for (int k = 0; k < n; k++) matrix[i * n + k] -= by_ray * rays[r][k];
            right[i] -= by_ray * rays[r][n];
        }
    }
    if (!hw_solve_small(n, matrix, right)) return false;
    for (int i = 0; i < n; i++) step[shared[i]] = right[i];
    for (int r = 0; r < RAYS; r++) {
        step[U_RAY + r] = rays[r][n];
        for (int k = 0; k < n; k++) step[U_RAY + r] -= rays[r][k] * right[k];
    }
    return true;
}
