// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "shapes.h"
#include "suites.h"

static const hw_mesh_faults faultless = {0};

static hw_mesh_faults check(hw_test_room *room, const hw_mesh *mesh)
{
    hw_mesh_faults faults = {0};
    CHECK_OK(&room->job, hw_mesh_check(&room->job, mesh, &faults));
    return faults;
}

// Volume and area of cube and sphere: geometry; a sphere of triangles stays inside the sphere, its
// deficit falls with the square of the side.
static void test_mesh__cube_and_sphere_have_the_volume_and_area_of_geometry(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh cube = shape_cube(room.into, 2.0);
    CHECK_NEAR(hw_mesh_volume(&cube), 8.0, 1e-14, "m3");
    CHECK_NEAR(hw_mesh_area(&cube), 24.0, 1e-13, "m2");
    double deficit[2];
    for (int i = 0; i < 2; i++) {
        hw_mesh sphere = shape_sphere(room.into, 4 + i);
        deficit[i] = 4.0 / 3.0 * HW_PI - hw_mesh_volume(&sphere);
        hw_mesh_faults faults = check(&room, &sphere);
        assert_memory_equal(&faults, &faultless, sizeof faults);
    }
    CHECK_NEAR(deficit[0] / deficit[1], 4.0, 0.05, "");
    hw_test_close(&room);
}

static void test_check__counts_each_fault_where_it_was_made(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh cube = shape_cube(room.into, 1.0);
    hw_mesh_faults faults = check(&room, &cube);
    assert_memory_equal(&faults, &faultless, sizeof faults);

    hw_mesh open = cube; // without one triangle: its three sides are open
    open.triangle_count = 11;
    assert_int_equal(check(&room, &open).open_edges, 3);

    hw_mesh turned = shape_cube(room.into, 1.0); // one triangle the other way round
    turned.triangles[0][1] = 1, turned.triangles[0][2] = 2;
    faults = check(&room, &turned);
    assert_int_equal(faults.clashing_edges, 3);
    assert_int_equal(faults.open_edges + faults.crowded_edges, 0);

    hw_mesh torn = shape_torn(room.into, &cube); // 36 corners on 8 places, 36 sides of their own
    faults = check(&room, &torn);
    assert_int_equal(faults.open_edges, 36);
    assert_int_equal(faults.double_points, 28);

    hw_mesh bad = shape_cube(room.into, 1.0);
    bad.triangles[3][0] = 8, bad.triangles[4][1] = -1;
    bad.triangles[5][0] = bad.triangles[5][1];
    faults = check(&room, &bad);
    assert_int_equal(faults.bad_indices, 2);
    assert_int_equal(faults.flat_triangles, 1);

    hw_mesh fin = {cube.points, 8, hw_arena_take(room.into, 13, sizeof(int[3])), 13, NULL};
    memcpy(fin.triangles, cube.triangles, 12 * sizeof(int[3]));
    memcpy(fin.triangles[12], (int[3]){0, 1, 7}, sizeof(int[3]));
    faults = check(&room, &fin); // side 0-1 now has three triangles; 1-7 and 7-0 are no old sides
    assert_int_equal(faults.crowded_edges, 1);
    assert_int_equal(faults.open_edges, 2);
    hw_test_close(&room);
}

static void test_weld__torn_solids_become_whole_again(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh sphere = shape_sphere(room.into, 4), torn = shape_torn(room.into, &sphere);
    hw_random random = hw_random_begin(3);
    for (int pass = 0; pass < 2; pass++) { // exact places, then places with 0.1 micrometre of noise
        hw_mesh whole = {0};
        CHECK_OK(&room.job, hw_mesh_weld(&room.job, &torn, pass ? 1e-6 : 0.0, room.into, &whole));
        assert_int_equal(whole.point_count, sphere.point_count);
        assert_int_equal(whole.triangle_count, sphere.triangle_count);
        hw_mesh_faults faults = check(&room, &whole);
        assert_memory_equal(&faults, &faultless, sizeof faults);
        CHECK_NEAR(hw_mesh_volume(&whole), hw_mesh_volume(&sphere), 1e-6, "m3");
        for (int i = 0; i < torn.point_count; i++)
            torn.points[i].x += 1e-7 * (hw_random_uniform(&random) - 0.5);
    }
    hw_test_close(&room);
}

// The plain version as oracle: every point against every kept one.
static int kept_by_plain_search(hw_arena *into, const hw_mesh *mesh, double tolerance)
{
    hw_vec3 *kept = hw_arena_take(into, (size_t)mesh->point_count, sizeof *kept);
    int count = 0;
    for (int i = 0; i < mesh->point_count; i++) {
        bool is_new = true;
        for (int j = 0; j < count && is_new; j++)
            is_new = hw_vec3_distance(mesh->points[i], kept[j]) >= tolerance;
        if (is_new) kept[count++] = mesh->points[i];
    }
    return count;
}

static void test_weld__keeps_as_many_points_as_a_plain_search(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (uint64_t seed = 1; seed <= 5; seed++) {
        hw_mesh soup = shape_soup(room.into, 300, seed);
        double tolerance = 0.01 * (double)seed;
        // One far triangle on all places keeps every kept point in use.
        hw_mesh fans = soup;
        fans.triangle_count = soup.point_count - 2;
        fans.triangles = hw_arena_take(room.into, (size_t)fans.triangle_count, sizeof(int[3]));
        for (int i = 0; i < fans.triangle_count; i++)
            for (int k = 0; k < 3; k++) fans.triangles[i][k] = i + k;
        hw_mesh whole = {0};
        CHECK_OK(&room.job, hw_mesh_weld(&room.job, &fans, tolerance, room.into, &whole));
        int want = kept_by_plain_search(room.into, &soup, tolerance);
        assert_in_range(whole.point_count, want - 2, want); // an end may lose its triangle
        for (int i = 0; i < whole.point_count; i++)
            for (int j = 0; j < i; j++)
                assert_true(hw_vec3_distance(whole.points[i], whole.points[j]) >= tolerance);
    }
    hw_test_close(&room);
}

static void test_pieces__are_numbered_from_the_largest(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh small = shape_cube(room.into, 1.0), large = shape_cube(room.into, 3.0);
    hw_mesh both = {hw_arena_take(room.into, 16, sizeof(hw_vec3)), 16,
                    hw_arena_take(room.into, 24, sizeof(int[3])), 24, NULL};
    for (int i = 0; i < 8; i++) {
        both.points[i] = small.points[i];
        both.points[8 + i] = large.points[i];
    }
    for (int i = 0; i < 36; i++) {
        both.triangles[i / 3][i % 3] = small.triangles[i / 3][i % 3];
        both.triangles[12 + i / 3][i % 3] = 8 + large.triangles[i / 3][i % 3];
    }
    int *piece = NULL, count = 0;
    CHECK_OK(&room.job, hw_mesh_pieces(&room.job, &both, room.into, &piece, &count));
    assert_int_equal(count, 2);
    for (int i = 0; i < 24; i++) assert_int_equal(piece[i], i < 12 ? 1 : 0);
    hw_test_close(&room);
}

static void test_turn__a_shuffled_winding_comes_out_outward(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_random random = hw_random_begin(11);
    for (int open = 0; open < 2; open++) {
        hw_mesh sphere = shape_sphere(room.into, 4), turned = {0};
        if (open) { // a cap cut off: triangles with all corners above z = 0.6
            int kept = 0;
            for (int i = 0; i < sphere.triangle_count; i++) {
                int *c = sphere.triangles[i];
                if (sphere.points[c[0]].z > 0.6 && sphere.points[c[1]].z > 0.6) continue;
                memmove(sphere.triangles[kept++], c, sizeof(int[3]));
            }
            sphere.triangle_count = kept;
        }
        int shuffled = 0, found = 0;
        for (int i = 0; i < sphere.triangle_count; i++) {
            if (hw_random_uniform(&random) < 0.7) continue;
            int *c = sphere.triangles[i], kept = c[1];
            c[1] = c[2], c[2] = kept;
            shuffled++;
        }
        CHECK_OK(&room.job, hw_mesh_turn(&room.job, &sphere, room.into, &turned, &found));
        assert_int_equal(found, shuffled);
        assert_int_equal(check(&room, &turned).clashing_edges, 0);
        for (int i = 0; i < turned.triangle_count; i++) {
            const int *c = turned.triangles[i];
            hw_vec3 a = turned.points[c[0]], b = turned.points[c[1]], e = turned.points[c[2]];
            assert_true(hw_vec3_dot(a, hw_vec3_cross(b, e)) > 0.0);
        }
    }
    hw_test_close(&room);
}

static void test_place__a_mirrored_solid_keeps_its_outside(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh cube = shape_cube(room.into, 1.0), placed = {0};
    hw_pose mirror = {{1, 0, 0, 0, -1, 0, 0, 0, 1}, 2.0, {5, 0, 0}};
    CHECK_OK(&room.job, hw_mesh_place(&room.job, &cube, &mirror, room.into, &placed));
    CHECK_NEAR(hw_mesh_volume(&placed), 8.0, 1e-12, "m3");
    hw_box box = hw_mesh_box(&placed);
    CHECK_NEAR(box.low.y, -2.0, 0.0, "m");
    CHECK_NEAR(box.high.x, 7.0, 0.0, "m");
    hw_test_close(&room);
}

static hw_status all_of_it(hw_test_room *room, const hw_mesh *mesh)
{
    hw_mesh whole = {0}, turned = {0};
    hw_mesh_faults faults = {0};
    int *piece = NULL, count = 0;
    const hw_near *near = NULL;
    HW_TRY(hw_mesh_weld(&room->job, mesh, 1e-6, room->into, &whole));
    HW_TRY(hw_mesh_check(&room->job, &whole, &faults));
    HW_TRY(hw_mesh_pieces(&room->job, &whole, room->into, &piece, &count));
    HW_TRY(hw_mesh_turn(&room->job, &whole, room->into, &turned, NULL));
    return hw_near_build(&room->job, &turned, room->into, &near);
}

static void test_open_sides__run_round_a_hole_and_ask_for_one_direction(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh cube = shape_cube(room.into, 1.0);
    int(*sides)[2] = NULL, count = 0, ends[8] = {0};
    CHECK_OK(&room.job, hw_mesh_open_sides(&room.job, &cube, room.into, &sides, &count));
    assert_int_equal(count, 0);
    const int *gone = cube.triangles[--cube.triangle_count];
    CHECK_OK(&room.job, hw_mesh_open_sides(&room.job, &cube, room.into, &sides, &count));
    assert_int_equal(count, 3);
    for (int i = 0; i < count; i++) { // its neighbours run against the triangle that is gone
        int from = 0;
        while (from < 3 && gone[from] != sides[i][0]) from++;
        assert_true(from < 3);
        assert_int_equal(sides[i][1], gone[(from + 2) % 3]);
        ends[sides[i][0]]++;
    }
    for (int k = 0; k < 3; k++) assert_int_equal(ends[gone[k]], 1);
    int *turned = cube.triangles[0], first = turned[0];
    turned[0] = turned[1], turned[1] = first;
    CHECK_FAILS(&room.job, hw_mesh_open_sides(&room.job, &cube, room.into, &sides, &count),
                HW_BAD_INPUT, "turned alike");
    hw_test_close(&room);
}

static void test_geom__each_failed_allocation_is_reported(void **state)
{
    (void)state;
    bool ended = false;
    for (int which = 0; which < 3; which++) {
        ended = false;
        for (size_t n = 1; n < 100 && !ended; n++) {
            hw_test_room room = hw_test_open();
            hw_mesh cube = shape_cube(room.into, 1.0);
            hw_arena *arenas[3] = {room.into, room.job.scratch[0], room.job.scratch[1]};
            hw_arena_fail_at(arenas[which], n);
            hw_status status = all_of_it(&room, &cube);
            assert_true(status == HW_OK || status == HW_NO_MEMORY);
            ended = status == HW_OK;
            hw_test_close(&room);
        }
        assert_true(ended);
    }
}

static void test_section__of_a_sphere_is_a_circle(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh sphere = shape_sphere(room.into, 5);
    hw_vec3 normal = hw_vec3_unit((hw_vec3){1, 2, 2}), through = hw_vec3_scale(normal, 0.6);
    hw_section got = {0};
    CHECK_OK(&room.job, hw_mesh_section(&room.job, &sphere, through, normal, room.into, &got));
    double(*flat)[2] = hw_arena_take(room.into, 2 * (size_t)got.count, sizeof *flat);
    hw_vec3 u = hw_vec3_unit(hw_vec3_cross(normal, (hw_vec3){1, 0, 0}));
    hw_vec3 v = hw_vec3_cross(normal, u);
    double length = 0.0, tape = 0.0;
    for (int i = 0; i < got.count; i++) {
        length += hw_vec3_distance(got.segments[i].a, got.segments[i].b);
        for (int k = 0; k < 2; k++) {
            hw_vec3 p = k ? got.segments[i].b : got.segments[i].a;
            CHECK_NEAR(hw_vec3_norm(p), 1.0, 0.002, "m"); // facets lie inside the sphere
            flat[2 * i + k][0] = hw_vec3_dot(p, u);
            flat[2 * i + k][1] = hw_vec3_dot(p, v);
        }
    }
    CHECK_NEAR(length, 2 * HW_PI * 0.8, 0.01, "m"); // radius sqrt(1 - 0.36)
    CHECK_OK(&room.job, hw_hull_perimeter(&room.job, flat, 2 * got.count, &tape));
    CHECK_NEAR(tape, 2 * HW_PI * 0.8, 0.01, "m");
    hw_test_close(&room);
}

static void test_hull__a_tape_bridges_what_lies_inside(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    double star[][2] = {{0, 0}, {1, 0}, {0.5, 0.2}, {1, 1}, {0.6, 0.5}, {0, 1}, {0.1, 0.4}, {1, 0}};
    double got = 0.0, two[][2] = {{0, 0}, {3, 4}};
    CHECK_OK(&room.job, hw_hull_perimeter(&room.job, star, 8, &got));
    CHECK_NEAR(got, 4.0, 1e-12, "m");
    CHECK_OK(&room.job, hw_hull_perimeter(&room.job, two, 2, &got));
    CHECK_NEAR(got, 10.0, 1e-12, "m"); // there and back
    CHECK_OK(&room.job, hw_hull_perimeter(&room.job, two, 0, &got));
    CHECK_NEAR(got, 0.0, 0.0, "m");
    hw_test_close(&room);
}

// A sphere with a hole of chord 0.6 about its top, and the whole southern half cut off for the wide one.
static void test_fill__a_hole_in_a_sphere_follows_the_sphere(void **state)
{
    (void)state;
    for (int wide = 0; wide < 2; wide++) {
        hw_test_room room = hw_test_open();
        hw_mesh sphere = shape_sphere(room.into, 5), out = {0};
        double whole = hw_mesh_volume(&sphere);
        int kept = 0;
        for (int i = 0; i < sphere.triangle_count; i++) {
            hw_vec3 p = sphere.points[sphere.triangles[i][0]];
            if (p.z > sqrt(1.0 - 0.09) || (wide && p.z < 0.0)) continue;
            memcpy(sphere.triangles[kept++], sphere.triangles[i], sizeof sphere.triangles[0]);
        }
        sphere.triangle_count = kept;
        hw_mesh_filled filled = {0};
        hw_mesh_faults faults = {0};
        CHECK_OK(&room.job, hw_mesh_fill(&room.job, &sphere, 0.8, room.into, &out, &filled));
        CHECK_OK(&room.job, hw_mesh_check(&room.job, &out, &faults));
        assert_int_equal(filled.filled, 1);
        assert_int_equal(filled.first_triangle, kept);
        assert_int_equal(filled.left_open, wide);
        assert_int_equal(faults.clashing_edges, 0);
        if (!wide) assert_int_equal(faults.open_edges, 0);
        if (!wide) CHECK_NEAR(hw_mesh_volume(&out), whole, 0.001 * whole, "m3");
        // The cap: 2 pi h with h = 1 - sqrt(1 - 0.09); triangles at its edge are whole ones.
        CHECK_NEAR(filled.area_m2, 2.0 * HW_PI * (1.0 - sqrt(0.91)), 0.06, "m2");
        for (int i = sphere.point_count; i < out.point_count; i++)
            CHECK_NEAR(hw_vec3_norm(out.points[i]), 1.0, 0.01, "m");
        hw_test_close(&room);
    }
}

int run_mesh_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_mesh__cube_and_sphere_have_the_volume_and_area_of_geometry),
        cmocka_unit_test(test_check__counts_each_fault_where_it_was_made),
        cmocka_unit_test(test_weld__torn_solids_become_whole_again),
        cmocka_unit_test(test_weld__keeps_as_many_points_as_a_plain_search),
        cmocka_unit_test(test_pieces__are_numbered_from_the_largest),
        cmocka_unit_test(test_turn__a_shuffled_winding_comes_out_outward),
        cmocka_unit_test(test_place__a_mirrored_solid_keeps_its_outside),
        cmocka_unit_test(test_fill__a_hole_in_a_sphere_follows_the_sphere),
        cmocka_unit_test(test_section__of_a_sphere_is_a_circle),
        cmocka_unit_test(test_hull__a_tape_bridges_what_lies_inside),
        cmocka_unit_test(test_open_sides__run_round_a_hole_and_ask_for_one_direction),
        cmocka_unit_test(test_geom__each_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests_name("geom mesh", tests, NULL, NULL);
}
