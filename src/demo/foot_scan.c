// SPDX-License-Identifier: GPL-3.0-or-later
// What a scanner does to the foot: noise, holes, the floor, loose bits, another pose and unit. Each
// draws from its own stream of the seed, so that ordering one more does not change the others.
#include "demo_internal.h"

enum { STREAM_NOISE = 1, STREAM_HOLES, STREAM_STRAYS, STREAM_POSE };

static hw_random stream(const hw_demo_foot_order *order, uint64_t which)
{
    return hw_random_begin(order->seed * 0x9E3779B97F4A7C15u + which);
}

static double between(hw_random *random, double low, double high)
{
    return low + (high - low) * hw_random_uniform(random);
}

static void add_noise(const hw_demo_foot_order *order, hw_mesh *mesh)
{
    if (order->noise_m <= 0.0) return;
    hw_random random = stream(order, STREAM_NOISE);
    for (int i = 0; i < mesh->point_count; i++) {
        mesh->points[i].x += order->noise_m * hw_random_normal(&random);
        mesh->points[i].y += order->noise_m * hw_random_normal(&random);
        mesh->points[i].z += order->noise_m * hw_random_normal(&random);
    }
}

static bool touches_ball(const hw_mesh *mesh, int triangle, hw_vec3 centre, double radius)
{
    for (int k = 0; k < 3; k++)
        if (hw_vec3_distance(mesh->points[mesh->triangles[triangle][k]], centre) < radius)
            return true;
    return false;
}

static void keep_only(hw_mesh *mesh, int *count, int triangle)
{
    int *to = mesh->triangles[(*count)++];
    for (int k = 0; k < 3; k++) to[k] = mesh->triangles[triangle][k];
}

static void cut_holes(const hw_demo_foot_order *order, hw_mesh *mesh)
{
    hw_random random = stream(order, STREAM_HOLES);
    for (int h = 0; h < order->holes; h++) {
        int at = (int)(hw_random_uniform(&random) * mesh->point_count);
        double radius = between(&random, 0.003, 0.008);
        hw_vec3 centre = mesh->points[at];
        int kept = 0;
        for (int t = 0; t < mesh->triangle_count; t++)
            if (!touches_ball(mesh, t, centre, radius)) keep_only(mesh, &kept, t);
        mesh->triangle_count = kept;
    }
}

static void open_top(const hw_demo_foot_order *order, hw_mesh *mesh)
{
    if (!order->open_top) return;
    double cut = shape_ankle_cut(order) - 1e-9;
    int kept = 0;
    for (int t = 0; t < mesh->triangle_count; t++) {
        const int *c = mesh->triangles[t];
        bool lid =
            mesh->points[c[0]].z > cut && mesh->points[c[1]].z > cut && mesh->points[c[2]].z > cut;
        if (!lid) keep_only(mesh, &kept, t);
    }
    mesh->triangle_count = kept;
}

static int add_point(hw_mesh *mesh, hw_vec3 point)
{
    mesh->points[mesh->point_count] = point;
    return mesh->point_count++;
}

static void add_corners(hw_mesh *mesh, int a, int b, int c)
{
    int *to = mesh->triangles[mesh->triangle_count++];
    to[0] = a, to[1] = b, to[2] = c;
}

enum { FLOOR_STEPS = 24, STRAY_POINTS = 4 };

/// A sheet under the foot, 1.5 times as long as it, facing up.
static void add_floor(const hw_demo_foot_order *order, hw_mesh *mesh)
{
    if (!order->floor) return;
    double length = 1.5 * order->foot_length_m, step = length / FLOOR_STEPS;
    int first = mesh->point_count;
    for (int i = 0; i <= FLOOR_STEPS; i++)
        for (int j = 0; j <= FLOOR_STEPS; j++)
            add_point(mesh, (hw_vec3){i * step - length / 6.0, j * step - 0.5 * length, -0.0002});
    for (int i = 0; i < FLOOR_STEPS; i++)
        for (int j = 0; j < FLOOR_STEPS; j++) {
            int a = first + i * (FLOOR_STEPS + 1) + j, c = a + FLOOR_STEPS + 1;
            add_corners(mesh, a, c, a + 1);
            add_corners(mesh, c, c + 1, a + 1);
        }
}

/// Loose flakes of a few millimetres around the foot, clear of its box.
static void add_strays(const hw_demo_foot_order *order, hw_mesh *mesh)
{
    hw_random random = stream(order, STREAM_STRAYS);
    double unit = order->foot_length_m;
    for (int s = 0; s < order->strays; s++) {
        double side = hw_random_uniform(&random) < 0.5 ? -1.0 : 1.0;
        hw_vec3 at = {between(&random, -0.2, 1.2) * unit, side * between(&random, 0.3, 0.6) * unit,
                      between(&random, 0.02, 0.5) * unit};
        int corner[STRAY_POINTS];
        for (int k = 0; k < STRAY_POINTS; k++) {
            hw_vec3 away = {between(&random, -0.004, 0.004), between(&random, -0.004, 0.004),
                            between(&random, -0.004, 0.004)};
            corner[k] = add_point(mesh, hw_vec3_add(at, away));
        }
        add_corners(mesh, corner[0], corner[1], corner[2]);
        add_corners(mesh, corner[1], corner[3], corner[2]);
    }
}

/// A rotation drawn evenly from all, by a unit quaternion.
static void turn_at_random(hw_random *random, double *r)
{
    double q[4], norm = 0.0;
    for (int i = 0; i < 4; i++) q[i] = hw_random_normal(random);
    for (int i = 0; i < 4; i++) norm += q[i] * q[i];
    for (int i = 0; i < 4; i++) q[i] /= sqrt(norm);
    double w = q[0], x = q[1], y = q[2], z = q[3];
    r[0] = 1 - 2 * (y * y + z * z), r[1] = 2 * (x * y - z * w), r[2] = 2 * (x * z + y * w);
    r[3] = 2 * (x * y + z * w), r[4] = 1 - 2 * (x * x + z * z), r[5] = 2 * (y * z - x * w);
    r[6] = 2 * (x * z - y * w), r[7] = 2 * (y * z + x * w), r[8] = 1 - 2 * (x * x + y * y);
}

/// Foot frame -> scan coordinates: out of the left frame, turned, in the file's unit.
static hw_pose scan_pose(const hw_demo_foot_order *order)
{
    hw_pose out = hw_foot_exit(order->side);
    if (order->turned) {
        hw_random random = stream(order, STREAM_POSE);
        hw_pose turn = hw_pose_identity();
        turn_at_random(&random, turn.rotation);
        turn.shift = (hw_vec3){between(&random, -0.5, 0.5), between(&random, -0.5, 0.5),
                               between(&random, -0.5, 0.5)};
        out = hw_pose_chain(&out, &turn);
    }
    hw_pose unit = hw_pose_identity();
    unit.scale = 1.0 / order->m_per_unit;
    return hw_pose_chain(&out, &unit);
}

static hw_status check_range(hw_job *job, const char *what, double value, double low, double high)
{
    if (value >= low && value <= high) return HW_OK; // also false for what is not a number
    return hw_fail(job, HW_BAD_INPUT, "the invented foot's %s is %g; it may be %g to %g", what,
                   value, low, high);
}

static hw_status check_order(hw_job *job, const hw_demo_foot_order *order)
{
    if (order->side == HW_SIDE_UNKNOWN)
        return hw_fail(job, HW_BAD_INPUT, "an invented foot is left or right, never unknown");
    double length = order->foot_length_m, ball = order->ball_breadth_m;
    HW_TRY(check_range(job, "length (m)", length, 0.15, 0.35));
    HW_TRY(check_range(job, "ball breadth (m)", ball, 0.30 * length, 0.50 * length));
    HW_TRY(check_range(job, "heel breadth (m)", order->heel_breadth_m, 0.45 * ball, 0.95 * ball));
    HW_TRY(check_range(job, "arch height (m)", order->arch_apex_height_m, 0.001, 0.04));
    HW_TRY(check_range(job, "dorsum height (m)", order->dorsum_height_m, 0.15 * length,
                       0.38 * length));
    HW_TRY(check_range(job, "noise (m)", order->noise_m, 0.0, 0.005));
    HW_TRY(check_range(job, "count of holes", order->holes, 0, 100));
    HW_TRY(check_range(job, "count of strays", order->strays, 0, 200));
    HW_TRY(check_range(job, "count of triangles", order->triangles, 2000, 400000));
    return check_range(job, "unit (m)", order->m_per_unit, 1e-6, 1.0);
}

/// The foot as scanned but in the foot frame, with room for `points` and `triangles` more.
static hw_status scanned_foot(hw_job *job, const hw_demo_foot_order *order, hw_arena *into,
                              const int room[2], hw_mesh *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh clean = {0}, mesh = {0};
    HW_TRY(shape_mesh(job, order, tmp.arena, &clean));
    mesh = clean;
    HW_ALLOC(job, into, mesh.points, clean.point_count + room[0]);
    HW_ALLOC(job, into, mesh.triangles, clean.triangle_count + room[1]);
    for (int i = 0; i < clean.point_count; i++) mesh.points[i] = clean.points[i];
    for (int i = 0; i < clean.triangle_count; i++)
        for (int k = 0; k < 3; k++) mesh.triangles[i][k] = clean.triangles[i][k];
    open_top(order, &mesh);
    cut_holes(order, &mesh);
    add_noise(order, &mesh);
    hw_scratch_end(tmp);
    *out = mesh;
    return HW_OK;
}

hw_demo_foot_order hw_demo_foot_order_default(void)
{
    return (hw_demo_foot_order){
        .side = HW_SIDE_LEFT,
        .loading = HW_LOADING_HANGING,
        .foot_length_m = 0.260,
        .ball_breadth_m = 0.099,
        .heel_breadth_m = 0.064,
        .arch_apex_height_m = 0.018,
        .dorsum_height_m = 0.066,
        .triangles = 30000,
        .seed = 1,
        .m_per_unit = 1.0,
    };
}

hw_status hw_demo_foot(hw_job *job, const hw_demo_foot_order *order, hw_arena *into, hw_mesh *scan,
                       hw_demo_truth *truth)
{
    HW_TRY(check_order(job, order));
    hw_scratch tmp = hw_scratch_begin(job, into);
    const int floor_points = (FLOOR_STEPS + 1) * (FLOOR_STEPS + 1);
    const int room[2] = {floor_points + STRAY_POINTS * order->strays,
                         2 * floor_points + 2 * order->strays};
    hw_mesh mesh = {0};
    HW_TRY(scanned_foot(job, order, tmp.arena, room, &mesh));
    add_floor(order, &mesh);
    add_strays(order, &mesh);
    hw_pose pose = scan_pose(order);
    HW_TRY(hw_mesh_place(job, &mesh, &pose, into, scan));
    hw_scratch_end(tmp);
    truth->side = order->side;
    truth->landmarks = shape_landmarks(order);
    truth->measures = hw_foot_measure(&truth->landmarks);
    truth->from_scan = hw_pose_inverse(&pose);
    return HW_OK;
}

hw_status hw_demo_posed(hw_job *job, const hw_demo_foot_order *order, hw_arena *into, hw_foot *out)
{
    HW_TRY(check_order(job, order));
    const int room[2] = {0, 0};
    hw_pose pose = scan_pose(order);
    hw_foot foot = {.side = order->side,
                    .loading = order->loading,
                    .landmarks = shape_landmarks(order),
                    .from_scan = hw_pose_inverse(&pose)};
    foot.measures = hw_foot_measure(&foot.landmarks);
    HW_TRY(scanned_foot(job, order, into, room, &foot.surface));
    *out = foot;
    return HW_OK;
}
