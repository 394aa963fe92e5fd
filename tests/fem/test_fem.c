// SPDX-License-Identifier: GPL-3.0-or-later
// The element: patch tests, rigid motions, loads on faces, bad input.
#include "solids.h"

static const hw_fem_material unit_material = {1e6, 0.25};

// A brick whose inner nodes are pushed about: elements of no two equal shapes, straight edges.
static hw_vec3 crooked(double u, double v, double w, const void *with)
{
    (void)with;
    double inside = u * (1.0 - u) * v * (1.0 - v);
    return (hw_vec3){2.0 * u + 0.8 * inside * (w + 0.5), 1.5 * v - 0.9 * inside * (1.5 - w),
                     0.8 * w + 0.3 * u * v};
}

// Straight edges: the fine grid's odd points moved to the middles between even ones.
static hw_vec3 crooked_straight(double u, double v, double w, const void *with)
{
    double iu = u * 6.0, jv = v * 4.0;
    int i = (int)lround(iu), j = (int)lround(jv);
    bool odd_u = i & 1, odd_v = j & 1;
    if (!odd_u && !odd_v) return crooked(u, v, w, with);
    double du = odd_u ? 1.0 / 6.0 : 0.0, dv = odd_u ? 0.0 : 1.0 / 4.0;
    return hw_vec3_mix(crooked_straight(u - du, v - dv, w, with),
                       crooked_straight(u + du, v + dv, w, with), 0.5);
}

static bool is_outside(const solid *of, int node)
{
    hw_vec3 p = of->mesh.nodes[node];
    const int nv = 2 * of->nv + 1;
    for (int i = 0; i <= 2 * of->nu; i++)
        for (int j = 0; j < nv; j++)
            if (of->faces.low[i * nv + j] == node || of->faces.high[i * nv + j] == node)
                return true;
    return p.x < 1e-9 || p.x > 2.0 - 1e-9 || p.y < 1e-9 || p.y > 1.5 - 1e-9;
}

// Moves of a constant strain; MacNeal & Harder 1985 Finite Elem Anal Des, solid patch test: u =
// 1e-3 (2x + y + z) / 2 and so on round, E 1e6, nu 0.25 give 2000 on the diagonal and 400 beside
// it.
static hw_vec3 patch_move(hw_vec3 p)
{
    return hw_vec3_scale(
        (hw_vec3){2.0 * p.x + p.y + p.z, p.x + 2.0 * p.y + p.z, p.x + p.y + 2.0 * p.z}, 0.5e-3);
}

static void test_fem__a_patch_of_constant_strain_is_exact(void **state)
{
    (void)state;
    const int counts[3] = {3, 2, 2};
    solid of = solid_of(crooked_straight, NULL, counts, unit_material);
    int inner = 0;
    for (int n = 0; n < of.mesh.node_count; n++) {
        hw_vec3 move = patch_move(of.mesh.nodes[n]);
        if (!is_outside(&of, n)) {
            inner++;
            continue;
        }
        for (int axis = 0; axis < 3; axis++) hold(&of, n, axis, coordinate(move, axis));
    }
    assert_true(inner > 10);
    hw_fem_answer got = solved(&of, 1);
    for (int n = 0; n < of.mesh.node_count; n++) {
        CHECK_NEAR(hw_vec3_distance(got.moves[n], patch_move(of.mesh.nodes[n])), 0.0, 1e-15, "m");
        for (int k = 0; k < 6; k++)
            CHECK_NEAR(got.stress[n][k], k < 3 ? 2000.0 : 400.0, 1e-8, "Pa");
    }
    solid_free(&of);
}

static hw_vec3 slab(double u, double v, double w, const void *with)
{
    const double *size = with;
    return (hw_vec3){size[0] * u, size[1] * v, size[2] * w};
}

// Pure bending: u = -k x z, w = k (x^2 + nu (z^2 - y^2)) / 2, v = nu k y z has stress -E k z along
// x and none else (Timoshenko & Goodier, Theory of Elasticity, 102: from memory). The moves are
// quadratic, so the element must hold them exactly.
static void test_fem__a_patch_of_pure_bending_is_exact(void **state)
{
    (void)state;
    static const double size[3] = {3.0, 1.0, 0.2}, bend = 1e-4;
    const int counts[3] = {3, 2, 1};
    solid of = solid_of(slab, size, counts, unit_material);
    for (int n = 0; n < of.mesh.node_count; n++) {
        hw_vec3 p = of.mesh.nodes[n];
        if (p.x > 1e-9 && p.x < size[0] - 1e-9) continue;
        hold(&of, n, 0, -bend * p.x * p.z);
        hold(&of, n, 1, 0.25 * bend * p.y * p.z);
        hold(&of, n, 2, 0.5 * bend * (p.x * p.x + 0.25 * (p.z * p.z - p.y * p.y)));
    }
    hw_fem_answer got = solved(&of, 1);
    for (int n = 0; n < of.mesh.node_count; n++) {
        hw_vec3 p = of.mesh.nodes[n];
        double want = 0.5 * bend * (p.x * p.x + 0.25 * (p.z * p.z - p.y * p.y));
        CHECK_NEAR(got.moves[n].z, want, 1e-14, "m");
        CHECK_NEAR(got.stress[n][0], -1e6 * bend * p.z, 1e-7, "Pa");
        CHECK_NEAR(got.stress[n][1], 0.0, 1e-7, "Pa");
        CHECK_NEAR(got.stress[n][5], 0.0, 1e-7, "Pa");
    }
    solid_free(&of);
}

// A solid that is turned and shifted is not strained: with large rotations exactly.
static void test_fem__a_rigid_turn_makes_no_stress(void **state)
{
    (void)state;
    const int counts[3] = {2, 2, 1};
    solid of = solid_of(crooked, NULL, counts, unit_material);
    of.model.large = true;
    hw_vec3 *start = hw_arena_take(of.room.into, (size_t)of.mesh.node_count, sizeof *start);
    double angle = 1.2, c = cos(angle), s = sin(angle);
    for (int n = 0; n < of.mesh.node_count; n++) {
        hw_vec3 p = of.mesh.nodes[n];
        start[n] = (hw_vec3){c * p.x - s * p.z - p.x + 0.3, 0.1, s * p.x + c * p.z - p.z};
        if (is_outside(&of, n))
            for (int axis = 0; axis < 3; axis++) hold(&of, n, axis, coordinate(start[n], axis));
    }
    hw_fem_case load = {.start = start};
    hw_fem_answer got = {0};
    of.model.mesh = &of.mesh;
    CHECK_OK(&of.room.job, hw_fem_solve(&of.room.job, &of.model, &load, 1, of.room.into, &got));
    for (int n = 0; n < of.mesh.node_count; n++) {
        CHECK_NEAR(got.von_mises[n], 0.0, 1e-8, "Pa");
        CHECK_NEAR(hw_vec3_norm(got.reactions[n]), 0.0, 1e-9, "N");
    }
    solid_free(&of);
}

// The force of a pressure on a curved face is pressure times its shadow, whatever its shape.
static void test_fem__pressure_on_a_closed_surface_pushes_nowhere(void **state)
{
    (void)state;
    const int counts[3] = {1, 1, 1};
    solid of = solid_of(crooked, NULL, counts, unit_material);
    hw_fem_spread spread = {.pressure = 1000.0};
    hw_vec3 sum = {0}, turn = {0};
    for (int face = 0; face < 6; face++)
        hw_fem_spread_on(&of.mesh, 0, (hw_fem_face)face, &spread, of.forces);
    for (int n = 0; n < of.mesh.node_count; n++) {
        sum = hw_vec3_add(sum, of.forces[n]);
        turn = hw_vec3_add(turn, hw_vec3_cross(of.mesh.nodes[n], of.forces[n]));
    }
    CHECK_NEAR(hw_vec3_norm(sum), 0.0, 1e-10, "N");
    CHECK_NEAR(hw_vec3_norm(turn), 0.0, 1e-10, "Nm");
    solid_free(&of);
}

static void test_fem__a_loose_solid_is_refused(void **state)
{
    (void)state;
    static const double size[3] = {1.0, 1.0, 0.2};
    const int counts[3] = {2, 2, 1};
    solid of = solid_of(slab, size, counts, unit_material);
    hw_fem_case load = {.forces = of.forces};
    hw_fem_answer got = {0};
    of.forces[0].x = 1.0;
    of.model.mesh = &of.mesh;
    hold(&of, 0, 2, 0.0);
    CHECK_FAILS(&of.room.job, hw_fem_solve(&of.room.job, &of.model, &load, 1, of.room.into, &got),
                HW_NO_ANSWER, "not held");
    solid_free(&of);
}

static hw_vec3 inside_out(double u, double v, double w, const void *with)
{
    hw_vec3 p = slab(u, v, w, with);
    return (hw_vec3){p.y, p.x, p.z};
}

static void test_fem__an_element_turned_inside_out_is_named(void **state)
{
    (void)state;
    static const double size[3] = {1.0, 1.0, 0.2};
    const int counts[3] = {1, 1, 1};
    solid of = solid_of(inside_out, size, counts, unit_material);
    hw_fem_case load = {0};
    hw_fem_answer got = {0};
    of.model.mesh = &of.mesh;
    CHECK_FAILS(&of.room.job, hw_fem_solve(&of.room.job, &of.model, &load, 1, of.room.into, &got),
                HW_BAD_INPUT, "element 0");
    of.model.material.poisson = 0.5;
    CHECK_FAILS(&of.room.job, hw_fem_solve(&of.room.job, &of.model, &load, 1, of.room.into, &got),
                HW_BAD_INPUT, "Poisson ratio 0.5");
    solid_free(&of);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fem__a_patch_of_constant_strain_is_exact),
        cmocka_unit_test(test_fem__a_patch_of_pure_bending_is_exact),
        cmocka_unit_test(test_fem__a_rigid_turn_makes_no_stress),
        cmocka_unit_test(test_fem__pressure_on_a_closed_surface_pushes_nowhere),
        cmocka_unit_test(test_fem__a_loose_solid_is_refused),
        cmocka_unit_test(test_fem__an_element_turned_inside_out_is_named),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    failed += run_beam_tests() + run_shell_tests() + run_bed_tests() + run_large_tests() +
              run_shell_row_tests();
    return failed;
}
