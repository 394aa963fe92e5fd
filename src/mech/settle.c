// SPDX-License-Identifier: GPL-3.0-or-later
// Damped Newton with capped steps, halving and restarts.
#include "mech_internal.h"

#include <string.h>

static const double tolerance = 1e-7;    // scaled by load and 0.1 m: 0.1 mN of 1 kN; or rad
static const double near_enough = 1e-3;  // of a residual, for Newton to take over
static const double height_step = 0.004; // m, the most in one step
static const double angle_step = 0.06;   // rad
static const double nearly_there = 1e-4; // from here the next step ends the search, 99 times in 100
enum { STEPS = 40, HALVINGS = 10, KINKS = 2 };

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
    int n = balance->count;
    if (!hw_mech_solve_step(balance, step)) return false;
    double part = 1.0;
    for (int i = 0; i < U_TOES; i++) {
        double cap = i == U_HEIGHT ? height_step : angle_step;
        if (fabs(step[i]) > cap) part = fmin(part, cap / fabs(step[i]));
    }
    for (int i = 0; i < n; i++) step[i] *= part;
    return true;
}

// The step of Levenberg and Marquardt: least squares with each unknown held by its own slope.
static bool damped_step(const hw_mech_balance *balance, double damping, double *step)
{
    double normal[UNKNOWNS * UNKNOWNS], jacobian[UNKNOWNS * UNKNOWNS];
    int n = balance->count;
    hw_mech_spell_out(balance, jacobian);
    for (int i = 0; i < n; i++) {
        step[i] = 0.0;
        for (int k = 0; k < n; k++) step[i] -= jacobian[k * n + i] * balance->residual[k];
        for (int j = 0; j < n; j++) {
            double sum = 0.0;
            for (int k = 0; k < n; k++) sum += jacobian[k * n + i] * jacobian[k * n + j];
            normal[i * n + j] = i == j ? sum * (1.0 + damping) : sum;
        }
    }
    return hw_solve_small(n, normal, step);
}

// The equations also have roots with the whole foot in the air and all load on the toes.
static bool is_on_floor(const hw_mech_model *model, const hw_mech_case *load,
                        const hw_mech_rest *rest)
{
    const double high = 0.03; // m above where the heel is expected
    double lever = model->ray[0].head_x - model->heel_x;
    double expected = load->is_heel_off ? lever * sin(load->pitch) : load->heel_ground;
    return rest->u[U_HEIGHT] < expected + high;
}

// Moves along the step, halved until the squares fall (Armijo). The last try stands if none does,
// which may carry the search over a kink of the contact laws; false then. Without slopes the Jacobian
// stays that of the place the step came from.
static bool walk(const hw_mech_model *model, const hw_mech_case *load, const double *step,
                 bool with_slopes, hw_mech_rest *rest)
{
    double before = squares_of(&rest->balance), part = 1.0, from[UNKNOWNS];
    memcpy(from, rest->u, sizeof from);
    for (int half = 0; half < HALVINGS; half++, part *= 0.5) {
        for (int i = 0; i < rest->balance.count; i++) rest->u[i] = from[i] + part * step[i];
        if (with_slopes)
            hw_mech_balance_at(model, load, rest->u, &rest->balance);
        else
            hw_mech_residual_at(model, load, rest->u, &rest->balance);
        if (squares_of(&rest->balance) < before * (1.0 - 1e-4 * part)) return true;
    }
    return false;
}

static bool settle_from(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest)
{
    double step[UNKNOWNS];
    int stuck = 0;
    bool has_slopes = true;
    hw_mech_balance_at(model, load, rest->u, &rest->balance);
    for (int i = 0; i < STEPS; i++) {
        rest->residual = worst_of(&rest->balance);
        if (rest->residual < tolerance) return true;
        if (!has_slopes) hw_mech_balance_at(model, load, rest->u, &rest->balance);
        if (!isfinite(rest->residual) || !newton_step(&rest->balance, step)) return false;
        rest->iterations++;
        has_slopes = rest->residual > nearly_there;
        if (!walk(model, load, step, has_slopes, rest) && ++stuck > KINKS) return false;
    }
    return false;
}

// Levenberg-Marquardt: slower than Newton, but it walks out of the corners that the contact laws
// make of the residuals. Newton finishes what it has brought near.
static bool creep_from(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest)
{
    enum { CREEPS = 150 };
    double damping = 1e-3;
    hw_mech_balance_at(model, load, rest->u, &rest->balance);
    for (int k = 0; k < CREEPS && worst_of(&rest->balance) > near_enough; k++) {
        double step[UNKNOWNS], from[UNKNOWNS], before = squares_of(&rest->balance);
        hw_mech_balance tried;
        if (!isfinite(before) || damping > 1e12 || !damped_step(&rest->balance, damping, step))
            return false;
        memcpy(from, rest->u, sizeof from);
        for (int i = 0; i < rest->balance.count; i++) rest->u[i] += step[i];
        hw_mech_balance_at(model, load, rest->u, &tried);
        rest->iterations++;
        if (squares_of(&tried) < before) {
            rest->balance = tried;
            damping = fmax(1e-12, 0.2 * damping);
        } else {
            memcpy(rest->u, from, sizeof from);
            damping *= 4.0;
        }
    }
    return settle_from(model, load, rest) && is_on_floor(model, load, rest);
}

// Other starts: the scan pose sunk 4 mm and tipped; heel off, turned about the heads, the arch as
// in the scan or recoiled, for late in push-off a flattened arch may find no rest and snap back.
typedef struct start_row {
    double pitch, roll, flattening; // rad
    double toes;                    // share of the load
} start_row;

static const start_row starts[] = {
    {0.00, 0.00, 0.00, 0.15},   {0.09, -0.10, -0.20, 0.50}, {-0.03, 0.00, 0.00, 0.30},
    {0.02, 0.00, 0.05, 0.05},   {0.05, -0.05, -0.10, 0.40}, {-0.06, 0.00, 0.00, 0.45},
    {0.07, -0.05, -0.15, 0.75}, {0.00, 0.00, 0.10, 0.00},
};
enum { STARTS = sizeof starts / sizeof *starts };

static void restart(const hw_mech_model *model, const hw_mech_case *load, const start_row *start,
                    double *u)
{
    memset(u, 0, UNKNOWNS * sizeof *u);
    double lever = model->ray[0].head_x - model->heel_x;
    u[U_HEIGHT] = load->heel_ground - 0.004;
    u[U_PITCH] = start->pitch - atan2(load->heel_ground, lever);
    u[U_ROLL] = start->roll;
    for (int i = 0; i < RAYS; i++) u[U_RAY + i] = start->flattening;
    if (!load->is_heel_off) return;
    u[U_HEIGHT] = lever * sin(load->pitch);
    u[U_PITCH] = start->pitch - load->pitch;
    u[U_TOES] = start->toes;
}

bool hw_mech_settle_near(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest)
{
    rest->iterations = 0;
    return settle_from(model, load, rest) && is_on_floor(model, load, rest);
}

bool hw_mech_settle(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest)
{
    if (hw_mech_settle_near(model, load, rest)) return true;
    hw_mech_rest last = *rest;
    for (int i = 0; i < STARTS; i++) {
        restart(model, load, &starts[i], rest->u);
        if (settle_from(model, load, rest) && is_on_floor(model, load, rest)) return true;
    }
    memcpy(rest->u, last.u, sizeof rest->u);
    if (creep_from(model, load, rest)) return true;
    for (int i = 0; i < STARTS; i++) {
        restart(model, load, &starts[i], rest->u);
        if (creep_from(model, load, rest)) return true;
    }
    return false;
}
