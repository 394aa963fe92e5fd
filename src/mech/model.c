// SPDX-License-Identifier: GPL-3.0-or-later
// From measures to the five-ray foot. Fractions of foot length: docs/mechanics.md 2.
#include "mech_internal.h"

static const double reference_length = 0.255; // m, of the foot the sizes below belong to
static const double truncated_part = 0.73;    // heel to first MTP joint line; common practice
static const double breadth_part = 0.39;      // ball breadth; common practice

typedef struct ray_row {
    double hinge_x, hinge_z, head_x, head_z; // foot lengths
    double y;                                // ball breadths, lateral +
    double toe_x;                            // foot lengths
    double windlass_radius;                  // m at the reference length
    double slip_share, ligament, pad_weight, toe_load_part;
} ray_row;

// Medial to lateral. Slip shares fall laterally (Qian 2021: slips 2 and 3 thickest; the shares are
// a proposal); heads and pads likewise.
static const ray_row ray_rows[RAYS] = {
    {0.40, 0.165, 0.715, 0.085, -0.26, 0.880, 0.0095, 0.27, 50.0, 2.0, 0.50},
    {0.40, 0.165, 0.730, 0.075, -0.08, 0.855, 0.0080, 0.26, 50.0, 1.1, 0.20},
    {0.39, 0.150, 0.710, 0.070, 0.07, 0.830, 0.0070, 0.22, 50.0, 1.0, 0.13},
    {0.37, 0.115, 0.670, 0.065, 0.21, 0.805, 0.0060, 0.15, 43.0, 0.9, 0.10},
    {0.37, 0.095, 0.620, 0.060, 0.34, 0.780, 0.0050, 0.10, 43.0, 0.9, 0.07},
};

typedef struct patch_row {
    int ray;        // -1: the hindfoot
    double x, y, z; // foot lengths; y in ball breadths
} patch_row;

// Where a shell meets the arch: under the hindfoot's front and under the three medial rays.
static const patch_row patch_rows[PATCHES] = {
    {-1, 0.33, -0.10, 0.05},
    {0, 0.46, -0.26, 0.08},
    {1, 0.46, -0.08, 0.08},
    {2, 0.46, 0.07, 0.08},
};

// Slack, toe region and rest moment of a slip, from its length in the scan pose.
static void string_slip(const hw_mech_model *model, hw_mech_ray *ray)
{
    const hw_mech_tissue *tissue = &model->tissue;
    double dx = ray->head_x - model->origin_x, dz = ray->head_z - model->origin_z;
    double r = ray->windlass_radius, straight = sqrt(dx * dx + dz * dz - r * r);
    double slope = atan2(dz, dx) - atan2(r, straight);
    double length = straight - r * slope;
    double arm = (ray->hinge_z - model->origin_z) * cos(slope) -
                 (ray->hinge_x - model->origin_x) * sin(slope);
    ray->slip_slack = length * (1.0 - tissue->pre_strain);
    ray->slip_toe = length * tissue->toe_strain;
    double stiffness;
    ray->slip_rest = hw_mech_slip_tension(ray, length, &stiffness);
    ray->rest_moment = ray->slip_rest * arm;
}

double hw_mech_rise(double hinge_height, double length)
{
    return hinge_height / (ray_rows[0].hinge_z * length);
}

double hw_mech_rise_within(double hinge_height, double length)
{
    return fmin(HW_MECH_RISE_HIGHEST,
                fmax(HW_MECH_RISE_LOWEST, hw_mech_rise(hinge_height, length)));
}

static void build_ray(hw_mech_model *model, const hw_mech_view *view, int i)
{
    const ray_row *row = &ray_rows[i];
    const hw_mech_tissue *tissue = &model->tissue;
    double length = model->length, size = length / reference_length;
    double forefoot = view->truncated_length.known
                          ? view->truncated_length.value / (truncated_part * length)
                          : 1.0;
    double breadth = view->ball_breadth.known ? view->ball_breadth.value : breadth_part * length;
    double rise = view->hinge_height.known ? hw_mech_rise_within(view->hinge_height.value, length)
                                           : tissue->hinge;
    hw_mech_ray *ray = &model->ray[i];
    *ray = (hw_mech_ray){
        .hinge_x = row->hinge_x * length,
        .hinge_z = row->hinge_z * length * rise,
        .head_x = row->head_x * length * forefoot,
        .head_z = row->head_z * length,
        .y = row->y * breadth,
        .windlass_radius = row->windlass_radius * size * tissue->windlass,
        .toe_lever = (row->toe_x - row->head_x) * length,
        .slip_N_per_m = row->slip_share * tissue->fascia_N_per_m,
        .ligament = row->ligament * tissue->ligament,
        .pad_weight = row->pad_weight,
        .toe_load_part = row->toe_load_part,
    };
    string_slip(model, ray);
}

hw_mech_model hw_mech_model_build(const hw_mech_view *view, const hw_mech_tissue *tissue)
{
    double length = view->length, size = length / reference_length;
    hw_mech_model model = {
        .length = length,
        .heel_x = 0.13 * length,
        .origin_x = 0.16 * length,
        .origin_z = 0.014 * size,
        .ankle_x = 0.23 * length,
        .ankle_z = 0.30 * length,
        .ball_x = 0.70 * length,
        .achilles_arm = 0.048 * size,
        .tissue = *tissue,
    };
    for (int i = 0; i < RAYS; i++) build_ray(&model, view, i);
    double breadth = view->ball_breadth.known ? view->ball_breadth.value : breadth_part * length;
    for (int i = 0; i < PATCHES; i++)
        model.patch[i] = (hw_mech_patch){patch_rows[i].ray, patch_rows[i].x * length,
                                         patch_rows[i].y * breadth, patch_rows[i].z * length};
    return model;
}

hw_mech_skeleton hw_mech_skeleton_of(const hw_mech_model *model)
{
    const hw_mech_patch *inner = &model->patch[1];
    hw_mech_skeleton out = {.foot_length = model->length,
                            .arch = {inner->x, inner->y, inner->z},
                            .heel_x = model->heel_x,
                            .origin = {model->origin_x, 0.0, model->origin_z}};
    for (int i = 0; i < RAYS; i++) {
        const hw_mech_ray *ray = &model->ray[i];
        out.hinge[i] = (hw_vec3){ray->hinge_x, ray->y, ray->hinge_z};
        out.head[i] = (hw_vec3){ray->head_x, ray->y, ray->head_z};
        out.windlass_radius_m[i] = ray->windlass_radius;
    }
    return out;
}
