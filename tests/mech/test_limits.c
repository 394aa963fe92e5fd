// SPDX-License-Identifier: GPL-3.0-or-later
// Limits where the answer is known, and forces that must balance: recomputed here from what is
// reported, with this test's own kinematics and laws.
#include "suites.h"

static hw_mech_model model_of(const hw_mech_tissue *tissue)
{
    hw_mech_subject subject = plain_subject();
    hw_mech_view view = hw_mech_view_plain(&subject);
    return hw_mech_model_build(&view, tissue);
}

// A point turned by an angle about (x0, z0) of the scan pose, then set down with that point at `to`.
typedef struct spot {
    double x, z;
} spot;

static spot turned(spot point, spot about, double angle, spot to)
{
    double dx = point.x - about.x, dz = point.z - about.z;
    return (spot){to.x + cos(angle) * dx - sin(angle) * dz,
                  to.z + sin(angle) * dx + cos(angle) * dz};
}

// Where ray i is: hinge, head, and the arm of its slip about the hinge.
typedef struct seen_ray {
    spot hinge, head;
    double arm;
} seen_ray;

static spot of_hindfoot(const hw_mech_model *m, const double *u, double x, double z)
{
    return turned((spot){x, z}, (spot){m->heel_x, 0.0}, u[U_PITCH], (spot){m->heel_x, u[U_HEIGHT]});
}

static seen_ray see_ray(const hw_mech_model *m, const hw_mech_case *load, const double *u, int i)
{
    const hw_mech_ray *ray = &m->ray[i];
    spot hinge = {ray->hinge_x, ray->hinge_z}, head = {ray->head_x, ray->head_z};
    seen_ray seen = {.hinge = of_hindfoot(m, u, hinge.x, hinge.z - hw_mech_hinge_drop(load, i))};
    seen.head = turned(head, hinge, u[U_PITCH] + u[U_RAY + i], seen.hinge);
    spot origin = of_hindfoot(m, u, m->origin_x, m->origin_z);
    double dx = seen.head.x - origin.x, dz = seen.head.z - origin.z;
    double way = atan2(dz, dx) - asin(ray->windlass_radius / hypot(dx, dz));
    seen.arm = (seen.hinge.z - origin.z) * cos(way) - (seen.hinge.x - origin.x) * sin(way);
    return seen;
}

static double ligament(const hw_mech_tissue *t, double k, double q)
{
    const double free = HW_PI / 180.0;
    double m = 0.06 * k * q;
    if (q > 0.0) m += k * (q < free ? q * q / (2.0 * free) : q - 0.5 * free);
    if (q > 0.0) m += k * q * q / (2.0 * t->stiffening_rad);
    double beyond = q + t->dorsal_free_rad;
    if (beyond < 0.0) m += k * t->dorsal_share * beyond - 2000.0 * beyond * beyond;
    return m;
}

static double rise_of(const hw_mech_model *m, const seen_ray *seen, const double *u, int i)
{
    return seen->head.z - m->ray[i].head_z + u[U_ROLL] * m->ray[i].y;
}

// Pull of the neighbouring heads on ray i, up, N.
static double pull_of_neighbours(const hw_mech_model *m, const hw_mech_case *load, const double *u,
                                 int i)
{
    double pull = 0.0;
    seen_ray own = see_ray(m, load, u, i);
    for (int j = i - 1; j <= i + 1; j += 2) {
        if (j < 0 || j >= RAYS) continue;
        seen_ray other = see_ray(m, load, u, j);
        pull += 20e3 * (rise_of(m, &other, u, j) - rise_of(m, &own, u, i));
    }
    return pull;
}

// Heads' pads begin behind the heads with a flat foot, and roll under them from 2 to 12 degrees.
static double pad_behind(const hw_mech_model *m, const hw_mech_case *load)
{
    double degrees = load->is_heel_off ? hw_deg_from_rad(load->pitch) : 0.0;
    return m->tissue.contact_offset * m->length * fmin(1.0, fmax(0.0, 1.2 - 0.1 * degrees));
}

// What is left of ray i's balance, N m.
static double left_of_ray(const hw_mech_model *m, const hw_mech_case *load,
                          const hw_mech_rest *rest, int i)
{
    const double *u = rest->u;
    const hw_mech_ray *ray = &m->ray[i];
    seen_ray seen = see_ray(m, load, u, i);
    double head = rest->balance.head[i], tension = rest->balance.slip[i];
    double toe = rest->balance.toes * ray->toe_load_part;
    double outer =
        head * (seen.head.x - pad_behind(m, load) - seen.hinge.x) +
        toe * (seen.head.x + ray->toe_lever - seen.hinge.x) +
        load->force_x / load->force_z * (head + toe) * (seen.hinge.z + u[U_ROLL] * ray->y);
    double inner = tension * seen.arm - ray->rest_moment +
                   ligament(&m->tissue, ray->ligament, u[U_RAY + i]) +
                   load->muscle * fmax(0.0, outer);
    double flexor = fmax(0.0, toe * ray->toe_lever / ray->windlass_radius - tension);
    if (load->is_heel_off) inner += 0.64 * flexor * seen.arm;
    return outer - inner + pull_of_neighbours(m, load, u, i) * (seen.head.x - seen.hinge.x);
}

// Sum of forces and where they act, against what was asked: N, and N m.
static void left_of_foot(const hw_mech_model *m, const hw_mech_case *load, const hw_mech_rest *rest,
                         double *force, double *moment)
{
    double sum = rest->balance.heel, about = rest->balance.heel * m->heel_x, shift = 0.0;
    for (int i = 0; i < RAYS; i++) {
        seen_ray seen = see_ray(m, load, rest->u, i);
        double head = rest->balance.head[i], toe = rest->balance.toes * m->ray[i].toe_load_part;
        sum += head + toe;
        about +=
            head * (seen.head.x - pad_behind(m, load)) + toe * (seen.head.x + m->ray[i].toe_lever);
        shift += (m->ray[i].head_x - seen.head.x) / RAYS;
    }
    if (load->is_heel_off) about += shift * sum; // the heads stay where they stand
    *force = sum - load->force_z;
    *moment = about - load->force_z * load->pressure_x;
}

// Moment about the long axis against what was asked, N m: the two halves of the heel's pad by their law.
static double left_of_roll(const hw_mech_model *m, const hw_mech_case *load,
                           const hw_mech_rest *rest)
{
    const double *u = rest->u;
    double about = -load->force_z * load->pressure_y - 40.0 * u[U_ROLL], heel = 0.0;
    for (int side = -1; side <= 1; side += 2) {
        double y = side * 0.012, depth = -u[U_HEIGHT] - u[U_ROLL] * y;
        double force = depth > 0.0 ? 40.0 * (exp(depth / 0.004) - 1.0) : 0.0;
        about += force * y;
        heel += force;
    }
    CHECK_NEAR(heel, rest->balance.heel, 1e-6 * load->force_z, "N");
    for (int i = 0; i < RAYS; i++)
        about +=
            m->ray[i].y * (rest->balance.head[i] + rest->balance.toes * m->ray[i].toe_load_part);
    return about;
}

static void test_limits__reported_forces_balance(void **state)
{
    (void)state;
    const double weight = 75.0 * HW_STANDARD_GRAVITY; // forces to a millionth of it, at 0.1 m
    for (int member = 0; member < HW_MECH_MEMBERS; member += 9) {
        hw_mech_tissue tissue = hw_mech_tissue_member(member);
        hw_mech_model model = model_of(&tissue);
        for (int k = 0; k < 4; k++) {
            hw_mech_case load = {.force_z = (0.8 + 0.1 * k) * weight,
                                 .force_x = (0.05 * k - 0.05) * weight,
                                 .pressure_x = (0.45 + 0.08 * k) * model.length,
                                 .pressure_y = 0.002 * k - 0.002,
                                 .pitch = 0.05 * k,
                                 .toe_share = 0.05,
                                 .muscle = 0.1 * k,
                                 .talus_sink = 0.001 * k,
                                 .is_heel_off = k == 3};
            hw_mech_rest rest = {.u = {load.is_heel_off ? 0.02 : -0.005}};
            double force, moment;
            assert_true(hw_mech_settle(&model, &load, &rest));
            left_of_foot(&model, &load, &rest, &force, &moment);
            CHECK_NEAR(force, 0.0, 1e-6 * weight, "N");
            CHECK_NEAR(moment, 0.0, 1e-7 * weight, "N m");
            CHECK_NEAR(left_of_roll(&model, &load, &rest), 0.0, 1e-7 * weight, "N m");
            for (int i = 0; i < RAYS; i++)
                CHECK_NEAR(left_of_ray(&model, &load, &rest, i), 0.0, 1e-7 * weight, "N m");
        }
    }
}

// Medial made lateral, with the wedges and the pressure's side: the same forces, rolled the other way.
static void test_limits__a_mirrored_foot_has_mirrored_forces(void **state)
{
    (void)state;
    double most_roll = 0.0;
    for (int member = 0; member < HW_MECH_MEMBERS; member += 20) {
        hw_mech_tissue tissue = hw_mech_tissue_member(member);
        hw_mech_model foot = model_of(&tissue), other = foot;
        for (int i = 0; i < RAYS; i++) other.ray[i].y = -foot.ray[i].y;
        for (int i = 0; i < PATCHES; i++) other.patch[i].y = -foot.patch[i].y;
        for (int up = 0; up < 2; up++) {
            hw_mech_case load = {.force_z = 700.0,
                                 .pressure_x = 0.14,
                                 .pressure_y = 0.003,
                                 .heel_wedge = 0.05,
                                 .wedge = 0.04,
                                 .pitch = 0.15,
                                 .is_heel_off = up,
                                 .has_device = true,
                                 .shell_N_per_m = 30e3};
            hw_mech_case turned_over = load;
            turned_over.pressure_y = -load.pressure_y;
            turned_over.heel_wedge = -load.heel_wedge;
            turned_over.wedge = -load.wedge;
            hw_mech_rest a = {.u = {up ? 0.02 : -0.005}}, b = a;
            assert_true(hw_mech_settle(&foot, &load, &a));
            assert_true(hw_mech_settle(&other, &turned_over, &b));
            most_roll = fmax(most_roll, fabs(a.u[U_ROLL]));
            CHECK_NEAR(b.u[U_ROLL], -a.u[U_ROLL], 1e-7, "rad");
            CHECK_NEAR(b.balance.heel, a.balance.heel, 1e-6 * load.force_z, "N");
            for (int i = 0; i < RAYS; i++) {
                CHECK_NEAR(b.balance.head[i], a.balance.head[i], 1e-6 * load.force_z, "N");
                CHECK_NEAR(b.balance.slip[i], a.balance.slip[i], 1e-6 * load.force_z, "N");
            }
        }
    }
    assert_true(most_roll > 0.003); // rad: they do roll
}

// A fascia next to none is no fascia: ligaments alone carry the arch, and the way there is smooth.
static void test_limits__no_fascia_is_the_ligaments_alone(void **state)
{
    (void)state;
    hw_mech_tissue tissue = hw_mech_tissue_default(), cut = tissue, thread = tissue;
    cut.fascia_N_per_m = 0.0;
    thread.fascia_N_per_m = 1e-3;
    hw_mech_model whole = model_of(&tissue), none = model_of(&cut), least = model_of(&thread);
    hw_mech_case load = {.force_z = 600.0, .pressure_x = 0.10};
    hw_mech_rest a = {.u = {-0.005}}, b = a, c = a;
    assert_true(hw_mech_settle(&none, &load, &a) && hw_mech_settle(&least, &load, &b) &&
                hw_mech_settle(&whole, &load, &c));
    for (int i = 0; i < RAYS; i++) {
        CHECK_NEAR(a.balance.slip[i], 0.0, 0.0, "N");
        CHECK_NEAR(b.u[U_RAY + i], a.u[U_RAY + i], 1e-6, "rad");
        assert_true(a.u[U_RAY + i] > c.u[U_RAY + i] + 1e-3);
        seen_ray seen = see_ray(&none, &load, a.u, i);
        double lever = seen.head.x - pad_behind(&none, &load) - seen.hinge.x;
        double outer = a.balance.head[i] * lever +
                       pull_of_neighbours(&none, &load, a.u, i) * (seen.head.x - seen.hinge.x);
        CHECK_NEAR(ligament(&cut, none.ray[i].ligament, a.u[U_RAY + i]), outer, 1e-4, "N m");
    }
}

// Under a shell that does not give, an arch whose tissue did not give either would keep the shell's
// shape: what each patch's bone sinks below it is what the tissue's law squeezes out, no more.
static void test_limits__a_rigid_shell_holds_its_shape(void **state)
{
    (void)state;
    hw_mech_tissue tissue = hw_mech_tissue_default();
    hw_mech_model model = model_of(&tissue);
    hw_mech_case load = {
        .force_z = 900.0, .pressure_x = 0.10, .has_device = true, .shell_N_per_m = 1e12};
    hw_mech_rest rest = {.u = {-0.005}};
    assert_true(hw_mech_settle(&model, &load, &rest));
    double by_law = 0.0;
    for (int p = 0; p < PATCHES; p++) {
        const hw_mech_patch *patch = &model.patch[p];
        spot at = of_hindfoot(&model, rest.u, patch->x, patch->z);
        if (patch->ray >= 0) {
            const hw_mech_ray *ray = &model.ray[patch->ray];
            at = turned((spot){patch->x, patch->z}, (spot){ray->hinge_x, ray->hinge_z},
                        rest.u[U_PITCH] + rest.u[U_RAY + patch->ray],
                        see_ray(&model, &load, rest.u, patch->ray).hinge);
        }
        double sunk = patch->z - at.z - rest.u[U_ROLL] * patch->y;
        if (sunk > 0.0) by_law += 12.0 * (exp(sunk / 0.0035) - 1.0);
    }
    assert_true(by_law > 50.0);
    CHECK_NEAR(rest.balance.device, by_law, 1e-6 * by_law, "N");
}

// Five equal rays in one plane, no ligaments, no windlass, one straight tie each that pulls from its
// scan length on: an arch of two bars and a tie. Heel and heads are pads with known inverses, so all
// is worked out from the flattening alone, by bisection: the tie's pull by its triangle (law of
// cosines), the load on the heads by the lever, the sinking of the pads by their logarithms.
typedef struct tie_arch {
    double heel_x, hinge_x, hinge_z, head_x, head_z, origin_x, origin_z, tie, load, pressure_x;
} tie_arch;

// Moment that flattens less moment that the tie holds, N m, and its pull.
static double left_of_arch(const tie_arch *a, double q, double *tension)
{
    double pitch = 0.0, front = 0.0, head_x = a->head_x, hinge_x = a->hinge_x;
    for (int k = 0; k < 200; k++) { // pads and pitch settle on one another
        front = a->load * (a->pressure_x - a->heel_x) / (head_x - a->heel_x);
        double heel = -0.004 * log(1.0 + (a->load - front) / 80.0);
        double head = -0.0022 * log(1.0 + front / RAYS / 20.0);
        spot at = {a->heel_x, heel}, foot = {a->heel_x, 0.0};
        spot hinge = turned((spot){a->hinge_x, a->hinge_z}, foot, pitch, at);
        spot tip =
            turned((spot){a->head_x, a->head_z}, (spot){a->hinge_x, a->hinge_z}, pitch + q, hinge);
        pitch -= 0.9 * (tip.z - a->head_z - head) / (tip.x - a->heel_x);
        head_x = tip.x;
        hinge_x = hinge.x;
    }
    double p = hypot(a->hinge_x - a->origin_x, a->hinge_z - a->origin_z);
    double b = hypot(a->head_x - a->hinge_x, a->head_z - a->hinge_z);
    double rest = hypot(a->head_x - a->origin_x, a->head_z - a->origin_z);
    double apex = acos((p * p + b * b - rest * rest) / (2.0 * p * b)) + q;
    double length = sqrt(p * p + b * b - 2.0 * p * b * cos(apex));
    *tension = a->tie * (length - rest);
    return front * (head_x - hinge_x) - *tension * p * b * sin(apex) / length;
}

static void test_limits__an_arch_with_one_tie_is_that_of_the_closed_form(void **state)
{
    (void)state;
    hw_mech_tissue tissue = hw_mech_tissue_default();
    tissue.contact_offset = 0.0;
    hw_mech_model model = model_of(&tissue);
    hw_mech_ray ray = model.ray[0];
    ray.y = ray.ligament = ray.slip_rest = ray.rest_moment = ray.windlass_radius = 0.0;
    ray.pad_weight = 1.0;
    ray.slip_N_per_m = 40e3;
    ray.slip_toe = 1e-15; // a tie that pulls in proportion from the first
    ray.slip_slack = hypot(ray.head_x - model.origin_x, ray.head_z - model.origin_z);
    for (int i = 0; i < RAYS; i++) model.ray[i] = ray;
    hw_mech_case load = {.force_z = 500.0, .pressure_x = 0.090};
    hw_mech_rest rest = {.u = {-0.005, 0.0, 0.0, 0.02, 0.02, 0.02, 0.02, 0.02}};
    assert_true(hw_mech_settle(&model, &load, &rest));
    tie_arch arch = {model.heel_x,   ray.hinge_x,    ray.hinge_z, ray.head_x,   ray.head_z,
                     model.origin_x, model.origin_z, RAYS * 40e3, load.force_z, load.pressure_x};
    double low = 0.0, high = 0.3, tension = 0.0;
    for (int k = 0; k < 60; k++) {
        double middle = 0.5 * (low + high);
        *(left_of_arch(&arch, middle, &tension) > 0.0 ? &low : &high) = middle;
    }
    assert_true(low > 0.005 && tension > 100.0);
    for (int i = 0; i < RAYS; i++) {
        CHECK_NEAR(rest.u[U_RAY + i], low, 1e-6, "rad");
        CHECK_NEAR(RAYS * rest.balance.slip[i], tension, 1e-4 * tension, "N");
    }
}

int run_limit_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_limits__reported_forces_balance),
        cmocka_unit_test(test_limits__a_mirrored_foot_has_mirrored_forces),
        cmocka_unit_test(test_limits__no_fascia_is_the_ligaments_alone),
        cmocka_unit_test(test_limits__a_rigid_shell_holds_its_shape),
        cmocka_unit_test(test_limits__an_arch_with_one_tie_is_that_of_the_closed_form),
    };
    return cmocka_run_group_tests_name("mech limits", tests, NULL, NULL);
}
