// SPDX-License-Identifier: GPL-3.0-or-later
// The door: a model checked and prepared, its cases run one after the other, answers read off.
#include "fem_internal.h"

#include <string.h>

// Gives a held unknown this part of the way it still has to go: at once where the solid is linear,
// with the next step of Newton's method, from which its neighbours follow, where it is not.
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

static double least_force(const solver *s)
{
    double volume = 0.0;
    const int count = s->model->mesh->element_count;
    for (int e = 0; e < count; e++)
        for (int p = 0; p < POINTS; p++) volume += s->points[e][p].volume;
    return 1e-6 * s->model->material.young * pow(volume / count, 2.0 / 3.0);
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
    s->least_size = least_force(s);
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
