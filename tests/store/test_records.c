// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

#include <pthread.h>

static hw_store_ref ref(const char *kind, const char *id, int64_t version)
{
    return (hw_store_ref){kind, id, version};
}

static void check_body(hw_place *at, hw_store_ref which, const char *want)
{
    hw_store_row row;
    CHECK_OK(&at->room.job, hw_store_get(&at->room.job, at->store, which, at->room.into, &row));
    assert_string_equal(want, (const char *)row.body.at);
    assert_int_equal(strlen(want), row.body.count);
}

static hw_status put_one(hw_place *at, hw_store_write write)
{
    hw_store_head head;
    if (!write.body.at) write.body = (hw_bytes){(const unsigned char *)"{}", 2};
    return hw_store_put(&at->room.job, at->store, &write, 1, at->room.into, &head);
}

static void test_records__every_version_is_kept_and_the_newest_is_got(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at);
    hw_store_head first = hw_write(at, ref("visit", NULL, 0), person, "{\"mass_kg\":82}");
    assert_int_equal(1, first.version);
    hw_store_head next = hw_write(at, ref("visit", first.id, 1), person, "{\"mass_kg\":83}");
    assert_int_equal(2, next.version);
    assert_true(next.change > first.change);
    for (int round = 0; round < 2; round++) { // as written, and after opening anew
        hw_store_row row;
        hw_store_rows rows;
        check_body(at, ref("visit", first.id, 0), "{\"mass_kg\":83}");
        check_body(at, ref("visit", first.id, 1), "{\"mass_kg\":82}");
        CHECK_OK(job, hw_store_get(job, at->store, ref("visit", first.id, 2), at->room.into, &row));
        assert_string_equal("00000000000000aa", row.head.who);
        assert_string_equal("as the test says", row.head.why);
        assert_string_equal(person, row.head.person);
        assert_true(row.head.at_ms > 1772442000000 && row.head.at_ms < 1772442001000);
        CHECK_FAILS(job,
                    hw_store_get(job, at->store, ref("visit", first.id, 3), at->room.into, &row),
                    HW_NOT_FOUND, "of this version");
        CHECK_FAILS(job,
                    hw_store_get(job, at->store, ref("score", first.id, 0), at->room.into, &row),
                    HW_NOT_FOUND, "no score");
        CHECK_OK(job,
                 hw_store_history(job, at->store, ref("visit", first.id, 0), at->room.into, &rows));
        assert_int_equal(2, rows.count);
        assert_string_equal("{\"mass_kg\":82}", (const char *)rows.rows[0].body.at);
        hw_place_reopen(at);
    }
}

static void test_records__undo_is_a_new_version_with_an_older_body(void **state)
{
    hw_place *at = hw_place_of(state);
    const char *person = hw_write_person(at);
    const char *id = hw_write(at, ref("visit", NULL, 0), person, "{\"v\":1}").id;
    hw_write(at, ref("visit", id, 1), person, "{\"v\":2}");
    assert_int_equal(3, hw_write(at, ref("visit", id, 2), person, "{\"v\":1}").version);
    check_body(at, ref("visit", id, 0), "{\"v\":1}");
    check_body(at, ref("visit", id, 2), "{\"v\":2}");
}

static void test_records__a_clash_writes_nothing_of_its_transaction(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at);
    const char *id = hw_write(at, ref("visit", NULL, 0), person, "{\"v\":1}").id;
    hw_store_head heads[2];
    hw_bytes body = {(const unsigned char *)"{\"v\":9}", 7};
    const hw_store_write writes[2] = {{.kind = "score", .person = person, .body = body},
                                      {.kind = "visit", .id = id, .person = person, .body = body}};
    CHECK_FAILS(job, hw_store_put(job, at->store, writes, 2, at->room.into, heads), HW_CLASH,
                "version 1, not 0");
    hw_store_rows rows;
    CHECK_OK(job, hw_store_list(job, at->store, &(hw_store_query){.kind = "score"}, at->room.into,
                                &rows));
    assert_int_equal(0, rows.count);
    CHECK_FAILS(job,
                put_one(at, (hw_store_write){.kind = "visit", .id = id, .expected_version = 7}),
                HW_CLASH, "version 1, not 7");
    check_body(at, ref("visit", id, 0), "{\"v\":1}");
}

static void test_records__what_depends_on_another_is_written_with_it(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store_head heads[2];
    hw_bytes body = {(const unsigned char *)"{}", 2};
    const char *person = "0123456789abcdef";
    const hw_store_write writes[2] = {{.kind = "person", .id = person, .body = body},
                                      {.kind = "visit", .person = person, .body = body}};
    CHECK_OK(job, hw_store_put(job, at->store, writes, 2, at->room.into, heads));
    hw_place_reopen(at);
    check_body(at, ref("visit", heads[1].id, 0), "{}");
}

static void test_records__nothing_but_ids_gets_into_the_clear_columns(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at);
    CHECK_FAILS(job, put_one(at, (hw_store_write){.kind = "Visit"}), HW_BAD_INPUT, "kind");
    CHECK_FAILS(job, put_one(at, (hw_store_write){.kind = "key"}), HW_BAD_INPUT, "kind");
    CHECK_FAILS(job, put_one(at, (hw_store_write){.kind = "visit", .id = "marta"}), HW_BAD_INPUT,
                "16 digits");
    CHECK_FAILS(job, put_one(at, (hw_store_write){.kind = "visit", .person = "marta"}),
                HW_BAD_INPUT, "16 digits");
    CHECK_FAILS(job, put_one(at, (hw_store_write){.kind = "visit", .person = "00000000000000ff"}),
                HW_NOT_FOUND, "no person");
    CHECK_FAILS(job,
                put_one(at, (hw_store_write){.kind = "visit",
                                             .person = person,
                                             .body = {(const unsigned char *)"{", 1}}),
                HW_BAD_FORMAT, "line");
    const char *id = hw_write(at, ref("visit", NULL, 0), person, "{}").id;
    const char *other = hw_write_person(at);
    CHECK_FAILS(job,
                put_one(at,
                        (hw_store_write){
                            .kind = "visit", .id = id, .person = other, .expected_version = 1}),
                HW_BAD_INPUT, "another person");
}

static int count_found(hw_place *at, const char *text)
{
    hw_store_rows rows;
    hw_store_query query = {.kind = "person", .text = text, .is_heads_only = true};
    CHECK_OK(&at->room.job, hw_store_list(&at->room.job, at->store, &query, at->room.into, &rows));
    return rows.count;
}

static void test_search__finds_people_by_parts_of_name_code_and_birth(void **state)
{
    hw_place *at = hw_place_of(state);
    const char *id = hw_write_person(at);
    hw_write(at, ref("person", NULL, 0), NULL,
             "{\"name\":\"\xc3\x96zg\xc3\xbcr \xd0\x9c\xd0\xb8\xd1\x80\",\"code\":\"HB-0043\"}");
    for (int round = 0; round < 2; round++) {
        assert_int_equal(2, count_found(at, ""));
        assert_int_equal(1, count_found(at, "bris MART"));
        assert_int_equal(1, count_found(at, "0042"));
        assert_int_equal(1, count_found(at, "1979-05"));
        assert_int_equal(2, count_found(at, "hb-"));
        assert_int_equal(1, count_found(at, "\xc3\xb6zg\xc3\x9cr"));      // ö and Ü
        assert_int_equal(1, count_found(at, "\xd0\xbc\xd0\x98\xd1\x80")); // Cyrillic
        assert_int_equal(0, count_found(at, "brise 0043"));
        hw_place_reopen(at);
    }
    hw_write(at, ref("person", id, 1), NULL, "{\"name\":\"Marta Holm\",\"code\":\"HB-0042\"}");
    assert_int_equal(0, count_found(at, "brise"));
    assert_int_equal(1, count_found(at, "holm"));
}

static void test_list__chooses_by_kind_person_change_and_page(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at), *other = hw_write_person(at);
    const char *ids[5];
    for (int i = 0; i < 5; i++)
        ids[i] = hw_write(at, ref("visit", NULL, 0), i < 4 ? person : other, "{}").id;
    hw_store_rows rows;
    hw_store_query query = {.kind = "visit", .person = person, .skip = 1, .limit = 2};
    CHECK_OK(job, hw_store_list(job, at->store, &query, at->room.into, &rows));
    assert_int_equal(2, rows.count);
    assert_string_equal(ids[1], rows.rows[0].head.id);
    int64_t since = rows.change;
    hw_write(at, ref("visit", ids[2], 1), person, "{\"v\":2}");
    CHECK_OK(job, hw_store_list(job, at->store, &(hw_store_query){.since = since}, at->room.into,
                                &rows));
    assert_int_equal(1, rows.count);
    assert_int_equal(2, rows.rows[0].head.version);
    CHECK_OK(job, hw_store_changes(job, at->store, &(hw_store_query){.since = since}, at->room.into,
                                   &rows));
    assert_int_equal(1, rows.count);
    assert_string_equal(ids[2], rows.rows[0].head.id);
    assert_string_equal("00000000000000aa", rows.rows[0].head.who);
}

static void test_store__a_second_process_sees_and_adds_to_the_same_chain(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store *other = NULL;
    const char *person = hw_write_person(at);
    CHECK_OK(job, hw_store_open(job, &at->place, &other));
    const char *id = hw_write(at, ref("visit", NULL, 0), person, "{\"v\":1}").id;
    hw_store *mine = at->store;
    at->store = other; // as the second process would
    check_body(at, ref("visit", id, 0), "{\"v\":1}");
    hw_write(at, ref("visit", id, 1), person, "{\"v\":2}");
    at->store = mine;
    check_body(at, ref("visit", id, 0), "{\"v\":2}");
    CHECK_FAILS(job,
                put_one(at, (hw_store_write){.kind = "visit", .id = id, .expected_version = 1}),
                HW_CLASH, "version 2");
    hw_store_close(other);
    hw_store_report report;
    CHECK_OK(job, hw_store_verify(job, at->store, NULL, at->room.into, &report));
    assert_int_equal(3, report.records);
}

enum { THREADS = 4, EACH = 10 };

static void *count_up(void *user)
{
    hw_place *at = user;
    hw_test_room room = hw_test_open();
    for (int i = 0; i < EACH;) {
        hw_store_row row;
        hw_store_head head;
        if (hw_store_get(&room.job, at->store, ref("clinic", "clinic", 0), room.into, &row) !=
            HW_OK)
            break;
        char body[40];
        int length =
            snprintf(body, sizeof body, "{\"v\":%d}", 1 + atoi((const char *)row.body.at + 5));
        hw_store_write write = {.kind = "clinic",
                                .id = "clinic",
                                .expected_version = row.head.version,
                                .body = {(const unsigned char *)body, (size_t)length}};
        hw_status status = hw_store_put(&room.job, at->store, &write, 1, room.into, &head);
        if (status != HW_OK && status != HW_CLASH) break;
        i += status == HW_OK;
    }
    hw_test_close(&room);
    return NULL;
}

static void test_store__threads_that_count_up_one_record_lose_no_step(void **state)
{
    hw_place *at = hw_place_of(state);
    pthread_t threads[THREADS];
    hw_write(at, ref("clinic", "clinic", 0), NULL, "{\"v\":0}");
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(0, pthread_create(&threads[i], NULL, count_up, at));
    for (int i = 0; i < THREADS; i++) pthread_join(threads[i], NULL);
    check_body(at, ref("clinic", "clinic", THREADS * EACH + 1), "{\"v\":40}");
}

static void test_store__opens_by_its_own_key_only(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store *store = NULL;
    hw_store_place place = at->place;
    char other[80];
    snprintf(other, sizeof other, "%s/other", at->folder);
    place.key_file = other;
    place.head_file = at->head_file;
    CHECK_FAILS(job, hw_store_open(job, &place, &store), HW_NOT_FOUND, "is missing");
    FILE *file = fopen(other, "w");
    fputs("0123456789abcdef0123456789abcdef", file);
    fclose(file);
    CHECK_FAILS(job, hw_store_open(job, &place, &store), HW_NO_ACCESS, "not this store's");
    place.passphrase = "quay lantern heron";
    CHECK_FAILS(job, hw_store_open(job, &place, &store), HW_NO_ACCESS, "not a passphrase");
}

static void test_store__a_passphrase_takes_the_place_of_the_key_file_and_back(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    hw_store *store = NULL;
    const char *person = hw_write_person(at);
    char other[80];
    snprintf(other, sizeof other, "%s/second", at->folder);
    CHECK_OK(job, hw_store_lock_change(job, at->store, "quay lantern heron", NULL));
    CHECK_FAILS(job, hw_store_open(job, &at->place, &store), HW_NO_ACCESS, "by a passphrase");
    at->place.head_file = at->head_file;
    at->place.passphrase = "quay lantern herons";
    CHECK_FAILS(job, hw_store_open(job, &at->place, &store), HW_NO_ACCESS, "not this store's");
    at->place.passphrase = "quay lantern heron";
    hw_place_reopen(at);
    check_body(at, ref("person", person, 1),
               "{\"name\":\"Marta Brise\",\"code\":\"HB-0042\",\"born\":\"1979-05-17\"}");
    CHECK_OK(job, hw_store_lock_change(job, at->store, NULL, other));
    at->place.passphrase = NULL;
    at->place.key_file = other;
    hw_place_reopen(at);
    hw_store_report report;
    CHECK_OK(job, hw_store_verify(job, at->store, NULL, at->room.into, &report));
}

// The n-th request for memory fails, for every n: an error at worst, and the store goes on.
static void test_store__a_failed_allocation_anywhere_leaves_it_sound(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at);
    hw_arena *arenas[3] = {job->scratch[0], job->scratch[1], at->room.into};
    int failed = 0;
    for (int which = 0; which < 3; which++)
        for (size_t n = 1; n < 80; n++) {
            hw_store_head head;
            hw_store_row row;
            hw_store_rows rows;
            hw_store_write write = {
                .kind = "visit", .person = person, .body = {(const unsigned char *)"{}", 2}};
            hw_arena_fail_at(arenas[which], n);
            hw_status status = hw_store_put(job, at->store, &write, 1, at->room.into, &head);
            if (status == HW_OK)
                status =
                    hw_store_get(job, at->store, ref("visit", head.id, 0), at->room.into, &row);
            if (status == HW_OK)
                status = hw_store_list(job, at->store, &(hw_store_query){.kind = "person"},
                                       at->room.into, &rows);
            hw_arena_fail_at(arenas[which], 0);
            assert_true(status == HW_OK || status == HW_NO_MEMORY);
            failed += status != HW_OK;
        }
    assert_true(failed > 20);
    hw_store_report report;
    hw_place_reopen(at);
    CHECK_OK(job, hw_store_verify(job, at->store, NULL, at->room.into, &report));
}

int hw_test_records(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_records__every_version_is_kept_and_the_newest_is_got),
        BOTH(test_records__undo_is_a_new_version_with_an_older_body),
        BOTH(test_records__a_clash_writes_nothing_of_its_transaction),
        BOTH(test_records__what_depends_on_another_is_written_with_it),
        BOTH(test_records__nothing_but_ids_gets_into_the_clear_columns),
        BOTH(test_search__finds_people_by_parts_of_name_code_and_birth),
        BOTH(test_list__chooses_by_kind_person_change_and_page),
        BOTH(test_store__a_second_process_sees_and_adds_to_the_same_chain),
        BOTH(test_store__threads_that_count_up_one_record_lose_no_step),
        BOTH(test_store__a_failed_allocation_anywhere_leaves_it_sound),
        BOTH(test_store__opens_by_its_own_key_only),
        BOTH(test_store__a_passphrase_takes_the_place_of_the_key_file_and_back),
    };
    return cmocka_run_group_tests_name("records", tests, NULL, NULL);
}
