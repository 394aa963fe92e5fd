// SPDX-License-Identifier: GPL-3.0-or-later
// The normative walk and the tissue sets.
#include "mech_internal.h"

typedef struct gait_row {
    double force_z, force_x, pressure_x; // body weights, body weights, foot lengths
    double ankle, pitch;                 // degrees in the table; heel pitch, heel up +
    double toe_share, activity;
    double pressure_y; // mm in the table, lateral +
} gait_row;

// 0 to 100 % of stance by 5 %. Ground forces: mean of three adults at comfortable speed, worked out
// from open recordings; centre of pressure: mean shape of ten open recordings, scaled to 0.05..0.92
// foot lengths; ankle and pitch from the same; toe share and muscle activity are proposals.
static const gait_row gait_rows[21] = {
    {0.03, 0.000, 0.050, 0.0, -14.0, 0.00, 0.00, 0.0},
    {0.33, -0.030, 0.090, -4.0, -6.5, 0.00, 0.00, 0.0},
    {0.56, -0.100, 0.130, -6.0, -1.5, 0.00, 0.00, 0.0},
    {0.83, -0.147, 0.165, -5.0, 0.0, 0.00, 0.05, 1.0},
    {1.03, -0.152, 0.200, -2.0, 0.0, 0.00, 0.10, 2.0},
    {1.09, -0.128, 0.235, 0.0, 0.0, 0.00, 0.15, 3.0},
    {1.04, -0.096, 0.270, 2.0, 0.0, 0.00, 0.20, 3.5},
    {0.93, -0.068, 0.310, 4.0, 0.0, 0.01, 0.30, 4.0},
    {0.84, -0.048, 0.365, 5.5, 0.0, 0.02, 0.40, 4.0},
    {0.81, -0.033, 0.430, 7.0, 0.0, 0.03, 0.50, 4.0},
    {0.82, -0.021, 0.495, 8.0, 0.0, 0.05, 0.60, 4.0},
    {0.85, -0.002, 0.555, 9.0, 0.0, 0.06, 0.70, 4.0},
    {0.92, 0.022, 0.615, 10.0, 2.0, 0.08, 0.80, 3.0},
    {1.00, 0.053, 0.665, 11.0, 4.0, 0.10, 0.90, 2.0},
    {1.08, 0.087, 0.695, 11.5, 6.0, 0.11, 1.00, 1.0},
    {1.13, 0.127, 0.712, 11.0, 9.0, 0.12, 1.00, 0.0},
    {1.09, 0.170, 0.727, 9.0, 13.0, 0.14, 1.00, -1.0},
    {0.92, 0.195, 0.745, 5.0, 19.0, 0.18, 1.00, -3.0},
    {0.60, 0.162, 0.778, -2.0, 28.5, 0.25, 0.90, -6.0},
    {0.25, 0.085, 0.835, -10.0, 41.5, 0.45, 0.70, -10.0},
    {0.03, 0.000, 0.920, -18.0, 55.0, 0.90, 0.30, -14.0},
};

// Toe extension by the extensors before the foot is flat, degrees, 0 to 25 %; a proposal.
static const double early_extension[6] = {22.0, 18.0, 12.0, 5.0, 2.0, 0.0};

static double between(double a, double b, double share)
{
    return a + (b - a) * share;
}

static double early_extension_at(double percent)
{
    int row = (int)(percent / 5.0);
    if (row >= 5) return 0.0;
    double share = percent / 5.0 - row;
    return hw_rad_from_deg(between(early_extension[row], early_extension[row + 1], share));
}

static hw_mech_gait gait_of_norm(double percent)
{
    int row = (int)(percent / 5.0);
    if (row > 19) row = 19;
    double share = percent / 5.0 - row;
    const gait_row *a = &gait_rows[row], *b = &gait_rows[row + 1];
    return (hw_mech_gait){
        .force_z = between(a->force_z, b->force_z, share),
        .force_x = between(a->force_x, b->force_x, share),
        .pressure_x = between(a->pressure_x, b->pressure_x, share),
        .pressure_y = hw_m_from_mm(between(a->pressure_y, b->pressure_y, share)),
        .ankle = hw_rad_from_deg(between(a->ankle, b->ankle, share)),
        .pitch = hw_rad_from_deg(between(a->pitch, b->pitch, share)),
        .toe_share = between(a->toe_share, b->toe_share, share),
        .activity = between(a->activity, b->activity, share),
        .toe_extension = early_extension_at(percent),
    };
}

// Faster by 0.5 m/s: both vertical peaks rise by 0.17 body weights and the valley between falls by as
// much (from memory: Nilsson and Thorstensson 1989; unsure); fore-aft forces go with the speed; the
// heel rises further, as the first toe extends from 52 degrees walking slowly to 64 walking fast
// (Caravaggi 2010; slow and fast taken as 0.3 m/s either side).
hw_mech_gait hw_mech_gait_at(double percent, double speed)
{
    HW_ASSERT(percent >= 0.0 && percent <= 100.0 && speed > 0.0);
    hw_mech_gait gait = gait_of_norm(percent);
    double faster = speed - HW_MECH_NORM_SPEED;
    bool is_inside = percent > 12.5 && percent < 87.5; // peaks at 25 and 75, the valley at 50 %
    if (is_inside) gait.force_z -= 0.34 * faster * cos(4.0 * HW_PI * percent / 100.0);
    gait.force_x *= speed / HW_MECH_NORM_SPEED;
    if (gait.pitch > 0.0) gait.pitch *= 1.0 + faster * (64.0 - 52.0) / (58.0 * 0.6);
    return gait;
}

hw_mech_own_walk hw_mech_norm_walk(void)
{
    hw_mech_own_walk out;
    for (int i = 0; i < HW_MECH_SOLVED; i++) {
        hw_mech_gait gait = gait_of_norm(2.5 * (HW_MECH_FIRST + i));
        out.force_z_bw[i] = gait.force_z;
        out.force_x_bw[i] = gait.force_x;
        out.pressure_x[i] = gait.pressure_x;
    }
    return out;
}

// An additive recurrence: member m stands at the fractional part of 1/2 + (m + 1) a_k on axis k,
// a_k the powers of 1/g, g the root of g^6 = g + 1: even in five dimensions for any number of members
// (the golden ratio's generalisation).
double hw_mech_spread(hw_mech_axis axis, int member, double low, double high)
{
    const double root = 1.1347241384015194;
    HW_ASSERT(member >= 0 && member < HW_MECH_MEMBERS);
    double place = 0.5 + (member + 1) * pow(1.0 / root, axis + 1);
    return between(low, high, place - floor(place));
}

// Calf limit at which nobody is tight: the upper end of 10-15 degrees, knee straight.
static const double calf_norm = 15.0 * HW_PI / 180.0;

hw_mech_tissue hw_mech_tissue_default(void)
{
    return (hw_mech_tissue){
        .fascia_N_per_m = 190e3,
        .windlass = 1.0,
        .ligament = 1.0,
        .toe_strain = 0.004,
        .pre_strain = 0.003,
        .muscle_share = 0.5,
        .hinge = 1.0,
        .contact_offset = 0.03,
        .stiffening_rad = hw_rad_from_deg(6.0),
        .dorsal_free_rad = hw_rad_from_deg(10.0),
        .dorsal_share = 0.5,
        .active_share = 0.3,
        .calf_slope_rad = hw_rad_from_deg(6.0),
        .calf_moment_Nm = 12.0,
        .calf_limit_rad = calf_norm,
        .raise_to_toes = 0.15,
    };
}

hw_mech_tissue hw_mech_tissue_member(int member)
{
    HW_ASSERT(member >= 0 && member < HW_MECH_MEMBERS);
    const hw_mech_member_row *row = &hw_mech_member_rows[member];
    return (hw_mech_tissue){
        .fascia_N_per_m = 1e3 * row->fascia_kN_m,
        .windlass = row->windlass,
        .ligament = row->ligament,
        .toe_strain = row->toe_strain,
        .pre_strain = row->pre_strain,
        .muscle_share = row->muscle_share,
        .hinge = row->hinge,
        .contact_offset = row->contact_offset,
        .stiffening_rad = hw_rad_from_deg(row->stiffening),
        .dorsal_free_rad = hw_rad_from_deg(row->dorsal_free),
        .dorsal_share = row->dorsal_share,
        .active_share = row->active_share,
        .calf_slope_rad = hw_rad_from_deg(row->calf_slope),
        .calf_moment_Nm = row->calf_moment,
        .calf_limit_rad = calf_norm,
        .raise_to_toes = row->raise_to_toes,
        .talus_sink_m = hw_m_from_mm(row->talus_sink),
    };
}
