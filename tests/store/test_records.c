// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

static void test_records__versions_are_kept_and_the_newest_is_got(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_job *job = &at->room.job;
    const char *person = hw_write_person(at);
    hw_store_head first =
        hw_write(at, (hw_store_ref){"visit", NULL, 0}, person, "{\"mass_kg\":82}");
    assert_int_equal(1, first.version);
    hw_store_head next =
        hw_write(at, (hw_store_ref){"visit", first.id, 1}, person, "{\"mass_kg\":83}");
    assert_int_equal(2, next.version);
    hw_place_reopen(at);
    hw_store_row row;
    CHECK_OK(job, hw_store_get(job, at->store, (hw_store_ref){"visit", first.id, 0}, at->room.into,
                               &row));
    assert_string_equal("{\"mass_kg\":83}", (const char *)row.body.at);
    assert_string_equal("00000000000000aa", row.head.who);
    assert_string_equal("as the test says", row.head.why);
    assert_string_equal(person, row.head.person);
    CHECK_OK(job, hw_store_get(job, at->store, (hw_store_ref){"visit", first.id, 1}, at->room.into,
                               &row));
    assert_string_equal("{\"mass_kg\":82}", (const char *)row.body.at);
    CHECK_FAILS(
        job,
        hw_store_get(job, at->store, (hw_store_ref){"visit", first.id, 3}, at->room.into, &row),
        HW_NOT_FOUND, "of this version");
    hw_store_rows rows;
    CHECK_OK(job, hw_store_list(job, at->store, &(hw_store_query){.text = "BRISE 0042"},
                                at->room.into, &rows));
    assert_int_equal(1, rows.count);
    CHECK_OK(job, hw_store_history(job, at->store, (hw_store_ref){"visit", first.id, 0},
                                   at->room.into, &rows));
    assert_int_equal(2, rows.count);
}

int hw_test_records(void)
{
    const struct CMUnitTest tests[] = {
        BOTH(test_records__versions_are_kept_and_the_newest_is_got),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
