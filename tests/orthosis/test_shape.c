// SPDX-License-Identifier: GPL-3.0-or-later
// The device's form: depth of the cup, round edges, what noise and holes do to it, a real scan.
#include "demo/demo.h"
#include "meshfile/meshfile.h"
#include "near.h"
#include "orthosis/orthosis.h"
#include "scan/scan.h"
#include "suites.h"
#include "written.h"

static hw_foot posed(hw_test_room *room, const hw_demo_foot_order *order)
{
    hw_foot foot = {0};
    CHECK_OK(&room->job, hw_demo_posed(&room->job, order, room->into, &foot));
    return foot;
}

// Cup depth is measured from the lowest point inside to the crest of the rim: common practice.
static void test_orthosis__the_heel_cup_is_as_deep_as_ordered(void **state)
{
    (void)state;
    static const double depths[] = {0.008, 0.014, 0.020, 0.030};
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    for (int i = 0; i < 4; i++) {
        hw_test_room room = hw_test_open();
        hw_foot foot = posed(&room, &demo);
        hw_orthosis_order order = plain_order(&foot);
        order.heel_cup_depth_m = depths[i];
        hw_orthosis device = built(&room, &foot, &order);
        double crest = -1.0, low = 1.0;
        for (int k = 0; k < device.solid.point_count; k++)
            if (device.solid.points[k].x < 0.015) crest = fmax(crest, device.solid.points[k].z);
        for (int k = 0; k < device.nu * device.nv; k++)
            if (device.top[k].x < foot.landmarks.heel_medial.x) low = fmin(low, device.top[k].z);
        CHECK_NEAR(crest - low, depths[i], 0.0003, "m");
        hw_test_close(&room);
    }
}

static int order_edges(const void *a, const void *b)
{
    const int *one = a, *other = b;
    if (one[0] != other[0]) return one[0] < other[0] ? -1 : 1;
    return (one[1] > other[1]) - (one[1] < other[1]);
}

static hw_vec3 facing(const hw_mesh *mesh, int triangle)
{
    const int *c = mesh->triangles[triangle];
    hw_vec3 a = mesh->points[c[0]];
    return hw_vec3_unit(
        hw_vec3_cross(hw_vec3_sub(mesh->points[c[1]], a), hw_vec3_sub(mesh->points[c[2]], a)));
}

// Largest angle between neighbouring triangles, rad: the sharpest edge of the solid.
static double sharpest_edge(hw_test_room *room, const hw_mesh *mesh)
{
    int(*edges)[3] = hw_arena_take(room->into, 3 * (size_t)mesh->triangle_count, sizeof *edges);
    assert_non_null(edges);
    for (int t = 0; t < mesh->triangle_count; t++)
        for (int k = 0; k < 3; k++) {
            int a = mesh->triangles[t][k], b = mesh->triangles[t][(k + 1) % 3];
            int *edge = edges[3 * t + k];
            edge[0] = a < b ? a : b, edge[1] = a < b ? b : a, edge[2] = t;
        }
    qsort(edges, 3 * (size_t)mesh->triangle_count, sizeof *edges, order_edges);
    double least = 1.0;
    for (int e = 0; e + 1 < 3 * mesh->triangle_count; e += 2) // closed: edges come in pairs
        least = fmin(least, hw_vec3_dot(facing(mesh, edges[e][2]), facing(mesh, edges[e + 1][2])));
    return acos(least);
}

// A hazard of the list (H25: sharp edge injures skin): nothing on the device turns by 60 degrees.
static void test_orthosis__no_edge_of_it_is_sharp(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_foot foot = posed(&room, &demo);
    for (int i = 0; i < 3; i++) {
        hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
        order.shell_thickness_m = 0.002 + 0.002 * i;
        hw_orthosis device = built(&room, &foot, &order);
        double angle = sharpest_edge(&room, &device.solid);
        CHECK_NEAR(angle, 0.0, hw_rad_from_deg(60.0), "rad");
    }
    hw_test_close(&room);
}

// Radius of the circle through three points seen from above.
static double plan_radius(hw_vec3 a, hw_vec3 b, hw_vec3 c)
{
    double twice = fabs((b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y));
    double sides =
        hypot(b.x - a.x, b.y - a.y) * hypot(c.x - b.x, c.y - b.y) * hypot(a.x - c.x, a.y - c.y);
    return twice > 1e-12 ? sides / (2.0 * twice) : 1.0;
}

static void test_orthosis__its_outline_has_no_corner(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_foot foot = posed(&room, &demo);
    hw_orthosis_order order = plain_order(&foot);
    hw_orthosis device = built(&room, &foot, &order);
    int count = device.outline_count;
    for (int k = 0; k < count; k++) {
        double radius = plan_radius(device.outline[k], device.outline[(k + 3) % count],
                                    device.outline[(k + 6) % count]);
        assert_true(radius > 0.003);
    }
    hw_test_close(&room);
}

// The noisy and holed scan against the clean surface it came from. Bounds: own prototype, about twice
// what was measured (rms 0.05 mm at 0.2 mm of noise, 0.08 at 0.4).
static void test_orthosis__noise_and_holes_leave_the_sole_in_place(void **state)
{
    (void)state;
    static const double noise[] = {0.0, 0.0002, 0.0004}, rms[] = {0.00005, 0.00010, 0.00016};
    for (int i = 0; i < 3; i++) {
        hw_test_room room = hw_test_open();
        hw_demo_foot_order demo = hw_demo_foot_order_default();
        demo.triangles = 60000;
        hw_foot clean = posed(&room, &demo);
        demo.noise_m = noise[i], demo.holes = 24, demo.seed = 3;
        hw_foot foot = posed(&room, &demo);
        hw_orthosis_order order = plain_order(&foot);
        hw_orthosis device = built(&room, &foot, &order);
        assert_true(device.filled_area_m2 > 0.0001);
        const hw_near *near = NULL;
        CHECK_OK(&room.job, hw_near_build(&room.job, &clean.surface, room.into, &near));
        const hw_near *shown = NULL;
        CHECK_OK(&room.job, hw_near_build(&room.job, &foot.surface, room.into, &shown));
        double squares = 0.0, worst = 0.0;
        int all = device.nu * device.nv;
        for (int k = 0; k < all; k++) {
            double away = hw_near_distance(near, device.top[k], NULL);
            squares += away * away;
            bool is_shown = hw_near_distance(shown, device.top[k], NULL) < 0.0005 + 2.0 * noise[i];
            if (is_shown) worst = fmax(worst, away);
        }
        CHECK_NEAR(sqrt(squares / all), 0.0, rms[i], "m");
        // the bound, where it was scanned: not in a hole
        CHECK_NEAR(worst, 0.0, 0.00015 + noise[i], "m");
        assert_true(device.thickness_min_m > 0.9 * order.shell_thickness_m);
        hw_test_close(&room);
    }
}

static double half_width_at(const hw_orthosis *device, double x)
{
    double wide = 0.0;
    for (int k = 0; k < device->nu * device->nv; k++)
        if (fabs(device->top[k].x - x) < 0.003) wide = fmax(wide, device->top[k].y);
    return wide;
}

static void test_orthosis__expansions_widen_heel_and_border_as_ordered(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_foot foot = posed(&room, &demo);
    hw_orthosis_order order = plain_order(&foot);
    hw_orthosis plain = built(&room, &foot, &order);
    order.heel_expansion_m = 0.002, order.border_expansion_m = 0.004;
    hw_orthosis wide = built(&room, &foot, &order);
    double heel = foot.landmarks.heel_lateral.x, border = foot.landmarks.mth5.x - 0.03;
    CHECK_NEAR(half_width_at(&wide, heel) - half_width_at(&plain, heel), 0.002, 0.0003, "m");
    CHECK_NEAR(half_width_at(&wide, border) - half_width_at(&plain, border), 0.004, 0.0004, "m");
    hw_test_close(&room);
}

static void test_orthosis__a_fill_higher_than_the_arch_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    demo.arch_apex_height_m = 0.005;
    hw_foot foot = posed(&room, &demo);
    hw_orthosis_order order = plain_order(&foot);
    order.arch_fill_m = 0.006;
    CHECK_FAILS(&room.job, hw_orthosis_check(&room.job, &foot, &order), HW_BAD_INPUT,
                "arch fill: 6 mm is more than this arch is high (5.0 mm)");
    order.arch_fill_m = 0.005;
    CHECK_OK(&room.job, hw_orthosis_check(&room.job, &foot, &order));
    hw_test_close(&room);
}

// A scan of the instep only: the sole between heel and ball is missing.
static void test_orthosis__a_scan_without_its_sole_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_foot foot = posed(&room, &demo);
    hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
    int kept = 0;
    for (int t = 0; t < foot.surface.triangle_count; t++) {
        int *c = foot.surface.triangles[t];
        hw_vec3 p = foot.surface.points[c[0]];
        if (p.x > 0.08 && p.x < 0.13 && p.z < 0.02) continue;
        for (int k = 0; k < 3; k++) foot.surface.triangles[kept][k] = c[k];
        kept++;
    }
    foot.surface.triangle_count = kept;
    CHECK_FAILS(&room.job, hw_orthosis_check(&room.job, &foot, &order), HW_BAD_INPUT,
                "of the sole the shell would lie on");
    foot.surface.triangle_count = 0;
    CHECK_FAILS(&room.job, hw_orthosis_check(&room.job, &foot, &order), HW_BAD_INPUT,
                "shows nothing of the sole");
    hw_test_close(&room);
}

static void test_orthosis__the_same_foot_and_order_give_the_same_bytes(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    demo.noise_m = 0.0002;
    hw_foot foot = posed(&room, &demo);
    hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
    hw_orthosis one = built(&room, &foot, &order), other = built(&room, &foot, &order);
    assert_memory_equal(one.solid.points, other.solid.points,
                        sizeof(hw_vec3) * (size_t)one.solid.point_count);
    hw_test_close(&room);
}

static void test_orthosis__memory_that_runs_out_fails_cleanly(void **state)
{
    (void)state;
    for (int which = 0; which < 3; which++) {
        hw_status last = HW_NO_MEMORY;
        for (size_t n = 1; last != HW_OK && n < 100; n++) {
            hw_test_room room = hw_test_open();
            hw_demo_foot_order demo = hw_demo_foot_order_default();
            demo.triangles = 5000;
            hw_foot foot = posed(&room, &demo);
            hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
            hw_orthosis device = {0};
            hw_arena_fail_at(which == 2 ? room.into : room.job.scratch[which], n);
            last = hw_orthosis_build(&room.job, &foot, &order, room.into, &device);
            assert_true(last == HW_OK || last == HW_NO_MEMORY);
            assert_true(last == HW_OK || device.top == NULL);
            hw_test_close(&room);
        }
        assert_int_equal(last, HW_OK);
    }
}

static hw_bytes whole_file(hw_test_room *room, const char *folder, const char *name)
{
    char path[400];
    snprintf(path, sizeof path, "%s/feet/%s", folder, name);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    fseek(file, 0, SEEK_END);
    size_t count = (size_t)ftell(file);
    rewind(file);
    unsigned char *bytes = hw_arena_take(room->into, count, 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, count, file), count);
    fclose(file);
    return (hw_bytes){bytes, count};
}

// A real foot, hanging, 89 000 triangles: OllieBoyne/FOCUS data/find/template.obj, MIT.
static void test_orthosis__on_a_real_scan_its_top_is_the_sole(void **state)
{
    (void)state;
    const char *folder = hw_test_data();
    if (!folder) skip();
    hw_test_room room = hw_test_open();
    hw_bytes file = whole_file(&room, folder, "focus_left_hires_m.obj");
    hw_mesh raw = {0};
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0};
    ask.loading = HW_LOADING_HANGING, ask.side = HW_SIDE_LEFT;
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &raw, NULL));
    CHECK_OK(&room.job, hw_scan_foot(&room.job, &raw, &ask, room.into, &scan));
    hw_orthosis_order order = plain_order(&scan.foot);
    hw_orthosis device = built(&room, &scan.foot, &order);
    CHECK_NEAR(device.deviation_max_m, 0.0, 0.00015, "m"); // the bound this module promises
    assert_true(device.distal_gap_min_m >= 0.003 && device.distal_gap_max_m <= 0.010);
    assert_true(device.thickness_min_m > 0.9 * order.shell_thickness_m);
    hw_test_close(&room);
}

// The widest section, not the widest extent: inner and outer side bulge at different places along.
static void test_orthosis__its_width_is_that_of_one_section(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_foot foot = posed(&room, &demo);
    hw_orthosis_order order = plain_order(&foot);
    hw_shoe_fit_row rows[HW_SHOE_FITS];
    double heel = foot.landmarks.heel_lateral.x;
    const double corners[8][2] = {{2.2 * heel, -0.04}, {2.2 * heel, 0.01},  {2.5 * heel, -0.04},
                                  {2.5 * heel, 0.01},  {3.0 * heel, -0.01}, {3.0 * heel, 0.04},
                                  {3.3 * heel, -0.01}, {3.3 * heel, 0.04}};
    hw_vec3 points[8];
    for (int k = 0; k < 8; k++) points[k] = (hw_vec3){corners[k][0], corners[k][1], 0.0};
    hw_orthosis device = {.solid = {.points = points, .point_count = 8}};
    hw_orthosis_shoe_fit(&foot, &device, &order, rows);
    CHECK_NEAR(rows[HW_SHOE_FIT_BALL_WIDTH].value, 0.05, 1e-9, "m"); // 0.08 from side to side
    hw_test_close(&room);
}

// Takes away every triangle below the ankle that reaches between two places along.
static void drop_between(hw_mesh *mesh, double from, double to)
{
    int kept = 0;
    for (int t = 0; t < mesh->triangle_count; t++) {
        const int *c = mesh->triangles[t];
        double x = mesh->points[c[0]].x;
        if (x > from && x < to && mesh->points[c[0]].z < 0.06) continue;
        for (int k = 0; k < 3; k++) mesh->triangles[kept][k] = c[k];
        kept++;
    }
    mesh->triangle_count = kept;
}

static hw_foot flat_foot(hw_test_room *room)
{
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    demo.arch_apex_height_m = 0.001;
    hw_foot foot = posed(room, &demo);
    foot.landmarks.is_flat_sole = true; // as scan finds it below 3 mm
    foot.landmarks.arch_apex_known = false;
    return foot;
}

static void test_orthosis__a_flat_sole_is_refused_without_an_arch_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_foot foot = flat_foot(&room);
    hw_orthosis device = {0};
    hw_orthosis_order order = plain_order(&foot);
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "arch height by hand: the sole of this scan is flat");
    order.arch_height_m = 0.020;
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "heel cup depth");
    order.cup_is_by_hand = true;
    order.arch_height_m = 0.007;
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "arch height by hand: 7 mm");
    order.arch_height_m = 0.036;
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "arch height by hand: 36 mm");
    order.arch_height_m = 0.010, order.arch_fill_m = 0.0101;
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "arch fill");
    order.length = HW_ORTHOSIS_HEEL_CUP, order.arch_height_m = order.arch_fill_m = 0.0;
    CHECK_OK(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device));
    hw_test_close(&room);
}

// On its line (from the heel's middle to a fifth of the ball from the first head, docs/frames.md), at 0.57 of
// heel to first head, where the arch of a foot is highest (common practice: navicular, half of the foot).
static void test_orthosis__an_arch_by_hand_is_as_high_as_given(void **state)
{
    (void)state;
    static const double heights[] = {0.008, 0.020, 0.035};
    for (int i = 0; i < 3; i++) {
        hw_test_room room = hw_test_open();
        hw_foot foot = flat_foot(&room);
        const hw_landmarks *at = &foot.landmarks;
        hw_orthosis_order order = plain_order(&foot);
        order.arch_height_m = heights[i], order.cup_is_by_hand = true;
        hw_orthosis device = built(&room, &foot, &order), low = {0};
        written file = {0};
        CHECK_OK(&room.job, written_of(&room.job, &foot, &device, true, room.into, &file));
        double heel_x = 0.5 * (at->heel_medial.x + at->heel_lateral.x);
        double heel_y = 0.5 * (at->heel_medial.y + at->heel_lateral.y);
        double x = 0.57 * (at->mth1.x - at->heel_back.x),
               head = 0.8 * at->mth1.y + 0.2 * at->mth5.y;
        double y = heel_y + (head - heel_y) * (x - heel_x) / (at->mth1.x - heel_x);
        CHECK_NEAR(written_height(&file, x, y, true), heights[i], 0.0003, "m");
        CHECK_NEAR(written_height(&file, heel_x, heel_y, true), 0.0, 0.0005, "m");
        assert_string_equal(device.steps[0].name, "arch raised to a height given by hand");
        // arch fill lowers it by as much as it lowers a scanned one
        order.arch_fill_m = 0.004;
        low = built(&room, &foot, &order);
        CHECK_OK(&room.job, written_of(&room.job, &foot, &low, false, room.into, &file));
        CHECK_NEAR(written_height(&file, x, y, true), heights[i] - 0.004, 0.0005, "m");
        hw_test_close(&room);
    }
}

static void test_orthosis__an_arch_that_the_scan_shows_is_not_given_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_foot foot = posed(&room, &demo);
    hw_orthosis device = {0};
    hw_orthosis_order order = plain_order(&foot);
    order.arch_height_m = 0.025, order.cup_is_by_hand = true;
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "arch height by hand: this scan shows its sole");
    hw_test_close(&room);
}

// A ragged scan: a part of the arch's sole is missing, more than is filled without a word from the clinician.
static void test_orthosis__a_ragged_scan_is_shaped_with_arch_and_cup_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_demo_foot_order demo = hw_demo_foot_order_default();
    hw_foot foot = posed(&room, &demo);
    hw_orthosis device = {0};
    hw_orthosis_order order = plain_order(&foot);
    double from = 0.36 * foot.landmarks.mth1.x, to = 0.56 * foot.landmarks.mth1.x;
    drop_between(&foot.surface, from, to);
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "given by hand");
    order.arch_height_m = 0.022, order.cup_is_by_hand = true;
    device = built(&room, &foot, &order);
    assert_true(device.filled_area_m2 > 0.0005);
    drop_between(&foot.surface, 0.0, to);
    CHECK_FAILS(&room.job, hw_orthosis_build(&room.job, &foot, &order, room.into, &device),
                HW_BAD_INPUT, "it takes 90");
    hw_test_close(&room);
}

int run_shape_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_orthosis__the_heel_cup_is_as_deep_as_ordered),
        cmocka_unit_test(test_orthosis__no_edge_of_it_is_sharp),
        cmocka_unit_test(test_orthosis__its_outline_has_no_corner),
        cmocka_unit_test(test_orthosis__noise_and_holes_leave_the_sole_in_place),
        cmocka_unit_test(test_orthosis__expansions_widen_heel_and_border_as_ordered),
        cmocka_unit_test(test_orthosis__a_fill_higher_than_the_arch_is_refused),
        cmocka_unit_test(test_orthosis__a_scan_without_its_sole_is_refused),
        cmocka_unit_test(test_orthosis__the_same_foot_and_order_give_the_same_bytes),
        cmocka_unit_test(test_orthosis__memory_that_runs_out_fails_cleanly),
        cmocka_unit_test(test_orthosis__on_a_real_scan_its_top_is_the_sole),
        cmocka_unit_test(test_orthosis__its_width_is_that_of_one_section),
        cmocka_unit_test(test_orthosis__a_flat_sole_is_refused_without_an_arch_by_hand),
        cmocka_unit_test(test_orthosis__an_arch_by_hand_is_as_high_as_given),
        cmocka_unit_test(test_orthosis__an_arch_that_the_scan_shows_is_not_given_by_hand),
        cmocka_unit_test(test_orthosis__a_ragged_scan_is_shaped_with_arch_and_cup_by_hand),
    };
    return cmocka_run_group_tests_name("orthosis shape", tests, NULL, NULL);
}
