// SPDX-License-Identifier: GPL-3.0-or-later
// The Newton step by the shape of the slopes: the five rays are a tridiagonal block, which leaves three
// or four shared equations.
#include "mech_internal.h"

#include <string.h>

enum { SHARED = HW_MECH_SHARED, COLUMNS = SHARED + 1 }; // the shared unknowns, and the right side

// Places of the shared unknowns and equations among all.
static const int shared[SHARED] = {U_HEIGHT, U_PITCH, U_ROLL, U_TOES};

void hw_mech_spell_out(const hw_mech_balance *of, double *matrix)
{
    int n = of->count, few = n - RAYS;
    const hw_mech_slopes *slopes = &of->slopes;
    memset(matrix, 0, (size_t)(n * n) * sizeof *matrix);
    for (int i = 0; i < few; i++) {
        for (int k = 0; k < few; k++) matrix[shared[i] * n + shared[k]] = slopes->shared[i][k];
        for (int r = 0; r < RAYS; r++) {
            matrix[shared[i] * n + U_RAY + r] = slopes->by_ray[i][r];
            matrix[(U_RAY + r) * n + shared[i]] = slopes->of_ray[r][i];
        }
    }
    for (int r = 0; r < RAYS; r++)
        for (int k = r > 0 ? r - 1 : 0; k < RAYS && k <= r + 1; k++)
            matrix[(U_RAY + r) * n + U_RAY + k] = slopes->ray[r][k - r + 1];
}

static bool solve_dense(const hw_mech_balance *of, double *step)
{
    double matrix[UNKNOWNS * UNKNOWNS];
    hw_mech_spell_out(of, matrix);
    for (int i = 0; i < of->count; i++) step[i] = -of->residual[i];
    return hw_solve_small(of->count, matrix, step);
}

// Rays: after it, `rays[i]` holds what each of `few` shared unknowns, and the right side, make of ray i.
// Elimination runs down the diagonal without pivoting; false where a pivot is next to nothing.
static inline bool solve_rays(const hw_mech_balance *of, const int few, double rays[RAYS][COLUMNS])
{
    const double least = 1e-6; // of a scaled slope; a ray's own is of the order of 1
    double inverse[RAYS];      // of the diagonal
    for (int i = 0; i < RAYS; i++) {
        const double *own = of->slopes.ray[i];
        double diagonal = own[1];
        for (int k = 0; k < few; k++) rays[i][k] = of->slopes.of_ray[i][k];
        rays[i][few] = -of->residual[U_RAY + i];
        if (i > 0) {
            double factor = own[0] * inverse[i - 1];
            diagonal -= factor * of->slopes.ray[i - 1][2];
            for (int k = 0; k <= few; k++) rays[i][k] -= factor * rays[i - 1][k];
        }
        if (!(fabs(diagonal) > least)) return false;
        inverse[i] = 1.0 / diagonal;
    }
    for (int k = 0; k <= few; k++) rays[RAYS - 1][k] *= inverse[RAYS - 1];
    for (int i = RAYS - 2; i >= 0; i--)
        for (int k = 0; k <= few; k++)
            rays[i][k] = (rays[i][k] - of->slopes.ray[i][2] * rays[i + 1][k]) * inverse[i];
    return true;
}

// `few` is a constant in each call, so that the compiler unrolls the loops.
static inline bool solve_shape(const hw_mech_balance *of, const int few, double *step)
{
    double rays[RAYS][COLUMNS], matrix[SHARED * SHARED], right[SHARED];
    if (!solve_rays(of, few, rays)) return solve_dense(of, step);
    // What the rays leave to the shared equations.
    for (int i = 0; i < few; i++) {
        const double *by_ray = of->slopes.by_ray[i];
        right[i] = -of->residual[shared[i]];
        for (int k = 0; k < few; k++) matrix[i * few + k] = of->slopes.shared[i][k];
        for (int r = 0; r < RAYS; r++) {
            for (int k = 0; k < few; k++) matrix[i * few + k] -= by_ray[r] * rays[r][k];
            right[i] -= by_ray[r] * rays[r][few];
        }
    }
    if (!hw_solve_small(few, matrix, right)) return false;
    for (int i = 0; i < few; i++) step[shared[i]] = right[i];
    for (int r = 0; r < RAYS; r++) {
        step[U_RAY + r] = rays[r][few];
        for (int k = 0; k < few; k++) step[U_RAY + r] -= rays[r][k] * right[k];
    }
    return true;
}

bool hw_mech_solve_step(const hw_mech_balance *of, double *step)
{
    return of->count == UNKNOWNS ? solve_shape(of, SHARED, step)
                                 : solve_shape(of, SHARED - 1, step);
}
