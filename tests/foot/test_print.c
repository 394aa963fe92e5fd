// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

enum { ALONG = 90, ACROSS = 40 };

// A print drawn by hand: widths in cells of heel, middle and ball, 30 rows each.
static hw_foot_print drawn(float *touched, int heel, int middle, int ball)
{
    const int widths[3] = {heel, middle, ball};
    memset(touched, 0, ALONG * ACROSS * sizeof *touched);
    for (int i = 0; i < ALONG; i++)
        for (int k = 0; k < widths[i / 30]; k++) touched[i * ACROSS + k] = 5e4F;
    return (hw_foot_print){
        .cell = 0.002, .size = {ALONG, ACROSS}, .touched = touched, .toes_from = {1.0, 0.0}};
}

// facts of clinical 3.6 [derived]: three equal rectangles give exactly 1/3; without the middle 0.
static void test_print__indices_are_ratios_of_the_drawn_print(void **state)
{
    (void)state;
    static float touched[ALONG * ACROSS];
    hw_foot_print print = drawn(touched, 20, 20, 20);
    hw_print_indices got = hw_foot_print_indices(&print);
    CHECK_NEAR(got.arch_index.value, 1.0 / 3.0, 1e-12, "");
    CHECK_NEAR(got.staheli.value, 1.0, 1e-12, "");
    print = drawn(touched, 20, 0, 20);
    got = hw_foot_print_indices(&print);
    CHECK_NEAR(got.arch_index.value, 0.0, 0.0, "");
    CHECK_NEAR(got.staheli.value, 0.0, 0.0, "");
    print = drawn(touched, 20, 10, 40); // narrowest 10 over heel 20 and over ball 40
    got = hw_foot_print_indices(&print);
    CHECK_NEAR(got.staheli.value, 0.5, 1e-12, "");
    CHECK_NEAR(got.chippaux_smirak.value, 0.25, 1e-12, "");
    CHECK_NEAR(got.arch_index.value, 10.0 / 70.0, 1e-12, "");
    CHECK_NEAR(got.contact_area, 70 * 30 * 4e-6, 1e-12, "m2");
    print.toes_from[0] = 0.120; // all of the last thirty rows are toes now
    got = hw_foot_print_indices(&print);
    CHECK_NEAR(got.contact_area, 30 * 30 * 4e-6, 1e-12, "m2");
    print = drawn(touched, 0, 0, 0);
    assert_false(hw_foot_print_indices(&print).arch_index.known);
}

static hw_foot_print press(hw_test_room *room, hw_vec3 size, hw_maybe mass)
{
    hw_mesh mesh = box_mesh(room->into, size, 40);
    hw_landmarks at = box_landmarks(size);
    hw_foot_print print = {0};
    const hw_foot_load load = {.mass_kg = mass};
    CHECK_OK(&room->job,
             hw_foot_print_press(&room->job, &mesh, &at, size.x, &load, room->into, &print));
    return print;
}

// Equilibrium: the pressures carry half of the weight, at 0.37 of foot length (facts of mechanics
// 3.3, standing).
static void test_print__carries_half_the_weight_where_people_stand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_vec3 size = {0.26, 0.1, 0.09};
    hw_foot_print print = press(&room, size, hw_known(80.0));
    double force = 0.0, moment = 0.0;
    for (int i = 0; i < print.size[0]; i++)
        for (int k = 0; k < print.size[1]; k++) {
            double f = (double)print.touched[i * print.size[1] + k] * print.cell * print.cell;
            force += f;
            moment += f * (print.low[0] + (i + 0.5) * print.cell);
        }
    CHECK_NEAR(force, 0.5 * 80.0 * 9.80665, 0.01, "N");
    CHECK_NEAR(moment / force, 0.37 * size.x, 1e-5, "m");
    assert_true(print.mass_is_known);
    hw_foot_print stated = press(&room, size, (hw_maybe){0});
    CHECK_NEAR(stated.force, 350.0, 0.0, "N"); // as print.h states
    assert_false(stated.mass_is_known);
    assert_true(stated.peak_pressure > 0.0 && stated.peak_pressure < print.peak_pressure);
    CHECK_NEAR(stated.lowering_m, 0.008, 0.0, "m"); // as print.h states
    // An arch that stays leaves a flat box its pressures even over a row, by tissue alone.
    const hw_foot_load rigid = {.arch_lowering_m = hw_known(0.0)};
    hw_mesh mesh = box_mesh(room.into, size, 40);
    hw_landmarks at = box_landmarks(size);
    CHECK_OK(&room.job,
             hw_foot_print_press(&room.job, &mesh, &at, size.x, &rigid, room.into, &stated));
    CHECK_NEAR(stated.lowering_m, 0.0, 0.0, "m");
    assert_true(stated.sink > 0.0 && hw_foot_print_indices(&stated).arch_index.value > 0.3);
    hw_test_close(&room);
}

// A sole that does not reach under the centre of pressure finds no rest.
static void test_print__a_sole_beside_the_force_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_vec3 size = {0.26, 0.1, 0.09};
    hw_mesh mesh = box_mesh(room.into, size, 40);
    hw_landmarks at = box_landmarks((hw_vec3){1.0, 0.1, 0.09}); // its heel is as long as the box
    hw_foot_print print = {0};
    for (int i = 0; i < mesh.point_count; i++) mesh.points[i].x = 0.5 * mesh.points[i].x + 0.02;
    const hw_foot_load load = {.mass_kg = hw_known(100.0)};
    hw_status status = hw_foot_print_press(&room.job, &mesh, &at, 1.0, &load, room.into, &print);
    assert_int_equal(status, HW_NO_ANSWER); // nothing lies under 0.37 m: it tips over
    hw_test_close(&room);
}

int run_print_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_print__indices_are_ratios_of_the_drawn_print),
        cmocka_unit_test(test_print__carries_half_the_weight_where_people_stand),
        cmocka_unit_test(test_print__a_sole_beside_the_force_is_refused),
    };
    return cmocka_run_group_tests_name("foot print", tests, NULL, NULL);
}
