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

// Nodes of the face at u = 0.
static bool is_at_start(const solid *of, int node)
{
    static const int at_start[] = {0, 3, 4, 7, 11, 15, 16, 19};
    for (int e = 0; e < of->nv * of->layers; e++)
        for (int k = 0; k < 8; k++)
            if (of->mesh.elements[e][at_start[k]] == node) return true;
    return false;
}

// Clamps the face at u = 0, which stands in the plane across `along`, but lets it grow thinner and
// narrower, as beam theory does: held across only on its middle lines.
static void clamp_start(solid *of, int along)
{
    for (int n = 0; n < of->mesh.node_count; n++) {
        if (!is_at_start(of, n)) continue;
        hold(of, n, along, 0.0);
        for (int axis = 0; axis < 3; axis++)
            if (axis != along && fabs(coordinate(of->mesh.nodes[n], axis)) < 1e-9)
                hold(of, n, axis, 0.0);
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
    clamp_start(&of, 0);
    load_end(&of, force);
    hw_fem_answer got = solved(&of, 1);
    hw_vec3 move = end_move(&of, &got);
    solid_free(&of);
    return move;
}

// MacNeal & Harder 1985, straight cantilever 6 x 0.2 x 0.1 under unit loads, here 12 x 2
// elements: a single row would keep a spurious mode of reduced integration.
static void test_fem__a_straight_cantilever_bends_as_the_reference(void **state)
{
    (void)state;
    CHECK_NEAR(straight_beam((hw_vec3){1.0, 0.0, 0.0}).x, 3.0e-5, 0.01 * 3.0e-5, "m");
    CHECK_NEAR(straight_beam((hw_vec3){0.0, 1.0, 0.0}).y, 0.1081, 0.01 * 0.1081, "m");
    CHECK_NEAR(straight_beam((hw_vec3){0.0, 0.0, 1.0}).z, 0.4321, 0.01 * 0.4321, "m");
}

// Turn of the section at u about the beam's axis, from the moves of its side edges.
static double section_turn(const solid *of, const hw_fem_answer *got, double x)
{
    hw_vec3 left = got->moves[node_at(of, (hw_vec3){x, -0.1, 0.0})];
    hw_vec3 right = got->moves[node_at(of, (hw_vec3){x, 0.1, 0.0})];
    return (right.z - left.z) / 0.2;
}

// Saint-Venant's torsion of a rectangle twice as wide as thick: turn per length T / (G J),
// J = 0.229 a b^3 (Timoshenko & Goodier, Theory of Elasticity, 109: from memory). The couple at the
// end spreads within a width or so; the turn is taken between a quarter and three quarters.
static void test_fem__a_twisted_bar_turns_as_saint_venant_says(void **state)
{
    (void)state;
    const int counts[3] = {24, 4, 2};
    solid of = solid_of(straight, NULL, counts, beam_material);
    clamp_start(&of, 0);
    of.forces[node_at(&of, (hw_vec3){6.0, 0.1, 0.0})].z = 1.0 / 0.2;
    of.forces[node_at(&of, (hw_vec3){6.0, -0.1, 0.0})].z = -1.0 / 0.2;
    hw_fem_answer got = solved(&of, 1);
    double turn = section_turn(&of, &got, 4.5) - section_turn(&of, &got, 1.5);
    double theory = 3.0 / (1e7 / 2.6 * 0.229 * 0.2 * 0.1 * 0.1 * 0.1);
    CHECK_NEAR(turn, theory, 0.005 * theory, "rad");
    solid_free(&of);
}

// From (4.22, 0) a quarter turn; clamped at the start in the plane y = 0.
static hw_vec3 curved(double u, double v, double w, const void *with)
{
    (void)with;
    double turn = 0.5 * HW_PI * u, radius = 4.22 - 0.2 * (v - 0.5);
    return (hw_vec3){radius * cos(turn) - 4.22, radius * sin(turn), 0.1 * (w - 0.5)};
}

static hw_vec3 curved_beam(hw_vec3 force)
{
    const int counts[3] = {24, 2, 1};
    const hw_fem_material material = {1e7, 0.25};
    solid of = solid_of(curved, NULL, counts, material);
    clamp_start(&of, 1);
    load_end(&of, force);
    hw_fem_answer got = solved(&of, 1);
    hw_vec3 move = end_move(&of, &got);
    solid_free(&of);
    return move;
}

// MacNeal & Harder 1985, curved cantilever of 90 degrees, radii 4.12 and 4.32.
static void test_fem__a_curved_cantilever_bends_as_the_reference(void **state)
{
    (void)state;
    CHECK_NEAR(curved_beam((hw_vec3){0.0, 1.0, 0.0}).y, 0.08734, 0.02 * 0.08734, "m");
    CHECK_NEAR(curved_beam((hw_vec3){0.0, 0.0, 1.0}).z, 0.5022, 0.02 * 0.5022, "m");
}

static hw_vec3 twisted(double u, double v, double w, const void *with)
{
    (void)with;
    double turn = 0.5 * HW_PI * u, y = 1.1 * (v - 0.5), z = 0.32 * (w - 0.5);
    return (hw_vec3){12.0 * u, y * cos(turn) - z * sin(turn), y * sin(turn) + z * cos(turn)};
}

static hw_vec3 twisted_beam(hw_vec3 force)
{
    const int counts[3] = {24, 4, 2};
    const hw_fem_material material = {29e6, 0.22};
    solid of = solid_of(twisted, NULL, counts, material);
    clamp_start(&of, 0);
    load_end(&of, force);
    hw_fem_answer got = solved(&of, 1);
    hw_vec3 move = end_move(&of, &got);
    solid_free(&of);
    return move;
}

// MacNeal & Harder 1985, cantilever twisted by 90 degrees, 12 x 1.1 x 0.32.
static void test_fem__a_twisted_cantilever_bends_as_the_reference(void **state)
{
    (void)state;
    CHECK_NEAR(twisted_beam((hw_vec3){0.0, 0.0, 1.0}).z, 0.005424, 0.01 * 0.005424, "m");
    CHECK_NEAR(twisted_beam((hw_vec3){0.0, 1.0, 0.0}).y, 0.001754, 0.01 * 0.001754, "m");
}

int run_beam_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fem__a_straight_cantilever_bends_as_the_reference),
        cmocka_unit_test(test_fem__a_twisted_bar_turns_as_saint_venant_says),
        cmocka_unit_test(test_fem__a_curved_cantilever_bends_as_the_reference),
        cmocka_unit_test(test_fem__a_twisted_cantilever_bends_as_the_reference),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
