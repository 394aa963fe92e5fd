// SPDX-License-Identifier: GPL-3.0-or-later
// Nothing personal stands in the clear: planted words are looked for in every file there is.
#include "files/files.h"
#include "seal/seal.h"
#include "sql/sql.h"
#include "suites.h"

static hw_bytes text(const char *at)
{
    return (hw_bytes){(const unsigned char *)at, strlen(at)};
}

static const char *const planted[] = {"Quillfeather",      "HB-7731-SEC",    "1961-11-23",
                                      "limps since May",   "solid heelcore", "slider of Quill",
                                      "shaping Quill arch"};

// What goes to a guest and comes back, its own name included.
static void plant_with_guest(hw_place *at)
{
    hw_job *job = &at->room.job;
    char id[HW_STORE_ID];
    bool is_cancelled;
    hw_store_task task;
    hw_guest *guest = hw_place_guest(at, "Quillfeather", NULL);
    hw_store_worker worker = {.lease_s = 60};
    hw_store_piece piece = {"report.json", text("solid heelcore")};
    hw_store_parcel parcel = {
        .about = text("{\"of\":\"HB-7731-SEC\"}"), .pieces = &piece, .count = 1};
    hw_store_order order = {.kind = "compute", .body = text("{\"for\":\"Quillfeather\"}")};
    CHECK_OK(job, hw_store_job_add(job, at->store, &order, id));
    CHECK_OK(job, hw_guest_claim(job, guest, &worker, at->room.into, &task));
    CHECK_OK(job,
             hw_guest_renew(job, guest, &task.claim, 0.5, "shaping Quill arch", &is_cancelled));
    CHECK_OK(job, hw_guest_deliver(job, guest, &task.claim, &parcel));
    hw_guest_close(guest);
}

static void plant(hw_place *at)
{
    hw_job *job = &at->room.job;
    char hash[HW_STORE_HASH], id[HW_STORE_ID];
    bool is_cancelled;
    hw_store_task task;
    hw_store_head head;
    hw_store_write write = {.kind = "person",
                            .body = text("{\"name\":\"Ida Quillfeather\",\"code\":\"HB-7731-SEC\","
                                         "\"born\":\"1961-11-23\"}"),
                            .who = "00000000000000aa",
                            .why = "limps since May"};
    CHECK_OK(job, hw_store_put(job, at->store, &write, 1, at->room.into, &head));
    hw_store_file file = {text("solid heelcore"), head.id, NULL, ""};
    CHECK_OK(job, hw_store_file_put(job, at->store, &file, hash));
    hw_store_order order = {.kind = "compute",
                            .body = text("{\"for\":\"Quillfeather\"}"),
                            .person = head.id,
                            .replaces = "slider of Quill"};
    CHECK_OK(job, hw_store_job_add(job, at->store, &order, id));
    hw_store_worker worker = {.name = "w", .lease_s = 60};
    CHECK_OK(job, hw_store_job_claim(job, at->store, &worker, at->room.into, &task));
    CHECK_OK(job, hw_store_job_renew(job, at->store, &task.claim, 0.5, "shaping Quill arch",
                                     &is_cancelled));
    hw_store_outcome outcome = {text("{\"of\":\"Quillfeather\"}"), NULL, 0};
    CHECK_OK(job, hw_store_job_finish(job, at->store, &task.claim, &outcome, at->room.into, NULL));
    plant_with_guest(at);
    const char *name = NULL;
    CHECK_OK(job, hw_store_backup(job, at->store, at->folder, at->room.into, &name));
    assert_true(hw_stands_somewhere(at, &head.id, 1)); // the search does find what is there
}

static void look(hw_place *at)
{
    enum { COUNT = sizeof planted / sizeof planted[0] };
    char hex[COUNT][80]; // as a log spells bytes
    const char *words[2 * COUNT];
    for (int i = 0; i < COUNT; i++) {
        hw_seal_hex((const unsigned char *)planted[i], strlen(planted[i]), hex[i]);
        words[2 * i] = planted[i];
        words[2 * i + 1] = hex[i];
    }
    assert_false(hw_stands_somewhere(at, words, 2 * COUNT));
}

static void test_clear__no_planted_word_stands_in_any_file(void **state)
{
    hw_place *at = hw_place_of(state);
    plant(at);
    look(at); // with the log of the database still full
    hw_store_close(at->store);
    at->store = NULL;
    look(at);
}

static bool stands_in(hw_place *at, const char *path, hw_bytes what)
{
    hw_bytes file;
    if (hw_file_read(&at->room.job, path, 1 << 28, at->room.into, &file) != HW_OK) return false;
    for (size_t i = 0; i + what.count <= file.count; i++)
        if (memcmp(file.at + i, what.at, what.count) == 0) return true;
    return false;
}

static void test_clear__an_erased_key_is_gone_from_the_files(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_sql *sql = NULL;
    hw_sql_rows rows;
    char wal[220];
    const char *person = hw_write_person(at);
    CHECK_OK(job, hw_sql_open(job, at->url, &sql));
    CHECK_OK(job, hw_sql_ask(
                      job, sql,
                      HW_SQL("SELECT wrapped FROM data_key WHERE owner = $1", hw_sql_text(person)),
                      at->room.into, &rows));
    hw_sql_close(sql);
    hw_bytes wrapped = hw_sql_bytes_at(&rows, 0, 0);
    snprintf(wal, sizeof wal, "%s-wal", at->url);
    assert_true(stands_in(at, at->url, wrapped) || stands_in(at, wal, wrapped));
    CHECK_OK(job, hw_store_erase(job, at->store, person, "", "asked for it"));
    assert_false(stands_in(at, at->url, wrapped));
    assert_false(stands_in(at, wal, wrapped));
}

static void test_clear__only_the_owner_may_read_the_files(void **state)
{
    hw_place *at = hw_place_of(state);
    struct {
        const char *path;
    } files[] = {{at->key_file}, {at->head_file}, {at->url}};
    for (int i = 0; i < 3; i++) {
        char line[300];
        snprintf(line, sizeof line, "test \"$(stat -c %%a '%s')\" = 600", files[i].path);
        assert_int_equal(0, system(line));
    }
}

int hw_test_clear(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_clear__no_planted_word_stands_in_any_file),
        cmocka_unit_test_setup_teardown(test_clear__an_erased_key_is_gone_from_the_files,
                                        hw_place_set_up, hw_place_tear_down),
        cmocka_unit_test_setup_teardown(test_clear__only_the_owner_may_read_the_files,
                                        hw_place_set_up, hw_place_tear_down),
    };
    return cmocka_run_group_tests_name("clear", tests, NULL, NULL);
}
