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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_arena__memory_is_zeroed_aligned_and_limited),
        cmocka_unit_test(test_arena__the_nth_request_fails_when_told),
        cmocka_unit_test(test_job__scratch_is_never_the_result_arena),
        cmocka_unit_test(test_faults__all_are_kept_and_the_first_is_the_sentence),
        cmocka_unit_test(test_text__numbers_are_read_as_the_c_library_reads_them),
        cmocka_unit_test(test_text__a_writer_grows_and_ends_in_zero),
        cmocka_unit_test(test_words__nothing_forgotten_reads_as_no),
    };
    return cmocka_run_group_tests_name("base", tests, NULL, NULL);
}
