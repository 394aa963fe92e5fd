// SPDX-License-Identifier: GPL-3.0-or-later
// Written files against programs that are not ours: admesh on the STL; unzip and xmllint with the
// schema of 3MF core 1.4.0, appendix B, on the 3MF. The schema lets wrong indices pass, so the
// edges are counted here over the XML that was written.
#include "suites.h"
#include "write_solids.h"

#include <sys/wait.h>
#include <unistd.h>

/// What `command` prints, for programs taken as oracles.
static hw_bytes output_of(hw_test_room *room, const char *command, int *code)
{
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    hw_writer text = hw_writer_begin(room->into);
    char piece[4096];
    for (size_t n; (n = fread(piece, 1, sizeof piece, pipe)) > 0;) hw_writer_bytes(&text, piece, n);
    *code = pclose(pipe);
    hw_bytes out = {0};
    CHECK_OK(&room->job, hw_writer_end(&room->job, &text, &out));
    return out;
}

static void need(const char *program)
{
    char command[100];
    snprintf(command, sizeof command, "command -v %s >/dev/null", program);
    if (system(command) == 0) return;
    print_message("skipped: %s is not installed\n", program);
    skip();
}

enum { COMMAND = 600 };

/// A new folder, its name in `folder`, with the file as `name` in it.
static void put_in_folder(char folder[static 30], const char *name, hw_bytes file)
{
    char path[100];
    strcpy(folder, "/tmp/hw-meshfile-XXXXXX");
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(file.at, 1, file.count, out), file.count);
    assert_int_equal(fclose(out), 0);
}

static void remove_folder(const char *folder)
{
    char command[100];
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
}

/// The number behind `label` and the blanks and colon that follow it; the label must be there.
static double number_behind(const char *text, const char *label)
{
    const char *at = strstr(text, label);
    if (!at) fail_msg("no '%s'", label);
    at += strlen(label);
    at += strspn(at, " :=\"");
    char *end = NULL;
    double value = strtod(at, &end);
    assert_ptr_not_equal(end, at);
    return value;
}

static void test_stl__admesh_finds_nothing_to_repair(void **state)
{
    (void)state;
    need("admesh");
    static const char *none[] = {"Total disconnected facets",
                                 "Degenerate facets",
                                 "Edges fixed",
                                 "Facets removed",
                                 "Facets added",
                                 "Facets reversed",
                                 "Backwards edges",
                                 "Normals fixed"};
    hw_test_room room = hw_test_open();
    char folder[30], command[COMMAND];
    int code = 1;
    hw_mesh solid = ball(&room, 40);
    put_in_folder(folder, "ball.stl", stl_of(&room, &solid));
    snprintf(command, sizeof command, "LC_ALL=C admesh %s/ball.stl", folder);
    const char *text = (const char *)output_of(&room, command, &code).at;
    assert_int_equal(code, 0);
    for (size_t i = 0; i < sizeof none / sizeof *none; i++)
        if (number_behind(text, none[i]) != 0.0) fail_msg("%s: %s", none[i], text);
    CHECK_NEAR(number_behind(text, "Number of facets"), solid.triangle_count, 0.0, "");
    CHECK_NEAR(number_behind(text, "Number of parts"), 1.0, 0.0, "");
    CHECK_NEAR(number_behind(text, "Volume"), hw_mesh_volume(&solid) * 1e9, 1.0, "mm3");
    CHECK_NEAR(number_behind(text, "Max X ="), 40.0, 1e-3, "mm"); // 10 + 30
    remove_folder(folder);
    hw_test_close(&room);
}

/// The model part as unzip takes it out of the package.
static const char *model_of(hw_test_room *room, hw_bytes package)
{
    char folder[30], command[COMMAND];
    int code = 1;
    put_in_folder(folder, "part.3mf", package);
    snprintf(command, sizeof command, "unzip -tqq %s/part.3mf", folder);
    assert_int_equal(system(command), 0);
    snprintf(command, sizeof command, "unzip -Z1 %s/part.3mf", folder);
    assert_string_equal((const char *)output_of(room, command, &code).at,
                        "[Content_Types].xml\n_rels/.rels\n3D/3dmodel.model\n");
    snprintf(command, sizeof command, "unzip -p %s/part.3mf 3D/3dmodel.model", folder);
    const char *model = (const char *)output_of(room, command, &code).at;
    assert_int_equal(code, 0);
    remove_folder(folder);
    return model;
}

/// How often each directed edge a -> b stands in the XML, in a table of points * points.
static void count_edges(const char *model, int points, unsigned char *times)
{
    static const char *keys[] = {"v1=", "v2=", "v3="};
    for (const char *at = model; (at = strstr(at, "<triangle ")); at++) {
        int corner[3];
        for (int k = 0; k < 3; k++) {
            corner[k] = (int)number_behind(at, keys[k]);
            assert_in_range(corner[k], 0, points - 1);
        }
        for (int k = 0; k < 3; k++) times[corner[k] * points + corner[(k + 1) % 3]]++;
    }
}

// Core 4.1.4: every edge is of two triangles that run it in opposite directions.
static void test_3mf__every_edge_of_the_model_is_run_once_each_way(void **state)
{
    (void)state;
    need("unzip");
    hw_test_room room = hw_test_open();
    hw_mesh solid = ball(&room, 12);
    const char *model = model_of(&room, package_of(&room, &solid, "HB-0042 left"));
    int points = 0, edges = 0;
    for (const char *at = model; (at = strstr(at, "<vertex ")); at++) points++;
    assert_int_equal(points, solid.point_count);
    unsigned char *times = hw_arena_take(room.into, (size_t)points, (size_t)points);
    assert_non_null(times);
    count_edges(model, points, times);
    for (int a = 0; a < points; a++)
        for (int b = 0; b < points; b++) {
            assert_int_equal(times[a * points + b], times[b * points + a]);
            assert_in_range(times[a * points + b], 0, 1);
            edges += times[a * points + b];
        }
    assert_int_equal(edges, 3 * solid.triangle_count);
    assert_int_equal(points - edges / 2 + solid.triangle_count, 2); // Euler: a ball
    hw_test_close(&room);
}

/// Six times the volume of the model as its XML has it, mm3.
static double volume_sixfold(const char *model)
{
    static const char *axes[] = {" x=", " y=", " z="}, *keys[] = {"v1=", "v2=", "v3="};
    double points[4][3] = {{0}}, sum = 0.0;
    int n = 0;
    for (const char *at = model; n < 4 && (at = strstr(at, "<vertex ")); at++, n++)
        for (int k = 0; k < 3; k++) points[n][k] = number_behind(at, axes[k]);
    for (const char *at = model; (at = strstr(at, "<triangle ")); at++) {
        const double *p[3];
        for (int k = 0; k < 3; k++) p[k] = points[(int)number_behind(at, keys[k]) & 3];
        for (int k = 0; k < 3; k++) {
            int next = (k + 1) % 3, last = (k + 2) % 3;
            sum += p[0][k] * (p[1][next] * p[2][last] - p[1][last] * p[2][next]);
        }
    }
    return sum;
}

// Core 4.1: normals outward, so that the volume is positive; 10 x 20 x 40 mm legs.
static void test_3mf__the_triangles_written_face_outward(void **state)
{
    (void)state;
    need("unzip");
    hw_test_room room = hw_test_open();
    const char *model = model_of(&room, package_of(&room, &tetra, "HB-0042 left"));
    CHECK_NEAR(volume_sixfold(model), 8000.0, 1e-6, "mm3");
    hw_test_close(&room);
}

static void test_3mf__the_build_item_stands_in_the_corner_of_the_positive_octant(void **state)
{
    (void)state;
    need("unzip");
    static const char *axes[] = {" x=", " y=", " z="};
    hw_test_room room = hw_test_open();
    const char *model = model_of(&room, package_of(&room, &tetra, "HB-0042 left"));
    double low[3] = {1e9, 1e9, 1e9}, high[3] = {-1e9, -1e9, -1e9}, shift[3];
    for (const char *at = model; (at = strstr(at, "<vertex ")); at++)
        for (int k = 0; k < 3; k++) {
            low[k] = fmin(low[k], number_behind(at, axes[k]));
            high[k] = fmax(high[k], number_behind(at, axes[k]));
        }
    const char *at = strstr(model, "transform=\"1 0 0 0 1 0 0 0 1 ");
    assert_non_null(at);
    assert_int_equal(sscanf(at + 29, "%lf %lf %lf", &shift[0], &shift[1], &shift[2]), 3);
    static const double size[3] = {10, 20, 40}; // mm, the legs
    for (int k = 0; k < 3; k++) {
        CHECK_NEAR(low[k] + shift[k], 0.0, 1e-9, "mm");
        CHECK_NEAR(high[k] + shift[k], size[k], 1e-9, "mm");
    }
    assert_non_null(strstr(model, "<item objectid=\"1\" partnumber=\"HB-0042 left\""));
    hw_test_close(&room);
}

static void test_3mf__a_title_with_signs_of_xml_stays_as_it_was(void **state)
{
    (void)state;
    need("unzip"), need("xmllint");
    const char *title = "A&B <\"left\"> 'x'";
    static const char *paths[] = {"//*[local-name()=\"metadata\"][@name=\"Title\"]",
                                  "//*[local-name()=\"object\"]/@partnumber",
                                  "//*[local-name()=\"item\"]/@partnumber"};
    hw_test_room room = hw_test_open();
    const char *model = model_of(&room, package_of(&room, &tetra, title));
    char folder[30], command[COMMAND], want[50];
    put_in_folder(folder, "m.xml", (hw_bytes){(const unsigned char *)model, strlen(model)});
    snprintf(want, sizeof want, "%s\n", title);
    for (int i = 0; i < 3; i++) {
        int code = 1;
        snprintf(command, sizeof command, "xmllint --xpath 'string(%s)' %s/m.xml", paths[i],
                 folder);
        assert_string_equal((const char *)output_of(&room, command, &code).at, want);
    }
    remove_folder(folder);
    hw_test_close(&room);
}

// The schema names xml.xsd on the web and a count too high for libxml2: both are mended in a copy.
static const char local_xml_schema[] =
    "<xs:schema xmlns:xs=\"http://www.w3.org/2001/XMLSchema\" "
    "targetNamespace=\"http://www.w3.org/XML/1998/namespace\">"
    "<xs:attribute name=\"lang\" type=\"xs:language\"/>"
    "<xs:attribute name=\"space\" type=\"xs:NCName\"/></xs:schema>";

enum { LINT_INVALID = 3 }; // xmllint(1): "Validation error"

/// How xmllint ends on the model after `edit` by sed.
static int lint(const char *folder, const char *edit)
{
    char command[COMMAND];
    snprintf(command, sizeof command,
             "cd %s && sed '%s' m.xml >edited.xml && "
             "xmllint --nonet --noout --schema core.xsd edited.xml 2>said",
             folder, edit);
    int code = system(command);
    assert_true(WIFEXITED(code));
    return WEXITSTATUS(code);
}

static void test_3mf__the_model_keeps_to_the_core_schema(void **state)
{
    (void)state;
    const char *data = hw_test_data();
    if (!data) {
        print_message("skipped: HEELWRIGHT_DATA names no folder with the 3MF schema\n");
        skip();
    }
    need("unzip"), need("xmllint");
    hw_test_room room = hw_test_open();
    hw_mesh solid = ball(&room, 12);
    const char *model = model_of(&room, package_of(&room, &solid, "HB-0042 left"));
    char folder[30], command[COMMAND];
    put_in_folder(folder, "m.xml", (hw_bytes){(const unsigned char *)model, strlen(model)});
    snprintf(command, sizeof command,
             "cd %s && echo '%s' >xml.xsd && sed -e 's/2147483647/unbounded/' "
             "-e 's,http://www.w3.org/2001/xml.xsd,xml.xsd,' '%s/standards/3mf_core.xsd' >core.xsd",
             folder, local_xml_schema, data);
    assert_int_equal(system(command), 0);
    assert_int_equal(lint(folder, ""), 0);
    // and the schema does look: two models it must not take
    assert_int_equal(lint(folder, "s/millimeter/mm/"), LINT_INVALID);
    assert_int_equal(lint(folder, "s/x=\"\\(-*[0-9]*\\)\\./x=\"\\1,/"), LINT_INVALID);
    remove_folder(folder);
    hw_test_close(&room);
}

int run_write_oracle_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stl__admesh_finds_nothing_to_repair),
        cmocka_unit_test(test_3mf__every_edge_of_the_model_is_run_once_each_way),
        cmocka_unit_test(test_3mf__the_triangles_written_face_outward),
        cmocka_unit_test(test_3mf__the_build_item_stands_in_the_corner_of_the_positive_octant),
        cmocka_unit_test(test_3mf__a_title_with_signs_of_xml_stays_as_it_was),
        cmocka_unit_test(test_3mf__the_model_keeps_to_the_core_schema),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
