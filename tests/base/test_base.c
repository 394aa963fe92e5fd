// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"

static void test_arena__memory_is_zeroed_aligned_and_limited(void **state)
{
    (void)state;
    hw_arena *arena = hw_arena_new(4096);
    hw_arena_mark mark = hw_arena_here(arena);
    for (int round = 0; round < 3; round++) {
        unsigned char *bytes = hw_arena_take(arena, 100, 7);
        assert_non_null(bytes);
        assert_int_equal((uintptr_t)bytes % 32, 0);
        for (int i = 0; i < 700; i++) assert_int_equal(bytes[i], 0);
        memset(bytes, 0xff, 700);
        assert_null(hw_arena_take(arena, 4096, 1));
        assert_null(hw_arena_take(arena, SIZE_MAX / 2, 4));
        hw_arena_rewind(arena, mark);
        assert_int_equal(hw_arena_bytes(arena), 0);
    }
    hw_arena_free(arena);
}

static void test_arena__the_nth_request_fails_when_told(void **state)
{
    (void)state;
    hw_arena *arena = hw_arena_new(4096);
    hw_arena_fail_at(arena, 2);
    assert_non_null(hw_arena_take(arena, 1, 1));
    assert_null(hw_arena_take(arena, 1, 1));
    assert_non_null(hw_arena_take(arena, 1, 1));
    hw_arena_free(arena);
}

static void test_job__scratch_is_never_the_result_arena(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scratch outer = hw_scratch_begin(&room.job, room.into);
    hw_scratch inner = hw_scratch_begin(&room.job, outer.arena);
    assert_ptr_not_equal(outer.arena, inner.arena);
    hw_scratch_end(inner);
    hw_scratch_end(outer);
    hw_test_close(&room);
}

static void test_faults__all_are_kept_and_the_first_is_the_sentence(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_faults faults = {.into = room.into};
    CHECK_OK(&room.job, hw_faults_status(&room.job, &faults));
    for (int i = 0; i < 40; i++)
        CHECK_OK(&room.job, hw_faults_add(&room.job, &faults, "feet.left.lunge_deg", "row %d", i));
    assert_int_equal(faults.count, 40);
    assert_string_equal(faults.rows[39].sentence, "row 39");
    CHECK_FAILS(&room.job, hw_faults_status(&room.job, &faults), HW_BAD_INPUT,
                "feet.left.lunge_deg: row 0 (and 39 more)");
    hw_test_close(&room);
}

static bool reads(const char *text, double *out)
{
    return hw_text_number(text, strlen(text), out);
}

static void test_text__numbers_are_read_as_the_c_library_reads_them(void **state)
{
    (void)state;
    const char *good[] = {"0",      "-0.0",    "1",         " 12.5\r",     "+3.",     ".25",
                          "1e3",    "-1.5E-7", "0.1",       "123456.7891", "9.99e22", "1e-30",
                          "000012", "1e+08",   "0.0000001", "-6.1e-05",    "2.5e-3",  "17.0000"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        double value = NAN, want = strtod(good[i], NULL); // the C library as oracle
        assert_true(reads(good[i], &value));
        CHECK_NEAR(value, want, 1e-15 * fabs(want), "");
    }
    const char *bad[] = {"",   " ",  "nan", "inf", "-inf", "0x10", "1,5",
                         "1e", "e5", ".",   "--1", "1 2",  "1e999"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        double value = 7.0;
        assert_false(reads(bad[i], &value));
        CHECK_NEAR(value, 7.0, 0.0, "");
    }
}

static void test_text__a_writer_grows_and_ends_in_zero(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_writer writer = hw_writer_begin(room.into);
    for (int i = 0; i < 5000; i++) hw_writer_print(&writer, "%04d ", i);
    hw_bytes text = {0};
    CHECK_OK(&room.job, hw_writer_end(&room.job, &writer, &text));
    assert_int_equal(text.count, 25000);
    assert_int_equal(text.at[25000], 0);
    assert_memory_equal(text.at + 5 * 4321, "4321 ", 5);
    hw_test_close(&room);
}

static void test_words__nothing_forgotten_reads_as_no(void **state)
{
    (void)state;
    hw_answer forgotten = {0};
    assert_string_equal(hw_answer_word(forgotten), "unknown");
    assert_string_equal(hw_side_word((hw_side){0}), "unknown");
}

static void test_date__days_are_counted_as_the_calendar_says(void **state)
{
    (void)state;
    // POSIX: 2000-02-29 is day 11016, 2038-01-19 is day 24855 (2^31 s is in that day), common practice
    const struct {
        const char *text;
        int days;
    } good[] = {{"1970-01-01", 0},     {"1969-12-31", -1},    {"2000-02-29", 11016},
                {"2000-03-01", 11017}, {"2038-01-19", 24855}, {"1900-03-01", -25508}};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        hw_date date = {0};
        char text[HW_DATE_TEXT];
        assert_true(hw_date_parse(good[i].text, &date));
        assert_int_equal(date.days, good[i].days);
        assert_string_equal(hw_date_text(date, text), good[i].text);
    }
    const char *bad[] = {"2026-02-29",  "1900-02-29", "2026-13-01", "2026-00-10", "2026-04-31",
                         "2026-3-02",   "02-03-2026", "2026/03/02", " 2026-3-2",  "2026-03-02 ",
                         "2026-03-02T", "",           "+026-03-02", "1799-12-31"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        hw_date date = {7, true};
        assert_false(hw_date_parse(bad[i], &date));
        assert_int_equal(date.days, 7);
    }
    // Every day of 1800 to 2999 comes back as itself, one after the other.
    hw_date day = {0}, again = {0};
    assert_true(hw_date_parse("1800-01-01", &day));
    for (; day.days < 376200; day = hw_date_plus(day, 1)) {
        char text[HW_DATE_TEXT];
        assert_true(hw_date_parse(hw_date_text(day, text), &again));
        assert_int_equal(hw_date_days(day, again), 0);
    }
    char text[HW_DATE_TEXT];
    assert_string_equal(hw_date_text((hw_date){0}, text), "unknown");
    assert_false(hw_date_plus((hw_date){0}, 5).known);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_arena__memory_is_zeroed_aligned_and_limited),
        cmocka_unit_test(test_arena__the_nth_request_fails_when_told),
        cmocka_unit_test(test_job__scratch_is_never_the_result_arena),
        cmocka_unit_test(test_faults__all_are_kept_and_the_first_is_the_sentence),
        cmocka_unit_test(test_text__numbers_are_read_as_the_c_library_reads_them),
        cmocka_unit_test(test_text__a_writer_grows_and_ends_in_zero),
        cmocka_unit_test(test_date__days_are_counted_as_the_calendar_says),
        cmocka_unit_test(test_words__nothing_forgotten_reads_as_no),
    };
    return cmocka_run_group_tests_name("base", tests, NULL, NULL);
}
