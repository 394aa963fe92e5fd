// SPDX-License-Identifier: GPL-3.0-or-later
// Readers on small files written here by hand, so that each expected value can be seen.
#include "near.h"

#include "meshfile/meshfile.h"
#include "suites.h"

#include <zlib.h>

static hw_bytes bytes_of(const char *text)
{
    return (hw_bytes){(const unsigned char *)text, strlen(text)};
}

static hw_mesh read_ok(hw_test_room *room, hw_bytes file, hw_meshfile_facts *facts)
{
    hw_mesh mesh = {0};
    CHECK_OK(&room->job, hw_meshfile_read(&room->job, file, room->into, &mesh, facts));
    return mesh;
}

static void refused(hw_bytes file, const char *part)
{
    hw_test_room room = hw_test_open();
    hw_mesh mesh = {0}, untouched = {0};
    CHECK_FAILS(&room.job, hw_meshfile_read(&room.job, file, room.into, &mesh, NULL), HW_BAD_FORMAT,
                part);
    assert_memory_equal(&mesh, &untouched, sizeof mesh);
    hw_test_close(&room);
}

static void check_corner(const hw_mesh *mesh, int triangle, int k, double x, double y, double z)
{
    hw_vec3 p = mesh->points[mesh->triangles[triangle][k]];
    CHECK_NEAR(p.x, x, 1e-12, "");
    CHECK_NEAR(p.y, y, 1e-12, "");
    CHECK_NEAR(p.z, z, 1e-12, "");
}

// A tetrahedron as binary STL has 284 bytes: 84 + 4 * 50.
enum { TETRA_BYTES = 284 };

static void put_float(unsigned char *at, float value)
{
    memcpy(at, &value, 4); // the tests run on little-endian machines
}

static void make_tetra(unsigned char *file, const char *header)
{
    static const float p[4][3] = {{0, 0, 0}, {1, 0, 0}, {0, 2, 0}, {0, 0, 4}};
    static const int faces[4][3] = {{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}};
    memset(file, 0, TETRA_BYTES);
    memcpy(file, header, strlen(header));
    file[80] = 4;
    for (int i = 0; i < 12; i++)
        for (int k = 0; k < 3; k++)
            put_float(file + 84 + 50 * (i / 3) + 12 + 12 * (i % 3) + 4 * k,
                      p[faces[i / 3][i % 3]][k]);
}

static void test_stl__a_binary_file_is_told_by_its_size_whatever_its_header_says(void **state)
{
    (void)state;
    static const char *headers[] = {"solid facet normal vertex", "", "COLOR=abcd", "v 0 0 0"};
    for (int i = 0; i < 4; i++) {
        hw_test_room room = hw_test_open();
        unsigned char file[TETRA_BYTES];
        make_tetra(file, headers[i]);
        hw_meshfile_facts facts = {0};
        hw_mesh mesh = read_ok(&room, (hw_bytes){file, sizeof file}, &facts);
        assert_string_equal(facts.format, "STL binary");
        assert_int_equal(mesh.triangle_count, 4);
        check_corner(&mesh, 2, 2, 0, 0, 4);
        CHECK_NEAR(hw_mesh_volume(&mesh), 8.0 / 6.0, 1e-12, ""); // 1/6 of 1 x 2 x 4
        hw_test_close(&room);
    }
}

static void test_stl__a_binary_file_cut_off_or_damaged_is_refused(void **state)
{
    (void)state;
    unsigned char file[TETRA_BYTES + 1];
    make_tetra(file, "solid");
    file[TETRA_BYTES] = 0;
    refused((hw_bytes){file, TETRA_BYTES - 1}, "announces 4 triangles");
    refused((hw_bytes){file, TETRA_BYTES + 1}, "announces 4 triangles");
    refused((hw_bytes){file, 84}, "announces 4 triangles");
    refused((hw_bytes){file, 60}, "no STL, OBJ, PLY");
    file[83] = 0xFF; // 4 thousand million triangles in 284 bytes
    refused((hw_bytes){file, TETRA_BYTES}, "cut off");
    make_tetra(file, "solid");
    put_float(file + 84 + 12, NAN);
    refused((hw_bytes){file, TETRA_BYTES}, "not a number");
    put_float(file + 84 + 12, -INFINITY);
    refused((hw_bytes){file, TETRA_BYTES}, "infinite");
    put_float(file + 84 + 12, 2e6f);
    refused((hw_bytes){file, TETRA_BYTES}, "beyond 1000000");
    refused((hw_bytes){file, 0}, "empty");
}

static const char facet[] = "Facet NORMAL nan 0 1 OUTER loop\r\n"
                            " vertex 0 0 0\n\tVERTEX +1. 0 -.0 vertex 0 1e0 0\n"
                            "endLoop endfacet\n";

static void test_stl__text_is_read_whatever_its_case_and_blanks(void **state)
{
    (void)state;
    char text[1000];
    // A name with the very words of the format, two solids, all on few lines.
    snprintf(text, sizeof text, "  SOLID my facet of a solid\n%s%sENDSOLID\nsolid\n%send solid\n",
             facet, facet, facet);
    hw_test_room room = hw_test_open();
    hw_meshfile_facts facts = {0};
    hw_mesh mesh = read_ok(&room, bytes_of(text), &facts);
    assert_string_equal(facts.format, "STL ASCII");
    assert_int_equal(mesh.triangle_count, 3);
    check_corner(&mesh, 2, 1, 1, 0, 0);
    check_corner(&mesh, 2, 2, 0, 1, 0);
    hw_test_close(&room);
}

static void test_stl__text_cut_off_anywhere_is_refused(void **state)
{
    (void)state;
    char text[1000];
    snprintf(text, sizeof text, "solid a\n%s%sendsolid a\n", facet, facet);
    size_t whole = strlen(text), end = whole - strlen("endsolid a\n");
    for (size_t count = 1; count < end; count++) {
        hw_test_room room = hw_test_open();
        hw_mesh mesh = {0};
        hw_bytes part = {(const unsigned char *)text, count};
        assert_int_equal(hw_meshfile_read(&room.job, part, room.into, &mesh, NULL), HW_BAD_FORMAT);
        hw_test_close(&room);
    }
    refused(bytes_of("solid a\nendsolid a\n"), "no triangles");
    refused(bytes_of("solid a\nfacet normal 0 0 1 outer loop vertex 0 0 0 vertex 1 0 0 endloop"),
            "lacks its 'vertex'");
    refused(bytes_of("solid a\nfacet normal 0 0 1 outer loop vertex 0 0 1.#IND "), "not a number");
}

static void test_obj__all_ways_to_name_a_corner(void **state)
{
    (void)state;
    const char *text = "# a comment that ends in a folder C:\\\n"
                       "mtllib none.mtl\nv 0 0 0 1.0\nv 1 0 0 nan nan nan\r\nv 1 1 0\nv 0 1 0\n"
                       "vt 0 0\nvn 0 0 1\ng front\n"
                       "f 1 2/1 3//1\nf 1/1/1 3/1/1 4\nf -4 -3 -2 -1\nf \\\n 1 2 \\\r\n 3\n"
                       "l 1 2\np 4\nusemtl x\n";
    hw_test_room room = hw_test_open();
    hw_meshfile_facts facts = {0};
    hw_mesh mesh = read_ok(&room, bytes_of(text), &facts);
    assert_string_equal(facts.format, "OBJ");
    assert_int_equal(mesh.point_count, 4);
    assert_int_equal(mesh.triangle_count, 5);
    assert_int_equal(facts.polygons_split, 1);
    CHECK_NEAR(hw_mesh_area(&mesh), 0.5 + 0.5 + 1.0 + 0.5, 1e-12, "");
    hw_test_close(&room);
}

static void test_obj__faces_that_lie_are_refused(void **state)
{
    (void)state;
    refused(bytes_of("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n"), "names point 4, but there are 3");
    refused(bytes_of("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n"), "no number");
    refused(bytes_of("v 0 0 0\nv 1 0 0\nv 0 1 0\nf -4 1 2\n"), "before the first");
    refused(bytes_of("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 99999999999999999999\n"), "no number");
    refused(bytes_of("v 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"), "lacks a coordinate");
    refused(bytes_of("v 0 0 x7\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"), "no number ('x7')");
    refused(bytes_of("v inf 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"), "infinite");
    refused(bytes_of("v 0 0 0\nv 1 0 0\nv 0 1 0\n"), "3 points but no surface");
    refused(bytes_of("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 1 2\n"), "no surface");
    refused(bytes_of("hello\n"), "no STL, OBJ, PLY");
}

// A face of n corners always becomes triangles of its own area; concave ones, too. Area by the
// shoelace formula (geometry).
static void test_obj__polygons_keep_their_area(void **state)
{
    (void)state;
    hw_random random = hw_random_begin(4);
    for (int n = 4; n < 60; n++) {
        hw_test_room room = hw_test_open();
        hw_writer writer = hw_writer_begin(room.into);
        double twice = 0.0, first[2] = {0}, last[2] = {0};
        for (int i = 0; i < n; i++) { // a star around the origin is simple, however ragged
            double a = 2.0 * HW_PI * i / n, r = 0.2 + hw_random_uniform(&random);
            double p[2] = {r * cos(a), r * sin(a)};
            if (i > 0) twice += last[0] * p[1] - last[1] * p[0];
            if (i == 0) memcpy(first, p, sizeof p);
            memcpy(last, p, sizeof p);
            hw_writer_print(&writer, "v %.17g %.17g 3\n", p[0], p[1]);
        }
        twice += last[0] * first[1] - last[1] * first[0];
        hw_writer_print(&writer, "f");
        for (int i = 1; i <= n; i++) hw_writer_print(&writer, " %d", i);
        hw_bytes file = {0};
        CHECK_OK(&room.job, hw_writer_end(&room.job, &writer, &file));
        hw_mesh mesh = read_ok(&room, file, NULL);
        assert_int_equal(mesh.triangle_count, n - 2);
        CHECK_NEAR(hw_mesh_area(&mesh), 0.5 * twice, 1e-9, "");
        hw_test_close(&room);
    }
}

static const char ply_text[] = "ply\nformat ascii 1.0\ncomment hand made\n"
                               "element note 1\nproperty list uchar float what\n"
                               "element vertex 4\nproperty uchar red\nproperty float z\n"
                               "property double x\nproperty short y\n"
                               "element face 2\nproperty list uchar int vertex_index\n"
                               "property float quality\nend_header\n"
                               "2 0.5 nan\n7 0 0 0\n7 0 2 0\n7 0 2 3\n7 0 0 3\n"
                               "4 0 1 2 3 nan\n3 0 1 2 0\n";

static void test_ply__properties_come_in_the_order_declared(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_meshfile_facts facts = {0};
    hw_mesh mesh = read_ok(&room, bytes_of(ply_text), &facts);
    assert_string_equal(facts.format, "PLY ASCII");
    assert_int_equal(mesh.triangle_count, 3);
    check_corner(&mesh, 2, 2, 2, 3, 0);
    CHECK_NEAR(hw_mesh_area(&mesh), 9.0, 1e-12, ""); // 2 x 3 and half of it
    hw_test_close(&room);
}

static size_t put(unsigned char *at, const void *value, size_t count, bool is_big)
{
    for (size_t i = 0; i < count; i++)
        at[i] = ((const unsigned char *)value)[is_big ? count - 1 - i : i];
    return count;
}

// One triangle, binary; returns the bytes.
static size_t make_ply(unsigned char *file, bool is_big, const char *line_end)
{
    static const char *lines[] = {"ply",
                                  NULL,
                                  "element vertex 3",
                                  "property float x",
                                  "property double y",
                                  "property int16 z",
                                  "element face 1",
                                  "property list uint8 uint32 vertex_indices",
                                  "end_header"};
    size_t n = 0;
    for (int i = 0; i < 9; i++) {
        const char *format =
            is_big ? "format binary_big_endian 1.0" : "format binary_little_endian 1.0";
        const char *line = i == 1 ? format : lines[i];
        memcpy(file + n, line, strlen(line));
        n += strlen(line);
        memcpy(file + n, line_end, strlen(line_end));
        n += strlen(line_end);
    }
    static const double xy[3][2] = {{3.5, 0}, {4.5, 0}, {3.5, 2}};
    for (int i = 0; i < 3; i++) {
        float x = (float)xy[i][0];
        int16_t z = -7;
        n += put(file + n, &x, 4, is_big);
        n += put(file + n, &xy[i][1], 8, is_big);
        n += put(file + n, &z, 2, is_big);
    }
    file[n++] = 3;
    for (uint32_t i = 0; i < 3; i++) n += put(file + n, &i, 4, is_big);
    return n;
}

static void test_ply__both_byte_orders_and_all_line_ends(void **state)
{
    (void)state;
    static const char *ends[] = {"\n", "\r\n", "\r"};
    for (int i = 0; i < 6; i++) {
        hw_test_room room = hw_test_open();
        unsigned char file[600];
        size_t count = make_ply(file, i % 2, ends[i / 2]);
        hw_meshfile_facts facts = {0};
        hw_mesh mesh = read_ok(&room, (hw_bytes){file, count}, &facts);
        assert_string_equal(facts.format, i % 2 ? "PLY big-endian" : "PLY little-endian");
        check_corner(&mesh, 0, 2, 3.5, 2, -7);
        for (size_t part = 0; part < count; part++) {
            hw_status status =
                hw_meshfile_read(&room.job, (hw_bytes){file, part}, room.into, &mesh, NULL);
            assert_int_equal(status, HW_BAD_FORMAT);
        }
        hw_test_close(&room);
    }
}

static void test_ply__counts_that_lie_are_refused_before_they_cost_memory(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = {0};
    hw_bytes lie = bytes_of("ply\nformat ascii 1.0\nelement vertex 700000000\nproperty float x\n"
                            "property float y\nproperty float z\nelement face 1\n"
                            "property list uchar int vertex_indices\nend_header\n0 0 0\n");
    CHECK_FAILS(&room.job, hw_meshfile_read(&room.job, lie, room.into, &mesh, NULL), HW_BAD_FORMAT,
                "cut off");
    assert_true(hw_arena_bytes(room.into) < 10000);
    hw_test_close(&room);
    refused(bytes_of("ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float "
                     "y\nproperty float z\nelement face 1\nproperty list int int vertex_indices\n"
                     "end_header\n0 0 0 1 0 0 0 1 0\n2000000000 0 1 2\n"),
            "beyond its bytes");
    refused(bytes_of("ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float "
                     "y\nproperty float z\nend_header\n0 0 0\n"),
            "1 points but no surface");
    refused(bytes_of("ply\nformat ascii 1.0\nelement vertex -3\nend_header\n"), "count");
    refused(bytes_of("ply\nelement vertex 3\nproperty quad x\nend_header\n"), "unknown type");
    refused(bytes_of("ply"), "no end_header");
}

static hw_bytes zipped(hw_test_room *room, hw_bytes plain)
{
    z_stream z = {0};
    assert_int_equal(deflateInit2(&z, 9, Z_DEFLATED, 15 + 16, 9, Z_DEFAULT_STRATEGY), Z_OK);
    size_t limit = deflateBound(&z, plain.count);
    unsigned char *room_for = hw_arena_take(room->into, limit, 1);
    assert_non_null(room_for);
    z.next_in = (unsigned char *)(uintptr_t)plain.at;
    z.avail_in = (uInt)plain.count;
    z.next_out = room_for;
    z.avail_out = (uInt)limit;
    assert_int_equal(deflate(&z, Z_FINISH), Z_STREAM_END);
    deflateEnd(&z);
    return (hw_bytes){room_for, z.total_out};
}

static void test_gzip__opens_whole_files_and_no_others(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_bytes file = zipped(&room, bytes_of(ply_text));
    hw_meshfile_facts facts = {0};
    hw_mesh mesh = read_ok(&room, file, &facts);
    assert_true(facts.gzipped);
    assert_int_equal(mesh.triangle_count, 3);
    for (size_t part = 2; part < file.count; part++)
        refused((hw_bytes){file.at, part}, "damaged or cut off");
    unsigned char *spoilt = hw_arena_take(room.into, file.count, 1);
    memcpy(spoilt, file.at, file.count);
    spoilt[file.count - 6] ^= 1; // in the check sum
    refused((hw_bytes){spoilt, file.count}, "damaged or cut off");
    hw_test_close(&room);
}

static void test_gzip__a_bomb_costs_no_memory(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    enum { PLAIN = 300000000 };
    hw_bytes plain = {hw_arena_take(room.into, PLAIN, 1), PLAIN};
    assert_non_null(plain.at);
    hw_bytes bomb = zipped(&room, plain); // zeros, 1000:1
    size_t before = hw_arena_bytes(room.job.scratch[0]);
    hw_mesh mesh = {0};
    CHECK_FAILS(&room.job, hw_meshfile_read(&room.job, bomb, room.into, &mesh, NULL), HW_BAD_FORMAT,
                "which no scan does");
    assert_int_equal(hw_arena_bytes(room.job.scratch[0]), before);
    hw_test_close(&room);
}

static void test_read__each_failed_allocation_is_reported(void **state)
{
    (void)state;
    unsigned char tetra[TETRA_BYTES];
    make_tetra(tetra, "");
    hw_test_room outer = hw_test_open();
    hw_bytes files[] = {{tetra, sizeof tetra}, bytes_of(ply_text), {0}};
    files[2] = zipped(&outer, bytes_of("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"));
    for (int i = 0; i < 6; i++) {
        bool ended = false;
        for (size_t n = 1; n < 40 && !ended; n++) {
            hw_test_room room = hw_test_open();
            hw_arena_fail_at(i % 2 ? room.into : room.job.scratch[0], n);
            hw_mesh mesh = {0};
            hw_status status = hw_meshfile_read(&room.job, files[i / 2], room.into, &mesh, NULL);
            assert_true(status == HW_OK || status == HW_NO_MEMORY);
            ended = status == HW_OK;
            hw_test_close(&room);
        }
        assert_true(ended);
    }
    hw_test_close(&outer);
}

int run_read_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stl__a_binary_file_is_told_by_its_size_whatever_its_header_says),
        cmocka_unit_test(test_stl__a_binary_file_cut_off_or_damaged_is_refused),
        cmocka_unit_test(test_stl__text_is_read_whatever_its_case_and_blanks),
        cmocka_unit_test(test_stl__text_cut_off_anywhere_is_refused),
        cmocka_unit_test(test_obj__all_ways_to_name_a_corner),
        cmocka_unit_test(test_obj__faces_that_lie_are_refused),
        cmocka_unit_test(test_obj__polygons_keep_their_area),
        cmocka_unit_test(test_ply__properties_come_in_the_order_declared),
        cmocka_unit_test(test_ply__both_byte_orders_and_all_line_ends),
        cmocka_unit_test(test_ply__counts_that_lie_are_refused_before_they_cost_memory),
        cmocka_unit_test(test_gzip__opens_whole_files_and_no_others),
        cmocka_unit_test(test_gzip__a_bomb_costs_no_memory),
        cmocka_unit_test(test_read__each_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests_name("meshfile read", tests, NULL, NULL);
}
