// SPDX-License-Identifier: GPL-3.0-or-later
// 3MF packages: the writer's own, and models written here by hand into a plain zip.
// source  3MF Consortium, core specification 1.4.0 (units, transforms, components, build)
#include "suites.h"
#include "write_solids.h"

#include <zlib.h>

static void put(unsigned char **at, unsigned value, int bytes)
{
    for (int i = 0; i < bytes; i++) *(*at)++ = (unsigned char)(value >> 8 * i);
}

// A zip of one stored part (method 0). source  from memory: PKWARE APPNOTE 4.3.7, 4.3.12, 4.3.16
static hw_bytes zip_of(hw_test_room *room, const char *name, const char *text)
{
    unsigned size = (unsigned)strlen(text), length = (unsigned)strlen(name);
    unsigned crc = (unsigned)crc32(0, (const unsigned char *)text, size);
    unsigned char *file = hw_arena_take(room->into, size + 2 * length + 200, 1), *at = file;
    assert_non_null(file);
    for (int central = 0; central < 2; central++) {
        put(&at, central ? 0x02014B50 : 0x04034B50, 4);
        if (central) put(&at, 20, 2);
        put(&at, 20, 2), put(&at, 0, 2), put(&at, 0, 2), put(&at, 0, 2), put(&at, 0x21, 2);
        put(&at, crc, 4), put(&at, size, 4), put(&at, size, 4), put(&at, length, 2), put(&at, 0, 2);
        if (central) put(&at, 0, 2), put(&at, 0, 2), put(&at, 0, 2), put(&at, 0, 4), put(&at, 0, 4);
        memcpy(at, name, length), at += length;
        if (!central) memcpy(at, text, size), at += size;
    }
    unsigned start = 30 + length + size, end = (unsigned)(at - file);
    put(&at, 0x06054B50, 4), put(&at, 0, 4), put(&at, 1, 2), put(&at, 1, 2);
    put(&at, end - start, 4), put(&at, start, 4), put(&at, 0, 2);
    return (hw_bytes){file, (size_t)(at - file)};
}

#define MODEL(unit, inside)                                                                        \
    "<?xml version=\"1.0\"?><model unit=\"" unit "\" xmlns=\""                                     \
    "http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">" inside "</model>"
#define TETRA                                                                                      \
    "<mesh><vertices><vertex x=\"0\" y=\"0\" z=\"0\"/><vertex x=\"1\" y=\"0\" z=\"0\"/>"           \
    "<vertex x=\"0\" y=\"2\" z=\"0\"/><vertex x=\"0\" y=\"0\" z=\"3\"/></vertices><triangles>"     \
    "<triangle v1=\"0\" v2=\"2\" v3=\"1\"/><triangle v1=\"0\" v2=\"1\" v3=\"3\"/>"                 \
    "<triangle v1=\"1\" v2=\"2\" v3=\"3\"/><triangle v1=\"2\" v2=\"0\" "                           \
    "v3=\"3\"/></triangles></mesh>"

static hw_mesh read_model(hw_test_room *room, const char *model)
{
    hw_mesh mesh = {0};
    hw_meshfile_facts facts = {0};
    hw_bytes file = zip_of(room, "3D/3dmodel.model", model);
    CHECK_OK(&room->job, hw_meshfile_read(&room->job, file, room->into, &mesh, &facts));
    assert_string_equal(facts.format, "3MF");
    return mesh;
}

static void refused(const char *name, const char *model, const char *part)
{
    hw_test_room room = hw_test_open();
    hw_mesh mesh = {0};
    CHECK_FAILS(&room.job,
                hw_meshfile_read(&room.job, zip_of(&room, name, model), room.into, &mesh, NULL),
                HW_BAD_FORMAT, part);
    hw_test_close(&room);
}

static void test_3mf__what_is_written_is_read(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh solid = ball(&room, 30), got = {0};
    hw_bytes file = package_of(&room, &solid, "HB-0042 left");
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &got, NULL));
    assert_int_equal(got.point_count, solid.point_count);
    assert_int_equal(got.triangle_count, solid.triangle_count);
    hw_vec3 low = hw_mesh_box(&solid).low;
    for (int i = 0; i < got.point_count; i++) { // millimetres, moved into the positive octant
        hw_vec3 want = hw_vec3_scale(hw_vec3_sub(solid.points[i], low), 1000.0);
        CHECK_NEAR(hw_vec3_distance(got.points[i], want), 0.0, 3e-5, "mm");
    }
    hw_test_close(&room);
}

static void test_3mf__units_transforms_and_components_are_followed(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh one = read_model(&room, MODEL("centimeter", "<resources><object id=\"4\">" TETRA
                                                        "</object></resources><build><item "
                                                        "objectid=\"4\"/></build>"));
    CHECK_NEAR(hw_mesh_volume(&one), 1000.0, 1e-9, "mm3"); // 1 x 2 x 3 / 6 cm3
    // An object of two components, one of them mirrored; the item scales by two and moves.
    hw_mesh two = read_model(
        &room,
        MODEL("millimeter",
              "<resources><object id=\"1\">" TETRA "</object><object id=\"2\"><components>"
              "<component objectid=\"1\"/><component objectid=\"1\" "
              "transform=\"-1 0 0 0 1 0 0 0 1 -5 0 0\"/></components></object></resources>"
              "<build><item objectid=\"2\" transform=\"2 0 0 0 2 0 0 0 2 100 0 0\"/></build>"));
    assert_int_equal(two.triangle_count, 8);
    CHECK_NEAR(hw_mesh_volume(&two), 16.0, 1e-9, "mm3"); // 2 x 8 x 1; outside stays outside
    hw_box box = hw_mesh_box(&two);
    CHECK_NEAR(box.low.x, 100.0 - 12.0, 1e-9, "mm");
    CHECK_NEAR(box.high.x, 102.0, 1e-9, "mm");
    hw_test_close(&room);
}

// source  3MF Consortium, materials and properties extension 1.2.1 (colorgroup), core (basematerials)
static void test_3mf__colours_of_triangles_come_to_their_points(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = read_model(
        &room,
        MODEL("millimeter",
              "<resources><m:colorgroup xmlns:m=\"http://schemas.microsoft.com/3dmanufacturing/"
              "material/2015/02\" id=\"7\"><m:color color=\"#FF0000\"/><m:color "
              "color=\"#00ff0080\"/><m:color color=\"#0000AB\"/></m:colorgroup><object id=\"4\">"
              "<mesh><vertices><vertex x=\"0\" y=\"0\" z=\"0\"/><vertex x=\"1\" y=\"0\" "
              "z=\"0\"/><vertex x=\"0\" y=\"2\" z=\"0\"/></vertices><triangles><triangle v1=\"0\" "
              "v2=\"2\" v3=\"1\" pid=\"7\" p1=\"0\" p2=\"1\" p3=\"2\"/></triangles></mesh>"
              "</object></resources><build><item objectid=\"4\"/></build>"));
    const unsigned char want[3][3] = {{255, 0, 0}, {0, 0, 0xAB}, {0, 255, 0}};
    assert_non_null(mesh.colours);
    assert_memory_equal(mesh.colours, want, sizeof want);
    mesh = read_model(&room, MODEL("millimeter", "<resources><object id=\"4\">" TETRA
                                                 "</object></resources><build><item "
                                                 "objectid=\"4\"/></build>"));
    assert_null(mesh.colours);
    hw_test_close(&room);
}

// More colour groups than there is room for: the later ones' colours are nobody's, least of all the last
// group's that found room.
static void test_3mf__colours_beyond_the_room_go_to_nobody(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    static char groups[70 * 120], text[70 * 120 + 1000];
    size_t at = 0;
    for (int i = 1; i <= 70; i++)
        at += (size_t)snprintf(
            groups + at, sizeof groups - at,
            "<m:colorgroup id=\"%d\"><m:color color=\"#0000%02X\"/></m:colorgroup>", i, 100 + i);
    snprintf(
        text, sizeof text,
        MODEL("millimeter",
              "<resources xmlns:m=\"http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
              "\">%s<object id=\"99\"><mesh><vertices><vertex x=\"0\" y=\"0\" z=\"0\"/><vertex "
              "x=\"1\" y=\"0\" z=\"0\"/><vertex x=\"0\" y=\"2\" z=\"0\"/></vertices><triangles>"
              "<triangle v1=\"0\" v2=\"1\" v3=\"2\" pid=\"64\" p1=\"0\" p2=\"0\" p3=\"3\"/>"
              "</triangles></mesh></object></resources><build><item objectid=\"99\"/></build>"),
        groups);
    hw_mesh mesh = read_model(&room, text);
    assert_non_null(mesh.colours);
    assert_int_equal(mesh.colours[0][2], 164); // the colour of group 64
    assert_int_not_equal(mesh.colours[2][2], 167);
    hw_test_close(&room);
}

static void test_3mf__what_breaks_the_standard_is_refused(void **state)
{
    (void)state;
    static const char model[] = "3D/3dmodel.model";
    refused("notes.txt", "no model", "without a 3MF model");
    refused(model, "<model", "damaged");
    refused(model, "<!DOCTYPE x [<!ENTITY a \"b\">]><model/>", "document type");
    refused(model, MODEL("furlong", ""), "'model'");
    refused(model, MODEL("inch", "<resources/>"), "builds no triangles");
    refused(model, MODEL("inch", "<build><item objectid=\"9\"/></build>"), "not there");
    refused(model,
            MODEL("inch", "<resources><object id=\"1\"><mesh><vertices><vertex x=\"0\" y=\"nan\" "
                          "z=\"0\"/></vertices></mesh></object></resources>"),
            "'vertex'");
    refused(model,
            MODEL("inch",
                  "<resources><object id=\"1\"><mesh><triangles><triangle v1=\"0\" v2=\"1\" "
                  "v3=\"2\"/></triangles></mesh></object></resources>"),
            "'triangle'");
    refused(model, // an object made of itself
            MODEL("inch",
                  "<resources><object id=\"1\"><components><component objectid=\"1\"/>"
                  "</components></object></resources><build><item objectid=\"1\"/></build>"),
            "too many");
}

static void test_3mf__a_package_cut_anywhere_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_bytes file = package_of(&room, &tetra, "HB-0042 left");
    for (size_t count = 4; count < file.count; count += 7) {
        hw_mesh mesh = {0};
        hw_bytes part = {file.at, count};
        assert_int_equal(hw_meshfile_read(&room.job, part, room.into, &mesh, NULL), HW_BAD_FORMAT);
    }
    unsigned char *bent = hw_arena_take(room.into, file.count, 1);
    for (size_t at = 0; at < file.count; at++) { // and one flipped byte is read or refused
        memcpy(bent, file.at, file.count);
        bent[at] ^= 0x5A;
        hw_mesh mesh = {0};
        hw_status status =
            hw_meshfile_read(&room.job, (hw_bytes){bent, file.count}, room.into, &mesh, NULL);
        assert_true(status == HW_OK || (status == HW_BAD_FORMAT && room.job.why[0]));
    }
    hw_test_close(&room);
}

// A globe of points as text, each on a line; radius 50.
static hw_bytes globe(hw_test_room *room, int count, const char *heading, const char *format)
{
    hw_writer text = hw_writer_begin(room->into);
    hw_bytes out = {0};
    hw_writer_print(&text, "%s", heading);
    for (int i = 0; i < count; i++) {
        double z = 1.0 - 2.0 * (i + 0.5) / count, r = sqrt(1.0 - z * z), turn = 2.399963 * i;
        hw_writer_print(&text, format, 50.0 * r * cos(turn), 50.0 * r * sin(turn), 50.0 * z);
    }
    CHECK_OK(&room->job, hw_writer_end(&room->job, &text, &out));
    return out;
}

static void test_xyz__points_as_text_get_a_surface(void **state)
{
    (void)state;
    static const struct {
        const char *heading, *format;
    } rows[] = {{"", "%.4f %.4f %.4f\n"},
                {"x,y,z\n", "%.4f,%.4f,%.4f\n"},
                {"# a comment\n4000\n", "%.4f\t%.4f;%.4f 128 128 128\r\n"}};
    for (int i = 0; i < 3; i++) {
        hw_test_room room = hw_test_open();
        hw_mesh mesh = {0};
        hw_meshfile_facts facts = {0};
        hw_bytes file = globe(&room, 4000, rows[i].heading, rows[i].format);
        CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &mesh, &facts));
        assert_string_equal(facts.format, "XYZ text");
        assert_int_equal(facts.cloud_points, 4000);
        CHECK_NEAR(facts.cloud_spacing, sqrt(4.0 * HW_PI * 2500.0 / 4000.0), 0.2, "");
        CHECK_NEAR(hw_mesh_volume(&mesh), 4.0 / 3.0 * HW_PI * 125000.0, 6000.0, "");
        hw_test_close(&room);
    }
}

static void test_xyz__what_is_no_cloud_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = {0};
    hw_bytes few = globe(&room, 200, "", "%.3f %.3f %.3f\n");
    CHECK_FAILS(&room.job, hw_meshfile_read(&room.job, few, room.into, &mesh, NULL), HW_BAD_FORMAT,
                "200 points but no surface");
    hw_bytes commas = globe(&room, 4000, "", "%.0f,5 %.0f,5 %.0f,5\n");
    CHECK_FAILS(&room.job, hw_meshfile_read(&room.job, commas, room.into, &mesh, NULL),
                HW_BAD_FORMAT, "decimal commas");
    hw_bytes cut = globe(&room, 4000, "", "%.3f %.3f %.3f\n");
    cut.count -= 10; // the last line has two numbers
    CHECK_FAILS(&room.job, hw_meshfile_read(&room.job, cut, room.into, &mesh, NULL), HW_BAD_FORMAT,
                "is no point");
    hw_test_close(&room);
}

int run_read_3mf_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_3mf__what_is_written_is_read),
        cmocka_unit_test(test_3mf__units_transforms_and_components_are_followed),
        cmocka_unit_test(test_3mf__colours_of_triangles_come_to_their_points),
        cmocka_unit_test(test_3mf__colours_beyond_the_room_go_to_nobody),
        cmocka_unit_test(test_3mf__what_breaks_the_standard_is_refused),
        cmocka_unit_test(test_3mf__a_package_cut_anywhere_is_refused),
        cmocka_unit_test(test_xyz__points_as_text_get_a_surface),
        cmocka_unit_test(test_xyz__what_is_no_cloud_is_refused),
    };
    return cmocka_run_group_tests_name("meshfile read 3mf and xyz", tests, NULL, NULL);
}
