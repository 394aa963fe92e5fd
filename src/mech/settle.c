// SPDX-License-Identifier: GPL-3.0-or-later
// Damped Newton with capped steps, halving and restarts.
#include "mech_internal.h"

#include <string.h>

static const double tolerance = 1e-7;    // scaled by load and 0.1 m: 0.1 mN of 1 kN; or rad
static const double height_step = 0.004; // m, the most in one step
static const double angle_step = 0.06;   // rad
enum { STEPS = 40, HALVINGS = 10, KINKS = 2, STARTS = 6 };

static double worst_of(const hw_mech_balance *balance)
{
    double worst = 0.0;
    for (int i = 0; i < balance->count; i++) {
        if (!isfinite(balance->residual[i])) return INFINITY;
        worst = fmax(worst, fabs(balance->residual[i]));
    }
    return worst;
}

static double squares_of(const hw_mech_balance *balance)
{
    double sum = 0.0;
    for (int i = 0; i < balance->count; i++) sum += balance->residual[i] * balance->residual[i];
    return sum;
}

// The Newton step, shortened as a whole so that no unknown goes further than its cap.
static bool newton_step(const hw_mech_balance *balance, double *step)
{
    double matrix[UNKNOWNS * UNKNOWNS];
    int n = balance->count;
    for (int i = 0; i < n * n; i++) matrix[i] = balance->jacobian[i];
    for (int i = 0; i < n; i++) step[i] = -balance->residual[i];
    if (!hw_solve_small(n, matrix, step)) return false;
    double part = 1.0;
    for (int i = 0; i < U_TOES; i++) {
        double cap = i == U_HEIGHT ? height_step : angle_step;
        if (fabs(step[i]) > cap) part = fmin(part, cap / fabs(step[i]));
    }
    for (int i = 0; i < n; i++) step[i] *= part;
    return true;
}

// Moves along the step, halved until the squares fall (Armijo). The last try stands if none does,
// which may carry the search over a kink of the contact laws; false then.
static bool walk(const hw_mech_model *model, const hw_mech_case *load, const double *step,
                 hw_mech_rest *rest)
{
    double before = squares_of(&rest->balance), part = 1.0, from[UNKNOWNS];
    memcpy(from, rest->u, sizeof from);
    for (int half = 0; half < HALVINGS; half++, part *= 0.5) {
        for (int i = 0; i < rest->balance.count; i++) rest->u[i] = from[i] + part * step[i];
        hw_mech_balance_at(model, load, rest->u, &rest->balance);
        if (squares_of(&rest->balance) < before * (1.0 - 1e-4 * part)) return true;
    }
    return false;
}

static bool settle_from(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest)
{
    double step[UNKNOWNS];
    int stuck = 0;
    hw_mech_balance_at(model, load, rest->u, &rest->balance);
    for (int i = 0; i < STEPS; i++) {
        rest->residual = worst_of(&rest->balance);
        if (rest->residual < tolerance) {
            rest->toe_extension = hw_mech_toes_at(load, rest->u);
            return true;
        }
        if (!isfinite(rest->residual) || !newton_step(&rest->balance, step)) return false;
        rest->iterations++;
        if (!walk(model, load, step, rest) && ++stuck > KINKS) return false;
    }
    return false;
}

// Other starts: the scan pose sunk 4 mm, tipped to either side; heel off, turned about the heads.
static void restart(const hw_mech_model *model, const hw_mech_case *load, int start, double *u)
{
    static const double pitches[STARTS] = {0.0, 0.0, -0.03, 0.02, -0.06, 0.05};
    static const double toes[STARTS] = {0.0, 0.15, 0.3, 0.05, 0.45, 0.0};
    memset(u, 0, UNKNOWNS * sizeof *u);
    double lever = model->ray[0].head_x - model->heel_x;
    u[U_HEIGHT] = load->heel_ground - 0.004;
    u[U_PITCH] = pitches[start] - atan2(load->heel_ground, lever);
    if (!load->is_heel_off) return;
    u[U_HEIGHT] = lever * sin(load->pitch);
    u[U_PITCH] = pitches[start] - load->pitch;
    u[U_TOES] = toes[start];
}

bool hw_mech_settle_near(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest)
{
    rest->iterations = 0;
    return settle_from(model, load, rest);
}

bool hw_mech_settle(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest)
{
    if (hw_mech_settle_near(model, load, rest)) return true;
    for (int start = 1; start < STARTS; start++) {
        restart(model, load, start, rest->u);
        if (settle_from(model, load, rest)) return true;
    }
    return false;
}
