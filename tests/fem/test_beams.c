// SPDX-License-Identifier: GPL-3.0-or-later
// Beams: the set of MacNeal & Harder 1985 (Finite Elem Anal Des 1:3-20), values by table 1 there as
// facts/mechanics.md 6.4 recalls them.
#include "solids.h"

// Hangs a force on the end face of a beam along u, spread evenly.
static void load_end(solid *of, hw_vec3 force)
{
    int first = (of->nu - 1) * of->nv * of->layers;
    double area = 0.0;
    hw_vec3 *unit = hw_arena_take(of->room.into, (size_t)of->mesh.node_count, sizeof *unit);
    hw_fem_spread one = {.traction = {1.0, 0.0, 0.0}};
    for (int e = first; e < of->mesh.element_count; e++)
        hw_fem_spread_on(&of->mesh, e, HW_FEM_SIDE_12, &one, unit);
    for (int n = 0; n < of->mesh.node_count; n++) area += unit[n].x;
    hw_fem_spread spread = {.traction = hw_vec3_scale(force, 1.0 / area)};
    for (int e = first; e < of->mesh.element_count; e++)
        hw_fem_spread_on(&of->mesh, e, HW_FEM_SIDE_12, &spread, of->forces);
}

// Holds all of the face at u = 0.
static void clamp_start(solid *of)
{
    for (int e = 0; e < of->nv * of->layers; e++)
        for (int a = 0; a < HW_FEM_NODES; a++) {
            static const int at_start[] = {0, 3, 4, 7, 11, 15, 16, 19};
            for (int k = 0; k < 8; k++)
                if (at_start[k] == a)
                    for (int axis = 0; axis < 3; axis++)
                        hold(of, of->mesh.elements[e][a], axis, 0.0);
        }
}

// Mean of a move over the end's nodes.
static hw_vec3 end_move(const solid *of, const hw_fem_answer *got)
{
    hw_vec3 sum = {0};
    int count = 0;
    for (int n = 0; n < of->mesh.node_count; n++)
        if (fabs(of->forces[n].x) + fabs(of->forces[n].y) + fabs(of->forces[n].z) > 0.0) {
            sum = hw_vec3_add(sum, got->moves[n]);
            count++;
        }
    return hw_vec3_scale(sum, 1.0 / count);
}

static hw_vec3 straight(double u, double v, double w, const void *with)
{
    (void)with;
    return (hw_vec3){6.0 * u, 0.2 * (v - 0.5), 0.1 * (w - 0.5)};
}

static const hw_fem_material beam_material = {1e7, 0.3};

static hw_vec3 straight_beam(hw_vec3 force)
{
    const int counts[3] = {12, 2, 1};
    solid of = solid_of(straight, NULL, counts, beam_material);
    clamp_start(&of);
    load_end(&of, force);
    hw_fem_answer got = solved(&of, 1);
    hw_vec3 move = end_move(&of, &got);
    solid_free(&of);
    return move;
}

// MacNeal & Harder 1985, straight cantilever 6 x 0.2 x 0.1 of six elements under unit loads; a tenth of
// elements: a single row would keep a spurious mode of reduced integration.
static void test_fem__a_straight_cantilever_bends_as_the_reference(void **state)
{
    (void)state;
    CHECK_NEAR(straight_beam((hw_vec3){1.0, 0.0, 0.0}).x, 3.0e-5, 0.01 * 3.0e-5, "m");
    CHECK_NEAR(straight_beam((hw_vec3){0.0, 1.0, 0.0}).y, 0.1081, 0.01 * 0.1081, "m");
    CHECK_NEAR(straight_beam((hw_vec3){0.0, 0.0, 1.0}).z, 0.4321, 0.01 * 0.4321, "m");
}

int run_beam_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fem__a_straight_cantilever_bends_as_the_reference),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
