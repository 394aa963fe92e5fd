// SPDX-License-Identifier: GPL-3.0-or-later
// Forces and moments on the foot at one state, with their exact Jacobian. The equations stand in
// docs/mechanics.md 1; symbols as there.
#include "dual.h"
#include "mech_internal.h"

// Pads, N and m: whole heel 80 (e^(d/4 mm) - 1); a head 20 w (e^(d/2.2 mm) - 1). A proposal that
// puts 200 N at 5 mm and 780 N at 9.5 mm of heel squash.
static const double heel_force = 80.0, heel_depth = 0.004, heel_half_width = 0.012;
static const double head_force = 20.0, head_depth = 0.0022;
// Arch tissue in series with a shell's patch.
static const double arch_force = 12.0, arch_depth = 0.0035;
static const double coupling = 20e3;        // between neighbouring heads, N/m
static const double roll_stiffness = 40.0;  // subtalar, N m/rad
static const double ligament_linear = 0.06; // share of the ligament spring that acts from zero
static const double ligament_free = HW_PI / 180.0;
static const double joint_stop = 2000.0; // N m/rad2
static const double flexor_share = 0.8;  // of the toe moment, and of the fascia's arm
// Fresh arch tape as one tie per ray at skin level; total 60 N and 30 N/mm.
static const double tape_force = 60.0, tape_stiffness = 30e3, tape_below = 0.008;
static const double moment_scale = 0.1; // m: moments are compared as forces at this arm

// A sum over the whole foot with its gradient in all unknowns.
typedef struct total {
    double v, by_z, by_pitch, by_roll, by_toes;
    double by_flattening[RAYS];
} total;

static inline void add(total *sum, dual part, int ray, double factor)
{
    sum->v += factor * part.v;
    sum->by_z += factor * part.by_z;
    sum->by_pitch += factor * part.by_pitch;
    sum->by_roll += factor * part.by_roll;
    sum->by_toes += factor * part.by_toes;
    sum->by_flattening[ray] += factor * part.by_flattening;
}

// A force times a lever that lies in the plane of its ray.
static inline void add_turned(total *sum, dual force, bend lever, int ray)
{
    add(sum, force, ray, lever.v);
    sum->by_pitch += force.v * lever.by_pitch;
    sum->by_flattening[ray] += force.v * lever.by_flattening;
}

// What is the same for all rays at one state.
typedef struct stage {
    const hw_mech_model *model;
    const hw_mech_case *load;
    double z, pitch, roll;
    double sin_pitch, cos_pitch;
    double toe_share, toe_share_by_toes;
    double friction;   // forward force per newton of load
    double pad_behind; // the heads' pads behind the heads, m
    total load_sum, moment_x, moment_y;
} stage;

static double pad_offset(const hw_mech_model *model, const hw_mech_case *load)
{
    // The pad's contact begins behind the head and rolls under it from 2 to 12 degrees of pitch.
    double pitch = load->is_heel_off ? hw_deg_from_rad(load->pitch) : 0.0;
    double part = fmin(1.0, fmax(0.0, 1.0 - (pitch - 2.0) / 10.0));
    return model->tissue.contact_offset * model->length * part;
}

// A point of the hindfoot that lies at (x, z) in the scan pose. Heights rise with the heel's and with
// roll besides, slopes 1 and y, which is added where it counts.
static inline bend hind_x(const stage *at, double x, double z)
{
    double from_heel = x - at->model->heel_x, s = at->sin_pitch, c = at->cos_pitch;
    return (bend){at->model->heel_x + c * from_heel - s * z, -s * from_heel - c * z, 0.0};
}

static inline bend hind_z(const stage *at, double x, double z)
{
    double from_heel = x - at->model->heel_x, s = at->sin_pitch, c = at->cos_pitch;
    return (bend){at->z + s * from_heel + c * z, c * from_heel - s * z, 0.0};
}

static void set_stage(stage *at, const hw_mech_model *model, const hw_mech_case *load,
                      const double *u)
{
    at->model = model;
    at->load = load;
    at->z = u[U_HEIGHT];
    at->pitch = u[U_PITCH];
    at->roll = u[U_ROLL];
    at->sin_pitch = sin(u[U_PITCH]);
    at->cos_pitch = cos(u[U_PITCH]);
    at->toe_share = load->is_heel_off ? u[U_TOES] : load->toe_share;
    at->toe_share_by_toes = load->is_heel_off ? 1.0 : 0.0;
    at->friction = load->force_x / load->force_z;
    at->pad_behind = pad_offset(model, load);
    at->load_sum = at->moment_x = at->moment_y = (total){0};
}

// How deep a point sinks below a ground: height `z` of the ray's plane, roll at `y`.
static inline dual depth_of(const stage *at, bend z, double y, double ground)
{
    return (dual){.v = ground - z.v - at->roll * y,
                  .by_z = -1.0,
                  .by_pitch = -z.by_pitch,
                  .by_roll = -y,
                  .by_flattening = -z.by_flattening};
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
    out->heel = 0.0;
    for (int side = -1; side <= 1; side += 2) {
        double y = side * heel_half_width;
        double ground = at->load->heel_ground + at->load->heel_wedge * y;
        dual force = pad(depth_of(at, (bend){.v = at->z}, y, ground), 0.5 * heel_force,
                         heel_depth + at->load->heel_give);
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
    // The tissue's part of the depth, from above: convex, so Newton is monotone.
    double x = fmin(depth.v, arch_depth * log1p(shell * depth.v / arch_force));
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

// A ray at this state. Heights without roll.
typedef struct ray_state {
    bend hinge_x, hinge_z;
    double sin_flat, cos_flat; // of the flattening
    double sin_turn, cos_turn; // of the ray against the scan pose: pitch and flattening
    double flattening;
    bend head_x, rise; // the rise against the scan pose
    bend slip;         // its length with the toes level with the floor
    bend arm;          // of the slip about the hinge
    dual moment;       // flattening +, about the hinge, N m
} ray_state;

typedef struct toe_state {
    dual angle;   // against the floor, up +
    dual force;   // of the floor
    dual tension; // of the slip that ends in it
} toe_state;

static inline void add_moment(ray_state *r, dual force, bend lever)
{
    dual *m = &r->moment;
    *m = dual_mix(*m, 1.0, force, lever.v);
    m->by_pitch += force.v * lever.by_pitch;
    m->by_flattening += force.v * lever.by_flattening;
}

// A point of a ray that lies (dx, dz) from its hinge in the scan pose.
static inline bend ray_x(const ray_state *r, double dx, double dz)
{
    double by_turn = -r->sin_turn * dx - r->cos_turn * dz;
    return (bend){r->hinge_x.v + r->cos_turn * dx - r->sin_turn * dz, r->hinge_x.by_pitch + by_turn,
                  by_turn};
}

static inline bend ray_z(const ray_state *r, double dx, double dz)
{
    double by_turn = r->cos_turn * dx - r->sin_turn * dz;
    return (bend){r->hinge_z.v + r->sin_turn * dx + r->cos_turn * dz, r->hinge_z.by_pitch + by_turn,
                  by_turn};
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

static void place_ray(const stage *at, const double *u, int i, ray_state *r)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    double dx = ray->head_x - ray->hinge_x, dz = ray->head_z - ray->hinge_z;
    double height = hinge_height(at, i);
    r->hinge_x = hind_x(at, ray->hinge_x, height);
    r->hinge_z = hind_z(at, ray->hinge_x, height);
    r->flattening = u[U_RAY + i];
    r->sin_flat = sin(r->flattening);
    r->cos_flat = cos(r->flattening);
    r->sin_turn = at->sin_pitch * r->cos_flat + at->cos_pitch * r->sin_flat;
    r->cos_turn = at->cos_pitch * r->cos_flat - at->sin_pitch * r->sin_flat;
    r->head_x = ray_x(r, dx, dz);
    r->rise = ray_z(r, dx, dz);
    r->rise.v -= ray->head_z;
    r->moment = dual_constant(0.0);
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
    double part = 1.0 / square;
    double up = (dz * straight - dx * radius) * part;
    double along = (dx * straight + dz * radius) * part;
    double slope = atan(up / along); // the heads lie before the heel: along > 0
    double slope_by = (dx * turned_x + dz * turned_z + radius * straight_by) * part;
    r->slip =
        (bend){straight - radius * (slope + at->pitch), -radius, straight_by - radius * slope_by};
    r->arm =
        (bend){hinge_z * along - hinge_x * up, 0.0, -(hinge_z * up + hinge_x * along) * slope_by};
}

static double slip_slope(const hw_mech_ray *ray, double length)
{
    double over = length - ray->slip_slack;
    if (over <= 0.0) return 0.0;
    return over < ray->slip_toe ? ray->slip_N_per_m * over / ray->slip_toe : ray->slip_N_per_m;
}

// Toes whose angle is given. Until the heel rises they carry next to nothing and follow a foot that
// tips back.
static inline void hold_toe(const stage *at, const ray_state *r, int i, toe_state *toe)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    bool follows = !at->load->is_heel_off && at->pitch > 0.0;
    double angle = at->load->toe_extension + (follows ? at->pitch : 0.0);
    double part = at->load->force_z * ray->toe_load_part;
    double length = r->slip.v + ray->windlass_radius * angle, slope = slip_slope(ray, length);
    toe->angle = (dual){.v = angle, .by_pitch = follows ? 1.0 : 0.0};
    toe->force = (dual){.v = part * at->toe_share, .by_toes = part * at->toe_share_by_toes};
    toe->tension =
        (dual){.v = hw_mech_slip_tension(ray, length),
               .by_pitch = slope * (r->slip.by_pitch + (follows ? ray->windlass_radius : 0.0)),
               .by_flattening = slope * r->slip.by_flattening};
}

/// Moment of ligaments and joint surfaces against flattening q, N m, and its slope.
static double ligament_moment(const hw_mech_tissue *tissue, double k, double q, double *by_q)
{
    double m = ligament_linear * k * q, slope = ligament_linear * k;
    if (q > 0.0) {
        bool is_free = q < ligament_free;
        m += k * (is_free ? q * q / (2.0 * ligament_free) : q - 0.5 * ligament_free);
        slope += k * (is_free ? q / ligament_free : 1.0);
        m += k * q * q / (2.0 * tissue->stiffening_rad);
        slope += k * q / tissue->stiffening_rad;
    } else if (q < -tissue->dorsal_free_rad) {
        double beyond = q + tissue->dorsal_free_rad; // negative
        m += k * tissue->dorsal_share * beyond;
        slope += k * tissue->dorsal_share;
        // Then the joints' dorsal edges meet: short and steep, as no walking foot is seen to pass it.
        m -= joint_stop * beyond * beyond;
        slope -= 2.0 * joint_stop * beyond;
    }
    *by_q = slope;
    return m;
}

static inline bend minus(bend a, bend b)
{
    return (bend){a.v - b.v, a.by_pitch - b.by_pitch, a.by_flattening - b.by_flattening};
}

// Ground under head and toes: adds to the sums and to the moment about the hinge.
static void press_ray(stage *at, ray_state *r, int i, const toe_state *toe, hw_mech_balance *out)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    dual head = pad(depth_of(at, r->rise, ray->y, at->load->wedge * ray->y),
                    head_force * ray->pad_weight, head_depth);
    bend contact_x = r->head_x, toe_x = r->head_x, height = r->hinge_z;
    contact_x.v -= at->pad_behind;
    toe_x.v += ray->toe_lever;
    dual both = dual_add(head, toe->force);
    add(&at->load_sum, both, i, 1.0);
    add_turned(&at->moment_x, head, contact_x, i);
    add_turned(&at->moment_x, toe->force, toe_x, i);
    add(&at->moment_y, both, i, ray->y);
    out->head[i] = head.v;
    out->toes += toe->force.v;
    height.v += at->roll * ray->y;
    dual rubbed = dual_scale(both, at->friction);
    add_moment(r, rubbed, height);
    r->moment.by_z += rubbed.v;
    r->moment.by_roll += rubbed.v * ray->y;
    add_moment(r, head, minus(contact_x, r->hinge_x));
    add_moment(r, toe->force, minus(toe_x, r->hinge_x));
}

// Where a patch is now, in the plane of its ray.
static void place_patch(const stage *at, const hw_mech_patch *patch, const ray_state *rays, bend *x,
                        bend *z)
{
    if (patch->ray < 0) {
        *x = hind_x(at, patch->x, patch->z);
        *z = hind_z(at, patch->x, patch->z);
        return;
    }
    const hw_mech_ray *ray = &at->model->ray[patch->ray];
    double dx = patch->x - ray->hinge_x, dz = patch->z - ray->hinge_z;
    HW_ASSERT(fabs(patch->y - ray->y) < 1e-9); // a ray's patch lies under it
    *x = ray_x(&rays[patch->ray], dx, dz);
    *z = ray_z(&rays[patch->ray], dx, dz);
}

// One patch of the device: adds to the sums, and its moment to the ray it pushes on.
static void press_patch(stage *at, const hw_mech_patch *patch, ray_state *rays,
                        hw_mech_balance *out)
{
    bend x, z;
    int i = patch->ray < 0 ? 0 : patch->ray;
    place_patch(at, patch, rays, &x, &z);
    // A shell rides on a raise under the heel, down to nothing at the ball.
    const hw_mech_model *model = at->model;
    double ride = (model->ball_x - patch->x) / (model->ball_x - model->heel_x);
    double top = patch->z + at->load->arch_fill + ride * at->load->heel_ground;
    dual force = patch_force(depth_of(at, z, patch->y, top), at->load->shell_N_per_m);
    out->device += force.v;
    add(&at->load_sum, force, i, 1.0);
    add_turned(&at->moment_x, force, x, i);
    add(&at->moment_y, force, i, patch->y);
    if (patch->ray >= 0) add_moment(&rays[i], force, minus(x, rays[i].hinge_x));
}

// A pull along a slip, or beside it, times its arm.
static inline dual held_by(dual pull, double arm, double arm_by_flattening)
{
    dual held = dual_scale(pull, arm);
    held.by_flattening += pull.v * arm_by_flattening;
    return held;
}

// What flattens a ray, less what slip, ties, joints, muscles and tape hold against it.
static dual net_moment(const stage *at, const ray_state *r, int i, const toe_state *toe)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    const hw_mech_case *load = at->load;
    double ligament_by,
        ligament = ligament_moment(&at->model->tissue, ray->ligament, r->flattening, &ligament_by);
    dual net = dual_scale(r->moment, r->moment.v > 0.0 ? 1.0 - load->muscle : 1.0);
    net = dual_sub(net, held_by(toe->tension, r->arm.v, r->arm.by_flattening));
    net.v += ray->rest_moment - ligament;
    net.by_flattening -= ligament_by;
    if (load->is_heel_off) {
        // Tendons that carry the toes cross the arch, so toe load does not simply flatten it.
        dual flexor =
            dual_mix(toe->force, ray->toe_lever / ray->windlass_radius, toe->tension, -1.0);
        flexor = dual_scale(dual_positive(flexor), flexor_share * flexor_share);
        net = dual_sub(net, held_by(flexor, r->arm.v, r->arm.by_flattening));
    }
    if (load->tape_hold > 0.0) {
        double arm = r->arm.v + tape_below, arm_by = r->arm.by_flattening;
        double pull = tape_force + tape_stiffness * arm * r->flattening;
        double pull_by = tape_stiffness * (arm + arm_by * r->flattening);
        double part = pull > 0.0 ? load->tape_hold / RAYS : 0.0;
        net.v -= part * pull * arm;
        net.by_flattening -= part * (pull_by * arm + pull * arm_by);
    }
    return net;
}

static void put_row(hw_mech_balance *out, int row, const total *sum, double factor)
{
    double *at = &out->jacobian[row * out->count];
    out->residual[row] = factor * sum->v;
    at[U_HEIGHT] = factor * sum->by_z;
    at[U_PITCH] = factor * sum->by_pitch;
    at[U_ROLL] = factor * sum->by_roll;
    for (int i = 0; i < RAYS; i++) at[U_RAY + i] = factor * sum->by_flattening[i];
    if (out->count > U_TOES) at[U_TOES] = factor * sum->by_toes;
}

// Moment balance of ray i about its hinge, with the neighbours' pull on its head.
static void balance_ray(const stage *at, const ray_state *rays, int i, dual net,
                        hw_mech_balance *out)
{
    const ray_state *r = &rays[i];
    total row = {0};
    bend lever = minus(r->head_x, r->hinge_x);
    double y = at->model->ray[i].y, pull = 0.0, stiff = coupling * lever.v;
    for (int j = i - 1; j <= i + 1; j += 2) {
        if (j < 0 || j >= RAYS) continue;
        double across = at->model->ray[j].y - y;
        pull += coupling * (rays[j].rise.v - r->rise.v + at->roll * across);
        net.by_pitch += stiff * (rays[j].rise.by_pitch - r->rise.by_pitch);
        net.by_roll += stiff * across;
        net.by_flattening -= stiff * r->rise.by_flattening;
        row.by_flattening[j] = stiff * rays[j].rise.by_flattening;
    }
    add(&row, net, i, 1.0);
    row.v += pull * lever.v;
    row.by_pitch += pull * lever.by_pitch;
    row.by_flattening[i] += pull * lever.by_flattening;
    put_row(out, U_RAY + i, &row, 1.0 / (moment_scale * at->load->force_z));
}

// Means over the heads: where they are, how high they have risen.
static void average_heads(stage *at, const ray_state *rays, total *x, total *rise)
{
    *x = *rise = (total){0};
    for (int i = 0; i < RAYS; i++) {
        double part = 1.0 / RAYS, y = at->model->ray[i].y;
        bend head = rays[i].head_x, up = rays[i].rise;
        add(x, (dual){head.v, 0.0, head.by_pitch, 0.0, head.by_flattening, 0.0}, i, part);
        add(rise, (dual){up.v + at->roll * y, 1.0, up.by_pitch, y, up.by_flattening, 0.0}, i, part);
    }
}

// Pitch of the line from heel to heads.
static void balance_line(const stage *at, const total *head_x, const total *rise,
                         hw_mech_balance *out)
{
    double x = head_x->v - at->model->heel_x, z = at->z - rise->v;
    double by_x = -z / (x * x + z * z), by_z = x / (x * x + z * z);
    total line = {.v = atan2(z, x) - at->load->pitch,
                  .by_z = by_z * (1.0 - rise->by_z),
                  .by_pitch = by_x * head_x->by_pitch - by_z * rise->by_pitch,
                  .by_roll = -by_z * rise->by_roll};
    for (int i = 0; i < RAYS; i++)
        line.by_flattening[i] = by_x * head_x->by_flattening[i] - by_z * rise->by_flattening[i];
    put_row(out, 1, &line, 1.0);
}

// Heel on: centre of pressure. Heel off: pitch of the line from heel to heads, and the centre of
// pressure with the heads held where they stand on the floor.
static void balance_length(stage *at, const ray_state *rays, hw_mech_balance *out)
{
    double load = at->load->force_z, want = load * at->load->pressure_x;
    total moment = at->moment_x, head_x, rise;
    moment.v -= want;
    if (!at->load->is_heel_off) {
        put_row(out, 1, &moment, 1.0 / (moment_scale * load));
        return;
    }
    average_heads(at, rays, &head_x, &rise);
    balance_line(at, &head_x, &rise, out);
    if (at->load->are_toes_idle) {
        put_row(out, U_TOES, &(total){.v = at->toe_share, .by_toes = 1.0}, 1.0);
        return;
    }
    const total *sum = &at->load_sum;
    double shift = -head_x.v;
    for (int i = 0; i < RAYS; i++) shift += at->model->ray[i].head_x / RAYS;
    moment.v += shift * sum->v;
    moment.by_z += shift * sum->by_z;
    moment.by_pitch += shift * sum->by_pitch - head_x.by_pitch * sum->v;
    moment.by_roll += shift * sum->by_roll;
    moment.by_toes += shift * sum->by_toes;
    for (int i = 0; i < RAYS; i++)
        moment.by_flattening[i] += shift * sum->by_flattening[i] - head_x.by_flattening[i] * sum->v;
    put_row(out, U_TOES, &moment, 1.0 / (moment_scale * load));
}

void hw_mech_balance_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                        hw_mech_balance *out)
{
    stage at;
    ray_state rays[RAYS];
    toe_state toes[RAYS];
    out->count = load->is_heel_off ? UNKNOWNS : UNKNOWNS - 1;
    out->toes = out->device = 0.0;
    set_stage(&at, model, load, u);
    press_heel(&at, out);
    for (int i = 0; i < RAYS; i++) {
        place_ray(&at, u, i, &rays[i]);
        run_slip(&at, &rays[i], i);
        hold_toe(&at, &rays[i], i, &toes[i]);
        press_ray(&at, &rays[i], i, &toes[i], out);
        out->slip[i] = toes[i].tension.v;
    }
    out->toe_angle = toes[0].angle.v;
    for (int p = 0; load->has_device && !load->is_heel_off && p < PATCHES; p++)
        press_patch(&at, &model->patch[p], rays, out);
    for (int i = 0; i < RAYS; i++)
        balance_ray(&at, rays, i, net_moment(&at, &rays[i], i, &toes[i]), out);
    balance_length(&at, rays, out);
    at.load_sum.v -= load->force_z;
    at.moment_y.v -= load->force_z * load->pressure_y + roll_stiffness * at.roll;
    at.moment_y.by_roll -= roll_stiffness;
    put_row(out, 0, &at.load_sum, 1.0 / load->force_z);
    put_row(out, 2, &at.moment_y, 1.0 / (moment_scale * load->force_z));
}
