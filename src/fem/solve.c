// SPDX-License-Identifier: GPL-3.0-or-later
// Newton's method on moves and riders, each step a sparse factor bordered by the riders' rows.
//
// Unknowns are the moves u and each rider's travel d. Beds make the potential's slope bend but not
// jump, so that Newton with a line search settles without guessing which beds are pressed
// (semi-smooth Newton; Hintermueller, Ito & Kunisch 2002 SIAM J Optim: from memory).
#include "fem_internal.h"

#include <string.h>

enum { STEPS_MAX = 80, SEARCH_MAX = 8 };
static const double settled = 1e-10;      // force out of balance, part of the largest force
static const double settled_step = 1e-10; // last step, part of the largest move
static const double later_lean =
    1e-8; // an open bed's share of its stiffness, against a singular matrix
// The first step knows of no pressed bed: all that are open by less than their thickness count as
// pressed that much.
static const double first_strain = 0.35;

typedef struct solver {
    hw_job *job;
    const hw_fem_model *model;
    const hw_fem_case *load;
    lame constants;
    hex_point (*points)[POINTS];
    sparse *system;
    unsigned char *held;
    bool has_factor; // of the elastic matrix alone
    hw_vec3 *moves, *trial;
    double travel[HW_FEM_RIDERS], trial_travel[HW_FEM_RIDERS];
    double *inner;          // forces of the solid on its nodes
    double *out_of_balance; // what is missing, then also of each rider
    double missing[HW_FEM_RIDERS];
    double *pending; // given moves of held unknowns not yet made: part of the next step
    double part;     // of the step that the trial has gone
    double *columns; // 1 + riders right-hand sides
    double step_travel[HW_FEM_RIDERS];
    double share;      // of the case's loads
    double force_size; // largest force on a node or rider
    int iterations;
    double residual;
} solver;

static int unknowns(const solver *s)
{
    return 3 * s->model->mesh->node_count;
}

static bool is_free(const solver *s, int rider)
{
    return s->load->rider_loads[rider] != 0.0;
}

// How far a rider's travel presses a bed, per metre.
static double lever(const solver *s, const hw_fem_bed *bed, int rider)
{
    if (bed->rides[rider] == 0.0 || !is_free(s, rider)) return 0.0;
    return bed->rides[rider] * hw_vec3_dot(bed->push, s->model->rider_ways[rider]);
}

// The k-th node of a bed's face.
static int bed_node(const solver *s, const hw_fem_bed *bed, int k)
{
    return s->model->mesh->elements[bed->element][hex_faces[bed->face][k]];
}

static double bed_strain(const solver *s, const hw_fem_bed *bed, const hw_vec3 *moves,
                         const double *travel)
{
    double pressing = -bed->gap;
    for (int k = 0; k < 8; k++)
        pressing -= bed->shares[k] * hw_vec3_dot(bed->push, moves[bed_node(s, bed, k)]);
    for (int r = 0; r < s->model->rider_count; r++) pressing += lever(s, bed, r) * travel[r];
    return pressing / bed->thickness;
}

static void add_vector(double *forces, int node, hw_vec3 way, double size)
{
    forces[3 * node] += size * way.x;
    forces[3 * node + 1] += size * way.y;
    forces[3 * node + 2] += size * way.z;
}

static void add_along_bed(const solver *s, const hw_fem_bed *bed, double *forces, double size)
{
    for (int k = 0; k < 8; k++)
        add_vector(forces, bed_node(s, bed, k), bed->push, size * bed->shares[k]);
}

static hex_view view_of(const solver *s, int element, const hw_vec3 *moves)
{
    return (hex_view){s->points[element], s->model->mesh->elements[element], moves, s->constants,
                      s->model->large};
}

// Forces of springs and beds on the nodes and of the beds on the riders.
static void add_supports(const solver *s, const hw_vec3 *moves, const double *travel,
                         double *forces, double *on_riders)
{
    const hw_fem_model *model = s->model;
    for (int k = 0; k < model->spring_count; k++) {
        const hw_fem_spring *spring = &model->springs[k];
        double pull = -spring->stiffness * hw_vec3_dot(spring->way, moves[spring->node]);
        add_vector(forces, spring->node, spring->way, pull);
    }
    for (int k = 0; k < model->bed_count; k++) {
        const hw_fem_bed *bed = &model->beds[k];
        double strain = bed_strain(s, bed, moves, travel);
        double force = bed->area * hw_fem_bed_pressure(bed, strain, NULL);
        add_along_bed(s, bed, forces, force);
        for (int r = 0; r < model->rider_count; r++) on_riders[r] -= lever(s, bed, r) * force;
    }
}

// Fills in what is out of balance at these moves.
static void weigh(solver *s, const hw_vec3 *moves, const double *travel)
{
    const hw_fem_mesh *mesh = s->model->mesh;
    memset(s->inner, 0, (size_t)unknowns(s) * sizeof *s->inner);
    for (int e = 0; e < mesh->element_count; e++) {
        hex_view view = view_of(s, e, moves);
        hex_forces(&view, s->inner);
    }
    for (int k = 0; k < unknowns(s); k++) s->out_of_balance[k] = 0.0;
    for (int n = 0; s->load->forces && n < mesh->node_count; n++)
        add_vector(s->out_of_balance, n, s->load->forces[n], s->share);
    for (int r = 0; r < s->model->rider_count; r++)
        s->missing[r] = s->share * s->load->rider_loads[r];
    add_supports(s, moves, travel, s->out_of_balance, s->missing);
    s->force_size = 0.0;
    for (int r = 0; r < s->model->rider_count; r++)
        s->force_size = fmax(s->force_size, fabs(s->load->rider_loads[r]));
    for (int k = 0; k < unknowns(s); k++) {
        s->force_size = fmax(s->force_size, fabs(s->inner[k]));
        s->out_of_balance[k] -= s->inner[k];
        if (s->held[k]) s->out_of_balance[k] = 0.0;
    }
}

static double imbalance(const solver *s)
{
    double worst = 0.0;
    for (int k = 0; k < unknowns(s); k++) worst = fmax(worst, fabs(s->out_of_balance[k]));
    for (int r = 0; r < s->model->rider_count; r++) worst = fmax(worst, fabs(s->missing[r]));
    return s->force_size > 0.0 ? worst / s->force_size : 0.0;
}

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

static hw_status assemble_solid(solver *s)
{
    double blocks[PAIRS][9];
    sparse_clear(s->system);
    for (int e = 0; e < s->model->mesh->element_count; e++) {
        hex_view view = view_of(s, e, s->moves);
        hex_stiffness(&view, blocks);
        sparse_add_element(s->system, e, (const double(*)[9])blocks);
        if (s->model->large) pull_pending(s, view.nodes, (const double(*)[9])blocks);
        if (e % 256 == 0) HW_TRY(hw_job_ask(s->job));
    }
    for (int k = 0; k < s->model->spring_count; k++) {
        const hw_fem_spring *spring = &s->model->springs[k];
        sparse_add_node(s->system, spring->node, spring->way, spring->stiffness);
    }
    return HW_OK;
}

// Adds the beds to the matrix; their coupling to the riders to columns 1.. and `corner`.
static void add_beds(solver *s, bool is_first, double corner[][HW_FEM_RIDERS])
{
    const hw_fem_model *model = s->model;
    for (int k = 0; k < model->bed_count; k++) {
        const hw_fem_bed *bed = &model->beds[k];
        double slope, strain = bed_strain(s, bed, s->moves, s->travel);
        hw_fem_bed_pressure(bed, strain, &slope);
        double least = later_lean;
        if (is_first && strain > -1.0) least = exp(first_strain * bed->exponent);
        double stiffness = fmax(slope, least * bed->modulus) * bed->area / bed->thickness;
        sparse_add_bed(s->system, bed, stiffness);
        for (int r = 0; r < model->rider_count; r++) {
            double arm = lever(s, bed, r);
            if (arm == 0.0) continue;
            double *column = s->columns + (size_t)(1 + r) * (size_t)unknowns(s);
            add_along_bed(s, bed, column, stiffness * arm);
            for (int q = 0; q < model->rider_count; q++)
                corner[r][q] += stiffness * arm * lever(s, bed, q);
        }
    }
}

static double dot_columns(const solver *s, const double *a, const double *b)
{
    double sum = 0.0;
    for (int k = 0; k < unknowns(s); k++) sum += a[k] * b[k];
    return sum;
}

// Matrix of this state and its factor. For the solid alone one factor does for all.
static hw_status make_factor(solver *s, bool is_first, double corner[][HW_FEM_RIDERS])
{
    bool plain = !s->model->large && s->model->bed_count == 0;
    if (plain && s->has_factor) return HW_OK;
    if (s->model->large)
        HW_TRY(assemble_solid(s));
    else
        sparse_take_back(s->system);
    add_beds(s, is_first, corner);
    HW_TRY(sparse_factor(s->job, s->system, s->held));
    s->has_factor = true;
    return HW_OK;
}

// Solves [K -C; -C^T D] [u; d] = [out of balance; missing]: u in column 0, d in step_travel.
static hw_status find_step(solver *s, bool is_first)
{
    const int n = unknowns(s), riders = s->model->rider_count;
    double corner[HW_FEM_RIDERS][HW_FEM_RIDERS] = {0}, small[HW_FEM_RIDERS * HW_FEM_RIDERS];
    double *coupling = s->columns + (size_t)(1 + riders) * (size_t)n;
    memset(s->columns, 0, (size_t)(1 + 2 * riders) * (size_t)n * sizeof *s->columns);
    HW_TRY(make_factor(s, is_first, corner));
    for (int r = 0; r < riders; r++)
        for (int k = 0; k < n; k++)
            if (s->held[k]) s->columns[(size_t)(1 + r) * (size_t)n + (size_t)k] = 0.0;
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

static hw_status settle(solver *s, bool is_first)
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
        if (s->residual <= settled || step <= settled_step || (is_linear && k == 1)) return HW_OK;
    }
    return hw_fail(s->job, HW_NO_ANSWER,
                   "the solid did not settle: %.2g of the force is out of balance after %d steps",
                   s->residual, STEPS_MAX);
}

// Gives a held unknown this part of the way it still has to go: at once where the solid is linear, with
// the next step of Newton's method, from which its neighbours follow, where it is not.
static void make_pending(solver *s, const hw_fem_hold *hold, double part)
{
    hw_vec3 *move = &s->moves[hold->node];
    double *along = hold->axis == 0 ? &move->x : hold->axis == 1 ? &move->y : &move->z;
    double way = part * (hold->move - *along);
    if (s->model->large)
        s->pending[3 * hold->node + hold->axis] = way;
    else
        *along += way;
}

static hw_status run_case(solver *s)
{
    const hw_fem_model *model = s->model;
    int steps = s->load->load_steps > 1 ? s->load->load_steps : 1;
    for (int r = 0; r < model->rider_count; r++)
        s->travel[r] = s->load->start ? s->load->rider_start[r] : 0.0;
    for (int n = 0; n < model->mesh->node_count; n++)
        s->moves[n] = s->load->start ? s->load->start[n] : (hw_vec3){0};
    for (int k = 0; k < steps; k++) {
        s->share = (double)(k + 1) / steps;
        for (int h = 0; h < model->hold_count; h++)
            make_pending(s, &model->holds[h], 1.0 / (steps - k));
        HW_TRY(settle(s, k == 0 && !s->load->start));
    }
    return HW_OK;
}

// Mean stress of the elements that meet at each node, and von Mises' of it.
static hw_status fill_stress(const solver *s, hw_arena *into, hw_fem_answer *answer)
{
    const hw_fem_mesh *mesh = s->model->mesh;
    hw_scratch tmp = hw_scratch_begin(s->job, into);
    int *count = NULL;
    HW_ALLOC(s->job, tmp.arena, count, mesh->node_count);
    HW_ALLOC(s->job, into, answer->stress, mesh->node_count);
    HW_ALLOC(s->job, into, answer->von_mises, mesh->node_count);
    for (int e = 0; e < mesh->element_count; e++) {
        double stress[NODES][6];
        hex_view view = view_of(s, e, s->moves);
        hex_stress(&view, stress);
        for (int a = 0; a < NODES; a++) {
            int node = mesh->elements[e][a];
            count[node]++;
            for (int k = 0; k < 6; k++) answer->stress[node][k] += stress[a][k];
        }
    }
    for (int n = 0; n < mesh->node_count; n++) {
        double *t = answer->stress[n];
        for (int k = 0; k < 6; k++) t[k] /= count[n] > 0 ? count[n] : 1;
        double a = t[0] - t[1], b = t[1] - t[2], c = t[2] - t[0];
        double shear = t[3] * t[3] + t[4] * t[4] + t[5] * t[5];
        answer->von_mises[n] = sqrt(0.5 * (a * a + b * b + c * c) + 3.0 * shear);
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status fill_answer(solver *s, hw_arena *into, hw_fem_answer *out)
{
    const hw_fem_model *model = s->model;
    const int nodes = model->mesh->node_count;
    hw_fem_answer answer = {.iterations = s->iterations, .residual = s->residual};
    HW_ALLOC(s->job, into, answer.moves, nodes);
    HW_ALLOC(s->job, into, answer.reactions, nodes);
    HW_ALLOC(s->job, into, answer.bed_pressures, model->bed_count > 0 ? model->bed_count : 1);
    memcpy(answer.moves, s->moves, (size_t)nodes * sizeof *answer.moves);
    memcpy(answer.rider_travel, s->travel, sizeof answer.rider_travel);
    for (int n = 0; n < nodes; n++) {
        hw_vec3 load = s->load->forces ? s->load->forces[n] : (hw_vec3){0};
        hw_vec3 inner = {s->inner[3 * n], s->inner[3 * n + 1], s->inner[3 * n + 2]};
        answer.reactions[n] = hw_vec3_sub(inner, load);
    }
    for (int k = 0; k < model->bed_count; k++) {
        const hw_fem_bed *bed = &model->beds[k];
        answer.bed_pressures[k] =
            hw_fem_bed_pressure(bed, bed_strain(s, bed, s->moves, s->travel), NULL);
    }
    HW_TRY(fill_stress(s, into, &answer));
    *out = answer;
    return HW_OK;
}

static hw_status check_model(hw_job *job, const hw_fem_model *model)
{
    hw_fem_material m = model->material;
    if (!(m.young > 0.0 && isfinite(m.young) && m.poisson >= 0.0 && m.poisson < 0.5))
        return hw_fail(job, HW_BAD_INPUT,
                       "a material of modulus %.3g Pa and Poisson ratio %.3g is none: above 0, and "
                       "from 0 to less than 0.5",
                       m.young, m.poisson);
    if (model->mesh->node_count > HW_FEM_UNKNOWNS_MAX / 3)
        return hw_fail(job, HW_BAD_INPUT, "the mesh has %d nodes; at most %d can be solved",
                       model->mesh->node_count, HW_FEM_UNKNOWNS_MAX / 3);
    HW_ASSERT(model->rider_count >= 0 && model->rider_count <= HW_FEM_RIDERS);
    return HW_OK;
}

static hw_status prepare(solver *s, hw_arena *work)
{
    const hw_fem_model *model = s->model;
    const size_t n = (size_t)unknowns(s);
    double young = model->material.young, poisson = model->material.poisson;
    s->constants = (lame){young * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson)),
                          young / (2.0 * (1.0 + poisson))};
    HW_ALLOC(s->job, work, s->points, model->mesh->element_count);
    HW_ALLOC(s->job, work, s->held, n);
    HW_ALLOC(s->job, work, s->moves, model->mesh->node_count);
    HW_ALLOC(s->job, work, s->trial, model->mesh->node_count);
    HW_ALLOC(s->job, work, s->inner, n);
    HW_ALLOC(s->job, work, s->out_of_balance, n);
    HW_ALLOC(s->job, work, s->pending, n);
    HW_ALLOC(s->job, work, s->columns, n * (size_t)(1 + 2 * model->rider_count));
    for (int h = 0; h < model->hold_count; h++)
        s->held[3 * model->holds[h].node + model->holds[h].axis] = 1;
    for (int e = 0; e < model->mesh->element_count; e++)
        if (!hex_prepare(model->mesh, e, s->points[e])) {
            hw_vec3 at = model->mesh->nodes[model->mesh->elements[e][0]];
            return hw_fail(s->job, HW_BAD_INPUT,
                           "element %d near (%.4g, %.4g, %.4g) m is turned inside out", e, at.x,
                           at.y, at.z);
        }
    return HW_OK;
}

static hw_status run_cases(solver *s, int case_count, hw_arena *into, hw_fem_answer *out)
{
    const hw_fem_case *cases = s->load;
    if (!s->model->large) {
        HW_TRY(assemble_solid(s));
        sparse_keep(s->system);
    }
    for (int k = 0; k < case_count; k++) {
        s->load = &cases[k];
        s->iterations = 0;
        HW_TRY(run_case(s));
        HW_TRY(fill_answer(s, into, &out[k]));
    }
    return HW_OK;
}

hw_status hw_fem_solve(hw_job *job, const hw_fem_model *model, const hw_fem_case *cases,
                       int case_count, hw_arena *into, hw_fem_answer *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    solver s = {.job = job, .model = model, .load = cases};
    HW_TRY(check_model(job, model));
    HW_TRY(prepare(&s, tmp.arena));
    hw_status status = sparse_open(job, model->mesh, 1 + model->rider_count, tmp.arena, &s.system);
    if (status == HW_OK) status = run_cases(&s, case_count, into, out);
    sparse_close(s.system);
    if (status == HW_OK) hw_scratch_end(tmp);
    return status;
}
