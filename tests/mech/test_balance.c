// SPDX-License-Identifier: GPL-3.0-or-later
// The force laws and their Jacobian, against differences, virtual work and hand arithmetic.
#include "suites.h"

static hw_mech_model model_of(const hw_mech_tissue *tissue)
{
    hw_mech_subject subject = plain_subject();
    hw_mech_view view = hw_mech_view_plain(&subject);
    return hw_mech_model_build(&view, tissue);
}

static hw_mech_case some_load(bool is_heel_off)
{
    return (hw_mech_case){
        .force_z = 700.0,
        .force_x = 90.0,
        .pressure_x = 0.17,
        .pressure_y = 0.002,
        .pitch = 0.12,
        .toe_share = 0.1,
        .muscle = 0.4,
        .toe_extension = 0.05,
        .heel_ground = 0.004,
        .wedge = 0.03,
        .is_heel_off = is_heel_off,
        .has_device = true,
        .arch_fill = 0.001,
        .shell_N_per_m = 30e3,
        .heel_wedge = 0.05,
        .heel_give = 0.001,
        .tape_hold = 0.8,
    };
}

// A state with every contact closed and every law on its curved part.
static const double some_state[UNKNOWNS] = {-0.003, -0.02, 0.01, 0.05, 0.04,
                                            0.03,   -0.19, 0.06, 0.2};

static void check_jacobian(const hw_mech_tissue *tissue, const hw_mech_case *load)
{
    hw_mech_model model = model_of(tissue);
    hw_mech_balance at, above, below;
    hw_mech_balance_at(&model, load, some_state, &at);
    double jacobian[UNKNOWNS * UNKNOWNS];
    hw_mech_spell_out(&at, jacobian);
    // Central differences of two steps, extrapolated (Richardson): good to the fourth power.
    const double step = 2e-5; // m or rad
    for (int j = 0; j < at.count; j++) {
        double slope[2][UNKNOWNS];
        for (int half = 0; half < 2; half++) {
            double u[UNKNOWNS], h = half ? 0.5 * step : step;
            memcpy(u, some_state, sizeof u);
            u[j] += h;
            hw_mech_balance_at(&model, load, u, &above);
            u[j] -= 2.0 * h;
            hw_mech_balance_at(&model, load, u, &below);
            for (int i = 0; i < at.count; i++)
                slope[half][i] = (above.residual[i] - below.residual[i]) / (2.0 * h);
        }
        for (int i = 0; i < at.count; i++) {
            double want = (4.0 * slope[1][i] - slope[0][i]) / 3.0;
            double got = jacobian[i * at.count + j];
            CHECK_NEAR(got, want, 1e-6 * (1.0 + fabs(want)), "per m or rad");
        }
    }
}

static void test_balance__the_jacobian_is_that_of_the_residuals(void **state)
{
    (void)state;
    hw_mech_case down = some_load(false), up = some_load(true), idle = up;
    idle.are_toes_idle = true;
    down.talus_sink = up.talus_sink = idle.talus_sink = 0.004;
    hw_mech_tissue tissue = hw_mech_tissue_default();
    check_jacobian(&tissue, &down);
    check_jacobian(&tissue, &up);
    check_jacobian(&tissue, &idle);
}

// The oracle is the general solver; the shapes are those of both modes and of a wild foot.
static void test_balance__a_step_by_shape_is_the_step_of_the_general_solver(void **state)
{
    (void)state;
    hw_mech_tissue tissue = hw_mech_tissue_default();
    hw_mech_model model = model_of(&tissue);
    hw_random random = hw_random_begin(7);
    for (int round = 0; round < 200; round++) {
        hw_mech_case load = some_load(round & 1);
        double u[UNKNOWNS], matrix[UNKNOWNS * UNKNOWNS], want[UNKNOWNS], got[UNKNOWNS];
        hw_mech_balance at;
        for (int i = 0; i < UNKNOWNS; i++)
            u[i] = some_state[i] * (0.5 + hw_random_uniform(&random));
        hw_mech_balance_at(&model, &load, u, &at);
        hw_mech_spell_out(&at, matrix);
        for (int i = 0; i < at.count; i++) want[i] = -at.residual[i];
        assert_true(hw_solve_small(at.count, matrix, want) && hw_mech_solve_step(&at, got));
        for (int i = 0; i < at.count; i++)
            CHECK_NEAR(got[i], want[i], 1e-9 * (1e-3 + fabs(want[i])), "m, rad");
    }
}

// Scan pose, nothing touching: each ray must be in balance, for its slip's rest tension is counted.
static void test_balance__the_scan_pose_is_at_rest(void **state)
{
    (void)state;
    hw_mech_tissue tissue = hw_mech_tissue_default();
    hw_mech_model model = model_of(&tissue);
    hw_mech_case nothing = {.force_z = 1.0};
    const double zero[UNKNOWNS] = {0};
    hw_mech_balance at;
    hw_mech_balance_at(&model, &nothing, zero, &at);
    for (int i = 0; i < RAYS; i++) {
        CHECK_NEAR(at.residual[U_RAY + i], 0.0, 1e-9, "");
        assert_true(at.slip[i] > 1.0); // pre-strained, so the zero above says something
    }
}

// Elastic energy of a slip under tension T: the integral of the law, by its own inverse.
static double slip_energy(const hw_mech_ray *ray, double tension)
{
    double k = ray->slip_N_per_m, toe = ray->slip_toe, knee = 0.5 * k * toe;
    if (tension < knee) {
        double e = sqrt(2.0 * tension * toe / k);
        return k * e * e * e / (6.0 * toe);
    }
    double e = tension / k + 0.5 * toe;
    return k * toe * toe / 6.0 + 0.5 * k * (e - toe) * (e - toe) + knee * (e - toe);
}

static double slip_energy_at(const hw_mech_model *model, const hw_mech_case *load, const double *u,
                             int i)
{
    hw_mech_balance at;
    hw_mech_balance_at(model, load, u, &at);
    return slip_energy(&model->ray[i], at.slip[i]);
}

// Virtual work: turning the ray and its toe as one by dq lengthens the slip by arm * dq, so that
// the moment of the slip is the slope of its energy; extending the toe alone by d(tau) lengthens
// it by radius * d(tau).
static void test_balance__a_slip_pulls_as_virtual_work_says(void **state)
{
    (void)state;
    hw_mech_tissue tissue = hw_mech_tissue_default(), cut = tissue;
    cut.fascia_N_per_m = 0.0;
    hw_mech_model with = model_of(&tissue), without = model_of(&cut);
    hw_mech_case load = {.force_z = 100.0, .toe_extension = 0.2};
    const double step = 1e-6;
    for (int i = 0; i < RAYS; i++) {
        double u[UNKNOWNS];
        memcpy(u, some_state, sizeof u);
        hw_mech_balance at, bare;
        hw_mech_balance_at(&with, &load, u, &at);
        hw_mech_balance_at(&without, &load, u, &bare);
        double moment = 0.1 * load.force_z * (bare.residual[U_RAY + i] - at.residual[U_RAY + i]) +
                        with.ray[i].rest_moment;
        hw_mech_case before = load, after = load;
        before.toe_extension -= step;
        after.toe_extension += step;
        u[U_RAY + i] += step;
        double above = slip_energy_at(&with, &after, u, i);
        u[U_RAY + i] -= 2.0 * step;
        double below = slip_energy_at(&with, &before, u, i);
        CHECK_NEAR(moment, (above - below) / (2.0 * step), 1e-4, "N m");
        above = slip_energy_at(&with, &after, some_state, i);
        below = slip_energy_at(&with, &before, some_state, i);
        double windlass = at.slip[i] * with.ray[i].windlass_radius;
        CHECK_NEAR(windlass, (above - below) / (2.0 * step), 1e-4, "N m");
    }
}

// A foot lowered 5 mm as a whole onto a total-contact device: each of four patches gives way by
// F / 30 N/mm + 3.5 mm ln(1 + F / 12 N) = 5 mm.
static void test_balance__tissue_and_shell_share_a_patch_in_series(void **state)
{
    (void)state;
    hw_mech_tissue tissue = hw_mech_tissue_default();
    hw_mech_model model = model_of(&tissue);
    hw_mech_case load = {.force_z = 100.0, .has_device = true, .shell_N_per_m = 30e3};
    const double lowered[UNKNOWNS] = {-0.005};
    hw_mech_balance at;
    hw_mech_balance_at(&model, &load, lowered, &at);
    double force = at.device / PATCHES;
    CHECK_NEAR(force / 30e3 + 0.0035 * log(1.0 + force / 12.0), 0.005, 1e-12, "m");
    // Heel pad: 80 N (e^(5/4) - 1) = 199.2 N, the law's own check of 200 N at 5 mm.
    CHECK_NEAR(at.heel, 199.2, 0.1, "N");
}

int run_balance_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_balance__the_jacobian_is_that_of_the_residuals),
        cmocka_unit_test(test_balance__a_step_by_shape_is_the_step_of_the_general_solver),
        cmocka_unit_test(test_balance__the_scan_pose_is_at_rest),
        cmocka_unit_test(test_balance__a_slip_pulls_as_virtual_work_says),
        cmocka_unit_test(test_balance__tissue_and_shell_share_a_patch_in_series),
    };
    return cmocka_run_group_tests_name("mech balance", tests, NULL, NULL);
}
