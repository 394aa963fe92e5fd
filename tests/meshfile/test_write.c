// SPDX-License-Identifier: GPL-3.0-or-later
// Writers against the rules of the formats: STL has 84 + 50 n bytes, 3MF core 1.4.0 section 4.1
// asks for closed manifolds. Each expected value is counted by hand.
#include "near.h"

#include "suites.h"
#include "write_solids.h"

#include <locale.h>
#include <time.h>

static void same_bytes(hw_bytes a, hw_bytes b)
{
    assert_int_equal(a.count, b.count);
    assert_memory_equal(a.at, b.at, a.count);
}

static void test_stl__a_tetrahedron_takes_284_bytes_and_reads_back_as_it_was(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_bytes file = stl_of(&room, &tetra);
    assert_int_equal(file.count, TETRA_BYTES);
    char header[80] = "HB-0042 left"; // zero bytes behind it
    assert_memory_equal(file.at, header, 80);
    const unsigned char count[4] = {4, 0, 0, 0};
    assert_memory_equal(file.at + 80, count, 4);
    hw_mesh back = {0};
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &back, NULL));
    assert_int_equal(back.triangle_count, 4);
    for (int i = 0; i < 12; i++) {
        hw_vec3 got = back.points[back.triangles[i / 3][i % 3]];
        hw_vec3 want = hw_vec3_scale(tetra_points[tetra_faces[i / 3][i % 3]], 1000.0);
        CHECK_NEAR(hw_vec3_distance(got, want), 0.0, 1e-5, "mm"); // a float at 120 mm
    }
    CHECK_NEAR(hw_mesh_volume(&back), tetra_volume * 1e9, 1e-3, "mm3");
    same_bytes(file, stl_of(&room, &tetra));
    hw_test_close(&room);
}

// Outward by the right-hand rule: of the first face, in the plane of the lowest z, (0, 0, -1).
static void test_stl__normals_are_of_length_one_and_point_outward(void **state)
{
    (void)state;
    static const float want[3][3] = {{0, 0, -1}, {0, -1, 0}, {-1, 0, 0}};
    static const int facets[3] = {0, 1, 3};
    hw_test_room room = hw_test_open();
    hw_bytes file = stl_of(&room, &tetra);
    for (int i = 0; i < 3; i++) {
        float got[3];
        memcpy(got, file.at + 84 + 50 * facets[i], sizeof got);
        for (int k = 0; k < 3; k++) CHECK_NEAR((double)got[k], (double)want[i][k], 1e-6, "");
    }
    hw_test_close(&room);
}

// facts/standards.md 3.2: mirroring must also turn the triangles over.
static void test_stl__a_mirrored_solid_keeps_its_volume_positive(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_pose mirror = hw_pose_identity();
    mirror.rotation[4] = -1.0; // y -> -y
    hw_mesh other = {0}, back = {0};
    CHECK_OK(&room.job, hw_mesh_place(&room.job, &tetra, &mirror, room.into, &other));
    hw_bytes file = stl_of(&room, &other);
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &back, NULL));
    CHECK_NEAR(hw_mesh_volume(&back), tetra_volume * 1e9, 1e-3, "mm3");
    CHECK_NEAR(hw_mesh_box(&back).low.y, -120.0, 1e-4, "mm");
    (void)package_of(&room, &other, "HB-0042 right");
    hw_test_close(&room);
}

static void test_write__titles_and_surfaces_no_file_can_hold_are_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_bytes file = {0}, untouched = {0};
    char longest[81];
    memset(longest, 'a', 80), longest[80] = 0;
    static const char *parts[4] = {"80", "plain ASCII", "'solid'", "this one has 0"};
    const char *titles[4] = {longest, "caf\xc3\xa9", "solid left", ""};
    for (int i = 0; i < 4; i++) {
        CHECK_FAILS(&room.job, hw_meshfile_stl(&room.job, &tetra, titles[i], room.into, &file),
                    HW_BAD_INPUT, parts[i]);
        CHECK_FAILS(&room.job, hw_meshfile_3mf(&room.job, &tetra, titles[i], room.into, &file),
                    HW_BAD_INPUT, parts[i]);
    }
    hw_mesh none = tetra, outside = tetra, nowhere = tetra;
    none.triangle_count = 0;
    outside.point_count = 3;
    hw_vec3 points[4];
    memcpy(points, tetra_points, sizeof points);
    points[2].z = NAN;
    nowhere.points = points;
    CHECK_FAILS(&room.job, hw_meshfile_stl(&room.job, &none, "t", room.into, &file), HW_BAD_INPUT,
                "has 0");
    CHECK_FAILS(&room.job, hw_meshfile_stl(&room.job, &outside, "t", room.into, &file),
                HW_BAD_INPUT, "triangle 1 names point 3 of 3");
    CHECK_FAILS(&room.job, hw_meshfile_3mf(&room.job, &nowhere, "t", room.into, &file),
                HW_BAD_INPUT, "point 2");
    assert_memory_equal(&file, &untouched, sizeof file);
    hw_test_close(&room);
}

typedef struct defect {
    hw_vec3 points[5];
    int point_count;
    int triangles[6][3];
    int triangle_count;
    const char *part;
} defect;

static void test_3mf__each_defect_is_refused_with_its_count_and_kind(void **state)
{
    (void)state;
#define CORNERS                                                                                    \
    {0, 0, 0}, {0.01, 0, 0}, {0, 0.02, 0},                                                         \
    {                                                                                              \
        0, 0, 0.04                                                                                 \
    }
    // one fault each; the counts are seen by hand
    static const defect defects[] = {
        {{CORNERS}, 4, {{0, 2, 1}, {0, 1, 3}, {1, 2, 3}}, 3, "3 open edges"},
        {{CORNERS}, 4, {{0, 1, 2}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}}, 4, "3 edges whose"},
        {{CORNERS}, 4, {{0, 1, 2}, {0, 3, 1}, {1, 3, 2}, {2, 3, 0}}, 4, "inside out"},
        {{CORNERS, {0.005, 0, 0}},
         5,
         {{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}},
         4,
         "1 points without"},
        // the fifth point stands on the edge 0-1: the triangle 0 4 1 between has no area
        {{CORNERS, {0.005, 0, 0}},
         5,
         {{0, 2, 1}, {0, 1, 4}, {0, 4, 3}, {4, 1, 3}, {1, 2, 3}, {2, 0, 3}},
         6,
         "1 triangles without area"},
        // cut in two along 0-1: a seam between two points of one place
        {{CORNERS, {0, 0, 0.04}}, 5, {{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 4}}, 4, "open edges"},
    };
    for (size_t i = 0; i < sizeof defects / sizeof *defects; i++) {
        hw_test_room room = hw_test_open();
        defect d = defects[i];
        hw_mesh mesh = {d.points, d.point_count, d.triangles, d.triangle_count, NULL};
        hw_bytes file = {0};
        CHECK_FAILS(&room.job, hw_meshfile_3mf(&room.job, &mesh, "t", room.into, &file),
                    HW_BAD_INPUT, d.part);
        assert_null(file.at);
        hw_test_close(&room);
    }
}

// Two closed tetrahedra with one corner at 1 nm of the other's: one place in a file of 10 nm steps.
static void test_3mf__points_that_rounding_would_join_are_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_vec3 points[8];
    int triangles[8][3];
    for (int i = 0; i < 8; i++) {
        points[i] =
            i < 4 ? tetra_points[i] : hw_vec3_add(tetra_points[i - 4], (hw_vec3){-0.01, 0.0, 0.0});
        for (int k = 0; k < 3; k++) triangles[i][k] = tetra_faces[i % 4][k] + (i < 4 ? 0 : 4);
    }
    points[5].y += 1e-9; // corner 1 of the second, beside corner 0 of the first
    hw_mesh mesh = {points, 8, triangles, 8, NULL};
    hw_mesh_faults faults = {0};
    hw_bytes file = {0};
    CHECK_OK(&room.job, hw_mesh_check(&room.job, &mesh, &faults));
    assert_int_equal(faults.double_points, 0);
    CHECK_FAILS(&room.job, hw_meshfile_3mf(&room.job, &mesh, "t", room.into, &file), HW_BAD_INPUT,
                "1 points at the place of another");
    hw_test_close(&room);
}

// libzip keeps times as local ones; the bytes must not show where they were written.
static void test_3mf__the_same_solid_gives_the_same_bytes_in_every_time_zone(void **state)
{
    (void)state;
    static const char *zones[] = {"UTC", "Pacific/Auckland", "America/St_Johns", "XXX-14"};
    hw_test_room room = hw_test_open();
    hw_mesh solid = ball(&room, 12);
    hw_bytes first = package_of(&room, &solid, "HB-0042 left");
    for (int i = 0; i < 4; i++) {
        setenv("TZ", zones[i], 1), tzset();
        same_bytes(first, package_of(&room, &solid, "HB-0042 left"));
    }
    unsetenv("TZ"), tzset();
    // DOS time and date of the first part, ZIP APPNOTE 4.3.7 offset 10: 12:00, 1980-01-01
    const unsigned char noon[4] = {0x00, 0x60, 0x21, 0x00};
    assert_memory_equal(first.at + 10, noon, 4);
    hw_test_close(&room);
}

// Core 2.3.3: decimals have a point whatever the country.
static void test_3mf__a_country_of_decimal_commas_changes_no_byte(void **state)
{
    (void)state;
    const char *made = getenv("HEELWRIGHT_LOCALES"); // ./check makes one, as few machines have it
    if (made) setenv("LOCPATH", made, 1);
    if (!setlocale(LC_NUMERIC, "de_DE.UTF-8") && !setlocale(LC_NUMERIC, "fr_FR.UTF-8")) {
        print_message("skipped: no locale with a decimal comma is installed\n");
        skip();
    }
    hw_test_room room = hw_test_open();
    hw_bytes with_comma = package_of(&room, &tetra, "HB-0042 left");
    setlocale(LC_NUMERIC, "C");
    same_bytes(with_comma, package_of(&room, &tetra, "HB-0042 left"));
    hw_test_close(&room);
}

static void test_3mf__each_failed_allocation_is_reported(void **state)
{
    (void)state;
    int failures = 0;
    for (int which = 0; which < 3; which++) // the result's arena, then both of the job's
        for (size_t n = 1; n < 60; n++) {
            hw_test_room room = hw_test_open();
            hw_mesh solid = ball(&room, 6);
            hw_arena *arena = which == 0 ? room.into : room.job.scratch[which - 1];
            hw_bytes file = {0};
            hw_arena_fail_at(arena, n);
            hw_status status = hw_meshfile_3mf(&room.job, &solid, "t", room.into, &file);
            assert_true(status == HW_OK || status == HW_NO_MEMORY);
            assert_int_equal(status == HW_OK, file.at != NULL);
            failures += status != HW_OK;
            hw_test_close(&room);
            if (status == HW_OK) break;
        }
    assert_in_range(failures, 5, 100); // points, text, the package and the check's tables at least
}

int run_write_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stl__a_tetrahedron_takes_284_bytes_and_reads_back_as_it_was),
        cmocka_unit_test(test_stl__normals_are_of_length_one_and_point_outward),
        cmocka_unit_test(test_stl__a_mirrored_solid_keeps_its_volume_positive),
        cmocka_unit_test(test_write__titles_and_surfaces_no_file_can_hold_are_refused),
        cmocka_unit_test(test_3mf__each_defect_is_refused_with_its_count_and_kind),
        cmocka_unit_test(test_3mf__points_that_rounding_would_join_are_refused),
        cmocka_unit_test(test_3mf__the_same_solid_gives_the_same_bytes_in_every_time_zone),
        cmocka_unit_test(test_3mf__each_failed_allocation_is_reported),
        cmocka_unit_test(test_3mf__a_country_of_decimal_commas_changes_no_byte),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
