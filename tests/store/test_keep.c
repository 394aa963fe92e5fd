// SPDX-License-Identifier: GPL-3.0-or-later
// Files, erasure, retention, backup, export.
#include "files/files.h"
#include "suites.h"
#include "json/json.h"

static hw_bytes pattern(hw_place *at, size_t count)
{
    unsigned char *bytes = hw_arena_take(at->room.into, count + 1, 1);
    assert_non_null(bytes);
    for (size_t i = 0; i < count; i++) bytes[i] = (unsigned char)(i * 2654435761u >> 13);
    return (hw_bytes){bytes, count};
}

static const char *put_file(hw_place *at, hw_bytes bytes, const char *person, const char *device)
{
    char hash[HW_STORE_HASH];
    const char *copy = NULL;
    hw_store_file file = {bytes, person, device, "00000000000000aa"};
    CHECK_OK(&at->room.job, hw_store_file_put(&at->room.job, at->store, &file, hash));
    CHECK_OK(&at->room.job, hw_text_copy(&at->room.job, at->room.into, hash, &copy));
    return copy;
}

static void check_file(hw_place *at, const char *hash, hw_bytes want)
{
    hw_bytes got;
    CHECK_OK(&at->room.job, hw_store_file_get(&at->room.job, at->store, hash, at->room.into, &got));
    assert_int_equal(want.count, got.count);
    assert_memory_equal(want.at, got.at, want.count + 1);
}

static void test_files__come_back_as_they_were_whatever_their_size(void **state)
{
    hw_place *at = hw_place_of(state);
    const char *person = hw_write_person(at);
    static const size_t sizes[] = {0, 1, 65535, 65536, 65537, 131072, 5000000};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        hw_bytes bytes = pattern(at, sizes[i]);
        check_file(at, put_file(at, bytes, person, NULL), bytes);
    }
    hw_store_report report;
    CHECK_OK(&at->room.job,
             hw_store_verify(&at->room.job, at->store, NULL, at->room.into, &report));
    assert_int_equal(7, report.files);
}

static void test_files__the_same_bytes_are_kept_once_an_owner(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at), *other = hw_write_person(at);
    hw_bytes bytes = pattern(at, 1000);
    const char *hash = put_file(at, bytes, person, NULL);
    int64_t before, after;
    CHECK_OK(job, hw_store_change(job, at->store, &before));
    assert_string_equal(hash, put_file(at, bytes, person, NULL));
    CHECK_OK(job, hw_store_change(job, at->store, &after));
    assert_int_equal(before, after);
    assert_string_not_equal(hash, put_file(at, bytes, other, NULL));
    hw_store_head head;
    CHECK_OK(job, hw_store_file_owner(job, at->store, hash, at->room.into, &head));
    assert_string_equal(person, head.person);
    CHECK_FAILS(job, hw_store_file_owner(job, at->store, "00", at->room.into, &head), HW_NOT_FOUND,
                "no file");
}

static void test_erase__all_of_a_person_goes_but_their_devices(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at), *other = hw_write_person(at);
    hw_bytes bytes = pattern(at, 100000);
    const char *visit = hw_write(at, (hw_store_ref){"visit", NULL, 0}, person, "{}").id;
    const char *device = hw_write(at, (hw_store_ref){"device", NULL, 0}, person, "{\"lot\":7}").id;
    const char *kept = hw_write(at, (hw_store_ref){"visit", NULL, 0}, other, "{}").id;
    const char *scan = put_file(at, bytes, person, NULL),
               *shell = put_file(at, bytes, person, device);
    char id[HW_STORE_ID];
    hw_store_order order = {
        .kind = "compute", .body = {(const unsigned char *)"{}", 2}, .person = person};
    CHECK_OK(job, hw_store_job_add(job, at->store, &order, id));
    CHECK_FAILS(job, hw_store_erase(job, at->store, person, "00000000000000aa", ""), HW_BAD_INPUT,
                "reason");
    CHECK_OK(job, hw_store_erase(job, at->store, person, "00000000000000aa", "asked for it"));
    for (int round = 0; round < 2; round++) {
        hw_store_row row;
        hw_store_rows rows;
        hw_store_task task;
        hw_store_report report;
        hw_bytes got;
        CHECK_FAILS(
            job,
            hw_store_get(job, at->store, (hw_store_ref){"visit", visit, 0}, at->room.into, &row),
            HW_NOT_FOUND, "erased");
        CHECK_FAILS(job, hw_store_file_get(job, at->store, scan, at->room.into, &got), HW_NOT_FOUND,
                    "erased");
        CHECK_FAILS(job, hw_store_job_get(job, at->store, id, at->room.into, &task), HW_NOT_FOUND,
                    "no job");
        CHECK_OK(job, hw_store_get(job, at->store, (hw_store_ref){"device", device, 0},
                                   at->room.into, &row));
        CHECK_OK(job, hw_store_get(job, at->store, (hw_store_ref){"visit", kept, 0}, at->room.into,
                                   &row));
        check_file(at, shell, bytes);
        CHECK_OK(job, hw_store_history(job, at->store, (hw_store_ref){"visit", visit, 0},
                                       at->room.into, &rows));
        assert_true(rows.count == 1 && rows.rows[0].head.is_erased && !rows.rows[0].body.at);
        assert_string_equal("00000000000000aa", rows.rows[0].head.who); // the audit stays
        CHECK_OK(job, hw_store_list(job, at->store, &(hw_store_query){.text = "brise"},
                                    at->room.into, &rows));
        assert_int_equal(1, rows.count);
        CHECK_OK(job, hw_store_verify(job, at->store, NULL, at->room.into, &report));
        hw_place_reopen(at);
    }
    hw_store_head head;
    hw_store_write write = {
        .kind = "visit", .person = person, .body = {(const unsigned char *)"{}", 2}};
    CHECK_FAILS(job, hw_store_put(job, at->store, &write, 1, at->room.into, &head), HW_NOT_FOUND,
                "erased");
    assert_int_equal(
        2, hw_write(at, (hw_store_ref){"device", device, 1}, person, "{\"lot\":8}").version);
}

static void test_erase__a_hold_forbids_it(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person =
        hw_write(at, (hw_store_ref){"person", NULL, 0}, NULL, "{\"hold\":true}").id;
    CHECK_FAILS(job, hw_store_erase(job, at->store, person, "", "asked"), HW_NO_ACCESS, "on hold");
    hw_write(at, (hw_store_ref){"person", person, 1}, NULL, "{\"hold\":false}");
    CHECK_OK(job, hw_store_erase(job, at->store, person, "", "asked"));
    CHECK_FAILS(job, hw_store_erase(job, at->store, person, "", "asked"), HW_NOT_FOUND, "already");
}

// Source of the three dates: shared/facts/standards.md 7.1.
static void test_retention__dates_of_the_schedule(void **state)
{
    (void)state;
    static const char *const rows[][3] = {
        {"1970-01-01", "2020-03-01", "2028-03-01"}, // adult
        {"2010-07-15", "2024-01-10", "2035-07-15"}, // child: 25th birthday
        {"2007-02-01", "2024-06-01", "2033-02-01"}, // aged 17: 26th birthday
    };
    for (size_t i = 0; i < 3; i++) {
        hw_date born = {0}, last = {0};
        char text[HW_DATE_TEXT];
        assert_true(hw_date_parse(rows[i][0], &born) && hw_date_parse(rows[i][1], &last));
        assert_string_equal(rows[i][2], hw_date_text(hw_store_keep_until(born, last), text));
    }
    assert_false(hw_store_keep_until((hw_date){0}, (hw_date){100, true}).known);
}

static void test_backup__restores_into_an_empty_place_of_either_kind(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at), *name = NULL;
    hw_bytes bytes = pattern(at, 200000);
    const char *hash = put_file(at, bytes, person, NULL);
    char id[HW_STORE_ID], folder[100], url[100], head_file[100];
    hw_store_order order = {.kind = "compute", .body = {(const unsigned char *)"{}", 2}};
    CHECK_OK(job, hw_store_job_add(job, at->store, &order, id));
    snprintf(folder, sizeof folder, "%s/backups", at->folder);
    snprintf(url, sizeof url, "%s/second.db", at->folder);
    snprintf(head_file, sizeof head_file, "%s/second.head", at->folder);
    CHECK_OK(job, hw_store_backup(job, at->store, folder, at->room.into, &name));
    hw_store *second = NULL;
    hw_store_place place = at->place;
    place.url = url; // from whichever database to a file
    place.head_file = head_file;
    CHECK_OK(job, hw_store_restore(job, name, &place, &second));
    hw_store_mark here, there;
    CHECK_OK(job, hw_store_mark_now(job, at->store, &here));
    CHECK_OK(job, hw_store_mark_now(job, second, &there));
    assert_string_equal(here.link, there.link);
    hw_store *first = at->store;
    at->store = second;
    check_file(at, hash, bytes);
    at->store = first;
    hw_store_close(second);
    CHECK_FAILS(job, hw_store_restore(job, name, &place, &second), HW_CLASH, "empty one");
    // and back into the kind it came from, over the old head file
    if (!at->is_server) {
        char line[700];
        hw_store_close(at->store);
        snprintf(line, sizeof line, "rm -f %s %s-wal %s-shm", at->url, at->url, at->url);
        assert_int_equal(0, system(line));
        CHECK_OK(job, hw_store_restore(job, name, &at->place, &at->store));
        check_file(at, hash, bytes);
    }
}

static void test_backup__a_changed_or_cut_one_is_refused(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *name = NULL;
    hw_bytes whole;
    hw_write_person(at);
    CHECK_OK(job, hw_store_backup(job, at->store, at->folder, at->room.into, &name));
    CHECK_OK(job, hw_file_read(job, name, 1 << 28, at->room.into, &whole));
    hw_store_place place = at->place;
    char url[100], bad[100], head_file[100];
    snprintf(url, sizeof url, "%s/second.db", at->folder);
    snprintf(head_file, sizeof head_file, "%s/second.head", at->folder);
    snprintf(bad, sizeof bad, "%s/bad", at->folder);
    place.url = url;
    place.head_file = head_file;
    for (size_t step = 0; step < 40; step++) { // a byte flipped at 40 places, then cut at 40
        for (int is_cut = 0; is_cut < 2; is_cut++) {
            hw_store *second = NULL;
            size_t where = whole.count * step / 40;
            FILE *file = fopen(bad, "wb");
            assert_non_null(file);
            fwrite(whole.at, 1, is_cut ? where : whole.count, file);
            if (!is_cut) fseek(file, (long)where, SEEK_SET), fputc(whole.at[where] ^ 4, file);
            fclose(file);
            hw_status status = hw_store_restore(job, bad, &place, &second);
            if (status == HW_OK) print_error("step %zu cut %d went through\n", step, is_cut);
            assert_true(status == HW_BAD_FORMAT || status == HW_NO_ACCESS);
        }
    }
    hw_store *second = NULL;
    CHECK_OK(job, hw_store_restore(job, name, &place, &second)); // nothing stuck in the place
    hw_store_close(second);
}

static void test_export__writes_all_in_the_clear(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at), *other = hw_write_person(at);
    hw_write(at, (hw_store_ref){"person", person, 1}, NULL, "{\"name\":\"Marta Holm\"}");
    hw_bytes bytes = pattern(at, 70000), got;
    const char *hash = put_file(at, bytes, person, NULL);
    char folder[100], path[300];
    snprintf(folder, sizeof folder, "%s/out", at->folder);
    CHECK_OK(job, hw_store_export(job, at->store, person, folder));
    snprintf(path, sizeof path, "%s/records/person-%s.json", folder, person);
    CHECK_OK(job, hw_file_read(job, path, 1 << 20, at->room.into, &got));
    const hw_json *root = NULL;
    CHECK_OK(job, hw_json_read(job, got, at->room.into, &root));
    const hw_json *versions = hw_json_get(root, "versions");
    assert_int_equal(2, versions->count);
    assert_string_equal("Marta Holm",
                        hw_json_get(hw_json_get(&versions->items[1], "body"), "name")->text);
    snprintf(path, sizeof path, "%s/files/%s", folder, hash);
    CHECK_OK(job, hw_file_read(job, path, 1 << 20, at->room.into, &got));
    assert_int_equal(bytes.count, got.count);
    assert_memory_equal(bytes.at, got.at, got.count);
    snprintf(path, sizeof path, "%s/records/person-%s.json", folder, other);
    assert_false(hw_file_exists(path)); // one person only
    snprintf(path, sizeof path, "%s/index.json", folder);
    CHECK_OK(job, hw_file_read(job, path, 1 << 20, at->room.into, &got));
    CHECK_OK(job, hw_json_read(job, got, at->room.into, &root));
    assert_int_equal(1, hw_json_get(root, "records")->count);
}

int hw_test_keep(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_files__come_back_as_they_were_whatever_their_size),
        BOTH(test_files__the_same_bytes_are_kept_once_an_owner),
        BOTH(test_erase__all_of_a_person_goes_but_their_devices),
        BOTH(test_erase__a_hold_forbids_it),
        cmocka_unit_test(test_retention__dates_of_the_schedule),
        BOTH(test_backup__restores_into_an_empty_place_of_either_kind),
        BOTH(test_backup__a_changed_or_cut_one_is_refused),
        BOTH(test_export__writes_all_in_the_clear),
    };
    return cmocka_run_group_tests_name("keep", tests, NULL, NULL);
}
