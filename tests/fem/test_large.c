// SPDX-License-Identifier: GPL-3.0-or-later
// Large rotations: a cantilever bent far by a force that keeps its way, and one rolled up.
#include "solids.h"

static hw_vec3 strip(double u, double v, double w, const void *with)
{
    const double *size = with;
    return (hw_vec3){size[0] * u, size[1] * v, size[2] * (w - 0.5)};
}

static void clamp(solid *of)
{
    hold_plane(of, 0, 0.0, 0);
    hold_plane(of, 0, 0.0, 1);
    for (int n = 0; n < of->mesh.node_count; n++)
        if (of->mesh.nodes[n].x < 1e-9 && fabs(of->mesh.nodes[n].z) < 1e-9) hold(of, n, 2, 0.0);
}

// Bisshopp & Drucker 1945 Q Appl Math 3:272, as tabled by Mattiasson 1981 Int J Numer Methods Eng
// 17:145 (from memory): P L^2 / (E I), sink / L, shortening / L.
static void test_fem__a_cantilever_bends_far_as_the_elastica(void **state)
{
    (void)state;
    static const double size[3] = {1.0, 0.05, 0.01}, young = 1e9;
    static const double rows[][3] = {
        {1.0, 0.30172, 0.05643}, {5.0, 0.71379, 0.38763}, {10.0, 0.81061, 0.55500}};
    const int counts[3] = {20, 2, 1};
    const hw_fem_material material = {young, 0.0};
    double inertia = 0.05 * 0.01 * 0.01 * 0.01 / 12.0;
    for (int row = 0; row < 3; row++) {
        solid of = solid_of(strip, size, counts, material);
        clamp(&of);
        of.model.large = true;
        double force = rows[row][0] * young * inertia;
        hw_fem_spread spread = {.traction = {0.0, 0.0, force / (0.05 * 0.01)}};
        for (int e = 19 * 2; e < 20 * 2; e++)
            hw_fem_spread_on(&of.mesh, e, HW_FEM_SIDE_12, &spread, of.forces);
        hw_fem_answer got = solved(&of, 4);
        hw_vec3 end = got.moves[node_at(&of, (hw_vec3){1.0, 0.025, 0.0})];
        CHECK_NEAR(end.z, rows[row][1], 0.005 * rows[row][1], "m");
        CHECK_NEAR(-end.x, rows[row][2], 0.008 * rows[row][2], "m");
        solid_free(&of);
    }
}

// Forces of a bending moment on the end's section, which stands turned by `turn`: stress M z / I
// along its normal, as forces on its two long edges that have its moment, spread along them as 1 4
// 1.
static void bend_end(solid *of, double moment, double turn, const double size[3])
{
    hw_vec3 normal = {cos(turn), 0.0, sin(turn)};
    memset(of->forces, 0, (size_t)of->mesh.node_count * sizeof *of->forces);
    double force = moment / size[2];
    for (int n = 0; n < of->mesh.node_count; n++) {
        hw_vec3 p = of->mesh.nodes[n];
        if (p.x < size[0] - 1e-9 || fabs(p.z) < 1e-9) continue;
        // three nodes of each of nv elements along an edge: 1 4 1 / 6
        bool inner =
            fabs(remainder(p.y, size[1] / of->nv)) < 1e-9 && p.y > 1e-9 && p.y < size[1] - 1e-9;
        bool middle = fabs(remainder(p.y, size[1] / of->nv)) > 1e-9;
        double share = (middle ? 4.0 : inner ? 2.0 : 1.0) / (6.0 * of->nv);
        double along = p.z > 0.0 ? -force : force;
        of->forces[n] = hw_vec3_scale(normal, share * along);
    }
}

// Under M = 2 pi E I / L a cantilever becomes a circle of its length (exact for the beam; Euler
// 1744). The couple turns with the end; nu is 0 and nothing moves across.
static void test_fem__a_strip_rolls_up_into_a_circle(void **state)
{
    (void)state;
    static const double size[3] = {1.0, 0.02, 0.01}, young = 1e9;
    const int counts[3] = {32, 2, 1}, steps = 32;
    const hw_fem_material material = {young, 0.0};
    solid of = solid_of(strip, size, counts, material);
    clamp(&of);
    for (int n = 0; n < of.mesh.node_count; n++) hold(&of, n, 1, 0.0);
    of.model.large = true, of.model.mesh = &of.mesh;
    hw_fem_answer got = {0};
    double inertia = size[1] * size[2] * size[2] * size[2] / 12.0;
    for (int k = 1; k <= steps; k++) {
        double turn = 2.0 * HW_PI * k / steps;
        bend_end(&of, turn * young * inertia / size[0], turn, size);
        hw_fem_case load = {.start = got.moves, .forces = of.forces};
        CHECK_OK(&of.room.job, hw_fem_solve(&of.room.job, &of.model, &load, 1, of.room.into, &got));
    }
    double radius = 0.5 / HW_PI;
    for (int n = 0; n < of.mesh.node_count; n++) {
        hw_vec3 p = of.mesh.nodes[n], now = hw_vec3_add(p, got.moves[n]);
        if (fabs(p.z) > 1e-9) continue;
        CHECK_NEAR(hypot(now.x, now.z - radius), radius, 0.01 * radius, "m");
        if (p.x > size[0] - 1e-9) CHECK_NEAR(hypot(now.x, now.z), 0.0, 0.003 * size[0], "m");
    }
    solid_free(&of);
}

int run_large_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fem__a_cantilever_bends_far_as_the_elastica),
        cmocka_unit_test(test_fem__a_strip_rolls_up_into_a_circle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
