// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "report/plain_words.h"
#include "report_tests.h"

#include <string.h>

static hw_status dose_of(hw_test_room *room, hw_act act, const char **out)
{
    const plain_act *words = plain_act_of(act);
    return plain_text(&room->job, words, words->pictures[0].dose, room->into, out);
}

void test_plain_words__every_offered_act_has_words_and_its_own_numbers(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int i = 0; i < HW_ACT_COUNT; i++) {
        if (!hw_act_rows()[i].offered) continue;
        const plain_act *words = plain_act_of((hw_act)i);
        const char *text = NULL;
        assert_non_null(words);
        assert_non_null(words->title);
        CHECK_OK(&room.job, plain_text(&room.job, words, words->text, room.into, &text));
        assert_null(strpbrk(text, "{}<>"));
        for (int k = 0; k < PLAIN_PICTURES && words->pictures[k].figure; k++) {
            assert_non_null(words->pictures[k].how);
            CHECK_OK(&room.job,
                     plain_text(&room.job, words, words->pictures[k].dose, room.into, &text));
            assert_null(strpbrk(text, "{}<>"));
        }
        // What is done at home is said in words or in pictures.
        if (words->is_at_home) assert_true(words->text || words->pictures[0].figure);
    }
    // facts/clinical.md 5.1: 10 x 10 s, 3 sets a day (from memory: DiGiovanni 2003); calf 3 min 3 times a
    // day or 5 x 20 s twice (from memory: Porter 2002).
    const char *fascia = NULL, *calf = NULL;
    CHECK_OK(&room.job, dose_of(&room, HW_ACT_FASCIA_STRETCH, &fascia));
    CHECK_OK(&room.job, dose_of(&room, HW_ACT_CALF_STRETCH, &calf));
    assert_non_null(strstr(fascia, "Hold 10 seconds, 10 times. Do this 3 times a day"));
    assert_non_null(strstr(
        calf, "Hold 180 seconds, 3 times a day; or 20 seconds, 5 times over, 2 times a day"));
    hw_test_close(&room);
}

// The rows of the red flags are the judge: a sheet may send sooner, never later.
void test_plain_words__no_sign_is_less_urgent_than_its_red_flag(void **state)
{
    (void)state;
    int sign_count = 0, row_count = 0, emergencies = 0;
    const plain_sign *signs = plain_signs(&sign_count);
    const hw_rule *rows = hw_red_flag_rows(&row_count);
    for (int r = 0; r < row_count; r++) {
        if (rows[r].when.subject != HW_SUBJECT_FINDING || rows[r].urgency < HW_URGENCY_SAME_DAY)
            continue;
        if (rows[r].when.key == HW_FINDING_SQUEEZE_TEST) continue; // a test by the clinician
        int found = 0;
        for (int i = 0; i < sign_count; i++) {
            if ((unsigned)signs[i].finding != rows[r].when.key) continue;
            found++;
            if (rows[r].urgency == HW_URGENCY_EMERGENCY)
                assert_int_equal(signs[i].urgency, PLAIN_EMERGENCY);
        }
        assert_int_equal(found, 1);
        emergencies += rows[r].urgency == HW_URGENCY_EMERGENCY;
    }
    assert_int_equal(emergencies, 3);
}

// The calendar of 2026 and 2000 (common knowledge; `date -d` says the same).
void test_plain_words__dates_bear_their_weekday(void **state)
{
    (void)state;
    const struct {
        const char *iso, *words;
    } rows[] = {{"2026-03-02", "Monday 2 March 2026"},
                {"2000-02-29", "Tuesday 29 February 2000"},
                {"1970-01-01", "Thursday 1 January 1970"},
                {"1969-12-31", "Wednesday 31 December 1969"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_date date = {0};
        char text[40];
        assert_true(hw_date_parse(rows[i].iso, &date));
        assert_string_equal(plain_date(date, text), rows[i].words);
    }
    char text[40];
    assert_string_equal(plain_date((hw_date){0}, text), "unknown");
}
