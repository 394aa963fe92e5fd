// SPDX-License-Identifier: GPL-3.0-or-later
// Forces and moments on the foot at one state, with their exact Jacobian. The equations stand in
// docs/mechanics.md 1; symbols as there.
//
// Everything is inlined into the two entries at the end, with and without slopes: in the second the
// compiler drops whatever only slopes need.
#include "dual.h"
#include "mech_internal.h"

#define INLINED static inline __attribute__((always_inline))

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
    double v;
    double by[HW_MECH_SHARED]; // heel height, pitch, roll, toes
    double by_flattening[RAYS];
} total;

INLINED void add(total *sum, dual part, int ray, double factor)
{
    sum->v += factor * part.v;
    sum->by[0] += factor * part.by_z;
    sum->by[1] += factor * part.by_pitch;
    sum->by[2] += factor * part.by_roll;
    sum->by_flattening[ray] += factor * part.by_flattening;
}

// A force times a lever that lies in the plane of its ray.
INLINED void add_turned(total *sum, dual force, bend lever, int ray)
{
    add(sum, force, ray, lever.v);
    sum->by[1] += force.v * lever.by_pitch;
    sum->by_flattening[ray] += force.v * lever.by_flattening;
}

// What is the same for all rays at one state.
typedef struct stage {
    const hw_mech_model *model;
    const hw_mech_case *load;
    double z, pitch, roll;
    double sin_pitch, cos_pitch;
    double toe_share, toe_share_by_toes;
    double toe_angle, toe_angle_by_pitch; // to the floor
    double friction;                      // forward force per newton of load
    double pad_behind;                    // the heads' pads behind the heads, m
    total load_sum, moment_x, moment_y;
} stage;

INLINED double pad_offset(const hw_mech_model *model, const hw_mech_case *load)
{
    // The pad's contact begins behind the head and rolls under it from 2 to 12 degrees of pitch.
    double pitch = load->is_heel_off ? hw_deg_from_rad(load->pitch) : 0.0;
    double part = fmin(1.0, fmax(0.0, 1.0 - (pitch - 2.0) / 10.0));
    return model->tissue.contact_offset * model->length * part;
}

// A point in the plane of its ray.
typedef struct place {
    bend x, z;
} place;

// Where a point of the hindfoot is that lies at (x, z) in the scan pose. Heights rise with the heel's
// and with roll besides, slopes 1 and y, which is added where it counts.
INLINED place hind_place(const stage *at, double x, double z)
{
    double from_heel = x - at->model->heel_x, s = at->sin_pitch, c = at->cos_pitch;
    double along = c * from_heel - s * z, up = s * from_heel + c * z;
    return (place){{at->model->heel_x + along, -up, 0.0}, {at->z + up, along, 0.0}};
}

INLINED void set_stage(stage *at, const hw_mech_model *model, const hw_mech_case *load,
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
    // Until the heel rises toes carry next to nothing and follow a foot that tips back.
    bool toes_follow = !load->is_heel_off && at->pitch > 0.0;
    at->toe_angle = load->toe_extension + (toes_follow ? at->pitch : 0.0);
    at->toe_angle_by_pitch = toes_follow ? 1.0 : 0.0;
    at->friction = load->force_x / load->force_z;
    at->pad_behind = pad_offset(model, load);
    at->moment_x = (total){0};
}

// How deep a point sinks below a ground: height `z` of the ray's plane, roll at `y`.
INLINED dual depth_of(const stage *at, bend z, double y, double ground)
{
    return (dual){.v = ground - z.v - at->roll * y,
                  .by_z = -1.0,
                  .by_pitch = -z.by_pitch,
                  .by_roll = -y,
                  .by_flattening = -z.by_flattening};
}

/// N exponential in depth, 0 where there is no contact.
INLINED dual pad(dual depth, double force, double scale)
{
    if (depth.v <= 0.0) return dual_constant(0.0);
    double grown = force * exp(depth.v / scale);
    return dual_chain(depth, grown - force, grown / scale);
}

INLINED void press_heel(stage *at, hw_mech_balance *out)
{
    double load[2], stiff[2]; // N, N/m; medial and lateral half
    for (int side = 0; side < 2; side++) {
        double y = side ? heel_half_width : -heel_half_width;
        double ground = at->load->heel_ground + at->load->heel_wedge * y;
        dual force = pad((dual){.v = ground - at->z - at->roll * y, .by_z = -1.0}, 0.5 * heel_force,
                         heel_depth + at->load->heel_give);
        load[side] = force.v;
        stiff[side] = -force.by_z;
    }
    double whole = stiff[0] + stiff[1], turn = heel_half_width * (stiff[1] - stiff[0]);
    out->heel = load[0] + load[1];
    at->load_sum = (total){.v = out->heel, .by = {-whole, 0.0, -turn}};
    at->moment_x.v = at->model->heel_x * at->load_sum.v;
    at->moment_x.by[0] = at->model->heel_x * -whole;
    at->moment_x.by[2] = at->model->heel_x * -turn;
    at->moment_y = (total){.v = heel_half_width * (load[1] - load[0]),
                           .by = {-turn, 0.0, -heel_half_width * heel_half_width * whole}};
}

// Arch tissue and shell in series, pressed together by `depth`: each takes the same force.
INLINED dual patch_force(dual depth, double shell)
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
    place hinge;
    double sin_flat, cos_flat; // of the flattening
    double sin_turn, cos_turn; // of the ray against the scan pose: pitch and flattening
    double flattening;
    bend head_x, rise; // the rise against the scan pose
    bend slip;         // its length with the toes level with the floor
    bend arm;          // of the slip about the hinge
    dual moment;       // flattening +, about the hinge, N m
    double moment_by_toes;
} ray_state;

typedef struct toe_state {
    double force, force_by_toes; // of the floor
    bend tension;                // of the slip that ends in it
} toe_state;

// The moment of a force on a lever that lies in the plane of its ray.
INLINED dual turned_by(dual force, bend lever)
{
    return (dual){force.v * lever.v, force.by_z * lever.v,
                  force.by_pitch * lever.v + force.v * lever.by_pitch, force.by_roll * lever.v,
                  force.by_flattening * lever.v + force.v * lever.by_flattening};
}

// Where a point of a ray is that lies (dx, dz) from its hinge in the scan pose.
INLINED place ray_place(const ray_state *r, double dx, double dz)
{
    double along = r->cos_turn * dx - r->sin_turn * dz, up = r->sin_turn * dx + r->cos_turn * dz;
    return (place){{r->hinge.x.v + along, r->hinge.x.by_pitch - up, -up},
                   {r->hinge.z.v + up, r->hinge.z.by_pitch + along, along}};
}

// The talus carries the medial rays down with it.
double hw_mech_hinge_drop(const hw_mech_case *load, int i)
{
    static const double part[RAYS] = {1.0, 1.0, 0.7, 0.0, 0.0};
    return part[i] * load->talus_sink;
}

// Height of a hinge in the hindfoot's frame.
INLINED double hinge_height(const stage *at, int i)
{
    return at->model->ray[i].hinge_z - hw_mech_hinge_drop(at->load, i);
}

INLINED void place_ray(const stage *at, const double *u, int i, ray_state *r)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    double dx = ray->head_x - ray->hinge_x, dz = ray->head_z - ray->hinge_z;
    r->hinge = hind_place(at, ray->hinge_x, hinge_height(at, i));
    r->flattening = u[U_RAY + i];
    r->sin_flat = sin(r->flattening);
    r->cos_flat = cos(r->flattening);
    r->sin_turn = at->sin_pitch * r->cos_flat + at->cos_pitch * r->sin_flat;
    r->cos_turn = at->cos_pitch * r->cos_flat - at->sin_pitch * r->sin_flat;
    place head = ray_place(r, dx, dz);
    r->head_x = head.x;
    r->rise = head.z;
    r->rise.v -= ray->head_z;
}

// A slip runs straight from the heel to the lower tangent of the head's circle, then along the arc
// to the toe: dl/d(toe extension) is the radius. In the hindfoot's frame the line depends on the
// ray's flattening alone; the pitch only turns the toes against it.
INLINED void run_slip(const stage *at, ray_state *r, int i)
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

INLINED void hold_toe(const stage *at, const ray_state *r, int i, toe_state *toe)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    double part = at->load->force_z * ray->toe_load_part, radius = ray->windlass_radius, slope;
    double tension = hw_mech_slip_tension(ray, r->slip.v + radius * at->toe_angle, &slope);
    toe->force = part * at->toe_share;
    toe->force_by_toes = part * at->toe_share_by_toes;
    toe->tension = (bend){tension, slope * (r->slip.by_pitch + radius * at->toe_angle_by_pitch),
                          slope * r->slip.by_flattening};
}

/// Moment of ligaments and joint surfaces against flattening q, N m, and its slope.
INLINED double ligament_moment(const hw_mech_tissue *tissue, double k, double q, double *by_q)
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

INLINED bend minus(bend a, bend b)
{
    return (bend){a.v - b.v, a.by_pitch - b.by_pitch, a.by_flattening - b.by_flattening};
}

// Lever about its hinge of a force that the ground puts on ray i at `x`, which also rubs.
INLINED bend ground_lever(const stage *at, const ray_state *r, int i, bend x)
{
    bend lever = minus(x, r->hinge.x);
    lever.v += at->friction * (r->hinge.z.v + at->roll * at->model->ray[i].y);
    lever.by_pitch += at->friction * r->hinge.z.by_pitch;
    return lever;
}

// Ground under the toes: as under the head, but only the toes' share of the load changes its force.
INLINED void press_toe(stage *at, ray_state *r, int i, const toe_state *toe)
{
    double y = at->model->ray[i].y, force = toe->force, by_toes = toe->force_by_toes;
    bend x = r->head_x;
    x.v += at->model->ray[i].toe_lever;
    bend lever = ground_lever(at, r, i, x);
    at->load_sum.v += force;
    at->load_sum.by[3] += by_toes;
    at->moment_x.v += force * x.v;
    at->moment_x.by[1] += force * x.by_pitch;
    at->moment_x.by[3] += by_toes * x.v;
    at->moment_x.by_flattening[i] += force * x.by_flattening;
    at->moment_y.v += force * y;
    at->moment_y.by[3] += by_toes * y;
    r->moment.v += force * lever.v;
    r->moment.by_pitch += force * lever.by_pitch;
    r->moment.by_flattening += force * lever.by_flattening;
    r->moment_by_toes = by_toes * lever.v;
}

// Ground under head and toes: adds to the sums and to the moment about the hinge.
INLINED void press_ray(stage *at, ray_state *r, int i, const toe_state *toe, hw_mech_balance *out)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    dual head = pad(depth_of(at, r->rise, ray->y, at->load->wedge * ray->y),
                    head_force * ray->pad_weight, head_depth);
    bend x = r->head_x;
    x.v -= at->pad_behind;
    add(&at->load_sum, head, i, 1.0);
    add_turned(&at->moment_x, head, x, i);
    add(&at->moment_y, head, i, ray->y);
    out->head[i] = head.v;
    out->toes += toe->force;
    r->moment = turned_by(head, ground_lever(at, r, i, x));
    press_toe(at, r, i, toe);
    // Heel's height and roll carry the hinge, at whose height friction acts.
    double rubbed = at->friction * (head.v + toe->force);
    r->moment.by_z += rubbed;
    r->moment.by_roll += rubbed * ray->y;
}

// Where a patch is now, in the plane of its ray.
INLINED place patch_place(const stage *at, const hw_mech_patch *patch, const ray_state *rays)
{
    if (patch->ray < 0) return hind_place(at, patch->x, patch->z);
    const hw_mech_ray *ray = &at->model->ray[patch->ray];
    HW_ASSERT(fabs(patch->y - ray->y) < 1e-9); // a ray's patch lies under it
    return ray_place(&rays[patch->ray], patch->x - ray->hinge_x, patch->z - ray->hinge_z);
}

// One patch of the device: adds to the sums, and its moment to the ray it pushes on.
INLINED void press_patch(stage *at, const hw_mech_patch *patch, ray_state *rays,
                         hw_mech_balance *out)
{
    const place on = patch_place(at, patch, rays);
    int i = patch->ray < 0 ? 0 : patch->ray;
    // A shell rides on a raise under the heel, down to nothing at the ball.
    const hw_mech_model *model = at->model;
    double ride = (model->ball_x - patch->x) / (model->ball_x - model->heel_x);
    double top = patch->z + at->load->arch_fill + ride * at->load->heel_ground;
    dual force = patch_force(depth_of(at, on.z, patch->y, top), at->load->shell_N_per_m);
    out->device += force.v;
    add(&at->load_sum, force, i, 1.0);
    add_turned(&at->moment_x, force, on.x, i);
    add(&at->moment_y, force, i, patch->y);
    if (patch->ray < 0) return;
    dual moment = turned_by(force, minus(on.x, rays[i].hinge.x));
    rays[i].moment = dual_mix(rays[i].moment, 1.0, moment, 1.0);
}

// A pull along a slip, or beside it, times its arm.
INLINED bend held_by(bend pull, bend arm)
{
    return (bend){pull.v * arm.v, pull.by_pitch * arm.v,
                  pull.by_flattening * arm.v + pull.v * arm.by_flattening};
}

INLINED void hold_back(ray_state *r, bend held)
{
    r->moment.v -= held.v;
    r->moment.by_pitch -= held.by_pitch;
    r->moment.by_flattening -= held.by_flattening;
}

// Takes from what flattens a ray what slip, ties, joints, muscles and tape hold against it.
INLINED void hold_ray(const stage *at, ray_state *r, int i, const toe_state *toe)
{
    const hw_mech_ray *ray = &at->model->ray[i];
    const hw_mech_case *load = at->load;
    bend ties = {0};
    ties.v = ligament_moment(&at->model->tissue, ray->ligament, r->flattening, &ties.by_flattening);
    if (r->moment.v > 0.0) {
        r->moment = dual_scale(r->moment, 1.0 - load->muscle);
        r->moment_by_toes *= 1.0 - load->muscle;
    }
    r->moment.v += ray->rest_moment;
    hold_back(r, ties);
    hold_back(r, held_by(toe->tension, r->arm));
    if (load->is_heel_off) {
        // Tendons that carry the toes cross the arch, so toe load does not simply flatten it.
        const double share = flexor_share * flexor_share;
        double lever = ray->toe_lever / ray->windlass_radius;
        double pull = toe->force * lever - toe->tension.v;
        if (pull > 0.0) {
            bend flexor = {share * pull, -share * toe->tension.by_pitch,
                           -share * toe->tension.by_flattening};
            hold_back(r, held_by(flexor, r->arm));
            r->moment_by_toes -= share * toe->force_by_toes * lever * r->arm.v;
        }
    }
    if (load->tape_hold > 0.0) {
        bend arm = r->arm, pull = {0};
        double part = load->tape_hold / RAYS;
        arm.v += tape_below;
        pull.v = part * (tape_force + tape_stiffness * arm.v * r->flattening);
        pull.by_flattening = part * tape_stiffness * (arm.v + arm.by_flattening * r->flattening);
        if (pull.v > 0.0) hold_back(r, held_by(pull, arm));
    }
}

// Row of an equation that the whole foot shares: 0 height, 1 pitch, 2 roll, 3 toes.
INLINED void put_row(hw_mech_balance *out, int row, const total *sum, double factor, bool slopes)
{
    out->residual[row < 3 ? row : U_TOES] = factor * sum->v;
    if (!slopes) return;
    for (int k = 0; k < HW_MECH_SHARED; k++) out->slopes.shared[row][k] = factor * sum->by[k];
    for (int i = 0; i < RAYS; i++) out->slopes.by_ray[row][i] = factor * sum->by_flattening[i];
}

// Moment balance of ray i about its hinge, with the neighbours' pull on its head.
INLINED void balance_ray(const stage *at, const ray_state *rays, int i, hw_mech_balance *out,
                         bool slopes)
{
    const ray_state *r = &rays[i];
    dual net = r->moment;
    const double lever = r->head_x.v - r->hinge.x.v, stiff = coupling * lever;
    const double factor = 1.0 / (moment_scale * at->load->force_z);
    double y = at->model->ray[i].y, pull = 0.0, by_other[2] = {0};
    for (int side = 0; side < 2; side++) {
        int j = side ? i + 1 : i - 1;
        if (j < 0 || j >= RAYS) continue;
        double across = at->model->ray[j].y - y;
        pull += coupling * (rays[j].rise.v - r->rise.v + at->roll * across);
        net.by_pitch += stiff * (rays[j].rise.by_pitch - r->rise.by_pitch);
        net.by_roll += stiff * across;
        net.by_flattening -= stiff * r->rise.by_flattening;
        by_other[side] = factor * (stiff * rays[j].rise.by_flattening);
    }
    out->residual[U_RAY + i] = factor * (net.v + pull * lever);
    if (!slopes) return;
    net.by_pitch += pull * (r->head_x.by_pitch - r->hinge.x.by_pitch);
    net.by_flattening += pull * r->head_x.by_flattening;
    double *shared = out->slopes.of_ray[i], *ray = out->slopes.ray[i];
    shared[0] = factor * net.by_z;
    shared[1] = factor * net.by_pitch;
    shared[2] = factor * net.by_roll;
    shared[3] = factor * r->moment_by_toes;
    ray[0] = by_other[0];
    ray[1] = factor * net.by_flattening;
    ray[2] = by_other[1];
}

// Means over the heads: where they are, how high they have risen.
INLINED void average_heads(stage *at, const ray_state *rays, total *x, total *rise)
{
    *x = *rise = (total){0};
    for (int i = 0; i < RAYS; i++) {
        double part = 1.0 / RAYS, y = at->model->ray[i].y;
        bend head = rays[i].head_x, up = rays[i].rise;
        add(x, (dual){head.v, 0.0, head.by_pitch, 0.0, head.by_flattening}, i, part);
        add(rise, (dual){up.v + at->roll * y, 1.0, up.by_pitch, y, up.by_flattening}, i, part);
    }
}

// Pitch of the line from heel to heads.
INLINED void balance_line(const stage *at, const total *head_x, const total *rise,
                          hw_mech_balance *out, bool slopes)
{
    double x = head_x->v - at->model->heel_x, z = at->z - rise->v;
    double by_x = -z / (x * x + z * z), by_z = x / (x * x + z * z);
    total line = {
        .v = atan2(z, x) - at->load->pitch,
        .by = {by_z * (1.0 - rise->by[0]), by_x * head_x->by[1] - by_z * rise->by[1],
               -by_z * rise->by[2]},
    };
    for (int i = 0; i < RAYS; i++)
        line.by_flattening[i] = by_x * head_x->by_flattening[i] - by_z * rise->by_flattening[i];
    put_row(out, 1, &line, 1.0, slopes);
}

// Heel on: centre of pressure. Heel off: pitch of the line from heel to heads, and the centre of
// pressure with the heads held where they stand on the floor.
INLINED void balance_length(stage *at, const ray_state *rays, hw_mech_balance *out, bool slopes)
{
    double load = at->load->force_z, want = load * at->load->pressure_x;
    total moment = at->moment_x, head_x, rise;
    moment.v -= want;
    if (!at->load->is_heel_off) {
        put_row(out, 1, &moment, 1.0 / (moment_scale * load), slopes);
        return;
    }
    average_heads(at, rays, &head_x, &rise);
    balance_line(at, &head_x, &rise, out, slopes);
    if (at->load->are_toes_idle) {
        total idle = {.v = at->toe_share, .by = {0.0, 0.0, 0.0, 1.0}};
        put_row(out, 3, &idle, 1.0, slopes);
        return;
    }
    const total *sum = &at->load_sum;
    double shift = -head_x.v;
    for (int i = 0; i < RAYS; i++) shift += at->model->ray[i].head_x / RAYS;
    moment.v += shift * sum->v;
    for (int k = 0; k < HW_MECH_SHARED; k++) moment.by[k] += shift * sum->by[k];
    moment.by[1] -= head_x.by[1] * sum->v;
    for (int i = 0; i < RAYS; i++)
        moment.by_flattening[i] += shift * sum->by_flattening[i] - head_x.by_flattening[i] * sum->v;
    put_row(out, 3, &moment, 1.0 / (moment_scale * load), slopes);
}

INLINED void balance_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                        hw_mech_balance *out, bool slopes)
{
    stage at;
    ray_state rays[RAYS];
    out->count = load->is_heel_off ? UNKNOWNS : UNKNOWNS - 1;
    out->toes = out->device = 0.0;
    set_stage(&at, model, load, u);
    press_heel(&at, out);
    toe_state toes[RAYS];
    for (int i = 0; i < RAYS; i++) {
        place_ray(&at, u, i, &rays[i]);
        run_slip(&at, &rays[i], i);
        hold_toe(&at, &rays[i], i, &toes[i]);
        press_ray(&at, &rays[i], i, &toes[i], out);
        out->slip[i] = toes[i].tension.v;
    }
    out->toe_angle = at.toe_angle;
    for (int p = 0; load->has_device && !load->is_heel_off && p < PATCHES; p++)
        press_patch(&at, &model->patch[p], rays, out);
    for (int i = 0; i < RAYS; i++) hold_ray(&at, &rays[i], i, &toes[i]);
    for (int i = 0; i < RAYS; i++) balance_ray(&at, rays, i, out, slopes);
    balance_length(&at, rays, out, slopes);
    at.load_sum.v -= load->force_z;
    at.moment_y.v -= load->force_z * load->pressure_y + roll_stiffness * at.roll;
    at.moment_y.by[2] -= roll_stiffness;
    put_row(out, 0, &at.load_sum, 1.0 / load->force_z, slopes);
    put_row(out, 2, &at.moment_y, 1.0 / (moment_scale * load->force_z), slopes);
}

void hw_mech_balance_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                        hw_mech_balance *out)
{
    balance_at(model, load, u, out, true);
}

void hw_mech_residual_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                         hw_mech_balance *out)
{
    balance_at(model, load, u, out, false);
}
