// SPDX-License-Identifier: GPL-3.0-or-later
// Forces and moments on the foot at one state, with their exact Jacobian. The equations stand in
// docs/mechanics.md 3; symbols as there.
#include "dual.h"
#include "mech_internal.h"

// Pads, N and m: whole heel 80 (e^(d/4 mm) - 1); a head 20 w (e^(d/2.2 mm) - 1). A proposal that
// puts 200 N at 5 mm and 780 N at 9.5 mm of heel squash.
static const double heel_force = 80.0, heel_depth = 0.004, heel_half_width = 0.012;
static const double head_force = 20.0, head_depth = 0.0022;
// Arch tissue in series with a shell's patch.
static const double arch_force = 12.0, arch_depth = 0.0035;
static const double toe_force = 16.0;      // of all toes' pads at their e-fold depth; a proposal, N
static const double coupling = 20e3;       // between neighbouring heads, N/m
static const double roll_stiffness = 40.0; // subtalar, N m/rad
static const double ligament_linear = 0.06; // share of the ligament spring that acts from zero
static const double ligament_free = HW_PI / 180.0;
static const double joint_stop = 2000.0; // N m/rad2
static const double flexor_share = 0.8;  // of the toe moment, and of the fascia's arm
// Fresh arch tape as one tie per ray at skin level; total 60 N and 30 N/mm.
static const double tape_force = 60.0, tape_stiffness = 30e3, tape_below = 0.008;
static const double moment_scale = 0.1; // m: moments are compared as forces at this arm

// A sum over the whole foot with its gradient in all unknowns.
typedef struct total {
    double v;
    double g[UNKNOWNS];
} total;

static inline void add(total *sum, dual part, int ray, double factor)
{
    sum->v += factor * part.v;
    sum->g[U_HEIGHT] += factor * part.by_z;
    sum->g[U_PITCH] += factor * part.by_pitch;
    sum->g[U_ROLL] += factor * part.by_roll;
    sum->g[U_RAY + ray] += factor * part.by_flattening;
    sum->g[U_TOES] += factor * part.by_toes;
}

// What is the same for all rays at one state.
typedef struct stage {
    const hw_mech_model *model;
    const hw_mech_case *load;
    dual z, pitch, roll;
    double sin_pitch, cos_pitch;
    dual toe_share;
    double friction;   // forward force per newton of load
    double pad_behind; // the heads' pads behind the heads, m
    total load_sum, moment_x, moment_y;
    total head_x, head_rise; // means over the rays
} stage;

static double pad_offset(const hw_mech_model *model, const hw_mech_case *load)
{
    // The pad's contact begins behind the head and rolls under it from 2 to 12 degrees of pitch.
    double pitch = load->is_heel_off ? hw_deg_from_rad(load->pitch) : 0.0;
    double part = fmin(1.0, fmax(0.0, 1.0 - (pitch - 2.0) / 10.0));
    return model->tissue.contact_offset * model->length * part;
}

// A point of the hindfoot that lies at (x, z) in the scan pose. Roll is added where it counts.
static dual hind_x(const stage *at, double x, double z)
{
    double from_heel = x - at->model->heel_x, s = at->sin_pitch, c = at->cos_pitch;
    return (dual){.v = at->model->heel_x + c * from_heel - s * z,
                  .by_pitch = -s * from_heel - c * z};
}

static dual hind_z(const stage *at, double x, double z)
{
    double from_heel = x - at->model->heel_x, s = at->sin_pitch, c = at->cos_pitch;
    return (dual){
        .v = at->z.v + s * from_heel + c * z, .by_z = 1.0, .by_pitch = c * from_heel - s * z};
}

static void set_stage(stage *at, const hw_mech_model *model, const hw_mech_case *load,
                      const double *u)
{
    *at = (stage){
        .model = model, .load = load, .sin_pitch = sin(u[U_PITCH]), .cos_pitch = cos(u[U_PITCH])};
    at->z = (dual){.v = u[U_HEIGHT], .by_z = 1.0};
    at->pitch = (dual){.v = u[U_PITCH], .by_pitch = 1.0};
    at->roll = (dual){.v = u[U_ROLL], .by_roll = 1.0};
    at->toe_share =
        load->is_heel_off ? (dual){.v = u[U_TOES], .by_toes = 1.0} : dual_constant(load->toe_share);
    at->friction = load->force_x / load->force_z;
    at->pad_behind = pad_offset(model, load);
}

/// N exponential in depth, 0 where there is no contact.
static dual pad(dual depth, double force, double scale)
{
    if (depth.v <= 0.0) return dual_constant(0.0);
    double grown = force * exp(depth.v / scale);
    return dual_chain(depth, grown - force, grown / scale);
}

static void press_heel(stage *at, hw_mech_balance *out)
{
    for (int side = -1; side <= 1; side += 2) {
        double y = side * heel_half_width;
        double ground = at->load->heel_ground + at->load->heel_wedge * y;
        dual depth = dual_shift(dual_mix(at->z, -1.0, at->roll, -y), ground);
        dual force = pad(depth, 0.5 * heel_force, heel_depth + at->load->heel_give);
        out->heel += force.v;
        add(&at->load_sum, force, 0, 1.0);
        add(&at->moment_x, force, 0, at->model->heel_x);
        add(&at->moment_y, force, 0, y);
    }
}

// Arch tissue and shell in series, pressed together by `depth`: each takes the same force.
static dual patch_force(dual depth, double shell)
{
    if (depth.v <= 0.0) return dual_constant(0.0);
    double x = depth.v; // the tissue's part of the depth; convex, so Newton from above is monotone
    double grown = 0.0;
    for (int i = 0; i < 60; i++) {
        grown = arch_force * exp(x / arch_depth);
        double step =
            (x + (grown - arch_force) / shell - depth.v) / (1.0 + grown / (arch_depth * shell));
        x -= step;
        if (fabs(step) < 1e-13) break;
    }
    double tissue = grown / arch_depth; // N/m
    return dual_chain(depth, grown - arch_force, 1.0 / (1.0 / shell + 1.0 / tissue));
}

// A ray at this state. Heights without roll unless said.
typedef struct ray_state {
    dual hinge_x, hinge_z;
    double sin_flat, cos_flat; // of the flattening
    double sin_turn, cos_turn; // of the ray against the scan pose: pitch and flattening
    dual head_x, head_z;
    dual rise; // of the head against the scan pose, with roll
    dual flattening;
    dual slip;   // its length with the toes level with the floor
    dual arm;    // of the slip about the hinge
    dual moment; // flattening +, about the hinge, N m
} ray_state;

typedef struct toe_state {
    dual angle;   // against the floor, up +
    dual force;   // of the floor
    dual tension; // of the slip that ends in it
} toe_state;

// A point of a ray that lies (dx, dz) from its hinge in the scan pose.
static dual ray_x(const ray_state *r, double dx, double dz)
{
    dual x = r->hinge_x;
    double by_turn = -r->sin_turn * dx - r->cos_turn * dz;
    x.v += r->cos_turn * dx - r->sin_turn * dz;
    x.by_pitch += by_turn;
    x.by_flattening = by_turn;
    return x;
}

static dual ray_z(const ray_state *r, double dx, double dz)
{
    dual z = r->hinge_z;
    double by_turn = r->cos_turn * dx - r->sin_turn * dz;
    z.v += r->sin_turn * dx + r->cos_turn * dz;
    z.by_pitch += by_turn;
    z.by_flattening = by_turn;
    return z;
}

// The talus carries the medial rays down with it.
double hw_mech_hinge_drop(const hw_mech_case *load, int i)
{
    static const double part[RAYS] = {1.0, 1.0, 0.7, 0.0, 0.0};
    return part[i] * load->talus_sink;
}

// Height of a hinge in the hindfoot's frame.
static double hinge_height(const stage *at, int i)
{
    return at->model->ray[i].hinge_z - hw_mech_hinge_drop(at->load, i);
}

static ray_state place_ray(const stage *at, const double *u, int i)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    double dx = ray->head_x - ray->hinge_x, dz = ray->head_z - ray->hinge_z;
    double height = hinge_height(at, i);
    ray_state r = {.hinge_x = hind_x(at, ray->hinge_x, height),
                   .hinge_z = hind_z(at, ray->hinge_x, height),
                   .flattening = {.v = u[U_RAY + i], .by_flattening = 1.0}};
    r.sin_flat = sin(u[U_RAY + i]);
    r.cos_flat = cos(u[U_RAY + i]);
    r.sin_turn = at->sin_pitch * r.cos_flat + at->cos_pitch * r.sin_flat;
    r.cos_turn = at->cos_pitch * r.cos_flat - at->sin_pitch * r.sin_flat;
    r.head_x = ray_x(&r, dx, dz);
    r.head_z = ray_z(&r, dx, dz);
    r.rise = dual_shift(dual_mix(r.head_z, 1.0, at->roll, ray->y), -ray->head_z);
    return r;
}

// A slip runs straight from the heel to the lower tangent of the head's circle, then along the arc
// to the toe: dl/d(toe extension) is the radius. In the hindfoot's frame the line depends on the
// ray's flattening alone; the pitch only turns the toes against it.
static void run_slip(const stage *at, ray_state *r, int i)
{
    const hw_mech_model *model = at->model;
    const hw_mech_ray *ray = &model->ray[i];
    double radius = ray->windlass_radius, s = r->sin_flat, c = r->cos_flat;
    double bone_x = ray->head_x - ray->hinge_x, bone_z = ray->head_z - ray->hinge_z;
    double turned_x = c * bone_x - s * bone_z, turned_z = s * bone_x + c * bone_z;
    double hinge_x = ray->hinge_x - model->origin_x;
    double hinge_z = hinge_height(at, i) - model->origin_z;
    double dx = hinge_x + turned_x, dz = hinge_z + turned_z;
    double square = dx * dx + dz * dz, straight = sqrt(square - radius * radius);
    double straight_by = (dz * turned_x - dx * turned_z) / straight; // by the flattening
    // Direction of the tangent: the centre's turned back by the angle whose tangent is
    // radius / straight.
    double up = (dz * straight - dx * radius) / square;
    double along = (dx * straight + dz * radius) / square;
    double slope = atan(up / along); // the heads lie before the heel: along > 0
    double slope_by = (dx * turned_x + dz * turned_z + radius * straight_by) / square;
    r->slip = (dual){.v = straight - radius * (slope + at->pitch.v),
                     .by_pitch = -radius,
                     .by_flattening = straight_by - radius * slope_by};
    r->arm = (dual){.v = hinge_z * along - hinge_x * up,
                    .by_flattening = -(hinge_z * up + hinge_x * along) * slope_by};
}

static double slip_slope(const hw_mech_ray *ray, double length)
{
    double over = length - ray->slip_slack;
    if (over <= 0.0) return 0.0;
    return over < ray->slip_toe ? ray->slip_N_per_m * over / ray->slip_toe : ray->slip_N_per_m;
}

static dual slip_tension(const hw_mech_ray *ray, dual length)
{
    return dual_chain(length, hw_mech_slip_tension(ray, length.v), slip_slope(ray, length.v));
}

// Toes whose angle is given. Until the heel rises they carry next to nothing and follow a foot that
// tips back.
static void hold_toe(const stage *at, const ray_state *r, int i, toe_state *toe)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    bool follows = !at->load->is_heel_off && at->pitch.v > 0.0;
    toe->angle = dual_shift(follows ? at->pitch : dual_constant(0.0), at->load->toe_extension);
    toe->force = dual_scale(at->toe_share, at->load->force_z * ray->toe_load_part);
    toe->tension = slip_tension(ray, dual_mix(r->slip, 1.0, toe->angle, ray->windlass_radius));
}

// A toe free to turn about its head: the floor under its pad lifts it, slip and joint press it down.
// All three only press harder as it is lifted, so the angle is the one root of a falling function.
static void rest_toe(const stage *at, const ray_state *r, int i, toe_state *toe)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    double lever = ray->toe_lever, radius = ray->windlass_radius;
    double joint = at->model->tissue.past.toe_joint_Nm_rad * ray->toe_load_part;
    double toe_depth = at->model->tissue.past.toe_give_m;
    double rest = at->pitch.v + r->flattening.v; // as in the scan, against the ray
    double low = -1.0, high = 1.5, t = rest, slope = -1.0;
    dual depth, force, tension;
    for (int k = 0; k < 60; k++) {
        depth = dual_shift(dual_scale(r->rise, -1.0), at->load->wedge * ray->y - lever * sin(t));
        force = pad(depth, toe_force * ray->toe_load_part, toe_depth);
        tension = slip_tension(ray, dual_shift(r->slip, radius * t));
        double over =
            lever * cos(t) * force.v - (tension.v - ray->slip_rest) * radius - joint * (t - rest);
        double stiff = force.v > 0.0 ? (force.v + toe_force * ray->toe_load_part) / toe_depth : 0.0;
        double pull = tension.v > 0.0 ? slip_slope(ray, r->slip.v + radius * t) : 0.0;
        slope = -lever * sin(t) * force.v - lever * lever * cos(t) * cos(t) * stiff -
                radius * radius * pull - joint;
        if (fabs(over) < 1e-12) break;
        *(over > 0.0 ? &low : &high) = t;
        double next = t - over / slope;
        t = next > low && next < high ? next : 0.5 * (low + high);
    }
    // Whatever moves the foot moves the root: implicit differentiation.
    dual by = dual_mix(force, lever * cos(t), tension, -radius);
    by = dual_add(by, dual_scale(dual_add(at->pitch, r->flattening), joint));
    toe->angle = dual_scale(by, -1.0 / slope);
    toe->angle.v = t;
    double stiff = force.v > 0.0 ? (force.v + toe_force * ray->toe_load_part) / toe_depth : 0.0;
    double pressed = force.v;
    toe->force = dual_mix(force, 1.0, toe->angle, -lever * cos(t) * stiff);
    toe->force.v = pressed;
    toe->tension = slip_tension(ray, dual_mix(r->slip, 1.0, toe->angle, radius));
}

/// Moment of ligaments and joint surfaces against flattening q, N m.
static dual ligament_moment(const hw_mech_tissue *tissue, double k, dual q)
{
    double m = ligament_linear * k * q.v, slope = ligament_linear * k;
    if (q.v > 0.0) {
        bool is_free = q.v < ligament_free;
        m += k * (is_free ? q.v * q.v / (2.0 * ligament_free) : q.v - 0.5 * ligament_free);
        slope += k * (is_free ? q.v / ligament_free : 1.0);
        m += k * q.v * q.v / (2.0 * tissue->stiffening_rad);
        slope += k * q.v / tissue->stiffening_rad;
    } else if (q.v < -tissue->dorsal_free_rad) {
        double beyond = q.v + tissue->dorsal_free_rad; // negative
        m += k * tissue->dorsal_share * beyond;
        slope += k * tissue->dorsal_share;
        // Then the joints' dorsal edges meet: short and steep, as no walking foot is seen to pass it.
        m -= joint_stop * beyond * beyond;
        slope -= 2.0 * joint_stop * beyond;
    }
    return dual_chain(q, m, slope);
}

// Ground under head and toes: adds to the sums, returns the flattening moment about the hinge.
static dual ground_moment(stage *at, const ray_state *r, int i, dual toe, hw_mech_balance *out)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    dual depth = dual_shift(dual_scale(r->rise, -1.0), at->load->wedge * ray->y);
    dual head = pad(depth, head_force * ray->pad_weight, head_depth);
    dual contact_x = dual_shift(r->head_x, -at->pad_behind);
    dual toe_x = dual_shift(r->head_x, ray->toe_lever);
    dual both = dual_add(head, toe);
    add(&at->load_sum, both, i, 1.0);
    add(&at->moment_x, dual_add(dual_mul(head, contact_x), dual_mul(toe, toe_x)), i, 1.0);
    add(&at->moment_y, both, i, ray->y);
    out->head[i] = head.v;
    out->toes += toe.v;
    dual hinge_height = dual_mix(r->hinge_z, 1.0, at->roll, ray->y);
    dual moment = dual_scale(dual_mul(both, hinge_height), at->friction);
    moment = dual_add(moment, dual_mul(head, dual_sub(contact_x, r->hinge_x)));
    return dual_add(moment, dual_mul(toe, dual_sub(toe_x, r->hinge_x)));
}

// One patch of the device: adds to the sums, and its moment to the ray it pushes on.
static void press_patch(stage *at, const hw_mech_patch *patch, ray_state *rays,
                        hw_mech_balance *out)
{
    dual x, z;
    double ray_y = 0.0;
    int i = patch->ray < 0 ? 0 : patch->ray;
    if (patch->ray < 0) {
        x = hind_x(at, patch->x, patch->z);
        z = hind_z(at, patch->x, patch->z);
    } else {
        const hw_mech_ray *ray = &at->model->ray[i];
        double dx = patch->x - ray->hinge_x, dz = patch->z - ray->hinge_z;
        x = ray_x(&rays[i], dx, dz);
        z = ray_z(&rays[i], dx, dz);
        ray_y = ray->y;
    }
    HW_ASSERT(patch->ray < 0 || fabs(patch->y - ray_y) < 1e-9); // a ray's patch lies under it
    // A shell rides on a raise under the heel, down to nothing at the ball.
    const hw_mech_model *model = at->model;
    double ride = (model->ball_x - patch->x) / (model->ball_x - model->heel_x);
    double top = patch->z + at->load->arch_fill + ride * at->load->heel_ground;
    dual depth = dual_shift(dual_mix(z, -1.0, at->roll, -patch->y), top);
    dual force = patch_force(depth, at->load->shell_N_per_m);
    out->device += force.v;
    add(&at->load_sum, force, i, 1.0);
    add(&at->moment_x, dual_mul(force, x), i, 1.0);
    add(&at->moment_y, force, i, patch->y);
    if (patch->ray < 0) return;
    dual lever = dual_sub(x, rays[i].hinge_x);
    rays[i].moment = dual_add(rays[i].moment, dual_mul(force, lever));
}

// A shell in a shoe at push-off. Its front edge stands on the sole just behind the heads, its heel end
// hangs on the shoe, which holds the heel into its seat with `seat_N`: so the shell turns with the
// line from heel to heads, and what it pushes at the arch it takes off the seat. It can push only
// until the seat is bare. Depths and levers are taken along and across the shell.
static void press_carried(stage *at, const hw_mech_patch *patch, ray_state *rays,
                          hw_mech_balance *out)
{
    const hw_mech_model *model = at->model;
    int i = patch->ray < 0 ? 0 : patch->ray;
    const hw_mech_ray *ray = &model->ray[i];
    double s = sin(at->load->pitch), c = cos(at->load->pitch);
    double dx = patch->x - ray->hinge_x, dz = patch->z - ray->hinge_z;
    dual x = patch->ray < 0 ? hind_x(at, patch->x, patch->z) : ray_x(&rays[i], dx, dz);
    dual z = patch->ray < 0 ? hind_z(at, patch->x, patch->z) : ray_z(&rays[i], dx, dz);
    dual over = dual_mix(dual_shift(x, -model->heel_x), s, dual_sub(z, at->z), c);
    dual depth = dual_shift(dual_scale(over, -1.0), patch->z + at->load->arch_fill);
    dual force = patch_force(depth, at->load->shell_N_per_m);
    double front = 0.63 * model->length, whole = front - model->heel_x;
    double most = model->tissue.past.seat_N * whole / (front - patch->x) / PATCHES;
    double part = tanh(force.v / most);
    force = dual_chain(force, most * part, 1.0 - part * part);
    out->device += force.v;
    // Up at the arch; less at the heel, where the seat no longer pushes but the shoe still pulls.
    double off_seat = (front - patch->x) / whole;
    add(&at->load_sum, force, i, c * (1.0 - off_seat));
    add(&at->moment_x, dual_mul(force, x), i, c);
    add(&at->moment_x, force, i, -c * off_seat * model->heel_x);
    add(&at->moment_y, force, i, c * patch->y);
    if (patch->ray < 0) return;
    dual lever = dual_mix(dual_sub(x, rays[i].hinge_x), c, dual_sub(z, rays[i].hinge_z), -s);
    rays[i].moment = dual_add(rays[i].moment, dual_mul(force, lever));
}

// Moment that ties, joints, muscles and tape hold against flattening.
static dual holding_moment(const stage *at, const ray_state *r, int i, const toe_state *toe)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    dual tension = toe->tension, arm = r->arm;
    dual held = dual_shift(dual_mul(tension, arm), -ray->rest_moment);
    held = dual_add(held, ligament_moment(&at->model->tissue, ray->ligament, r->flattening));
    held = dual_add(held, dual_scale(dual_positive(r->moment), at->load->muscle));
    if (at->load->is_heel_off) {
        // Tendons that carry the toes cross the arch, so toe load does not simply flatten it.
        double radius = ray->windlass_radius;
        dual flexor = dual_mix(toe->force, ray->toe_lever / radius, tension, -1.0);
        flexor = dual_scale(dual_positive(flexor), flexor_share);
        held = dual_add(held, dual_scale(dual_mul(flexor, arm), flexor_share));
    }
    if (at->load->tape_hold > 0.0) {
        dual tape_arm = dual_shift(arm, tape_below);
        dual pull =
            dual_shift(dual_scale(dual_mul(tape_arm, r->flattening), tape_stiffness), tape_force);
        pull = dual_scale(dual_positive(pull), at->load->tape_hold / RAYS);
        held = dual_add(held, dual_mul(pull, tape_arm));
    }
    return held;
}

static void put_row(hw_mech_balance *out, int row, const total *sum, double scale)
{
    out->residual[row] = sum->v / scale;
    for (int j = 0; j < out->count; j++) out->jacobian[row * out->count + j] = sum->g[j] / scale;
}

// Moment balance of ray i about its hinge, with the neighbours' pull on its head.
static void balance_ray(const stage *at, const ray_state *rays, int i, dual held,
                        hw_mech_balance *out)
{
    const ray_state *r = &rays[i];
    total row = {0};
    add(&row, r->moment, i, 1.0);
    add(&row, held, i, -1.0);
    dual lever = dual_sub(r->head_x, r->hinge_x);
    for (int j = i - 1; j <= i + 1; j += 2) {
        if (j < 0 || j >= RAYS) continue;
        double gap = rays[j].rise.v - r->rise.v;
        add(&row, lever, i, coupling * gap);
        row.v -= coupling * gap * lever.v; // counted once: the next two lines carry the value
        add(&row, rays[j].rise, j, coupling * lever.v);
        add(&row, r->rise, i, -coupling * lever.v);
    }
    put_row(out, U_RAY + i, &row, moment_scale * at->load->force_z);
}

// Heel on: centre of pressure. Heel off: pitch of the line from heel to heads, and the centre of
// pressure with the heads held where they stand on the floor.
static void balance_length(stage *at, hw_mech_balance *out)
{
    double load = at->load->force_z, want = load * at->load->pressure_x;
    if (!at->load->is_heel_off) {
        at->moment_x.v -= want;
        put_row(out, 1, &at->moment_x, moment_scale * load);
        return;
    }
    total line = {0};
    double x = at->head_x.v - at->model->heel_x, z = -at->head_rise.v + at->z.v;
    double square = x * x + z * z;
    line.v = atan2(z, x) - at->load->pitch;
    for (int j = 0; j < UNKNOWNS; j++) {
        double dz = (j == U_HEIGHT ? 1.0 : 0.0) - at->head_rise.g[j];
        line.g[j] = (x * dz - z * at->head_x.g[j]) / square;
    }
    put_row(out, 1, &line, 1.0);
    if (at->load->are_toes_idle) {
        total idle = {.v = at->toe_share.v, .g = {[U_TOES] = 1.0}};
        put_row(out, U_TOES, &idle, 1.0);
        return;
    }
    double shift = -at->head_x.v;
    for (int i = 0; i < RAYS; i++) shift += at->model->ray[i].head_x / RAYS;
    total moment = at->moment_x;
    moment.v += shift * at->load_sum.v - want;
    for (int j = 0; j < UNKNOWNS; j++)
        moment.g[j] += shift * at->load_sum.g[j] - at->head_x.g[j] * at->load_sum.v;
    put_row(out, U_TOES, &moment, moment_scale * load);
}

void hw_mech_balance_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                        hw_mech_balance *out)
{
    stage at;
    ray_state rays[RAYS];
    toe_state toes[RAYS];
    *out = (hw_mech_balance){.count = load->is_heel_off ? UNKNOWNS : UNKNOWNS - 1};
    set_stage(&at, model, load, u);
    press_heel(&at, out);
    for (int i = 0; i < RAYS; i++) {
        rays[i] = place_ray(&at, u, i);
        run_slip(&at, &rays[i], i);
        (load->are_toes_free ? rest_toe : hold_toe)(&at, &rays[i], i, &toes[i]);
        rays[i].moment = ground_moment(&at, &rays[i], i, toes[i].force, out);
        out->slip[i] = toes[i].tension.v;
        add(&at.head_x, rays[i].head_x, i, 1.0 / RAYS);
        add(&at.head_rise, rays[i].rise, i, 1.0 / RAYS);
    }
    bool is_carried = load->is_heel_off && model->tissue.past.seat_N > 0.0;
    for (int p = 0; load->has_device && p < PATCHES; p++)
        if (is_carried)
            press_carried(&at, &model->patch[p], rays, out);
        else if (!load->is_heel_off)
            press_patch(&at, &model->patch[p], rays, out);
    for (int i = 0; i < RAYS; i++)
        balance_ray(&at, rays, i, holding_moment(&at, &rays[i], i, &toes[i]), out);
    out->toe_angle = toes[0].angle.v;
    balance_length(&at, out);
    at.load_sum.v -= load->force_z;
    at.moment_y.v -= load->force_z * load->pressure_y + roll_stiffness * u[U_ROLL];
    at.moment_y.g[U_ROLL] -= roll_stiffness;
    put_row(out, 0, &at.load_sum, load->force_z);
    put_row(out, 2, &at.moment_y, moment_scale * load->force_z);
}
