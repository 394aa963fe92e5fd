// SPDX-License-Identifier: GPL-3.0-or-later
// The drop-cutter against closed forms and against lowering the cutter onto dense points of the surface.
// Closed forms: solid geometry, common practice; those of facts 7.1 are derived, not cited.
#include "near.h"
#include "solids.h"
#include "suites.h"
#include "toolpath/toolpath.h"

static const double radius = 3e-3; // of the cutter in these tests

static const hw_drop *drop_of(hw_test_room *room, const hw_mesh *mesh, double r)
{
    const hw_drop *drop = NULL;
    CHECK_OK(&room->job, hw_drop_build(&room->job, mesh, r, room->into, &drop));
    return drop;
}

static void test_drop__on_a_box_top_edge_and_corner(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh box = solid_box(room.into, (hw_box){{0, 0, 0}, {0.02, 0.01, 0.005}});
    const hw_drop *drop = drop_of(&room, &box, radius);
    CHECK_NEAR(hw_drop_ball(drop, 0.01, 0.005, NULL), 0.005, 1e-15, "m");
    CHECK_NEAR(hw_drop_flat(drop, 0.01, 0.005), 0.005, 1e-15, "m");
    for (double out = 0.0; out < radius; out += 1e-4) {
        double rest = 0.005 - radius + sqrt(radius * radius - out * out); // beside the edge
        CHECK_NEAR(hw_drop_ball(drop, 0.01, -out, NULL), rest, 1e-15, "m");
        double away = hypot(out, 0.5 * out); // off the corner
        double corner = away < radius ? 0.005 - radius + sqrt(radius * radius - away * away) : -1.0;
        if (corner > -1.0)
            CHECK_NEAR(hw_drop_ball(drop, -out, -0.5 * out, NULL), corner, 1e-15, "m");
        CHECK_NEAR(hw_drop_flat(drop, 0.01, -out), 0.005, 1e-15, "m");
    }
    assert_true(hw_drop_ball(drop, 0.01, -1.001 * radius, NULL) == -INFINITY);
    assert_true(hw_drop_flat(drop, 0.01, -1.001 * radius) == -INFINITY);
    assert_true(hw_drop_ball(drop, 1.0, 1.0, NULL) == -INFINITY);
    hw_test_close(&room);
}

static void test_drop__on_a_slope_the_ball_rests_beside_its_tip(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int deg = 5; deg <= 85; deg += 10) {
        double slope = tan(hw_rad_from_deg(deg)), run = 0.04;
        hw_mesh wedge = solid_box(room.into, (hw_box){{0, -0.02, 0}, {run, 0.02, 1e-6}});
        for (int k = 0; k < 8; k++)
            if ((k & 1) && (k & 4)) wedge.points[k].z += run * slope;
        const hw_drop *drop = drop_of(&room, &wedge, radius);
        hw_vec3 contact = {0};
        double x = 0.5 * run, plane = 1e-6 + x * slope;
        double want = plane + radius * (1.0 / cos(hw_rad_from_deg(deg)) - 1.0);
        CHECK_NEAR(hw_drop_ball(drop, x, 0.001, &contact), want, 1e-14, "m");
        CHECK_NEAR(contact.x, x + radius * sin(hw_rad_from_deg(deg)), 1e-14, "m");
        CHECK_NEAR(hw_drop_flat(drop, x, 0.001), plane + radius * slope, 1e-14, "m");
    }
    hw_test_close(&room);
}

// The section of a ball above an edge is a circle that touches a line: the same wedge as a roof, ridge up.
static void test_drop__on_a_sloping_ridge(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const double slope = 0.7, half = 0.02, steep = 4.0;
    hw_mesh roof = {.point_count = 6, .triangle_count = 8};
    hw_vec3 points[6] = {{0, -half, -steep * half},
                         {0, half, -steep * half},
                         {0, 0, 0},
                         {0.05, -half, 0.05 * slope - steep * half},
                         {0.05, half, 0.05 * slope - steep * half},
                         {0.05, 0, 0.05 * slope}};
    int triangles[8][3] = {{0, 3, 5}, {0, 5, 2}, {1, 2, 5}, {1, 5, 4},
                           {0, 1, 4}, {0, 4, 3}, {0, 2, 1}, {3, 4, 5}};
    roof.points = points;
    roof.triangles = triangles;
    const hw_drop *drop = drop_of(&room, &roof, radius);
    double cosine = 1.0 / sqrt(1.0 + slope * slope);
    for (double y = 0.0; y < 0.5e-3; y += 1e-4) { // further out it rests on a face
        double circle = sqrt(radius * radius - y * y);
        hw_vec3 contact = {0};
        double want = 0.025 * slope + circle / cosine - radius;
        CHECK_NEAR(hw_drop_ball(drop, 0.025, y, &contact), want, 1e-14, "m");
        CHECK_NEAR(contact.x, 0.025 + circle * slope * cosine, 1e-14, "m");
        CHECK_NEAR(contact.y, 0.0, 1e-15, "m");
    }
    hw_test_close(&room);
}

static void test_drop__over_a_ball_the_centre_goes_round_on_a_ball(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const double big = 0.01;
    // Facets of a sphere lie at most this far inside it (sagitta, half a band of 160).
    const double sag = big * (1.0 - cos(HW_PI / 160.0 / 2.0)) * 2.0;
    hw_mesh ball = solid_ball(room.into, (hw_vec3){0, 0, 0}, big, 160);
    const hw_drop *drop = drop_of(&room, &ball, radius);
    for (double away = 0.0; away < 0.95 * (big + radius); away += 2e-4) {
        double turn = 7.0 * away / big, sum = big + radius;
        double centre = sqrt(sum * sum - away * away), slant = sum / centre;
        double got = hw_drop_ball(drop, away * cos(turn), away * sin(turn), NULL) + radius;
        assert_true(got <= centre + 1e-12);
        CHECK_NEAR(got, centre, sag * slant + 1e-9, "m");
        double flat =
            away <= radius ? big : sqrt(fmax(0.0, big * big - (away - radius) * (away - radius)));
        if (away < big)
            CHECK_NEAR(hw_drop_flat(drop, away * cos(turn), away * sin(turn)), flat, 3.0 * sag,
                       "m");
    }
    hw_test_close(&room);
}

static void test_drop__over_a_bar_that_lies(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const double bar_radius = 0.008;
    const int sides = 720;
    const double sag = bar_radius * (1.0 - cos(HW_PI / sides));
    hw_mesh bar = solid_bar(room.into, 0.05, bar_radius, sides);
    const hw_drop *drop = drop_of(&room, &bar, radius);
    for (double y = 0.0; y < 0.9 * (bar_radius + radius); y += 1.7e-4) {
        double sum = bar_radius + radius, centre = sqrt(sum * sum - y * y);
        double got = hw_drop_ball(drop, 0.003, y, NULL) + radius;
        assert_true(got <= centre + 1e-12);
        CHECK_NEAR(got, centre, sag * sum / centre + 1e-12, "m");
    }
    hw_test_close(&room);
}

// Lowering a cutter onto points spread over each triangle; it can only come to rest too low, by less than
// their spacing explains.
static double brute(const hw_mesh *mesh, double r, bool is_ball, double x, double y)
{
    enum { PARTS = 60 };
    double best = -INFINITY;
    for (int t = 0; t < mesh->triangle_count; t++) {
        const int *c = mesh->triangles[t];
        for (int i = 0; i <= PARTS; i++)
            for (int j = 0; i + j <= PARTS; j++) {
                hw_vec3 p =
                    hw_vec3_add(hw_vec3_scale(mesh->points[c[0]], (PARTS - i - j) / (double)PARTS),
                                hw_vec3_add(hw_vec3_scale(mesh->points[c[1]], i / (double)PARTS),
                                            hw_vec3_scale(mesh->points[c[2]], j / (double)PARTS)));
                double away2 = (p.x - x) * (p.x - x) + (p.y - y) * (p.y - y);
                if (away2 > r * r) continue;
                best = fmax(best, is_ball ? p.z - r + sqrt(r * r - away2) : p.z);
            }
    }
    return best;
}

static double waves(double x, double y)
{
    return 0.002 * sin(700.0 * x) * cos(500.0 * y) + 0.3 * x;
}

static void test_drop__agrees_with_lowering_onto_dense_points(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_random random = hw_random_begin(11);
    hw_mesh sheet = solid_sheet(room.into, (const double[2]){0.010, 0.008}, 0.003, 12, waves);
    hw_mesh_faults faults;
    CHECK_OK(&room.job, hw_mesh_check(&room.job, &sheet, &faults));
    assert_int_equal(faults.open_edges + faults.clashing_edges + faults.crowded_edges, 0);
    assert_true(hw_mesh_volume(&sheet) > 0.0);
    for (int tool = 0; tool < 2; tool++) {
        double r = tool ? 1.1e-3 : 4e-3;
        const hw_drop *drop = drop_of(&room, &sheet, r);
        for (int i = 0; i < hw_test_rounds(400); i++) {
            double x = 0.03 * (hw_random_uniform(&random) - 0.5);
            double y = 0.03 * (hw_random_uniform(&random) - 0.5);
            double low = brute(&sheet, r, true, x, y), got = hw_drop_ball(drop, x, y, NULL);
            double flat = hw_drop_flat(drop, x, y), flat_low = brute(&sheet, r, false, x, y);
            if (low == -INFINITY) continue; // within a spacing of the outline
            // Points are 2e-3 / 60 apart: a ball misses 2nd order of it, near its rim 1st order.
            assert_true(got >= low - 1e-12 && flat >= flat_low - 1e-12);
            if (low > -INFINITY && got - low > 2e-5) { // only where it hangs by its rim
                hw_vec3 contact;
                hw_drop_ball(drop, x, y, &contact);
                assert_true(hypot(contact.x - x, contact.y - y) > 0.97 * r);
            }
            CHECK_NEAR(flat, flat_low, 1e-4, "m");
        }
    }
    hw_test_close(&room);
}

static void test_drop__refuses_what_has_no_top(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_drop *drop = NULL;
    hw_mesh box = solid_box(room.into, (hw_box){{0, 0, 0}, {0.01, 0.01, 0.01}});
    CHECK_FAILS(&room.job, hw_drop_build(&room.job, &box, 0.0, room.into, &drop), HW_BAD_INPUT,
                "radius");
    box.triangle_count = 2; // its floor alone
    CHECK_FAILS(&room.job, hw_drop_build(&room.job, &box, radius, room.into, &drop), HW_BAD_INPUT,
                "faces up");
    hw_test_close(&room);
}

int run_drop_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_drop__on_a_box_top_edge_and_corner),
        cmocka_unit_test(test_drop__on_a_slope_the_ball_rests_beside_its_tip),
        cmocka_unit_test(test_drop__on_a_sloping_ridge),
        cmocka_unit_test(test_drop__over_a_ball_the_centre_goes_round_on_a_ball),
        cmocka_unit_test(test_drop__over_a_bar_that_lies),
        cmocka_unit_test(test_drop__agrees_with_lowering_onto_dense_points),
        cmocka_unit_test(test_drop__refuses_what_has_no_top),
    };
    return cmocka_run_group_tests_name("drop-cutter", tests, NULL, NULL);
}
