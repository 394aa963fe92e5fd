// SPDX-License-Identifier: GPL-3.0-or-later
// Shared inside mech. Names follow docs/mechanics.md. SI; x from the back of the heel to the toes,
// y lateral, z up, as in the foot frame.
#ifndef HW_MECH_INTERNAL_H
#define HW_MECH_INTERNAL_H

#include "mech.h"

#include <stddef.h>

enum { RAYS = HW_MECH_RAYS, UNKNOWNS = 9, PATCHES = 4, HW_MECH_SHARED = UNKNOWNS - RAYS };

// The unknowns: u[0] heel height, u[1] pitch (nose up), u[2] roll (lateral up), u[3..7] flattening
// of the rays, and in push-off u[8] the toes' share of the load.
enum { U_HEIGHT, U_PITCH, U_ROLL, U_RAY, U_TOES = U_RAY + RAYS };

typedef struct hw_mech_ray {
    double hinge_x, hinge_z; // unloaded scan pose, m
    double head_x, head_z;   // centre of the metatarsal head
    double y;                // m, lateral +
    double windlass_radius;  // m
    double toe_lever;        // from the head to the toe's contact, m
    double slip_N_per_m;
    double slip_slack;    // length at which the slip begins to pull, m
    double slip_toe;      // elongation at which its law turns linear, m
    double slip_rest;     // tension in the scan pose, N
    double rest_moment;   // of it about the hinge, N m
    double ligament;      // N m/rad
    double pad_weight;    // factor on the head's pad
    double toe_load_part; // of the toes' load
} hw_mech_ray;

/// A patch of a device's shell: pushes on the hindfoot (ray < 0) or on a ray.
typedef struct hw_mech_patch {
    int ray;
    double x, y, z; // where it touches the unloaded foot, m
} hw_mech_patch;

/// The foot. A solve never edits it.
typedef struct hw_mech_model {
    double length; // m
    double heel_x, origin_x, origin_z, ankle_x, ankle_z, ball_x, achilles_arm;
    hw_mech_ray ray[RAYS];
    hw_mech_patch patch[PATCHES];
    hw_mech_tissue tissue;
} hw_mech_model;

/// What acts on it at one instant.
typedef struct hw_mech_case {
    double force_z, force_x; // of the ground on the foot, N, up and forward
    double pressure_x;       // centre of pressure, m
    double pressure_y;       // lateral +
    double pitch;            // of the line from heel to heads when the heel is off, rad, heel up +
    double toe_share;        // of the load, heel on
    double muscle;           // share of the arch moment that muscles carry
    double toe_extension;    // of the toes against the floor, rad
    double heel_ground;      // height of the ground under the heel, m
    double heel_give;        // of a cushion, added to the heel pad's e-fold depth, m
    double heel_wedge;       // rise of the ground under the heel per m to lateral
    double wedge;            // the same under the heads
    bool is_heel_off;
    bool are_toes_idle; // heel off: no toe load, and the centre of pressure is left free
    bool has_device;
    double arch_fill; // m
    double shell_N_per_m;
    double tape_hold;  // of a fresh tape's; 0: none
    double talus_sink; // of the medial hinges, m
} hw_mech_case;

/// The residuals' Jacobian by its shape: a ray feels its neighbours and the few unknowns that all share
/// (height, pitch, roll and, with the heel off, toes; in that order), whose equations feel everything.
typedef struct hw_mech_slopes {
    double shared[HW_MECH_SHARED][HW_MECH_SHARED]; // equations all share, by unknowns all share
    double by_ray[HW_MECH_SHARED][RAYS];           // and by each ray's flattening
    double of_ray[RAYS][HW_MECH_SHARED];           // a ray's equation, by unknowns all share
    double ray[RAYS][3]; // and by the flattening of the ray before, its own, of the ray after
} hw_mech_slopes;

/// Residuals, their slopes and the forces behind them, at one state. Scaled to be compared.
typedef struct hw_mech_balance {
    double residual[UNKNOWNS];
    hw_mech_slopes slopes;
    int count;                 // of unknowns: 8, or 9 with the heel off
    double slip[RAYS];         // tension, N
    double head[RAYS];         // load, N
    double heel, toes, device; // load, N
    double toe_angle;          // of the first toe to the floor, rad
} hw_mech_balance;

/// Walking at one instant.
typedef struct hw_mech_gait {
    double force_z, force_x; // body weights
    double pressure_x;       // foot lengths
    double pressure_y;       // m
    double ankle, pitch;     // rad
    double toe_share, activity;
    double toe_extension; // by the extensors before the foot is flat, rad
} hw_mech_gait;

/// The norm, interpolated linearly in its 5 % table, at a speed in m/s.
hw_mech_gait hw_mech_gait_at(double percent, double speed);

#define HW_MECH_NORM_SPEED 1.3 // m/s, of the table: comfortable walking

/// What a member sees of a change that is unsure of itself.
hw_mech_change hw_mech_change_of(const hw_mech_change *change, int member);

/// A calibrated tissue set as it is embedded; angles in degrees, the talus in mm.
typedef struct hw_mech_member_row {
    double fascia_kN_m, windlass, ligament, toe_strain, pre_strain, muscle_share, hinge,
        contact_offset, stiffening, dorsal_free, dorsal_share, active_share, calf_slope,
        calf_moment, raise_to_toes, talus_sink;
} hw_mech_member_row;

extern const hw_mech_member_row hw_mech_member_rows[HW_MECH_MEMBERS]; // members.c, generated

/// Places of the members along one axis of measurement error, spread evenly in all axes at once.
typedef enum hw_mech_axis {
    HW_MECH_AXIS_CALF_NORM,
    HW_MECH_AXIS_CALF_ERROR,
    HW_MECH_AXIS_ARCH,
    HW_MECH_AXIS_MASS,
    HW_MECH_AXIS_LENGTH,
    HW_MECH_AXIS_COUNT,
} hw_mech_axis;

/// low + (high - low) * the member's place.
double hw_mech_spread(hw_mech_axis axis, int member, double low, double high);

/// What a member sees of the subject: measures moved by their errors, heel pitch as worn.
typedef struct hw_mech_view {
    double mass; // kg
    double length;
    hw_maybe truncated_length, ball_breadth;
    hw_maybe hinge_height; // of the first ray, from a measured dorsum
    double shoe_pitch;
    double speed;                     // m/s
    const hw_mech_own_walk *own_walk; // NULL: the norm's
} hw_mech_view;

/// Height of the first hinge against the scaled one, and the same held within what the model was
/// calibrated for (the prior of the hinge height is 1 with a spread of 0.06): an instep beyond it,
/// often that of a foot hanging with its toes down, would give arches that do not come to rest.
#define HW_MECH_RISE_LOWEST 0.85
#define HW_MECH_RISE_HIGHEST 1.08
double hw_mech_rise(double hinge_height, double length);
double hw_mech_rise_within(double hinge_height, double length);

/// The subject as measured, without spread.
hw_mech_view hw_mech_view_plain(const hw_mech_subject *subject);

/// The subject as `member` sees it.
hw_mech_view hw_mech_view_of(const hw_mech_subject *subject, int member);

hw_mech_model hw_mech_model_build(const hw_mech_view *view, const hw_mech_tissue *tissue);

/// The calf test that is used and the limit that a member draws from it, rad.
hw_calf_test hw_mech_calf_choice(const hw_mech_subject *subject);
double hw_mech_calf_limit(const hw_mech_subject *subject, int member);

/// Tension of a slip of that length, N, and its slope, N/m: zero when slack, a quadratic toe, then linear.
static inline double hw_mech_slip_tension(const hw_mech_ray *ray, double length, double *slope)
{
    double e = length - ray->slip_slack, k = ray->slip_N_per_m, toe = ray->slip_toe;
    *slope = e <= 0.0 ? 0.0 : e < toe ? k * e / toe : k;
    if (e <= 0.0) return 0.0;
    return e < toe ? 0.5 * k * e * e / toe : k * (e - 0.5 * toe);
}

void hw_mech_balance_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                        hw_mech_balance *out);

/// The same without the slopes, which keep what they held.
void hw_mech_residual_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                         hw_mech_balance *out);

/// The slopes as a plain matrix, `count` rows of `count`.
void hw_mech_spell_out(const hw_mech_balance *of, double *matrix);

/// Solves slopes * step = -residual by their shape. False where they are singular.
bool hw_mech_solve_step(const hw_mech_balance *of, double *step);

/// How far a ray's hinge has come down with the talus, m.
double hw_mech_hinge_drop(const hw_mech_case *load, int ray);

/// Where a foot comes to rest.
typedef struct hw_mech_rest {
    double u[UNKNOWNS];
    hw_mech_balance balance;
    int iterations;
    double residual; // worst, scaled
} hw_mech_rest;

/// Damped Newton from `rest->u`. False when it does not settle: `rest` is then not an answer.
bool hw_mech_settle_near(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest);

/// The same, then from other starts.
bool hw_mech_settle(const hw_mech_model *model, const hw_mech_case *load, hw_mech_rest *rest);

/// A calf that reaches its limit moves the centre of pressure forward, then lifts the heel.
///
///   heel_pitch  of the foot while its heel rests on a raise, rad
void hw_mech_calf_law(const hw_mech_model *model, const hw_mech_gait *gait, double weight,
                      double heel_pitch, hw_mech_case *load);

/// One stance. Never fails: instants that did not settle are marked and counted.
void hw_mech_march(const hw_mech_view *view, const hw_mech_tissue *tissue,
                   const hw_mech_change *change, hw_mech_run *out);

void hw_mech_say_assumptions(const hw_mech_subject *subject, hw_mech_result *out);

/// Where the poses of a run turn.
hw_mech_skeleton hw_mech_skeleton_of(const hw_mech_model *model);

/// Cautions and grade of a change.
void hw_mech_say_cautions(const hw_mech_change *change, hw_mech_effect *out);

/// Why the peak, or anything, cannot be said under this change; NULL where it can.
const char *hw_mech_unknown_peak(const hw_mech_change *change);
const char *hw_mech_unknown_calf(const hw_mech_subject *subject, const hw_mech_change *change);

/// Refuses values out of range, with a sentence.
HW_MUST_USE hw_status hw_mech_check(hw_job *job, const hw_mech_subject *subject);
HW_MUST_USE hw_status hw_mech_check_change(hw_job *job, const hw_mech_change *change);

#endif
