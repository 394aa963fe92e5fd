// SPDX-License-Identifier: GPL-3.0-or-later
// Repeatability: the same foot in another pose and unit, with noise, holes, a floor, another meshing
// and another cut. References are the program's own measures of the unperturbed foot, so that this
// says nothing of trueness (ISO 20685-1 asks for expert measures on people).
#include "demo/demo.h"
#include "repeatability.h"
#include "suites.h"

enum {
    FIRST_SEED = 27000, // none that spread.c was calibrated on
    CASES = 500,
    COMPARED = 6,
    SPREAD_EVERY = 5,
    COVERED_LEAST = 200,
    FLOOR_EVERY = 7, // with FLOOR_AT
    FLOOR_AT = 3,
    FINE_EVERY = 125, // with FINE_AT: subdivided to 2 M triangles, in the whole suite only
    FINE_AT = 52,
    FINE_TRIANGLES = 500001 // subdivided while below
};

static const hw_measure compared[COMPARED] = {HW_MEASURE_FOOT_LENGTH,      HW_MEASURE_BALL_BREADTH,
                                              HW_MEASURE_HEEL_BREADTH,     HW_MEASURE_DORSUM_HEIGHT,
                                              HW_MEASURE_ARCH_APEX_HEIGHT, HW_MEASURE_BALL_GIRTH};

// Limits of the repeatability asked for, m: median and 99th percentile for noise up to 0.4 mm.
static const double limits[COMPARED][2] = {{0.0003, 0.0015}, {0.001, 0.003},   {0.001, 0.003},
                                           {0.001, 0.003},   {0.0008, 0.0025}, {0.002, 0.006}};

// What one measure did over the cases, m. `quiet`: noise up to 0.4 mm, holes off the landmarks.
typedef struct record {
    double quiet[CASES], all[CASES]; // errors, signed
    int quiet_count, all_count;
    int stated[2], covered[2]; // 95 % intervals, of quiet and of other cases
} record;

typedef struct tally {
    int cases, asked, refused, wrong;
    record of[COMPARED];
} tally;

// A base foot: every third a shared one where there are any, else an invented one.
static hw_mesh base_foot(hw_test_room *room, int i, hw_random *random, int triangles)
{
    static const char *const shared[] = {"focus_left_hires_m.obj", "find_mean_left_m.obj",
                                         "find_pc1minus_right_mm.stl",
                                         "mh_male_right_smooth_mm.stl"};
    if (i % 3 == 0 && hw_test_data()) {
        hw_mesh torn = read_shared(room, shared[i / 3 % 4]),
                whole = {0}; // STL: corners of their own
        CHECK_OK(&room->job, hw_mesh_weld(&room->job, &torn, 0.0, room->into, &whole));
        return whole;
    }
    hw_demo_foot_order order = hw_demo_foot_order_default();
    hw_mesh mesh = {0};
    hw_demo_truth truth = {0};
    order.side = i % 2 ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
    order.seed = (uint64_t)i;
    order.triangles = triangles;
    order.foot_length_m = 0.21 + 0.1 * hw_random_uniform(random);
    order.ball_breadth_m = order.foot_length_m * (0.34 + 0.08 * hw_random_uniform(random));
    order.heel_breadth_m = order.ball_breadth_m * (0.6 + 0.2 * hw_random_uniform(random));
    order.arch_apex_height_m = 0.008 + 0.017 * hw_random_uniform(random);
    order.dorsum_height_m = order.foot_length_m * (0.22 + 0.08 * hw_random_uniform(random));
    order.toes = (hw_demo_toes)(i / 2 % 3);
    CHECK_OK(&room->job, hw_demo_foot(&room->job, &order, room->into, &mesh, &truth));
    return mesh;
}

static void add_noise(hw_mesh *mesh, double sd, hw_random *random)
{
    for (int i = 0; i < mesh->point_count; i++) {
        hw_vec3 *p = &mesh->points[i];
        p->x += sd * hw_random_normal(random);
        p->y += sd * hw_random_normal(random);
        p->z += sd * hw_random_normal(random);
    }
}

// Cuts a round hole away from landmarks, and what lies above a height in the foot frame.
static void cut(hw_mesh *mesh, const hw_scan_result *as_is, double radius, double height,
                hw_random *random)
{
    const hw_landmarks *at = &as_is->foot.landmarks;
    const hw_vec3 marks[] = {at->heel_back,   at->toe_tip,      at->mth1,      at->mth5,
                             at->heel_medial, at->heel_lateral, at->arch_apex, at->dorsum};
    hw_vec3 middle = {0};
    bool is_near = true;
    for (int tries = 0; tries < 50 && is_near; tries++) {
        int chosen = (int)(hw_random_uniform(random) * mesh->point_count);
        middle = hw_pose_point(&as_is->foot.from_scan, mesh->points[chosen]);
        is_near = false;
        for (size_t k = 0; k < sizeof marks / sizeof *marks; k++)
            is_near = is_near || hw_vec3_distance(marks[k], middle) < radius + 0.02;
    }
    int kept = 0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        hw_vec3 p = mesh->points[mesh->triangles[i][0]];
        p = hw_pose_point(&as_is->foot.from_scan, p);
        if ((!is_near && hw_vec3_distance(p, middle) < radius) || p.z > height) continue;
        memcpy(mesh->triangles[kept++], mesh->triangles[i], sizeof *mesh->triangles);
    }
    mesh->triangle_count = kept;
}

// A plate a little under the foot, apart from it, as a scanner with a platform leaves one.
static hw_mesh with_floor(hw_arena *into, const hw_mesh *mesh, const hw_scan_result *as_is,
                          hw_random *random)
{
    enum { ALONG = 72, ACROSS = 44, POINTS = (ALONG + 1) * (ACROSS + 1) };
    const hw_pose back = hw_pose_inverse(&as_is->foot.from_scan);
    const double cell = 0.005, low = -0.001 - 0.003 * hw_random_uniform(random);
    const int plates = 2 * ALONG * ACROSS, first = mesh->point_count;
    hw_mesh out = *mesh;
    out.points = hw_arena_take(into, (size_t)(first + POINTS), sizeof *out.points);
    out.triangles =
        hw_arena_take(into, (size_t)(mesh->triangle_count + plates), sizeof *out.triangles);
    assert_true(out.points && out.triangles);
    memcpy(out.points, mesh->points, (size_t)first * sizeof *out.points);
    memcpy(out.triangles, mesh->triangles, (size_t)mesh->triangle_count * sizeof *out.triangles);
    for (int i = 0; i <= ALONG; i++)
        for (int j = 0; j <= ACROSS; j++) {
            hw_vec3 at = {cell * (i - 10), cell * (j - ACROSS / 2), low};
            out.points[out.point_count++] = hw_pose_point(&back, at);
        }
    for (int i = 0; i < ALONG; i++)
        for (int j = 0; j < ACROSS; j++) {
            const int a = first + i * (ACROSS + 1) + j, b = a + ACROSS + 1;
            int *two = out.triangles[out.triangle_count];
            two[0] = a, two[1] = b, two[2] = b + 1;
            two[3] = a, two[4] = b + 1, two[5] = a + 1;
            out.triangle_count += 2;
        }
    return out;
}

// Each triangle becomes four, its surface stays: what a program that only refines a mesh does.
static hw_mesh subdivided(hw_test_room *room, const hw_mesh *mesh)
{
    hw_mesh torn = {0}, out = {0};
    torn.points = hw_arena_take(room->into, 12 * (size_t)mesh->triangle_count, sizeof *torn.points);
    torn.triangles =
        hw_arena_take(room->into, 4 * (size_t)mesh->triangle_count, sizeof *torn.triangles);
    assert_true(torn.points && torn.triangles);
    for (int i = 0; i < mesh->triangle_count; i++) {
        hw_vec3 p[6];
        for (int k = 0; k < 3; k++) p[k] = mesh->points[mesh->triangles[i][k]];
        for (int k = 0; k < 3; k++)
            p[3 + k] = hw_vec3_scale(hw_vec3_add(p[k], p[(k + 1) % 3]), 0.5);
        static const int four[4][3] = {{0, 3, 5}, {3, 1, 4}, {5, 4, 2}, {3, 4, 5}};
        for (int k = 0; k < 12; k++) {
            torn.triangles[torn.triangle_count + k / 3][k % 3] = torn.point_count;
            torn.points[torn.point_count++] = p[four[k / 3][k % 3]];
        }
        torn.triangle_count += 4;
    }
    CHECK_OK(&room->job, hw_mesh_weld(&room->job, &torn, 0.0, room->into, &out));
    return out;
}

static hw_scan_result reference_of(hw_test_room *room, const hw_mesh *raw)
{
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0};
    CHECK_OK(&room->job, hw_scan_foot(&room->job, raw, &ask, room->into, &scan));
    return scan;
}

static void compare(const hw_scan_result *want, const hw_scan_result *got, bool is_quiet,
                    tally *out)
{
    for (int k = 0; k < COMPARED; k++) {
        record *r = &out->of[k];
        hw_maybe a = hw_foot_measure_of(&want->foot.measures, compared[k]);
        hw_maybe b = hw_foot_measure_of(&got->foot.measures, compared[k]);
        hw_maybe half = got->spread.half_width_95[compared[k]];
        if (!a.known || !b.known) continue;
        double error = b.value - a.value;
        r->all[r->all_count++] = error;
        if (is_quiet) r->quiet[r->quiet_count++] = error;
        r->stated[!is_quiet] += half.known;
        r->covered[!is_quiet] += half.known && fabs(error) <= half.value;
    }
}

static void one_case(int i, tally *out)
{
    hw_test_room room = hw_test_open();
    hw_random random = hw_random_begin(FIRST_SEED + (uint64_t)i);
    hw_random same = random; // the same foot once finely and once anyhow meshed
    hw_mesh fine = base_foot(&room, i, &same, 30000);
    hw_mesh mesh = base_foot(&room, i, &random, i % 5 == 0 ? 5000 : 16000);
    hw_scan_result want = reference_of(&room, &fine);
    double noise = 0.001 * hw_random_uniform(&random), m = hw_scan_unit_m(want.unit);
    bool has_holes = i % 4 == 1, is_quiet = noise <= 0.0004;
    double height = want.foot.measures.foot_length_m.value * (i % 2 ? 0.36 : 1.0);
    cut(&mesh, &want, has_holes ? 0.015 * hw_random_uniform(&random) : 0.0, height, &random);
    if (i % FINE_EVERY == FINE_AT)
        while (mesh.triangle_count < FINE_TRIANGLES) mesh = subdivided(&room, &mesh);
    if (i % FLOOR_EVERY == FLOOR_AT) mesh = with_floor(room.into, &mesh, &want, &random);
    add_noise(&mesh, noise / m, &random);
    hw_scan_unit unit = (hw_scan_unit)(HW_SCAN_UNIT_M + i % 5);
    hw_mesh moved = elsewhere(room.into, &mesh, &random, m / hw_scan_unit_m(unit));
    hw_scan_ask ask = hw_scan_ask_default();
    ask.wants_spread = i % SPREAD_EVERY == 0 || hw_test_rounds(CASES) == CASES;
    hw_scan_result got = {0};
    hw_status status = hw_scan_foot(&room.job, &moved, &ask, room.into, &got);
    out->cases++;
    out->asked += status == HW_NO_ANSWER;
    out->refused += status != HW_OK && status != HW_NO_ANSWER;
    if (status != HW_OK) print_message("case %d: %s\n", i, room.job.why);
    if (status == HW_OK) {
        out->wrong += got.foot.side != want.foot.side || got.unit != unit;
        compare(&want, &got, is_quiet, out);
    }
    hw_test_close(&room);
}

static void check_errors(const tally *all)
{
    static double sizes[CASES];
    for (int k = 0; k < COMPARED; k++) {
        const record *r = &all->of[k];
        for (int i = 0; i < r->quiet_count; i++) sizes[i] = fabs(r->quiet[i]);
        double median = hw_quantile(sizes, r->quiet_count, 0.5);
        double far = hw_quantile(sizes, r->quiet_count, 0.99);
        repeatability iso = repeatability_of(r->all, r->all_count);
        print_message("%-18s median %.2f mm, 99th %.2f mm of %d; of all %d: mean %+.2f, sd %.2f, "
                      "95 %% interval of the mean %+.2f to %+.2f mm\n",
                      hw_measure_rows()[compared[k]].name, hw_mm_from_m(median), hw_mm_from_m(far),
                      r->quiet_count, r->all_count, hw_mm_from_m(iso.mean), hw_mm_from_m(iso.sd),
                      hw_mm_from_m(iso.low), hw_mm_from_m(iso.high));
        assert_true(median <= limits[k][0]);
        assert_true(far <= limits[k][1]);
        assert_true(iso.is_inside);
    }
}

// How often a stated interval held: asked for in 93 to 97 % of what lies beyond the limits above; within
// them it may hold more often. The few cases of the tenth, six measures of one foot each and so not
// independent, only show that no interval is far too narrow.
static void check_coverage(const tally *all)
{
    int stated[2] = {0}, covered[2] = {0};
    for (int k = 0; k < COMPARED; k++) {
        const record *r = &all->of[k];
        for (int i = 0; i < 2; i++) {
            stated[i] += r->stated[i];
            covered[i] += r->covered[i];
        }
        print_message("%-18s covered in %d of %d quiet, %d of %d other cases\n",
                      hw_measure_rows()[compared[k]].name, r->covered[0], r->stated[0],
                      r->covered[1], r->stated[1]);
    }
    double share = (double)covered[1] / stated[1];
    print_message("stated 95 %% intervals cover %.1f %% of quiet, %.1f %% of other cases\n",
                  100.0 * covered[0] / stated[0], 100.0 * share);
    assert_true(covered[0] + covered[1] >= 0.8 * (stated[0] + stated[1]));
    if (stated[1] < COVERED_LEAST) return;
    assert_true(share >= 0.93 && share <= 0.97);
    assert_true(covered[0] >= 0.93 * stated[0]);
}

// source  facts of standards 4: n 40, mean 1.2, sd 2.0 mm gives 0.58 to 1.82 and passes; mean 1.6
//         gives 2.22 at its upper end and fails
static void test_repeatability__is_the_statistic_of_the_standard(void **state)
{
    (void)state;
    repeatability good = repeatability_of_moments(40, 0.0012, 0.002);
    CHECK_NEAR(good.low, 0.00058, 5e-6, "m");
    CHECK_NEAR(good.high, 0.00182, 5e-6, "m");
    assert_true(good.is_inside);
    repeatability bad = repeatability_of_moments(40, 0.0016, 0.002);
    CHECK_NEAR(bad.high, 0.00222, 5e-6, "m");
    assert_false(bad.is_inside);
    const double errors[] = {0.001, -0.001, 0.003};
    repeatability of = repeatability_of(errors, 3);
    CHECK_NEAR(of.mean, 0.001, 1e-15, "m");
    CHECK_NEAR(of.sd, 0.002, 1e-15, "m");
}

static void test_perturbed__the_same_foot_gives_the_same_measures(void **state)
{
    (void)state;
    static tally all;
    int rounds = hw_test_rounds(CASES);
    for (int i = 0; i < rounds; i++) one_case(i, &all);
    print_message("%d cases, %d asked, %d refused, %d wrong\n", all.cases, all.asked, all.refused,
                  all.wrong);
    assert_int_equal(all.wrong, 0);
    assert_int_equal(all.refused, 0);
    assert_true(all.asked <= 1 + rounds / 50);
    check_errors(&all);
    check_coverage(&all);
}

static void test_spread__is_the_same_twice_and_grows_with_noise(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scan_spread spreads[3];
    for (int i = 0; i < 3; i++) {
        hw_random random = hw_random_begin(3), noise = hw_random_begin(4);
        hw_mesh mesh = base_foot(&room, 1, &random, 12000);
        if (i == 2) add_noise(&mesh, 0.001, &noise);
        hw_scan_ask ask = hw_scan_ask_default();
        ask.wants_spread = true;
        hw_scan_result scan = {0};
        CHECK_OK(&room.job, hw_scan_foot(&room.job, &mesh, &ask, room.into, &scan));
        assert_true(scan.spread.is_known);
        spreads[i] = scan.spread;
    }
    for (int k = 0; k < HW_MEASURES; k++)
        CHECK_NEAR(spreads[0].half_width_95[k].value, spreads[1].half_width_95[k].value, 0.0, "");
    CHECK_NEAR(spreads[0].noise_m, 0.0002, 1e-9, "m"); // the least that is taken
    CHECK_NEAR(spreads[2].noise_m, 0.001, 0.0002, "m");
    assert_true(spreads[2].half_width_95[HW_MEASURE_FOOT_LENGTH].value >
                2.0 * spreads[0].half_width_95[HW_MEASURE_FOOT_LENGTH].value);
    hw_test_close(&room);
}

int run_perturbed_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_repeatability__is_the_statistic_of_the_standard),
        cmocka_unit_test(test_perturbed__the_same_foot_gives_the_same_measures),
        cmocka_unit_test(test_spread__is_the_same_twice_and_grows_with_noise),
    };
    return cmocka_run_group_tests_name("scan perturbed", tests, NULL, NULL);
}
