// SPDX-License-Identifier: GPL-3.0-or-later
// One stance, instant by instant, each started from the one before; and the still foot.
#include "mech_internal.h"

#include <string.h>

static const double heel_off_load = 0.01;           // of the load: less than this is no contact
static const double heel_off_pitch = HW_PI / 180.0; // rad

// What stays the same through one stance.
typedef struct walk_setup {
    const hw_mech_change *change;
    const hw_mech_own_walk *own_walk;
    double speed;      // m/s
    double own_speed;  // m/s, today's: that of a recorded walk
    double weight;     // N, as walked with
    double own_weight; // N, today's
    double heel_raise; // m
    double heel_pitch; // of the foot standing on it, rad
} walk_setup;

static void put_change(const hw_mech_change *change, hw_mech_case *load)
{
    load->has_device = change->has_orthosis;
    load->arch_fill = change->arch_fill_m;
    load->shell_N_per_m = change->shell_N_per_m;
    load->tape_hold = change->is_taped ? change->tape_hold : 0.0;
    load->heel_give = change->heel_give_m;
    load->heel_wedge = tan(change->heel_wedge_rad);
    load->wedge = tan(change->forefoot_wedge_rad);
}

// The talus gives way under the load through the ankle and is then held by its ties: most of its way
// at a third of the body's weight of today: a person who loses weight keeps the joint. A proposal.
static double sink_of(const hw_mech_model *model, double force_z, double weight)
{
    return model->tissue.talus_sink_m * (1.0 - exp(-3.0 * force_z / weight));
}

static double percent_of(int instant)
{
    return 2.5 * (HW_MECH_FIRST + instant);
}

static hw_mech_gait gait_of(const walk_setup *setup, int instant)
{
    hw_mech_gait gait = hw_mech_gait_at(percent_of(instant), setup->speed);
    const hw_mech_own_walk *own = setup->own_walk;
    if (!own) return gait;
    // Another speed moves a recorded walk as it moves the norm's.
    const hw_mech_gait today = hw_mech_gait_at(percent_of(instant), setup->own_speed);
    gait.force_z = own->force_z_bw[instant] + (gait.force_z - today.force_z);
    gait.force_x = own->force_x_bw[instant] + (gait.force_x - today.force_x);
    gait.pressure_x = own->pressure_x[instant] + (gait.pressure_x - today.pressure_x);
    return gait;
}

static hw_mech_case case_at(const hw_mech_model *model, const walk_setup *setup, int instant)
{
    hw_mech_gait gait = gait_of(setup, instant);
    hw_mech_case load = {
        .force_z = gait.force_z * setup->weight,
        .force_x = gait.force_x * setup->weight,
        .pressure_y = gait.pressure_y,
        .toe_share = gait.toe_share,
        .muscle = model->tissue.muscle_share * gait.activity,
        .heel_ground = setup->heel_raise,
    };
    load.talus_sink = sink_of(model, load.force_z, setup->own_weight);
    put_change(setup->change, &load);
    hw_mech_calf_law(model, &gait, setup->weight, setup->heel_pitch, &load);
    // Only a share of a raise's pitch extends the toes: the patch of docs/mechanics.md 5.
    load.toe_extension =
        gait.toe_extension - (1.0 - model->tissue.raise_to_toes) * setup->heel_pitch;
    return load;
}

// Adds, or takes away, what raising the heel does to a foot that turns about its heads.
static void lift_heel(const hw_mech_model *model, double pitch, double factor, double *u)
{
    double lever = model->ray[0].head_x - model->heel_x;
    u[U_HEIGHT] += factor * lever * sin(pitch);
    u[U_PITCH] -= factor * pitch;
}

// Early in stance the heel's pad carries all, and the heads just touch: where to begin.
static void settle_heel(const hw_mech_model *model, double force, double *u)
{
    double depth = 0.004 * log(1.0 + force / 80.0); // the pad's law, balance.c
    u[U_HEIGHT] -= depth;
    u[U_PITCH] += depth / (model->ray[0].head_x - model->heel_x);
}

// The same arch with the line from heel to heads level and the heads as deep in the floor as before.
static void stand_on_heads(const hw_mech_model *model, double *u)
{
    const hw_mech_ray *ray = &model->ray[0];
    double lever = ray->head_x - model->heel_x;
    double flattened = u[U_RAY] * (ray->head_x - ray->hinge_x);
    u[U_HEIGHT] += u[U_PITCH] * lever + flattened;
    u[U_PITCH] = -flattened / lever;
}

// With the heel up, from the last state, or turned about the heads where the heel was still down.
static bool settle_up(const hw_mech_model *model, const walk_setup *setup, bool was_off,
                      hw_mech_case load, hw_mech_rest *rest)
{
    load.is_heel_off = true;
    // Toes flat on the floor extend by the whole pitch; a stiff forefoot turns them with it.
    load.toe_extension = -(1.0 - setup->change->toe_factor) * load.pitch;
    if (!was_off) {
        stand_on_heads(model, rest->u);
        lift_heel(model, load.pitch, 1.0, rest->u);
        rest->u[U_TOES] = load.toe_share;
    }
    bool settled = hw_mech_settle(model, &load, rest);
    if (!settled || rest->u[U_TOES] >= 0.0) return settled;
    // Toes push, they do not pull: without them the centre of pressure stays under the heads. With
    // the foot all but flat the same means that the heel is still down.
    if (load.pitch <= heel_off_pitch) return false;
    load.are_toes_idle = true;
    return hw_mech_settle(model, &load, rest);
}

// With the heel down, or not at all where a heel that may lift carries next to nothing.
static bool settle_down(const hw_mech_model *model, const hw_mech_case *load, bool may_lift,
                        bool near_only, hw_mech_rest *rest)
{
    bool settled =
        near_only ? hw_mech_settle_near(model, load, rest) : hw_mech_settle(model, load, rest);
    bool is_light = rest->balance.heel < heel_off_load * load->force_z;
    return settled && !(may_lift && is_light && load->pitch > heel_off_pitch);
}

// Settles one instant. The heel stays off once it is off; a pitch that is only that of a raise
// under the heel lifts nothing. A heel that cannot be down lifts at any pitch, for a tight calf may
// ask for a centre of pressure that lies just before where the heads touch.
static bool settle_instant(const hw_mech_model *model, const walk_setup *setup,
                           const hw_mech_case *load, bool *is_off, hw_mech_rest *rest)
{
    bool may_lift = load->pitch >= 0.0 && load->pitch >= setup->heel_pitch;
    hw_mech_rest next = *rest;
    int spent = 0;
    bool settled = !*is_off && settle_down(model, load, may_lift, true, &next);
    if (!settled && (*is_off || may_lift)) {
        spent = *is_off ? 0 : next.iterations;
        next = *rest;
        settled = settle_up(model, setup, *is_off, *load, &next);
        *is_off = *is_off || settled;
    }
    if (!settled && !*is_off) {
        spent += next.iterations;
        next = *rest;
        settled = settle_down(model, load, may_lift, false, &next);
    }
    if (settled) *rest = next;
    rest->iterations = next.iterations + spent;
    return settled;
}

static double sum_slips(const hw_mech_balance *balance)
{
    double sum = 0.0;
    for (int i = 0; i < RAYS; i++) sum += balance->slip[i];
    return sum;
}

static hw_mech_pose pose_of(const hw_mech_rest *rest, const hw_mech_case *load, double weight_today)
{
    hw_mech_pose pose = {.is_settled = true,
                         .heel_height_m = rest->u[U_HEIGHT],
                         .pitch_rad = rest->u[U_PITCH],
                         .roll_rad = rest->u[U_ROLL],
                         .toes_rad = rest->balance.toe_angle};
    for (int i = 0; i < RAYS; i++) {
        pose.flattening_rad[i] = rest->u[U_RAY + i];
        pose.hinge_drop_m[i] = hw_mech_hinge_drop(load, i);
        pose.slip_bw[i] = rest->balance.slip[i] / weight_today;
    }
    return pose;
}

static bool is_midstance(double percent)
{
    return percent >= 30.0 && percent <= 55.0;
}

static void summarise(hw_mech_run *run)
{
    double midstance = 0.0;
    int midstance_count = 0;
    for (int i = 0; i < HW_MECH_SOLVED; i++) {
        double percent = percent_of(i), tension = run->tension_bw[i];
        if (tension > run->peak_bw) {
            run->peak_bw = tension;
            run->peak_percent = percent;
        }
        if (is_midstance(percent)) midstance += tension, midstance_count++;
        // Trapezoids over the solved instants, in fractions of stance.
        if (i > 0) run->impulse += 0.5 * 0.025 * (tension + run->tension_bw[i - 1]);
    }
    run->midstance_bw = midstance / midstance_count;
    run->device_bw /= midstance_count;
}

static walk_setup set_up(const hw_mech_view *view, const hw_mech_change *change)
{
    walk_setup setup = {.change = change,
                        .own_walk = view->own_walk,
                        .speed = view->speed * change->speed_factor,
                        .own_speed = view->speed,
                        .own_weight = view->mass * HW_STANDARD_GRAVITY,
                        .weight = view->mass * change->mass_factor * HW_STANDARD_GRAVITY,
                        .heel_raise = view->shoe_pitch + change->heel_raise_m};
    setup.heel_pitch = atan(setup.heel_raise / ((0.70 - 0.13) * view->length)); // heel to ball
    return setup;
}

void hw_mech_march(const hw_mech_view *view, const hw_mech_tissue *tissue,
                   const hw_mech_change *change, hw_mech_run *out)
{
    hw_mech_tissue changed = *tissue;
    changed.calf_limit_rad += change->calf_gain_rad;
    hw_mech_model model = hw_mech_model_build(view, &changed);
    walk_setup setup = set_up(view, change);
    double today = view->mass * HW_STANDARD_GRAVITY; // body weights are those of today
    hw_mech_rest rest = {.u = {setup.heel_raise, -setup.heel_pitch}};
    settle_heel(&model, case_at(&model, &setup, 0).force_z, rest.u);
    double course[UNKNOWNS] = {0}; // change of the last instant: where the next one is sought
    double pitch = 0.0;            // of the last instant
    bool is_off = false;
    *out = (hw_mech_run){0};
    for (int i = 0; i < HW_MECH_SOLVED; i++) {
        double from[UNKNOWNS];
        bool was_off = is_off;
        memcpy(from, rest.u, sizeof from);
        hw_mech_case load = case_at(&model, &setup, i);
        for (int j = 0; j < UNKNOWNS; j++) rest.u[j] += course[j];
        if (is_off) {
            lift_heel(&model, pitch, -1.0, rest.u);
            lift_heel(&model, load.pitch, 1.0, rest.u);
        }
        bool settled = settle_instant(&model, &setup, &load, &is_off, &rest);
        bool goes_on = settled && i > 0 && was_off == is_off;
        for (int j = 0; j < UNKNOWNS; j++) course[j] = goes_on ? rest.u[j] - from[j] : 0.0;
        if (goes_on && is_off) { // the heel's rise is known, only the rest is guessed
            lift_heel(&model, load.pitch, -1.0, course);
            lift_heel(&model, pitch, 1.0, course);
        }
        pitch = load.pitch;
        out->iterations_total += rest.iterations;
        if (rest.iterations > out->iterations_worst) out->iterations_worst = rest.iterations;
        if (!settled) {
            memcpy(rest.u, from, sizeof from); // the last good state starts the next instant
            out->failed_instants++;
            continue;
        }
        out->pose[i] = pose_of(&rest, &load, today);
        out->residual_worst = fmax(out->residual_worst, rest.residual);
        out->tension_bw[i] = sum_slips(&rest.balance) / today;
        out->flattening_rad[i] = rest.u[U_RAY];
        out->heel_load_bw[i] = rest.balance.heel / today;
        if (is_midstance(percent_of(i))) out->device_bw += rest.balance.device / today;
    }
    if (out->failed_instants == 0) summarise(out);
}

hw_status hw_mech_stance(hw_job *job, const hw_mech_subject *subject, const hw_mech_tissue *tissue,
                         const hw_mech_change *change, hw_mech_run *out)
{
    hw_mech_change none = hw_mech_change_none("");
    if (!change) change = &none;
    HW_TRY(hw_mech_check(job, subject));
    HW_TRY(hw_mech_check_change(job, change));
    hw_mech_view view = hw_mech_view_plain(subject);
    hw_mech_run run;
    hw_mech_march(&view, tissue, change, &run);
    if (run.failed_instants > 0)
        return hw_fail(job, HW_NO_ANSWER, "the load model did not settle at %d of %d instants",
                       run.failed_instants, HW_MECH_SOLVED);
    *out = run;
    return HW_OK;
}

hw_mech_still hw_mech_standing(double load_N)
{
    return (hw_mech_still){.load_N = load_N, .achilles_N = 0.75 * load_N};
}

static void read_still(const hw_mech_model *model, double talus_sink, const hw_mech_rest *rest,
                       hw_mech_still_result *out)
{
    const double *u = rest->u;
    const hw_mech_ray *first = &model->ray[0];
    *out = (hw_mech_still_result){
        .tension_N = sum_slips(&rest->balance),
        .heel_load_N = rest->balance.heel,
        .device_load_N = rest->balance.device,
        .hinge_height_m = u[U_HEIGHT] + (first->hinge_x - model->heel_x) * sin(u[U_PITCH]) +
                          (first->hinge_z - talus_sink) * cos(u[U_PITCH]) + u[U_ROLL] * first->y,
        .roll_rad = u[U_ROLL],
        .residual = rest->residual,
        .iterations = rest->iterations,
    };
    for (int i = 0; i < RAYS; i++) {
        out->head_load_N[i] = rest->balance.head[i];
        out->flattening_rad[i] = u[U_RAY + i];
    }
}

hw_status hw_mech_stand(hw_job *job, const hw_mech_subject *subject, const hw_mech_tissue *tissue,
                        const hw_mech_still *still, const hw_mech_change *change,
                        hw_mech_still_result *out)
{
    hw_mech_change none = hw_mech_change_none("");
    if (!change) change = &none;
    HW_TRY(hw_mech_check(job, subject));
    HW_TRY(hw_mech_check_change(job, change));
    if (!(still->load_N >= 1.0 && still->load_N <= 5000.0))
        return hw_fail(job, HW_BAD_INPUT, "a foot under %.4g N; the load model takes 1 to 5000 N",
                       still->load_N);
    if (!(still->achilles_N >= 0.0 && still->achilles_N <= 3.0 * still->load_N))
        return hw_fail(job, HW_BAD_INPUT,
                       "an Achilles force of %.4g N; the load model takes 0 to 3 times the load",
                       still->achilles_N);
    hw_mech_view view = hw_mech_view_plain(subject);
    hw_mech_model model = hw_mech_model_build(&view, tissue);
    walk_setup setup = set_up(&view, change);
    hw_mech_case load = {
        .force_z = still->load_N,
        .pressure_x = model.ankle_x + still->achilles_N * model.achilles_arm / still->load_N, // CoP
        .toe_share = still->toe_share,
        .toe_extension =
            still->toe_extension_rad - (1.0 - tissue->raise_to_toes) * setup.heel_pitch,
        .heel_ground = setup.heel_raise,
    };
    load.talus_sink = sink_of(&model, still->load_N, view.mass * HW_STANDARD_GRAVITY);
    put_change(change, &load);
    hw_mech_rest rest = {.u = {setup.heel_raise - 0.004, -setup.heel_pitch}};
    if (!hw_mech_settle(&model, &load, &rest))
        return hw_fail(job, HW_NO_ANSWER, "the foot did not come to rest: residual %.2g",
                       rest.residual);
    read_still(&model, load.talus_sink, &rest, out);
    return HW_OK;
}
