// SPDX-License-Identifier: GPL-3.0-or-later
// Colours of points: read from each format that has them, kept through the plain PLY and the page's
// form, and seen there by an independent reader (libassimp).
#include "near.h"

#include "meshfile/meshfile.h"
#include "suites.h"

#include <assimp/cimport.h>
#include <assimp/scene.h>

static hw_mesh read_text(hw_test_room *room, const char *text)
{
    hw_bytes file = {(const unsigned char *)text, strlen(text)};
    hw_mesh mesh = {0};
    CHECK_OK(&room->job, hw_meshfile_read(&room->job, file, room->into, &mesh, NULL));
    return mesh;
}

static void check_colour(const hw_mesh *mesh, int i, int red, int green, int blue)
{
    assert_non_null(mesh->colours);
    assert_int_equal(mesh->colours[i][0], red);
    assert_int_equal(mesh->colours[i][1], green);
    assert_int_equal(mesh->colours[i][2], blue);
}

#define PLY_HEAD(type)                                                                             \
    "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float " \
    "z\nproperty " type " red\nproperty " type " green\nproperty " type                            \
    " blue\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n"

static void test_colours__of_each_format_come_out_as_bytes(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = read_text(&room, PLY_HEAD("uchar") "0 0 0 10 20 30\n1 0 0 255 0 0\n0 1 0 0 0 "
                                                      "7\n3 0 1 2\n");
    check_colour(&mesh, 0, 10, 20, 30);
    check_colour(&mesh, 2, 0, 0, 7);
    mesh = read_text(&room, PLY_HEAD("float") "0 0 0 0.5 1 0\n1 0 0 2 -1 nan\n0 1 0 0 0 0\n3 0 1 "
                                              "2\n");
    check_colour(&mesh, 0, 128, 255, 0);
    check_colour(&mesh, 1, 255, 0, 0); // beyond its range, and no number
    mesh = read_text(&room, "v 0 0 0 1 0.5 0\nv 1 0 0 0 0 1\nv 0 1 0 0 0 0\nf 1 2 3\n");
    check_colour(&mesh, 0, 255, 128, 0);
    mesh = read_text(&room, "v 0 0 0 255 128 0\nv 1 0 0 0 0 1\nv 0 1 0 0 0 0\nf 1 2 3\n");
    check_colour(&mesh, 0, 255, 128, 0);
    check_colour(&mesh, 1, 0, 0, 1);
    // A weight is no colour, and colours of some points are none.
    assert_null(read_text(&room, "v 0 0 0 1\nv 1 0 0 1\nv 0 1 0 1\nf 1 2 3\n").colours);
    assert_null(read_text(&room, "v 0 0 0 1 1 1\nv 1 0 0\nv 0 1 0 1 1 1\nf 1 2 3\n").colours);
    hw_test_close(&room);
}

static void test_colours__survive_the_kept_file_and_the_repairs(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = read_text(&room, "v 0 0 0 1 0 0\nv 1 0 0 0 1 0\nv 0 1 0 0 0 1\nv 0 0 0 1 0 0\n"
                                    "v 0 0 1 1 1 1\nf 1 2 3\nf 4 5 2\n");
    hw_mesh back = {0}, welded = {0}, placed = {0};
    hw_bytes file = {0};
    CHECK_OK(&room.job, hw_meshfile_ply(&room.job, &mesh, room.into, &file));
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &back, NULL));
    assert_int_equal(back.point_count, 5);
    assert_memory_equal(back.colours, mesh.colours, 5 * sizeof *mesh.colours);
    const struct aiScene *scene =
        aiImportFileFromMemory((const char *)file.at, (unsigned)file.count, 0, "ply");
    assert_non_null(scene);
    const struct aiMesh *theirs = scene->mMeshes[0];
    assert_non_null(theirs->mColors[0]);
    for (unsigned i = 0; i < theirs->mNumVertices; i++)
        for (int k = 0; k < 5; k++) {
            hw_vec3 p = mesh.points[k];
            const struct aiVector3D *q = &theirs->mVertices[i];
            if (fabs((double)q->x - p.x) + fabs((double)q->y - p.y) + fabs((double)q->z - p.z) > 0)
                continue;
            CHECK_NEAR((double)theirs->mColors[0][i].g, mesh.colours[k][1] / 255.0, 1e-6, "");
        }
    aiReleaseImport(scene);
    CHECK_OK(&room.job, hw_mesh_weld(&room.job, &mesh, 1e-6, room.into, &welded));
    assert_int_equal(welded.point_count, 4);
    check_colour(&welded, 2, 0, 0, 255);
    check_colour(&welded, 3, 255, 255, 255);
    hw_pose pose = hw_pose_identity();
    CHECK_OK(&room.job, hw_mesh_place(&room.job, &welded, &pose, room.into, &placed));
    check_colour(&placed, 1, 0, 255, 0);
    hw_test_close(&room);
}

static void test_colours__stand_at_the_end_of_the_pages_form(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh mesh = read_text(&room, "v 0 0 0 1 0 0\nv 1 0 0 0 1 0\nv 0 1 0 0 0 1\nf 1 2 3\n");
    hw_bytes file = {0};
    CHECK_OK(&room.job, hw_meshfile_page(&room.job, &mesh, room.into, &file));
    const unsigned char end[] = {255, 0, 0, 0, 255, 0, 0, 0, 255};
    assert_int_equal(file.count, 12 + 12 * 4 + 9);
    assert_memory_equal(file.at, "HWM2", 4);
    assert_memory_equal(file.at + file.count - 9, end, 9);
    mesh.colours = NULL;
    CHECK_OK(&room.job, hw_meshfile_page(&room.job, &mesh, room.into, &file));
    assert_int_equal(file.count, 12 + 12 * 4);
    assert_memory_equal(file.at, "HWM1", 4);
    hw_test_close(&room);
}

int run_colour_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_colours__of_each_format_come_out_as_bytes),
        cmocka_unit_test(test_colours__survive_the_kept_file_and_the_repairs),
        cmocka_unit_test(test_colours__stand_at_the_end_of_the_pages_form),
    };
    return cmocka_run_group_tests_name("meshfile colours", tests, NULL, NULL);
}
