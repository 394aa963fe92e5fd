// SPDX-License-Identifier: GPL-3.0-or-later
// One-sided supports against closed forms: soft ground, a lifting edge, a sphere, a beam on a bed.
#include "solids.h"

enum { BEDS_MAX = 20000 };

typedef struct bedded {
    solid of;
    hw_fem_bed *beds;
    hw_fem_bed_place *places;
} bedded;

static hw_vec3 slab(double u, double v, double w, const void *with)
{
    const double *size = with;
    return (hw_vec3){size[0] * (u - 0.5), size[1] * (v - 0.5), size[2] * w};
}

// Beds like `like` under (or on) all faces of one side.
static void lay_beds(bedded *on, hw_fem_face face, const hw_fem_bed *like)
{
    solid *of = &on->of;
    for (int e = 0; e < of->mesh.element_count; e++) {
        int layer = e % of->layers;
        if (layer != (face == HW_FEM_LOW ? 0 : of->layers - 1)) continue;
        hw_fem_bed *beds = on->beds + of->model.bed_count;
        hw_fem_beds_on(&of->mesh, e, face, beds, on->places + of->model.bed_count);
        for (int k = 0; k < HW_FEM_FACE_BEDS; k++) {
            beds[k].thickness = like->thickness, beds[k].modulus = like->modulus;
            beds[k].exponent = like->exponent, beds[k].rides[0] = like->rides[0];
            beds[k].gap = like->gap;
        }
        of->model.bed_count += HW_FEM_FACE_BEDS;
        assert_true(of->model.bed_count < BEDS_MAX);
    }
}

static bedded bedded_slab(const double size[3], const int counts[3], hw_fem_material material)
{
    bedded on = {.of = solid_of(slab, size, counts, material)};
    on.beds = hw_arena_take(on.of.room.into, BEDS_MAX, sizeof *on.beds);
    on.places = hw_arena_take(on.of.room.into, BEDS_MAX, sizeof *on.places);
    assert_true(on.beds && on.places);
    on.of.model.beds = on.beds;
    return on;
}

static void hold_along(solid *of)
{
    int middle = node_at(of, (hw_vec3){0});
    hold(of, middle, 0, 0.0), hold(of, middle, 1, 0.0);
    int front = of->faces.low[2 * of->nu * (2 * of->nv + 1) + of->nv];
    hold(of, front, 1, 0.0);
}

static double sum_of_pressures(const bedded *on, const hw_fem_answer *got, int first, int end)
{
    double sum = 0.0;
    for (int k = first; k < end; k++) sum += on->beds[k].area * got->bed_pressures[k];
    return sum;
}

static const hw_fem_material steel = {200e9, 0.3};

// A stiff block between a soft body above and soft ground below: each gives t / b ln(1 + F b / (A
// E)).
static void test_fem__soft_ground_sinks_as_its_law_says(void **state)
{
    (void)state;
    static const double size[3] = {0.06, 0.04, 0.02};
    const int counts[3] = {3, 2, 1};
    const double load = 250.0, area = 0.06 * 0.04;
    bedded on = bedded_slab(size, counts, steel);
    hw_fem_bed ground = {.thickness = 0.01, .modulus = 2e5, .exponent = 3.0};
    hw_fem_bed above = {
        .thickness = 0.016, .modulus = 1e5, .exponent = 6.0, .gap = 0.001, .rides = {1.0}};
    lay_beds(&on, HW_FEM_LOW, &ground);
    lay_beds(&on, HW_FEM_HIGH, &above);
    hold_along(&on.of);
    on.of.model.rider_count = 1;
    on.of.model.rider_ways[0] = (hw_vec3){0.0, 0.0, -1.0};
    hw_fem_case with = {.rider_loads = {load}};
    hw_fem_answer got = {0};
    on.of.model.mesh = &on.of.mesh;
    CHECK_OK(&on.of.room.job,
             hw_fem_solve(&on.of.room.job, &on.of.model, &with, 1, on.of.room.into, &got));
    double below = 0.01 / 3.0 * log1p(load * 3.0 / (area * 2e5));
    double body = 0.016 / 6.0 * log1p(load * 6.0 / (area * 1e5));
    CHECK_NEAR(-got.moves[0].z, below, 1e-5 * below, "m");
    CHECK_NEAR(got.rider_travel[0], 0.001 + below + body, 1e-5 * body, "m");
    int half = on.of.model.bed_count / 2;
    CHECK_NEAR(sum_of_pressures(&on, &got, 0, half), load, 1e-8 * load, "N");
    CHECK_NEAR(sum_of_pressures(&on, &got, half, 2 * half), load, 1e-8 * load, "N");
    solid_free(&on.of);
}

// A stiff footing of width b loaded e off its middle, e > b / 6, lifts: pressure falls from
// 2 F / (3 (b / 2 - e) w) at the edge to 0 at 3 (b / 2 - e) (common practice in foundations).
static void test_fem__a_footing_loaded_off_its_core_lifts(void **state)
{
    (void)state;
    static const double size[3] = {0.08, 0.04, 0.03};
    const int counts[3] = {40, 2, 1};
    const double load = 400.0, off = 0.022, reach = 3.0 * (0.04 - off);
    bedded on = bedded_slab(size, counts, steel);
    hw_fem_bed ground = {.thickness = 0.01, .modulus = 1e6};
    lay_beds(&on, HW_FEM_LOW, &ground);
    hold_along(&on.of);
    on.of.forces[node_at(&on.of, (hw_vec3){off, 0.0, 0.03})].z = -load;
    hw_fem_answer got = solved(&on.of, 1);
    double edge = 2.0 * load / (reach * 0.04);
    CHECK_NEAR(sum_of_pressures(&on, &got, 0, on.of.model.bed_count), load, 1e-8 * load, "N");
    for (int k = 0; k < on.of.model.bed_count; k++) {
        double in = 0.04 - on.places[k].point.x;
        CHECK_NEAR(got.bed_pressures[k], edge * fmax(0.0, 1.0 - in / reach), 0.01 * edge, "Pa");
    }
    solid_free(&on.of);
}

// A long beam on a two-sided bed sinks F q / (2 k) under a force, q^4 = k / (4 E I), k the bed's
// stiffness per length (Hetenyi 1946, Beams on Elastic Foundation: from memory). The one-sided bed
// of the same stiffness is pressed within 3 pi / (4 q) of the force only when nothing holds the
// ends down.
static void test_fem__a_long_beam_on_ground_sinks_as_hetenyi_says(void **state)
{
    (void)state;
    static const double size[3] = {1.2, 0.02, 0.01};
    const int counts[3] = {80, 2, 1};
    const double per_length = 4e6, load = 100.0;
    const hw_fem_material material = {70e9, 0.0};
    bedded on = bedded_slab(size, counts, material);
    hw_fem_bed ground = {.thickness = 0.01};
    // pressed deep enough at first that no part of it lifts: then it is two-sided
    ground.gap = -0.001, ground.modulus = per_length / 0.02 * ground.thickness;
    lay_beds(&on, HW_FEM_LOW, &ground);
    hold_along(&on.of);
    hw_fem_spread weight = {.traction = {0.0, 0.0, -per_length / 0.02 * 0.001}};
    for (int e = 0; e < on.of.mesh.element_count; e++)
        hw_fem_spread_on(&on.of.mesh, e, HW_FEM_LOW, &weight, on.of.forces);
    on.of.forces[node_at(&on.of, (hw_vec3){0.0, 0.0, 0.005})].z -= load;
    hw_fem_answer got = solved(&on.of, 1);
    double inertia = 0.02 * 0.01 * 0.01 * 0.01 / 12.0;
    double q = pow(per_length / (4.0 * 70e9 * inertia), 0.25);
    double sink = load * q / (2.0 * per_length);
    CHECK_NEAR(-got.moves[node_at(&on.of, (hw_vec3){0})].z, sink, 0.02 * sink, "m");
    // the first place where it comes up again
    double at = 0.75 * HW_PI / q;
    CHECK_NEAR(got.moves[node_at(&on.of, (hw_vec3){at, 0.0, 0.0})].z, 0.0, 0.01 * sink, "m");
    assert_true(got.moves[node_at(&on.of, (hw_vec3){1.2 * at, 0.0, 0.0})].z > 0.01 * sink);
    solid_free(&on.of);
}

// A quarter of a block, its elements finer towards the middle of the upper face.
static hw_vec3 quarter_block(double u, double v, double w, const void *with)
{
    double side = *(const double *)with;
    return (hw_vec3){side * u * u * (0.15 + 0.85 * u), side * v * v * (0.15 + 0.85 * v), side * w};
}

static const hw_fem_material rubber = {1e9, 0.3};

// Holds the bottom and the far sides where a half space under `load` at the origin would have them
// (Boussinesq 1885, by Timoshenko & Goodier, Theory of Elasticity, 138: from memory); +z is up
// here.
static void hold_far(solid *of, double side, double load)
{
    double shear = rubber.young / (2.0 * (1.0 + rubber.poisson));
    for (int n = 0; n < of->mesh.node_count; n++) {
        hw_vec3 p = of->mesh.nodes[n];
        bool is_far = p.x > side - 1e-9 || p.y > side - 1e-9 || p.z < -side + 1e-9;
        if (p.x < 1e-12) hold(of, n, 0, 0.0);
        if (p.y < 1e-12) hold(of, n, 1, 0.0);
        if (!is_far) continue;
        double r = hw_vec3_norm(p), deep = -p.z, size = load / (4.0 * HW_PI * shear * r);
        double out = size * (deep / (r * r) - (1.0 - 2.0 * rubber.poisson) / (r + deep));
        if (p.x >= 1e-12) hold(of, n, 0, out * p.x);
        if (p.y >= 1e-12) hold(of, n, 1, out * p.y);
        hold(of, n, 2, -size * (deep * deep / (r * r) + 2.0 * (1.0 - rubber.poisson)));
    }
}

// A quarter block under beds that a body carries, as a sphere's face away from it.
static bedded block_under_sphere(double side, double radius)
{
    const int counts[3] = {10, 10, 8};
    bedded on = {.of = solid_of(quarter_block, &side, counts, rubber)};
    on.beds = hw_arena_take(on.of.room.into, BEDS_MAX, sizeof *on.beds);
    on.places = hw_arena_take(on.of.room.into, BEDS_MAX, sizeof *on.places);
    assert_true(on.beds && on.places);
    on.of.model.beds = on.beds;
    for (int n = 0; n < on.of.mesh.node_count; n++) { // layers finer towards the top
        double deep = 1.0 - on.of.mesh.nodes[n].z / side;
        on.of.mesh.nodes[n].z = -side * deep * (0.12 + 0.88 * deep);
    }
    hw_fem_bed stiff = {.thickness = 1e-6, .modulus = 1e8, .rides = {1.0}};
    lay_beds(&on, HW_FEM_HIGH, &stiff);
    for (int k = 0; k < on.of.model.bed_count; k++) {
        hw_vec3 p = on.places[k].point;
        on.beds[k].push = (hw_vec3){0.0, 0.0, -1.0};
        on.beds[k].gap = (p.x * p.x + p.y * p.y) / (2.0 * radius);
    }
    on.of.model.rider_count = 1;
    on.of.model.rider_ways[0] = (hw_vec3){0.0, 0.0, -1.0};
    return on;
}

// Hertz 1882: a stiff sphere of radius R pressed d into a half space takes
// 4/3 E / (1 - nu^2) sqrt(R) d^1.5, on a circle of radius sqrt(R d), 1.5 times the mean in its
// middle.
static void test_fem__a_sphere_presses_in_as_hertz_says(void **state)
{
    (void)state;
    const double side = 0.012, radius = 0.010, load = 100.0;
    bedded on = block_under_sphere(side, radius);
    hold_far(&on.of, side, load);
    hw_fem_case with = {.rider_loads = {load / 4.0}};
    hw_fem_answer got = {0};
    on.of.model.mesh = &on.of.mesh;
    CHECK_OK(&on.of.room.job,
             hw_fem_solve(&on.of.room.job, &on.of.model, &with, 1, on.of.room.into, &got));
    double stiffness = 1e9 / (1.0 - 0.09);
    double deep = pow(0.75 * load / (stiffness * sqrt(radius)), 2.0 / 3.0);
    double peak = 1.5 * load / (HW_PI * radius * deep), most = 0.0;
    CHECK_NEAR(got.rider_travel[0], deep, 0.01 * deep, "m");
    for (int k = 0; k < on.of.model.bed_count; k++) {
        hw_vec3 p = on.places[k].point;
        most = fmax(most, got.bed_pressures[k]);
        if (hypot(p.x, p.y) > 1.15 * sqrt(radius * deep))
            CHECK_NEAR(got.bed_pressures[k], 0.0, 1e-9 * peak, "Pa");
    }
    CHECK_NEAR(most, peak, 0.08 * peak, "Pa"); // four elements across the contact
    CHECK_NEAR(sum_of_pressures(&on, &got, 0, on.of.model.bed_count), load / 4.0, 1e-7, "N");
    solid_free(&on.of);
}

int run_bed_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fem__soft_ground_sinks_as_its_law_says),
        cmocka_unit_test(test_fem__a_footing_loaded_off_its_core_lifts),
        cmocka_unit_test(test_fem__a_long_beam_on_ground_sinks_as_hetenyi_says),
        cmocka_unit_test(test_fem__a_sphere_presses_in_as_hertz_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
