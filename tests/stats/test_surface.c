// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "stats/stats.h"
#include "suites.h"

static double bowl(const double *x)
{
    return 1.0 - 3.0 * (x[0] - 0.3) * (x[0] - 0.3) - (x[1] - 0.8) * (x[1] - 0.8) + 0.4 * x[2];
}

static void test_surface__it_goes_through_its_points_and_near_between(void **state)
{
    (void)state;
    enum { N = 60 };
    hw_test_room room = hw_test_open();
    double x[3 * N], y[N], at[3];
    hw_surface surface = {0};
    for (int i = 0; i < N; i++) hw_halton(i, 3, x + 3 * i), y[i] = bowl(x + 3 * i);
    CHECK_OK(&room.job, hw_surface_fit(&room.job, x, y, N, 3, room.into, &surface));
    for (int i = 0; i < N; i++) CHECK_NEAR(hw_surface_at(&surface, x + 3 * i), y[i], 1e-8, "");
    for (int i = N; i < 2 * N; i++) {
        hw_halton(i, 3, at);
        CHECK_NEAR(hw_surface_at(&surface, at), bowl(at), 0.08, "");
    }
    hw_test_close(&room);
}

// A plane is what the trend is: exact everywhere.
static void test_surface__a_plane_is_a_plane(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    double x[2 * 12], y[12], far[2] = {3.0, -2.0};
    hw_surface surface = {0};
    for (int i = 0; i < 12; i++) {
        hw_halton(i, 2, x + 2 * i);
        y[i] = 2.0 - x[2 * i] + 5.0 * x[2 * i + 1];
    }
    CHECK_OK(&room.job, hw_surface_fit(&room.job, x, y, 12, 2, room.into, &surface));
    CHECK_NEAR(hw_surface_at(&surface, far), 2.0 - 3.0 - 10.0, 1e-6, "");
    CHECK_FAILS(&room.job, hw_surface_fit(&room.job, x, y, 3, 2, room.into, &surface), HW_BAD_INPUT,
                "through 3 points");
    x[2] = x[0], x[3] = x[1]; // two points in one place, of two heights
    CHECK_FAILS(&room.job, hw_surface_fit(&room.job, x, y, 12, 2, room.into, &surface),
                HW_NO_ANSWER, "no surface");
    hw_test_close(&room);
}

static double two_hills(void *user, const double *x)
{
    int *looks = user;
    (*looks)++;
    double low = hypot(x[0] - 0.2, x[1] - 0.2), high = hypot(x[0] - 0.8, x[1] - 0.7);
    return exp(-20.0 * low * low) + 1.2 * exp(-40.0 * high * high);
}

static void test_climb__the_higher_of_two_hills_is_found(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    int looks = 0;
    hw_climb climb = {two_hills, &looks, 2, 600};
    double x[2], height = 0.0;
    CHECK_OK(&room.job, hw_climb_box(&room.job, &climb, x, &height));
    CHECK_NEAR(x[0], 0.8, 1e-3, "");
    CHECK_NEAR(x[1], 0.7, 1e-3, "");
    CHECK_NEAR(height, 1.2, 1e-3, "");
    assert_true(looks <= 620);
    hw_test_close(&room);
}

int run_surface_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_surface__it_goes_through_its_points_and_near_between),
        cmocka_unit_test(test_surface__a_plane_is_a_plane),
        cmocka_unit_test(test_climb__the_higher_of_two_hills_is_found),
    };
    return cmocka_run_group_tests_name("surface", tests, NULL, NULL);
}
