// SPDX-License-Identifier: GPL-3.0-or-later
// The tight calf as a complementarity: the foot sheds active calf force first, then lets the centre
// of pressure go forward, and lifts the heel only when that has reached the ball.
#include "mech_internal.h"

/// Passive torque M0 exp((dorsiflexion - limit) / beta), N m; shape from memory: Riener 1999.
static double passive_moment(const hw_mech_tissue *tissue, double dorsiflexion)
{
    return tissue->calf_moment_Nm *
           exp((dorsiflexion - tissue->calf_limit_rad) / tissue->calf_slope_rad);
}

static double dorsiflexion_of(const hw_mech_tissue *tissue, double moment)
{
    return tissue->calf_limit_rad + tissue->calf_slope_rad * log(moment / tissue->calf_moment_Nm);
}

void hw_mech_calf_law(const hw_mech_model *model, const hw_mech_gait *gait, double weight,
                      double heel_pitch, hw_mech_case *load)
{
    const hw_mech_tissue *tissue = &model->tissue;
    double ankle_x = model->ankle_x;
    double force_z = gait->force_z * weight, fore_aft = gait->force_x * weight * model->ankle_z;
    double shank = gait->ankle + gait->pitch; // tilt of the shank, rad
    load->pressure_x = gait->pressure_x * model->length;
    load->pitch = gait->pitch > 0.0 ? fmax(gait->pitch, heel_pitch) : gait->pitch + heel_pitch;

    // Ankle moment that the normal walk asks for, and what of it stays active.
    double normal = force_z * (load->pressure_x - ankle_x) + fore_aft;
    double active = tissue->active_share * fmax(normal, 0.0);
    double total = active + passive_moment(tissue, shank - load->pitch);
    if (total <= normal) return;

    double wanted = ankle_x + (total - fore_aft) / force_z;
    double furthest = fmax(load->pressure_x, model->ball_x);
    load->pressure_x = fmin(wanted, furthest);
    if (wanted <= furthest) return;
    // At the ball: the heel rises until the passive torque is what the ground can balance.
    double room = force_z * (furthest - ankle_x) + fore_aft - active;
    const double least = 1e-3; // N m; less would ask for no torque at all
    double pitch = shank - dorsiflexion_of(tissue, fmax(room, least));
    load->pitch = fmax(load->pitch, pitch);
}
