// SPDX-License-Identifier: GPL-3.0-or-later
// Questionnaires by their published scoring: facts/clinical.md 4 and 13, standards H18 and H19.
#include "near.h"
#include "person.h"

typedef struct sheet {
    hw_item items[HW_SCALE_ITEMS];
    int count;
} sheet;

static sheet filled(const char *key, double number)
{
    const hw_scale *scale = hw_scale_by_key(key);
    sheet out = {.count = scale->item_count};
    for (int i = 0; i < out.count; i++) out.items[i] = (hw_item){HW_ITEM_ANSWERED, number};
    return out;
}

static void leave_out(sheet *of, int from, int count, hw_item_kind kind)
{
    for (int i = from; i < from + count; i++) of->items[i] = (hw_item){kind, 0.0};
}

static hw_scored scored(const char *key, const sheet *of)
{
    hw_test_room room = hw_test_open();
    hw_scored out = {0};
    CHECK_OK(&room.job,
             hw_score_items(&room.job, hw_scale_by_key(key), of->items, of->count, &out));
    hw_test_close(&room);
    return out;
}

// Facts 4.2 and 13 no. 12: all pain 10, the rest 0: 90/230 = 39.13 %, mean of the parts 33.33 %.
static void test_ffi__has_two_totals_that_differ(void **state)
{
    (void)state;
    sheet of = filled("ffi", 0.0);
    for (int i = 0; i < 9; i++) of.items[i].number = 10.0;
    const hw_scored got = scored("ffi", &of);
    CHECK_NEAR(got.values[0].value, 100.0, 1e-9, "%");
    CHECK_NEAR(got.values[1].value, 0.0, 1e-9, "%");
    CHECK_NEAR(got.values[3].value, 39.1304, 1e-4, "%");
    CHECK_NEAR(got.values[4].value, 33.3333, 1e-4, "%");
    // The original form: sum / 207.
    sheet original = filled("ffi-original", 0.0);
    for (int i = 0; i < 9; i++) original.items[i].number = 9.0;
    CHECK_NEAR(scored("ffi-original", &original).values[3].value, 100.0 * 81.0 / 207.0, 1e-9, "%");
}

static void test_ffi__what_does_not_apply_is_in_neither_sum(void **state)
{
    (void)state;
    sheet of = filled("ffi", 5.0);
    of.items[0].number = 10.0;
    leave_out(&of, 1, 2, HW_ITEM_NOT_APPLICABLE);
    hw_scored got = scored("ffi", &of);
    CHECK_NEAR(got.values[0].value, 100.0 * 40.0 / 70.0, 1e-9, "%");
    // At least half of a part: 5 of 9 are scored, 4 are not, and then no total is.
    leave_out(&of, 1, 4, HW_ITEM_MISSING);
    got = scored("ffi", &of);
    assert_true(got.values[0].known);
    leave_out(&of, 1, 5, HW_ITEM_MISSING);
    got = scored("ffi", &of);
    assert_false(got.values[0].known || got.values[3].known || got.values[4].known);
    assert_true(got.values[1].known);
    assert_non_null(got.why[3]);
}

// Facts 4.3, 13 no. 13: sport with one missing is of 28; 7 of 8 are allowed, 6 are not; living 19 of 21.
static void test_faam__nine_tenths_must_be_answered(void **state)
{
    (void)state;
    sheet sport = filled("faam-sport", 3.0);
    sport.items[0].number = 4.0;
    leave_out(&sport, 7, 1, HW_ITEM_MISSING);
    CHECK_NEAR(scored("faam-sport", &sport).values[0].value, 100.0 * 22.0 / 28.0, 1e-9, "%");
    leave_out(&sport, 6, 1, HW_ITEM_NOT_APPLICABLE);
    assert_false(scored("faam-sport", &sport).values[0].known);
    sheet living = filled("faam-adl", 4.0);
    CHECK_NEAR(scored("faam-adl", &living).values[0].value, 100.0, 1e-9, "%");
    leave_out(&living, 0, 2, HW_ITEM_MISSING);
    CHECK_NEAR(scored("faam-adl", &living).values[0].value, 100.0, 1e-9, "%");
    leave_out(&living, 2, 1, HW_ITEM_MISSING);
    assert_false(scored("faam-adl", &living).values[0].known);
}

// Binkley 1999: 20 items of 0 to 4, sum of 80; a tenth missing is scaled up (common practice).
static void test_lefs__is_a_sum_of_eighty(void **state)
{
    (void)state;
    sheet of = filled("lefs", 4.0);
    CHECK_NEAR(scored("lefs", &of).values[0].value, 80.0, 1e-9, "");
    for (int i = 0; i < 20; i++) of.items[i].number = i % 2 ? 4.0 : 0.0; // alternating
    CHECK_NEAR(scored("lefs", &of).values[0].value, 40.0, 1e-9, "");
    leave_out(&of, 0, 2, HW_ITEM_MISSING); // a 0 and a 4
    CHECK_NEAR(scored("lefs", &of).values[0].value, 20.0 * 36.0 / 18.0, 1e-9, "");
    leave_out(&of, 2, 1, HW_ITEM_MISSING);
    assert_false(scored("lefs", &of).values[0].known);
}

static void test_grades__keep_their_direction(void **state)
{
    (void)state;
    const hw_scale *scale = hw_scale_by_key("roles-maudsley");
    // Facts 0.3: one trial reports a rise from 1.7 to 3.7 as better.
    CHECK_NEAR(hw_grade_from_best(scale, 4.0, true), 1.0, 1e-12, "");
    CHECK_NEAR(hw_grade_from_best(scale, 1.0, true), 4.0, 1e-12, "");
    CHECK_NEAR(hw_grade_from_best(scale, 2.0, false), 2.0, 1e-12, "");
    const hw_item own[4] = {{HW_ITEM_ANSWERED, 2}, {HW_ITEM_ANSWERED, 4}, {HW_ITEM_ANSWERED, 6}};
    const sheet mine = {.items = {own[0], own[1], own[2]}, .count = 3};
    CHECK_NEAR(scored("patient-specific", &mine).values[0].value, 4.0, 1e-12, "");
}

static void test_scores__all_lowest_and_all_highest_are_the_ends(void **state)
{
    (void)state;
    int count = 0;
    const hw_scale *rows = hw_scale_rows(&count);
    for (int i = 0; i < count; i++)
        for (int end = 0; end < 2; end++) {
            const double answer = end ? rows[i].item_high : rows[i].item_low;
            sheet of = filled(rows[i].key, answer);
            const hw_scored got = scored(rows[i].key, &of);
            for (int k = 0; k < got.value_count; k++) {
                const hw_scoring how = rows[i].values[k].scoring;
                const double want = how == HW_SCORING_SUM    ? of.count * answer
                                    : how == HW_SCORING_MEAN ? answer
                                                             : 100.0 * end;
                CHECK_NEAR(got.values[k].value, want, 1e-9, "");
            }
        }
}

// Facts 13 no. 14: 19 mm first step, 8 mm average, 8 and 9 points FAAM, 9 points LEFS.
static void test_changes__at_what_matters_and_beyond_the_error(void **state)
{
    (void)state;
    static const struct {
        const char *key;
        double from, to;
        hw_change want;
    } rows[] = {
        {"faam-adl", 50, 57.9, HW_CHANGE_NONE},
        {"faam-adl", 50, 58, HW_CHANGE_BETTER_SURELY},
        {"faam-adl", 58, 50, HW_CHANGE_WORSE_SURELY},
        {"faam-sport", 50, 59, HW_CHANGE_BETTER}, // 9 matter, 12.3 are beyond the error
        {"faam-sport", 50, 62.3, HW_CHANGE_BETTER_SURELY},
        {"lefs", 40, 49, HW_CHANGE_BETTER_SURELY},
        {"lefs", 40, 48.9, HW_CHANGE_NONE},
        {"first-step-pain", 7, 5.1, HW_CHANGE_BETTER},
        {"first-step-pain", 7, 5.2, HW_CHANGE_NONE},
        {"first-step-pain", 5, 7, HW_CHANGE_WORSE_SURELY},
        {"average-pain", 5, 4.2, HW_CHANGE_BETTER},
        {"average-pain", 5, 4.3, HW_CHANGE_NONE},
        {"activity-pain", 9, 0, HW_CHANGE_NOT_KNOWN},
        {"roles-maudsley", 4, 1, HW_CHANGE_NOT_KNOWN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const hw_change got =
            hw_change_of(hw_scale_by_key(rows[i].key), 0, rows[i].from, rows[i].to);
        if (got != rows[i].want)
            fail_msg("%s from %g to %g: %s", rows[i].key, rows[i].from, rows[i].to,
                     hw_change_word(got));
    }
}

static void test_scores__refuse_what_is_no_answer(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_scored out = {0};
    sheet of = filled("lefs", 4.0);
    const hw_scale *lefs = hw_scale_by_key("lefs");
    CHECK_FAILS(&room.job, hw_score_items(&room.job, lefs, of.items, 19, &out), HW_BAD_INPUT, "19");
    of.items[3].number = 4.5;
    CHECK_FAILS(&room.job, hw_score_items(&room.job, lefs, of.items, 20, &out), HW_BAD_INPUT,
                "item 4");
    of.items[3].number = (double)NAN;
    CHECK_FAILS(&room.job, hw_score_items(&room.job, lefs, of.items, 20, &out), HW_BAD_INPUT,
                "item 4");
    hw_test_close(&room);
}

static hw_status read_text(hw_test_room *room, const char *text, hw_questionnaire *out)
{
    hw_faults faults = {.into = room->into};
    const hw_bytes bytes = {(const unsigned char *)text, strlen(text)};
    return hw_questionnaire_read(&room->job, bytes, room->into, out, &faults);
}

static void test_questionnaire__of_the_clinic_is_scored_by_its_own_rule(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_questionnaire got = {0};
    CHECK_OK(&room.job,
             read_text(&room,
                       "# an invented one\nscale: quay-stairs\nname: Stairs of the quay\r\n"
                       "lowest answer: 1\nhighest answer: 5\nbetter: higher\nscore: percent\n"
                       "least answered: 2\n\n- Going up: how well?\n- Going down\n- Standing\n",
                       &got));
    assert_true(got.is_own && got.scale->item_count == 3 && got.scale->higher_is_better);
    assert_string_equal(got.items[1], "Going down");
    hw_scored out = {0};
    const hw_item items[3] = {{HW_ITEM_ANSWERED, 5}, {HW_ITEM_MISSING, 0}, {HW_ITEM_ANSWERED, 1}};
    CHECK_OK(&room.job, hw_score_items(&room.job, got.scale, items, 3, &out));
    CHECK_NEAR(out.values[0].value, 50.0, 1e-12, "%");
    char two_lines[600] = "name: x\nsource: ";
    memset(two_lines + strlen(two_lines), 'a', 500);
    const struct {
        const char *text, *why;
    } bad[] = {
        {"name: x\n- a\n", "scale"},
        {"scale: faam-sport\n- one\n", "has 8"},
        {"scale: lefs\nbetter: lower\n", "fixed"},
        {"scale: own\nname: n\nlowest answer: 0\nhighest answer: 0\nbetter: lower\nscore: sum\n"
         "least answered: 1\n- a\n",
         "over the lowest"},
        {"scale: own\nscale: two\n", "twice"},
        {"nonsense\n", "neither"},
        {"colour: red\n", "not a key"},
        {"name: x\n\ncolour: red\n", "line 3"},
        {two_lines, "line 2"}, // a line that is too long is counted too
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        CHECK_FAILS(&room.job, read_text(&room, bad[i].text, &got), HW_BAD_INPUT, bad[i].why);
    hw_test_close(&room);
}

int test_clinic_scores(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ffi__has_two_totals_that_differ),
        cmocka_unit_test(test_ffi__what_does_not_apply_is_in_neither_sum),
        cmocka_unit_test(test_faam__nine_tenths_must_be_answered),
        cmocka_unit_test(test_lefs__is_a_sum_of_eighty),
        cmocka_unit_test(test_grades__keep_their_direction),
        cmocka_unit_test(test_scores__all_lowest_and_all_highest_are_the_ends),
        cmocka_unit_test(test_changes__at_what_matters_and_beyond_the_error),
        cmocka_unit_test(test_scores__refuse_what_is_no_answer),
        cmocka_unit_test(test_questionnaire__of_the_clinic_is_scored_by_its_own_rule),
    };
    return cmocka_run_group_tests_name("clinic scores", tests, NULL, NULL);
}
