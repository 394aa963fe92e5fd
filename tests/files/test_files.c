// SPDX-License-Identifier: GPL-3.0-or-later
#include "files/files.h"
#include "near.h"
#include <dirent.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

static int make_folder(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/hw_files_XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[100];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static hw_bytes bytes_of(const char *text)
{
    return (hw_bytes){(const unsigned char *)text, strlen(text)};
}

static int entries(const char *path)
{
    DIR *dir = opendir(path);
    int count = 0;
    while (dir && readdir(dir)) count++;
    if (dir) closedir(dir);
    return count - 2; // . and ..
}

static void test_files__what_was_written_is_read_back(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_file_set set = {0};
    char out[100];
    snprintf(out, sizeof out, "%s/out", folder);
    CHECK_OK(&room.job, hw_file_set_add(&room.job, &set, "a.txt", bytes_of("first")));
    CHECK_OK(&room.job, hw_file_set_add(&room.job, &set, "b.txt", bytes_of("")));
    CHECK_OK(&room.job, hw_file_set_write(&room.job, &set, out));
    CHECK_OK(&room.job, hw_file_set_write(&room.job, &set, out)); // again over the first
    assert_int_equal(entries(out), 2);
    const char *path = NULL;
    hw_bytes back = {0};
    CHECK_OK(&room.job, hw_file_join(&room.job, out, "a.txt", room.into, &path));
    CHECK_OK(&room.job, hw_file_read(&room.job, path, 100, room.into, &back));
    assert_string_equal((const char *)back.at, "first");
    CHECK_FAILS(&room.job, hw_file_read(&room.job, path, 4, room.into, &back), HW_BAD_INPUT,
                "limit");
    hw_test_close(&room);
}

static void test_files__a_set_that_cannot_be_whole_leaves_nothing(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    char out[100], blocked[120];
    snprintf(out, sizeof out, "%s/part", folder);
    snprintf(blocked, sizeof blocked, "%s/b.txt", out);
    assert_int_equal(mkdir(out, 0777), 0);
    assert_int_equal(mkdir(blocked, 0777), 0);
    hw_file_set set = {0};
    CHECK_OK(&room.job, hw_file_set_add(&room.job, &set, "a.txt", bytes_of("first")));
    CHECK_OK(&room.job, hw_file_set_add(&room.job, &set, "b.txt", bytes_of("second")));
    CHECK_FAILS(&room.job, hw_file_set_write(&room.job, &set, out), HW_IO_FAILED, "nothing");
    assert_int_equal(entries(out), 1); // the folder that stood in the way
    hw_test_close(&room);
}

static void test_files__bad_names_and_paths_are_refused_by_name(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_file_set set = {0};
    hw_bytes back = {0};
    CHECK_FAILS(&room.job, hw_file_set_add(&room.job, &set, "../x", bytes_of("")), HW_BAD_INPUT,
                "../x");
    CHECK_OK(&room.job, hw_file_set_add(&room.job, &set, "x", bytes_of("")));
    CHECK_FAILS(&room.job, hw_file_set_add(&room.job, &set, "x", bytes_of("")), HW_BAD_INPUT, "x");
    CHECK_FAILS(&room.job, hw_file_read(&room.job, "/nowhere/at/all", 9, room.into, &back),
                HW_NOT_FOUND, "/nowhere");
    CHECK_FAILS(&room.job, hw_file_read(&room.job, folder, 9, room.into, &back), HW_BAD_INPUT,
                "not a file");
    CHECK_FAILS(&room.job, hw_file_set_write(&room.job, &set, "/nowhere/at/all"), HW_IO_FAILED,
                "cannot be made");
    hw_test_close(&room);
}

static void test_files__folder_and_name_meet_as_expected(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const char *out = NULL;
    CHECK_OK(&room.job, hw_file_folder(&room.job, "a/b/case.json", room.into, &out));
    assert_string_equal(out, "a/b");
    CHECK_OK(&room.job, hw_file_folder(&room.job, "case.json", room.into, &out));
    assert_string_equal(out, ".");
    CHECK_OK(&room.job, hw_file_folder(&room.job, "/case.json", room.into, &out));
    assert_string_equal(out, "/");
    CHECK_OK(&room.job, hw_file_join(&room.job, "a", "/b/left.stl", room.into, &out));
    assert_string_equal(out, "/b/left.stl");
    hw_test_close(&room);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_files__what_was_written_is_read_back),
        cmocka_unit_test(test_files__a_set_that_cannot_be_whole_leaves_nothing),
        cmocka_unit_test(test_files__bad_names_and_paths_are_refused_by_name),
        cmocka_unit_test(test_files__folder_and_name_meet_as_expected),
    };
    return cmocka_run_group_tests_name("files", tests, make_folder, remove_folder);
}
