// SPDX-License-Identifier: GPL-3.0-or-later
// The kept form of an upload: it must read back bit for bit, and an independent reader (libassimp)
// must find the same surface in it.
#include "near.h"

#include "files/files.h"
#include "suites.h"
#include "write_solids.h"

#include <assimp/cimport.h>
#include <assimp/postprocess.h>
#include <assimp/scene.h>

static hw_bytes ply_of(hw_test_room *room, const hw_mesh *surface)
{
    hw_bytes file = {0};
    CHECK_OK(&room->job, hw_meshfile_ply(&room->job, surface, room->into, &file));
    return file;
}

static void same_surface(const hw_mesh *a, const hw_mesh *b)
{
    assert_int_equal(a->point_count, b->point_count);
    assert_int_equal(a->triangle_count, b->triangle_count);
    assert_memory_equal(a->points, b->points, (size_t)a->point_count * sizeof *a->points);
    assert_memory_equal(a->triangles, b->triangles,
                        (size_t)a->triangle_count * sizeof *a->triangles);
}

static void test_ply__doubles_that_no_float_holds_read_back_bit_for_bit(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh round = ball(&room, 12), back = {0};
    hw_bytes file = ply_of(&room, &round);
    assert_non_null(strstr((const char *)file.at, "property double x"));
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &back, NULL));
    same_surface(&round, &back);
    hw_test_close(&room);
}

// 12 bytes a point and 13 a face, counted by hand.
static void test_ply__what_an_stl_held_takes_floats_and_reads_back_bit_for_bit(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh once = {0}, back = {0};
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, stl_of(&room, &tetra), room.into, &once, NULL));
    hw_bytes file = ply_of(&room, &once);
    const char *end = strstr((const char *)file.at, "end_header\n");
    assert_non_null(end);
    size_t head = (size_t)(end - (const char *)file.at) + strlen("end_header\n");
    assert_int_equal(file.count - head, 12 * once.point_count + 13 * 4);
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &back, NULL));
    same_surface(&once, &back);
    hw_test_close(&room);
}

static double their_area(const struct aiMesh *mesh)
{
    double area = 0.0;
    for (unsigned i = 0; i < mesh->mNumFaces; i++) {
        hw_vec3 p[3];
        for (int k = 0; k < 3; k++) {
            struct aiVector3D v = mesh->mVertices[mesh->mFaces[i].mIndices[k]];
            p[k] = (hw_vec3){(double)v.x, (double)v.y, (double)v.z};
        }
        area += 0.5 * hw_vec3_norm(hw_vec3_cross(hw_vec3_sub(p[1], p[0]), hw_vec3_sub(p[2], p[0])));
    }
    return area;
}

static void test_ply__an_independent_reader_finds_the_same_surface(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh round = ball(&room, 20);
    hw_bytes file = ply_of(&room, &round);
    const struct aiScene *scene =
        aiImportFileFromMemory((const char *)file.at, (unsigned)file.count, 0, "ply");
    assert_non_null(scene);
    assert_int_equal(scene->mNumMeshes, 1);
    assert_int_equal(scene->mMeshes[0]->mNumFaces, round.triangle_count);
    // theirs is float: 7 digits of 50 mm
    CHECK_NEAR(their_area(scene->mMeshes[0]), hw_mesh_area(&round), 1e-5 * hw_mesh_area(&round),
               "m2");
    aiReleaseImport(scene);
    hw_test_close(&room);
}

static void test_ply__a_real_upload_survives_being_kept(void **state)
{
    (void)state;
    if (!hw_test_data()) skip();
    hw_test_room room = hw_test_open();
    char path[512];
    hw_bytes file = {0};
    hw_mesh once = {0}, back = {0};
    snprintf(path, sizeof path, "%s/feet/mh_male_left_quads_cm.obj", hw_test_data());
    CHECK_OK(&room.job, hw_file_read(&room.job, path, (size_t)1 << 28, room.into, &file));
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, file, room.into, &once, NULL));
    CHECK_OK(&room.job, hw_meshfile_read(&room.job, ply_of(&room, &once), room.into, &back, NULL));
    same_surface(&once, &back);
    hw_test_close(&room);
}

static void test_ply__a_surface_without_triangles_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_mesh none = {.points = tetra_points, .point_count = 4};
    hw_bytes file = {0};
    CHECK_FAILS(&room.job, hw_meshfile_ply(&room.job, &none, room.into, &file), HW_BAD_INPUT,
                "0 triangles");
    hw_test_close(&room);
}

int run_write_ply_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ply__doubles_that_no_float_holds_read_back_bit_for_bit),
        cmocka_unit_test(test_ply__what_an_stl_held_takes_floats_and_reads_back_bit_for_bit),
        cmocka_unit_test(test_ply__an_independent_reader_finds_the_same_surface),
        cmocka_unit_test(test_ply__a_real_upload_survives_being_kept),
        cmocka_unit_test(test_ply__a_surface_without_triangles_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
