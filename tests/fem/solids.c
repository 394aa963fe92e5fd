// SPDX-License-Identifier: GPL-3.0-or-later
#include "solids.h"

solid solid_of(solid_map map, const void *with, const int counts[3], hw_fem_material material)
{
    solid of = {.room = hw_test_open(), .nu = counts[0], .nv = counts[1], .layers = counts[2]};
    const int nu = 2 * of.nu + 1, nv = 2 * of.nv + 1;
    hw_vec3 *low = hw_arena_take(of.room.into, (size_t)(nu * nv), sizeof *low);
    hw_vec3 *high = hw_arena_take(of.room.into, (size_t)(nu * nv), sizeof *high);
    assert_true(low && high);
    for (int i = 0; i < nu; i++)
        for (int j = 0; j < nv; j++) {
            double u = (double)i / (nu - 1), v = (double)j / (nv - 1);
            low[i * nv + j] = map(u, v, 0.0, with);
            high[i * nv + j] = map(u, v, 1.0, with);
        }
    hw_fem_sheet sheet = {low, high, of.nu, of.nv, of.layers};
    CHECK_OK(&of.room.job,
             hw_fem_sheet_mesh(&of.room.job, &sheet, of.room.into, &of.mesh, &of.faces));
    of.holds = hw_arena_take(of.room.into, HOLDS_MAX, sizeof *of.holds);
    of.forces = hw_arena_take(of.room.into, (size_t)of.mesh.node_count, sizeof *of.forces);
    assert_true(of.holds && of.forces);
    of.model = (hw_fem_model){.material = material, .holds = of.holds};
    return of;
}

void solid_free(solid *of)
{
    hw_test_close(&of->room);
}

void hold(solid *of, int node, int axis, double move)
{
    assert_true(of->model.hold_count < HOLDS_MAX);
    of->holds[of->model.hold_count++] = (hw_fem_hold){node, axis, move};
}

double coordinate(hw_vec3 point, int axis)
{
    return axis == 0 ? point.x : axis == 1 ? point.y : point.z;
}

void hold_plane(solid *of, int where, double at, int axis)
{
    int before = of->model.hold_count;
    for (int n = 0; n < of->mesh.node_count; n++)
        if (fabs(coordinate(of->mesh.nodes[n], where) - at) < 1e-9) hold(of, n, axis, 0.0);
    assert_true(of->model.hold_count > before);
}

int node_at(const solid *of, hw_vec3 point)
{
    int best = 0;
    for (int n = 1; n < of->mesh.node_count; n++)
        if (hw_vec3_distance(of->mesh.nodes[n], point) <
            hw_vec3_distance(of->mesh.nodes[best], point))
            best = n;
    return best;
}

int face_node(const solid *of, bool high, int i, int j)
{
    int node = (high ? of->faces.high : of->faces.low)[i * (2 * of->nv + 1) + j];
    assert_true(node >= 0);
    return node;
}

hw_fem_answer solved(solid *of, int load_steps)
{
    hw_fem_answer answer = {0};
    hw_fem_case load = {.forces = of->forces, .load_steps = load_steps};
    of->model.mesh = &of->mesh;
    CHECK_OK(&of->room.job,
             hw_fem_solve(&of->room.job, &of->model, &load, 1, of->room.into, &answer));
    return answer;
}
