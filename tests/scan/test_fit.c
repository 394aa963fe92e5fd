// SPDX-License-Identifier: GPL-3.0-or-later
// Gap maps against tops whose distance from the skin is known: the sole itself, moved.
#include "demo/demo.h"
#include "suites.h"

enum { ROWS = 20, COLUMNS = 8 };

static hw_scan_result foot_of(hw_test_room *room)
{
    hw_demo_foot_order order = hw_demo_foot_order_default();
    hw_mesh mesh = {0};
    hw_demo_truth truth = {0};
    hw_scan_ask ask = hw_scan_ask_default();
    hw_scan_result scan = {0};
    order.triangles = 16000;
    CHECK_OK(&room->job, hw_demo_foot(&room->job, &order, room->into, &mesh, &truth));
    CHECK_OK(&room->job, hw_scan_foot(&room->job, &mesh, &ask, room->into, &scan));
    return scan;
}

// A grid on the sole's own surface: lowest skin over each place, by looking at every triangle.
static void lay_on_sole(const hw_mesh *skin, hw_vec3 places[ROWS * COLUMNS])
{
    for (int n = 0; n < ROWS * COLUMNS; n++) {
        double x = 0.03 + 0.12 * (n / COLUMNS) / (ROWS - 1);
        double y = -0.012 + 0.024 * (n % COLUMNS) / (COLUMNS - 1), low = 1.0;
        for (int i = 0; i < skin->triangle_count; i++) {
            const int *t = skin->triangles[i];
            hw_vec3 a = skin->points[t[0]], b = skin->points[t[1]], c = skin->points[t[2]];
            double whole = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
            double u = ((x - a.x) * (c.y - a.y) - (y - a.y) * (c.x - a.x)) / whole;
            double v = ((b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)) / whole;
            if (!(u >= 0.0 && v >= 0.0 && u + v <= 1.0)) continue;
            low = fmin(low, a.z + u * (b.z - a.z) + v * (c.z - a.z));
        }
        places[n] = (hw_vec3){x, y, low};
    }
}

static void test_fit__a_top_on_the_skin_has_no_gap_and_a_moved_one_its_own(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scan_result scan = foot_of(&room);
    hw_vec3 places[ROWS * COLUMNS];
    hw_fit_top top = {places, ROWS, COLUMNS};
    hw_scan_fit fit = {0};
    lay_on_sole(&scan.foot.surface, places);
    CHECK_OK(&room.job, hw_scan_fit_of(&room.job, &scan.foot, &top, room.into, &fit));
    CHECK_NEAR(fit.all.most_air, 0.0, 1e-9, "m");
    CHECK_NEAR(fit.all.most_overlap, 0.0, 1e-9, "m");
    CHECK_NEAR(fit.within_1, 1.0, 0.0, "");
    for (int sign = -1; sign <= 1; sign += 2) { // 3 mm lower: air; 3 mm higher: in the foot
        lay_on_sole(&scan.foot.surface, places);
        for (int i = 0; i < ROWS * COLUMNS; i++) places[i].z -= 0.003 * sign;
        CHECK_OK(&room.job, hw_scan_fit_of(&room.job, &scan.foot, &top, room.into, &fit));
        // The shortest way is no longer than straight up, and about that on a nearly level sole.
        CHECK_NEAR(fit.median, 0.003 * sign, 0.0003, "m");
        for (int i = 0; i < fit.count; i++) {
            assert_true((double)fit.gaps[i] * sign > 0.0015);
            assert_true(fabs((double)fit.gaps[i]) < 0.003 + 1e-6);
        }
        CHECK_NEAR(sign > 0 ? fit.all.most_overlap : fit.all.most_air, 0.0, 0.0, "m");
        assert_true(fit.within_1 < 1e-9);
    }
    int counted = 0;
    for (int k = 0; k < HW_FIT_REGIONS; k++) counted += fit.parts[k].count;
    assert_int_equal(counted, fit.count);
    assert_true(fit.parts[HW_FIT_HEEL].count > 0 && fit.parts[HW_FIT_MEDIAL_ARCH].count > 0);
    hw_test_close(&room);
}

static void test_fit__a_device_of_another_place_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scan_result scan = foot_of(&room);
    hw_vec3 places[ROWS * COLUMNS];
    hw_fit_top top = {places, ROWS, COLUMNS};
    hw_scan_fit fit = {0};
    for (int i = 0; i < ROWS * COLUMNS; i++) places[i] = (hw_vec3){2.0 + 0.01 * i, 1.0, 0.0};
    CHECK_FAILS(&room.job, hw_scan_fit_of(&room.job, &scan.foot, &top, room.into, &fit),
                HW_NO_ANSWER, "near the device");
    hw_test_close(&room);
}

int run_fit_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fit__a_top_on_the_skin_has_no_gap_and_a_moved_one_its_own),
        cmocka_unit_test(test_fit__a_device_of_another_place_is_refused),
    };
    return cmocka_run_group_tests_name("scan fit", tests, NULL, NULL);
}
