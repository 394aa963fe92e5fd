// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

hw_mesh elsewhere(hw_arena *into, const hw_mesh *mesh, hw_random *random, double scale)
{
    // A unit quaternion of four normals is a rotation evenly spread over all of them.
    double q[4], norm = 0.0;
    for (int i = 0; i < 4; i++) {
        q[i] = hw_random_normal(random);
        norm += q[i] * q[i];
    }
    for (int i = 0; i < 4; i++) q[i] /= sqrt(norm);
    double w = q[0], x = q[1], y = q[2], z = q[3];
    hw_pose pose = {{1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y),
                     2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x),
                     2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)},
                    scale,
                    {0, 0, 0}};
    hw_box box = hw_mesh_box(mesh);
    double reach = scale * hw_vec3_distance(box.low, box.high);
    pose.shift = (hw_vec3){reach * hw_random_normal(random), reach * hw_random_normal(random),
                           reach * hw_random_normal(random)};
    hw_mesh moved = *mesh;
    moved.points = hw_arena_take(into, (size_t)mesh->point_count, sizeof *moved.points);
    if (!moved.points) abort();
    for (int i = 0; i < mesh->point_count; i++)
        moved.points[i] = hw_pose_point(&pose, mesh->points[i]);
    return moved;
}

int main(void)
{
    int failed = run_state_tests();
    failed += run_compare_tests();
    failed += run_by_hand_tests();
    failed += run_fit_tests();
    failed += run_invented_tests();
    failed += run_refusal_tests();
    failed += run_perturbed_tests();
    return failed + run_shared_tests();
}
