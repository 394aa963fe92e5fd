// SPDX-License-Identifier: GPL-3.0-or-later
// Forces at given moves: of the solid, of springs and beds, and what is missing to balance.
#include "fem_internal.h"

#include <string.h>

// How far a rider's travel presses a bed, per metre.
double lever(const solver *s, const hw_fem_bed *bed, int rider)
{
    if (bed->rides[rider] == 0.0 || !is_free(s, rider)) return 0.0;
    return bed->rides[rider] * hw_vec3_dot(bed->push, s->model->rider_ways[rider]);
}

// The k-th node of a bed's face.
static int bed_node(const solver *s, const hw_fem_bed *bed, int k)
{
    return s->model->mesh->elements[bed->element][hex_faces[bed->face][k]];
}

double bed_strain(const solver *s, const hw_fem_bed *bed, const hw_vec3 *moves,
                  const double *travel)
{
    double pressing = -bed->gap;
    for (int k = 0; k < 8; k++)
        pressing -= bed->shares[k] * hw_vec3_dot(bed->push, moves[bed_node(s, bed, k)]);
    for (int r = 0; r < s->model->rider_count; r++) pressing += lever(s, bed, r) * travel[r];
    return pressing / bed->thickness;
}

void add_along_bed(const solver *s, const hw_fem_bed *bed, double *forces, double size)
{
    for (int k = 0; k < 8; k++)
        add_vector(forces, bed_node(s, bed, k), bed->push, size * bed->shares[k]);
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
void weigh(solver *s, const hw_vec3 *moves, const double *travel)
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
    s->force_size = s->least_size;
    for (int r = 0; r < s->model->rider_count; r++)
        s->force_size = fmax(s->force_size, fabs(s->load->rider_loads[r]));
    for (int k = 0; k < unknowns(s); k++) {
        s->force_size = fmax(s->force_size, fabs(s->inner[k]));
        s->out_of_balance[k] -= s->inner[k];
        if (s->held[k]) s->out_of_balance[k] = 0.0;
    }
}

double imbalance(const solver *s)
{
    double worst = 0.0;
    for (int k = 0; k < unknowns(s); k++) worst = fmax(worst, fabs(s->out_of_balance[k]));
    for (int r = 0; r < s->model->rider_count; r++) worst = fmax(worst, fabs(s->missing[r]));
    return worst / s->force_size;
}
