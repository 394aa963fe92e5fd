// SPDX-License-Identifier: GPL-3.0-or-later
// Newton's method on moves and riders, each step a sparse factor bordered by the riders' rows.
//
// Unknowns are the moves u and each rider's travel d. Beds make the potential's slope bend but not
// jump, so that Newton with a line search settles without guessing which beds are pressed
// (semi-smooth Newton; Hintermueller, Ito & Kunisch 2002 SIAM J Optim: from memory).
#include "fem_internal.h"

#include <string.h>

enum { STEPS_MAX = 80, SEARCH_MAX = 8 };
static const double settled = 1e-10; // force out of balance, part of the largest force
static const double settled_step =
    1e-10; // last step, part of the largest move: then this is enough,
static const double settled_still = 1e-7; // as stiff thin solids leave more to round-off
static const double later_lean =
    1e-8; // an open bed's share of its stiffness, against a singular matrix
// The first step knows of no pressed bed: all that are open by less than their thickness count as
// pressed that much.
static const double first_strain = 0.35;

// Takes from the balance what the pending moves of an element's held nodes will ask for.
static void pull_pending(solver *s, const int *nodes, const double blocks[PAIRS][9])
{
    for (int a = 0; a < NODES; a++)
        for (int b = 0; b < NODES; b++) {
            const double *block = blocks[a >= b ? pair_of(a, b) : pair_of(b, a)];
            const double *move = s->pending + 3 * nodes[b];
            for (int i = 0; i < 3; i++)
                for (int j = 0; j < 3; j++)
                    s->out_of_balance[3 * nodes[a] + i] -=
                        (a >= b ? block[3 * i + j] : block[3 * j + i]) * move[j];
        }
}

hw_status assemble_solid(solver *s)
{
    double blocks[PAIRS][9];
    sparse_clear(s->system);
    for (int e = 0; e < s->model->mesh->element_count; e++) {
        hex_view view = view_of(s, e, s->moves);
        hex_stiffness(&view, blocks);
        sparse_add_element(s->system, e, (const double(*)[9])blocks);
        if (s->model->large && !s->slack) pull_pending(s, view.nodes, (const double(*)[9])blocks);
        if (e % 256 == 0) HW_TRY(hw_job_ask(s->job));
    }
    for (int k = 0; k < s->model->spring_count; k++) {
        const hw_fem_spring *spring = &s->model->springs[k];
        sparse_add_node(s->system, spring->node, spring->way, spring->stiffness);
    }
    return HW_OK;
}

static double bed_stiffness(const solver *s, const hw_fem_bed *bed, bool is_first)
{
    double slope, strain = bed_strain(s, bed, s->moves, s->travel), least = later_lean;
    hw_fem_bed_pressure(bed, strain, &slope);
    if (is_first && strain > -1.0) least = exp(first_strain * bed->exponent);
    return fmax(slope, least * bed->modulus) * bed->area / bed->thickness;
}

// The riders' rows: coupling to the moves in columns 1.., to each other in `corner`.
static void couple_riders(solver *s, bool is_first, double corner[][HW_FEM_RIDERS])
{
    const hw_fem_model *model = s->model;
    for (int k = 0; k < model->bed_count; k++) {
        const hw_fem_bed *bed = &model->beds[k];
        double stiffness = bed_stiffness(s, bed, is_first);
        for (int r = 0; r < model->rider_count; r++) {
            double arm = lever(s, bed, r);
            if (arm == 0.0) continue; // rides on others
            double *column = s->columns + (size_t)(1 + r) * (size_t)unknowns(s);
            add_along_bed(s, bed, column, stiffness * arm);
            for (int q = 0; q < model->rider_count; q++)
                corner[r][q] += stiffness * arm * lever(s, bed, q);
        }
    }
    for (int r = 0; r < model->rider_count; r++)
        for (int k = 0; k < unknowns(s); k++)
            if (s->held[k]) s->columns[(size_t)(1 + r) * (size_t)unknowns(s) + (size_t)k] = 0.0;
}

static double dot_columns(const solver *s, const double *a, const double *b)
{
    double sum = 0.0;
    for (int k = 0; k < unknowns(s); k++) sum += a[k] * b[k];
    return sum;
}

static hw_status factor_matrix(solver *s, bool is_first)
{
    if (s->model->large)
        HW_TRY(assemble_solid(s));
    else
        sparse_take_back(s->system);
    for (int k = 0; k < s->model->bed_count; k++)
        sparse_add_bed(s->system, &s->model->beds[k],
                       bed_stiffness(s, &s->model->beds[k], is_first));
    return sparse_factor(s->job, s->system, s->held);
}

// Matrix of this state and its factor. For the solid alone one factor does for all. Far from
// balance pressed fibres can make the matrix indefinite: what stress adds is then left out of this
// step.
static hw_status make_factor(solver *s, bool is_first)
{
    bool plain = !s->model->large && s->model->bed_count == 0;
    if (plain && s->has_factor) return HW_OK;
    s->slack = false;
    hw_status status = factor_matrix(s, is_first);
    if (status == HW_NO_ANSWER && s->model->large) {
        s->slack = true;
        status = factor_matrix(s, is_first);
    }
    s->has_factor = status == HW_OK;
    return status;
}

// Solves [K -C; -C^T D] [u; d] = [out of balance; missing]: u in column 0, d in step_travel.
static hw_status find_step(solver *s, bool is_first)
{
    const int n = unknowns(s), riders = s->model->rider_count;
    double corner[HW_FEM_RIDERS][HW_FEM_RIDERS] = {0}, small[HW_FEM_RIDERS * HW_FEM_RIDERS];
    double *coupling = s->columns + (size_t)(1 + riders) * (size_t)n;
    memset(s->columns, 0, (size_t)(1 + 2 * riders) * (size_t)n * sizeof *s->columns);
    HW_TRY(make_factor(s, is_first));
    couple_riders(s, is_first, corner);
    memcpy(coupling, s->columns + n, (size_t)riders * (size_t)n * sizeof *coupling);
    for (int k = 0; k < n; k++) s->columns[k] = s->held[k] ? 0.0 : s->out_of_balance[k];
    HW_TRY(sparse_solve(s->job, s->system, s->columns, 1 + riders));
    for (int r = 0; r < riders; r++) {
        const double *couple = coupling + (size_t)r * (size_t)n;
        for (int q = 0; q < riders; q++)
            small[r * riders + q] =
                corner[r][q] - dot_columns(s, couple, s->columns + (size_t)(1 + q) * (size_t)n);
        s->step_travel[r] = s->missing[r] + dot_columns(s, couple, s->columns);
        if (is_free(s, r)) continue;
        small[r * riders + r] = 1.0; // its column is 0: it stands still
        s->step_travel[r] = 0.0;
    }
    if (riders > 0 && !hw_solve_small(riders, small, s->step_travel))
        return hw_fail(s->job, HW_NO_ANSWER, "a body that bears on the solid finds no hold on it");
    for (int r = 0; r < riders; r++)
        for (int k = 0; k < n; k++)
            s->columns[k] +=
                s->step_travel[r] * s->columns[(size_t)(1 + r) * (size_t)n + (size_t)k];
    return HW_OK;
}

// Moves a part of the step from where we are, into `trial`.
static void go(solver *s, double part)
{
    for (int k = 0; k < s->model->mesh->node_count; k++) {
        const double *step = s->columns + 3 * k;
        s->trial[k] =
            hw_vec3_add(s->moves[k], (hw_vec3){part * step[0], part * step[1], part * step[2]});
    }
    for (int r = 0; r < s->model->rider_count; r++)
        s->trial_travel[r] = s->travel[r] + part * s->step_travel[r];
    s->part = part;
    weigh(s, s->trial, s->trial_travel);
}

// Slope of the potential along the step, where we last went: < 0 while it falls.
static double potential_slope(const solver *s)
{
    double sum = dot_columns(s, s->out_of_balance, s->columns);
    for (int r = 0; r < s->model->rider_count; r++) sum += s->missing[r] * s->step_travel[r];
    return -sum;
}

// Goes along the step to near the potential's lowest place: regula falsi (Illinois) on its slope.
static void search_along(solver *s)
{
    double low = 0.0, slope_low = potential_slope(s), first = fabs(slope_low);
    double high = 1.0, slope_high;
    go(s, 1.0);
    slope_high = potential_slope(s);
    if (s->model->bed_count == 0 || slope_high <= 0.5 * first) return;
    int last_side = 0;
    for (int k = 0; k < SEARCH_MAX; k++) {
        double part = (low * slope_high - high * slope_low) / (slope_high - slope_low);
        go(s, part);
        double slope = potential_slope(s);
        if (fabs(slope) <= 0.2 * first) return;
        if (slope > 0.0) {
            high = part, slope_high = slope;
            if (last_side == 1) slope_low *= 0.5;
            last_side = 1;
        } else {
            low = part, slope_low = slope;
            if (last_side == -1) slope_high *= 0.5;
            last_side = -1;
        }
    }
}

// Takes the trial as the new place; the largest step as a part of the largest move.
static double take(solver *s)
{
    double step = 0.0, size = 0.0;
    for (int k = 0; k < s->model->mesh->node_count; k++) {
        step = fmax(step, hw_vec3_distance(s->trial[k], s->moves[k]));
        size = fmax(size, hw_vec3_norm(s->trial[k]));
    }
    memcpy(s->moves, s->trial, (size_t)s->model->mesh->node_count * sizeof *s->moves);
    memcpy(s->travel, s->trial_travel, sizeof s->travel);
    return size > 0.0 ? step / size : 0.0;
}

hw_status settle(solver *s, bool is_first)
{
    bool is_linear = !s->model->large && s->model->bed_count == 0;
    weigh(s, s->moves, s->travel);
    for (int k = 0; k < STEPS_MAX; k++) {
        HW_TRY(hw_job_ask(s->job));
        s->iterations++;
        HW_TRY(find_step(s, is_first && k == 0));
        search_along(s);
        for (int u = 0; u < unknowns(s); u++) s->pending[u] *= 1.0 - s->part;
        double step = take(s);
        s->residual = imbalance(s);
        if (!isfinite(s->residual)) break;
        bool is_still = step <= settled_step || (is_linear && k > 0);
        if (s->slack) continue; // no balance to trust before the whole matrix is definite
        if (s->residual <= settled || (is_still && s->residual <= settled_still)) return HW_OK;
    }
    return hw_fail(s->job, HW_NO_ANSWER,
                   "the solid did not settle: %.2g of the force is out of balance after %d steps",
                   s->residual, STEPS_MAX);
}
