// SPDX-License-Identifier: GPL-3.0-or-later
// Feet at random: nearly every one comes to rest at every instant, and what has come to rest obeys
// the laws it was asked to obey.
#include "suites.h"

static double between(hw_random *random, double low, double high)
{
    return low + (high - low) * hw_random_uniform(random);
}

static hw_maybe perhaps(hw_random *random, double low, double high)
{
    double value = between(random, low, high);
    return hw_random_uniform(random) < 0.7 ? hw_known(value) : (hw_maybe){0};
}

static hw_mech_view random_view(hw_random *random)
{
    double length = between(random, 0.215, 0.305);
    return (hw_mech_view){
        .mass = between(random, 45.0, 150.0),
        .speed = between(random, 0.9, 1.7),
        .length = length,
        .shoe_pitch = hw_random_uniform(random) < 0.3 ? between(random, 0.0, 0.02) : 0.0,
        .hinge_height = perhaps(random, 0.140 * length, 0.178 * length),
        .ball_breadth = perhaps(random, 0.34 * length, 0.42 * length),
        .truncated_length = perhaps(random, 0.70 * length, 0.76 * length),
    };
}

// One of the calibrated sets with a calf anywhere between very tight and free.
static hw_mech_tissue random_tissue(hw_random *random)
{
    int member = (int)(hw_random_uniform(random) * HW_MECH_MEMBERS);
    hw_mech_tissue tissue = hw_mech_tissue_member(member);
    tissue.calf_limit_rad = hw_rad_from_deg(between(random, -5.0, 20.0));
    return tissue;
}

static hw_mech_change random_change(hw_random *random)
{
    hw_mech_change change = hw_mech_change_none("random");
    change.has_orthosis = hw_random_uniform(random) < 0.4;
    change.arch_fill_m = between(random, -0.004, 0.003);
    change.shell_N_per_m = between(random, 8e3, 60e3);
    if (hw_random_uniform(random) < 0.3) change.heel_raise_m = between(random, 0.0, 0.012);
    if (hw_random_uniform(random) < 0.3) change.toe_factor = between(random, 0.4, 1.0);
    if (hw_random_uniform(random) < 0.2) change.forefoot_wedge_rad = between(random, -0.1, 0.1);
    if (hw_random_uniform(random) < 0.2) change.mass_factor = between(random, 0.8, 1.0);
    if (hw_random_uniform(random) < 0.2) change.heel_wedge_rad = between(random, -0.08, 0.08);
    if (hw_random_uniform(random) < 0.2) change.heel_give_m = between(random, 0.0, 0.003);
    change.is_taped = hw_random_uniform(random) < 0.3;
    return change;
}

// Whatever the treatment: no slip pushes, the fascia carries less than 4 body weights.
static void check_run(const hw_mech_run *run)
{
    for (int i = 0; i < HW_MECH_SOLVED; i++) {
        double sum = 0.0;
        for (int ray = 0; ray < HW_MECH_RAYS; ray++) {
            assert_true(run->pose[i].slip_bw[ray] >= 0.0);
            sum += run->pose[i].slip_bw[ray];
        }
        CHECK_NEAR(sum, run->tension_bw[i], 1e-12, "BW");
        assert_true(run->tension_bw[i] < 4.0);
    }
}

static void test_random__feet_come_to_rest(void **state)
{
    (void)state;
    int rounds = hw_test_rounds(10000), failed = 0;
    hw_random random = hw_random_begin(20261125);
    for (int i = 0; i < rounds; i++) {
        hw_mech_view view = random_view(&random);
        hw_mech_tissue tissue = random_tissue(&random);
        hw_mech_change change = random_change(&random);
        hw_mech_run run;
        hw_mech_march(&view, &tissue, &change, &run);
        failed += run.failed_instants > 0;
        if (run.failed_instants == 0) check_run(&run);
    }
    print_message("%d of %d random feet did not settle\n", failed, rounds);
    assert_true(failed <= rounds / 1000); // one in a thousand
}

// A weightless foot keeps the pose of its scan: nothing flattens, nothing pulls but the rest tension.
// The ties are soft at first (6 % of their spring), so a newton still shows; a thousandth of it does not.
static void test_random__without_weight_the_foot_keeps_its_shape(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mech_subject subject = plain_subject();
    for (int i = 0; i < HW_MECH_MEMBERS; i += 20) {
        hw_mech_tissue tissue = hw_mech_tissue_member(i);
        hw_mech_still_result at;
        CHECK_OK(&room.job, hw_mech_stand(&room.job, &subject, &tissue,
                                          &(hw_mech_still){.load_N = 1.0}, NULL, &at));
        for (int ray = 0; ray < HW_MECH_RAYS; ray++)
            CHECK_NEAR(hw_deg_from_rad(at.flattening_rad[ray]), 0.0, 0.15, "deg");
    }
    hw_test_close(&room);
    for (int i = 0; i < HW_MECH_MEMBERS; i += 20) {
        hw_mech_subject plain = plain_subject();
        hw_mech_view view = hw_mech_view_plain(&plain);
        hw_mech_tissue tissue = hw_mech_tissue_member(i);
        hw_mech_model model = hw_mech_model_build(&view, &tissue);
        hw_mech_case nothing = {.force_z = 1e-3, .pressure_x = 0.09};
        hw_mech_rest rest = {0};
        assert_true(hw_mech_settle(&model, &nothing, &rest));
        CHECK_NEAR(rest.u[U_HEIGHT], 0.0, 1e-6, "m");
        for (int ray = 0; ray < HW_MECH_RAYS; ray++) {
            CHECK_NEAR(hw_deg_from_rad(rest.u[U_RAY + ray]), 0.0, 1e-3, "deg");
            CHECK_NEAR(rest.balance.slip[ray], model.ray[ray].slip_rest, 0.01, "N");
        }
    }
}

int run_random_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random__feet_come_to_rest),
        cmocka_unit_test(test_random__without_weight_the_foot_keeps_its_shape),
    };
    return cmocka_run_group_tests_name("mech random", tests, NULL, NULL);
}
