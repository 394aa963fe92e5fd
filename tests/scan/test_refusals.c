// SPDX-License-Identifier: GPL-3.0-or-later
// What is not one foot is refused with a sentence that says so.
#include "demo/demo.h"
#include "suites.h"

static hw_mesh a_foot(hw_test_room *room, int triangles)
{
    hw_demo_foot_order order = hw_demo_foot_order_default();
    order.triangles = triangles;
    hw_mesh raw = {0};
    hw_demo_truth truth = {0};
    CHECK_OK(&room->job, hw_demo_foot(&room->job, &order, room->into, &raw, &truth));
    return raw;
}

static void refused(hw_test_room *room, const hw_mesh *raw, hw_status status, const char *part)
{
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0}, untouched = {0};
    CHECK_FAILS(&room->job, hw_scan_foot(&room->job, raw, &ask, room->into, &scan), status, part);
    assert_memory_equal(&scan, &untouched, sizeof scan);
}

// A closed box or ellipsoid from a grid of longitudes and latitudes; `power` 1 makes it round, a
// small one boxy. Sizes are full extents.
static hw_mesh a_solid(hw_test_room *room, hw_vec3 size, double power)
{
    enum { AROUND = 48, UP = 24 };
    hw_mesh m = {hw_arena_take(room->into, AROUND * (UP + 1), sizeof(hw_vec3)), AROUND * (UP + 1),
                 hw_arena_take(room->into, 2 * AROUND * UP, sizeof(int[3])), 0, NULL};
    for (int j = 0; j <= UP; j++)
        for (int i = 0; i < AROUND; i++) {
            double a = 2.0 * HW_PI * i / AROUND, b = HW_PI * j / UP - HW_PI / 2;
            double c[3] = {cos(a) * cos(b), sin(a) * cos(b), sin(b)};
            for (int k = 0; k < 3; k++) c[k] = copysign(pow(fabs(c[k]), power), c[k]);
            m.points[AROUND * j + i] =
                (hw_vec3){0.5 * size.x * c[0], 0.5 * size.y * c[1], 0.5 * size.z * c[2]};
        }
    for (int j = 0; j < UP; j++)
        for (int i = 0; i < AROUND; i++) {
            int a = AROUND * j + i, b = AROUND * j + (i + 1) % AROUND;
            int rows[2][3] = {{a, b, b + AROUND}, {a, b + AROUND, a + AROUND}};
            memcpy(m.triangles[m.triangle_count], rows, sizeof rows);
            m.triangle_count += 2;
        }
    return m;
}

static void test_scan__other_solids_are_no_feet(void **state)
{
    (void)state;
    static const hw_vec3 sizes[] = {{0.25, 0.25, 0.25}, {0.26, 0.1, 0.1},  {0.26, 0.1, 0.26},
                                    {0.26, 0.26, 0.07}, {0.1, 0.1, 1.0},   {0.5, 0.3, 1.7},
                                    {0.26, 0.1, 0.05},  {0.26, 0.18, 0.18}};
    for (size_t i = 0; i < 2 * sizeof sizes / sizeof sizes[0]; i++) {
        hw_test_room room = hw_test_open();
        hw_mesh solid = a_solid(&room, sizes[i / 2], i % 2 ? 1.0 : 0.25);
        refused(&room, &solid, HW_BAD_INPUT, "shape of one foot");
        hw_test_close(&room);
    }
}

static void test_scan__two_feet_are_one_too_many(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh one = a_foot(&room, 3000);
    int n = one.point_count, t = one.triangle_count;
    hw_mesh both = {hw_arena_take(room.into, 2 * (size_t)n, sizeof(hw_vec3)), 2 * n,
                    hw_arena_take(room.into, 2 * (size_t)t, sizeof(int[3])), 2 * t, NULL};
    for (int i = 0; i < 2 * n; i++) {
        both.points[i] = one.points[i % n];
        if (i >= n) both.points[i].y = 0.2 - both.points[i].y;
    }
    for (int i = 0; i < 6 * t; i++)
        both.triangles[i / 3][i % 3] = one.triangles[i / 3 % t][i % 3] + (i / 3 < t ? 0 : n);
    refused(&room, &both, HW_BAD_INPUT, "two feet");
    hw_test_close(&room);
}

static void test_scan__broken_input_is_named(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh none = {0}, foot = a_foot(&room, 3000);
    refused(&room, &none, HW_BAD_INPUT, "0 triangles");
    hw_vec3 kept = foot.points[7];
    foot.points[7].y = NAN;
    refused(&room, &foot, HW_BAD_INPUT, "point 8");
    foot.points[7].y = INFINITY;
    refused(&room, &foot, HW_BAD_INPUT, "point 8");
    foot.points[7] = kept;
    foot.triangles[4][1] = foot.point_count;
    refused(&room, &foot, HW_BAD_INPUT, "triangle 5");
    foot.triangles[4][1] = foot.triangles[4][0];
    foot.triangle_count = 150;
    refused(&room, &foot, HW_BAD_INPUT, "fewer than");
    hw_mesh point = a_foot(&room, 3000);
    for (int i = 0; i < point.point_count; i++) point.points[i] = (hw_vec3){1, 2, 3};
    refused(&room, &point, HW_BAD_INPUT, "without area");
    hw_test_close(&room);
}

// 13.2 units: a child's 132 mm in cm, an adult's 335 mm in inches. And sizes that are no foot's.
static void test_scan__a_size_that_fits_two_units_or_none_is_asked_about(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh foot = a_foot(&room, 3000);
    hw_mesh scaled = foot;
    scaled.points = hw_arena_take(room.into, (size_t)foot.point_count, sizeof(hw_vec3));
    static const struct {
        double length;
        hw_status status;
        const char *part;
    } rows[] = {{13.2, HW_NO_ANSWER, "cm (132 mm) or inch (335 mm)"},
                {0.05, HW_BAD_INPUT, "neither in m"},
                {60.0, HW_BAD_INPUT, "neither in m"},
                {5000.0, HW_BAD_INPUT, "neither in m"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        for (int k = 0; k < foot.point_count; k++) // the default invented foot is 0.26 m long
            scaled.points[k] = hw_vec3_scale(foot.points[k], rows[i].length / 0.26);
        refused(&room, &scaled, rows[i].status, rows[i].part);
    }
    hw_test_close(&room);
}

// A shape that is the same to both sides: half a foot and its mirror image.
static void test_scan__a_foot_without_a_side_must_be_given_one(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh foot = a_foot(&room, 6000);
    for (int i = 0; i < foot.point_count; i++) {
        // Shear the medial lead of the toes away and level the sole and instep across.
        hw_vec3 *p = &foot.points[i];
        double x = p->x / 0.26, w = fabs(p->y) / 0.26;
        p->y = copysign(0.26 * fmin(w, 0.14 + 0.05 * x), p->y);
    }
    hw_mesh blunt = foot;
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0};
    hw_status status = hw_scan_foot(&room.job, &blunt, &ask, room.into, &scan);
    // Whatever is left of its side must show in the confidence.
    if (status == HW_OK) assert_true(scan.side_confidence < 0.95);
    ask.side = HW_SIDE_LEFT;
    CHECK_OK(&room.job, hw_scan_foot(&room.job, &blunt, &ask, room.into, &scan));
    assert_int_equal(scan.foot.side, HW_SIDE_LEFT);
    hw_test_close(&room);
}

static bool say_yes(void *user)
{
    (void)user;
    return true;
}

static void test_scan__stops_when_asked(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh foot = a_foot(&room, 3000);
    room.job.cancelled = say_yes;
    refused(&room, &foot, HW_CANCELLED, "stopped");
    hw_test_close(&room);
}

static void test_scan__each_failed_allocation_is_reported(void **state)
{
    (void)state;
    for (int which = 0; which < 3; which++) {
        bool ended = false;
        for (size_t n = 1; n < 400 && !ended; n++) {
            hw_test_room room = hw_test_open();
            hw_mesh foot = a_foot(&room, 2000);
            hw_arena *arenas[3] = {room.into, room.job.scratch[0], room.job.scratch[1]};
            hw_arena_fail_at(arenas[which], n);
            hw_scan_ask ask = hw_scan_ask_default();
            hw_scan_result scan = {0};
            hw_status status = hw_scan_foot(&room.job, &foot, &ask, room.into, &scan);
            assert_true(status == HW_OK || status == HW_NO_MEMORY);
            ended = status == HW_OK;
            hw_test_close(&room);
        }
        assert_true(ended);
    }
}

static void test_unit__words_go_both_ways(void **state)
{
    (void)state;
    for (int i = HW_SCAN_UNIT_M; i <= HW_SCAN_UNIT_INCH; i++) {
        hw_scan_unit unit = (hw_scan_unit)i;
        assert_int_equal(hw_scan_unit_from_word(hw_scan_unit_word(unit)), unit);
    }
    assert_int_equal(hw_scan_unit_from_word("MM"), HW_SCAN_UNIT_MM);
    assert_int_equal(hw_scan_unit_from_word("furlong"), HW_SCAN_UNIT_UNKNOWN);
    assert_int_equal(hw_scan_unit_from_word("unknown"), HW_SCAN_UNIT_UNKNOWN);
    CHECK_NEAR(hw_scan_unit_m(HW_SCAN_UNIT_INCH), 0.0254, 0.0, "m"); // ISO 80000-3: exact
}

int run_refusal_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_scan__other_solids_are_no_feet),
        cmocka_unit_test(test_scan__two_feet_are_one_too_many),
        cmocka_unit_test(test_scan__broken_input_is_named),
        cmocka_unit_test(test_scan__a_size_that_fits_two_units_or_none_is_asked_about),
        cmocka_unit_test(test_scan__a_foot_without_a_side_must_be_given_one),
        cmocka_unit_test(test_scan__stops_when_asked),
        cmocka_unit_test(test_scan__each_failed_allocation_is_reported),
        cmocka_unit_test(test_unit__words_go_both_ways),
    };
    return cmocka_run_group_tests_name("scan refusals", tests, NULL, NULL);
}
