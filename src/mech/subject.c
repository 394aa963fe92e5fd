// SPDX-License-Identifier: GPL-3.0-or-later
// What each member of the ensemble sees of the subject: measures with their errors, and the calf's
// limit by the test that was made. And the refusal of values out of range.
#include "mech_internal.h"

// Measurement errors, +-: common practice.
static const double mass_error = 0.02;                 // of the mass
static const double length_error = 0.001;              // m
static const double height_error = 0.002;              // m
static const double range_error = 4.0 * HW_PI / 180.0; // goniometer, 3-5 degrees

// From the instep down to the first hinge, m: half the talonavicular depth and the skin. The first
// is unsure by 3 mm.
static const double half_joint = 0.015, skin = 0.004, joint_error = 0.003;

// The instep drops 10 mm from sitting to standing (McPoil 2008, mean of 275 adults), m.
static const double standing_drop = 0.010;

// Hinge height of the hanging foot from an instep measured under `loading`. Where the loading is
// not known half the drop is taken, and hinge_error spans the rest.
static double hinge_from_dorsum(double height, hw_loading loading)
{
    double drop = 0.0;
    if (loading == HW_LOADING_STANDING) drop = standing_drop;
    if (loading == HW_LOADING_UNKNOWN) drop = 0.5 * standing_drop;
    return height + drop - half_joint - skin;
}

static double hinge_error(hw_loading loading)
{
    double error = height_error + joint_error;
    if (loading == HW_LOADING_UNKNOWN) error += 0.5 * standing_drop;
    return error;
}

hw_mech_view hw_mech_view_plain(const hw_mech_subject *subject)
{
    const hw_foot_measures *measures = &subject->measures;
    hw_mech_view view = {
        .mass = subject->mass_kg,
        .length = measures->foot_length_m.value,
        .truncated_length = measures->truncated_length_m,
        .ball_breadth = measures->ball_breadth_m,
        .shoe_pitch = subject->shoe_pitch_m,
        .own_walk = subject->own_walk,
    };
    if (measures->dorsum_height_m.known)
        view.hinge_height =
            hw_known(hinge_from_dorsum(measures->dorsum_height_m.value, subject->loading));
    return view;
}

hw_mech_view hw_mech_view_of(const hw_mech_subject *subject, int member)
{
    hw_mech_view view = hw_mech_view_plain(subject);
    double error = hinge_error(subject->loading);
    view.mass *= hw_mech_spread(HW_MECH_AXIS_MASS, member, 1.0 - mass_error, 1.0 + mass_error);
    view.length += hw_mech_spread(HW_MECH_AXIS_LENGTH, member, -length_error, length_error);
    view.hinge_height.value += hw_mech_spread(HW_MECH_AXIS_ARCH, member, -error, error);
    return view;
}

typedef struct norm_row {
    hw_calf_test test;
    double low, high; // degrees: where the sources put the mean of healthy adults
} norm_row;

// In the order of preference. Late in mid-stance the knee is nearly straight, so the passive torque
// is the gastrocnemius's: a knee-straight test sees it, a bent knee (20 degrees and more, Baumbach
// 2014) takes it out. Sources: Baumbach 2014 (20 adults: 4 (1-8), 25 (22-28), 39 (36-42), 20
// (16-24)); Irving 2007 (lunge 40.5, 80 adults); common practice (knee straight 10-15, lunge
// 35-45).
static const norm_row norms[] = {
    {HW_CALF_TEST_KNEE_STRAIGHT, 4.0, 12.5},
    {HW_CALF_TEST_KNEE_STRAIGHT_LOADED, 22.0, 28.0},
    {HW_CALF_TEST_LUNGE, 35.0, 45.0},
    {HW_CALF_TEST_KNEE_BENT, 16.0, 24.0},
};
enum { NORMS = sizeof norms / sizeof norms[0] };

hw_calf_test hw_mech_calf_choice(const hw_mech_subject *subject)
{
    for (int i = 0; i < NORMS; i++)
        if (subject->calf_range_rad[norms[i].test].known) return norms[i].test;
    return HW_CALF_TEST_NONE;
}

double hw_mech_calf_limit(const hw_mech_subject *subject, int member)
{
    double limit = hw_mech_tissue_member(member).calf_limit_rad;
    hw_calf_test test = hw_mech_calf_choice(subject);
    for (int i = 0; i < NORMS; i++) {
        if (norms[i].test != test) continue;
        // What counts is how far the person is from the norm of the very test that was made.
        double norm = hw_rad_from_deg(
            hw_mech_spread(HW_MECH_AXIS_CALF_NORM, member, norms[i].low, norms[i].high));
        double error = hw_mech_spread(HW_MECH_AXIS_CALF_ERROR, member, -range_error, range_error);
        limit += subject->calf_range_rad[test].value + error - norm;
    }
    return limit;
}

// A number with the range it must lie in; factor turns it into what a clinician says.
typedef struct range_row {
    const char *what, *unit;
    double value, low, high, factor;
    bool known;
} range_row;

static hw_status check_rows(hw_job *job, const range_row *rows, int count)
{
    for (int i = 0; i < count; i++) {
        const range_row *row = &rows[i];
        if (!row->known || (row->value >= row->low && row->value <= row->high)) continue;
        return hw_fail(job, HW_BAD_INPUT, "the %s is %.4g %s; the load model takes %.4g to %.4g %s",
                       row->what, row->value * row->factor, row->unit, row->low * row->factor,
                       row->high * row->factor, row->unit);
    }
    return HW_OK;
}

static const double degrees = 180.0 / HW_PI;

static hw_status check_measures(hw_job *job, const hw_mech_subject *subject)
{
    const hw_foot_measures *m = &subject->measures;
    if (!m->foot_length_m.known)
        return hw_fail(job, HW_BAD_INPUT,
                       "the foot's length is not known; the load model needs it");
    double length = m->foot_length_m.value;
    hw_maybe front = m->truncated_length_m, ball = m->ball_breadth_m, dorsum = m->dorsum_height_m;
    const range_row rows[] = {
        {"body mass", "kg", subject->mass_kg, 20.0, 250.0, 1.0, true},
        {"foot length", "mm", length, 0.10, 0.40, 1e3, true},
        {"shoe's pitch", "mm", subject->shoe_pitch_m, 0.0, 0.04, 1e3, true},
        {"length to the first metatarsal head", "mm", front.value, 0.62 * length, 0.84 * length,
         1e3, front.known},
        {"ball breadth", "mm", ball.value, 0.25 * length, 0.55 * length, 1e3, ball.known},
        {"dorsum height", "mm", dorsum.value, 0.16 * length, 0.42 * length, 1e3, dorsum.known},
    };
    return check_rows(job, rows, sizeof rows / sizeof rows[0]);
}

// Below 0.05 body weights a foot is as good as in the air; above 3 nobody was measured walking.
static hw_status check_walk(hw_job *job, const hw_mech_subject *subject)
{
    const hw_mech_own_walk *walk = subject->own_walk;
    for (int i = 0; walk && i < HW_MECH_SOLVED; i++) {
        const range_row rows[] = {
            {"vertical force", "body weights", walk->force_z_bw[i], 0.05, 3.0, 1.0, true},
            {"fore-aft force", "body weights", walk->force_x_bw[i], -1.0, 1.0, 1.0, true},
            {"centre of pressure", "% of the foot's length", walk->pressure_x[i], 0.0, 1.0, 100.0,
             true},
        };
        HW_TRY(check_rows(job, rows, sizeof rows / sizeof rows[0]));
    }
    return HW_OK;
}

hw_status hw_mech_check(hw_job *job, const hw_mech_subject *subject)
{
    HW_TRY(check_measures(job, subject));
    HW_TRY(check_walk(job, subject));
    for (int i = 0; i < NORMS; i++) {
        hw_maybe range = subject->calf_range_rad[norms[i].test];
        const range_row row = {
            "ankle's dorsiflexion", "degrees", range.value, -0.7, 1.22, degrees, range.known};
        HW_TRY(check_rows(job, &row, 1));
    }
    return HW_OK;
}

hw_status hw_mech_check_change(hw_job *job, const hw_mech_change *c)
{
    const range_row rows[] = {
        {"arch fill", "mm", c->arch_fill_m, -0.010, 0.010, 1e3, c->has_orthosis},
        {"shell's stiffness", "N/mm", c->shell_N_per_m, 1e3, 1e6, 1e-3, c->has_orthosis},
        {"heel raise", "mm", c->heel_raise_m, 0.0, 0.020, 1e3, true},
        {"gain in calf range", "degrees", c->calf_gain_rad, -0.6, 0.6, degrees, true},
        {"factor on body mass", "", c->mass_factor, 0.5, 1.5, 1.0, true},
        {"factor on the toes' extension", "", c->toe_factor, 0.2, 1.0, 1.0, true},
        {"forefoot wedge", "degrees", c->forefoot_wedge_rad, -0.2, 0.2, degrees, true},
    };
    return check_rows(job, rows, sizeof rows / sizeof rows[0]);
}
