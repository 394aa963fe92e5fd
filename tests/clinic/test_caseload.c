// SPDX-License-Identifier: GPL-3.0-or-later
// A caseload small enough to count by hand.
#include "near.h"
#include "person.h"

static const hw_pain_score well[] = {{0, 8}, {6, 5}, {12, 2}};
static const hw_pain_score some[] = {{0, 7}, {6, 6}, {20, 5}};
static const hw_pain_score worse[] = {{0, 4}, {8, 6}};
static const hw_pain_score once[] = {{0, 9}};
static const hw_heel_course heels[] = {
    {well, 3, "tape"}, {some, 3, "tape"}, {worse, 2, "insole"},
    {once, 1, "tape"}, {NULL, 0, NULL},   {well, 3, "insole"},
};

static void test_caseload__counts_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_caseload of = {0};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, heels, 6, room.into, &of));
    assert_int_equal(of.all.heels, 6);
    assert_int_equal(of.all.followed, 4);
    assert_int_equal(of.all.lost, 1);
    // Fallen by 1.9 points (Landorf 2010) or more: 8 to 2 twice, 7 to 5; not 4 to 6.
    assert_int_equal(of.all.better.count, 3);
    assert_int_equal(of.all.better.of, 4);
    assert_int_equal(of.all.gone.count, 2);
    CHECK_NEAR(of.all.median_change, -4.0, 1e-12, "points");
    // At week 12 three are still followed and two of them are well: 1 - 2/3.
    assert_int_equal(of.all.until_gone.count, 1);
    CHECK_NEAR(of.all.until_gone.steps[0].share, 1.0 / 3.0, 1e-12, "");
    CHECK_NEAR(of.all.until_gone.median.value, 12.0, 0.0, "weeks");
    assert_int_equal(of.act_count, 2);
    assert_string_equal(of.acts[0].act, "insole");
    assert_int_equal(of.acts[1].heels, 3);
    assert_int_equal(of.acts[1].followed, 2);
    assert_false(of.acts[0].outside_funnel || of.acts[1].outside_funnel);
    hw_test_close(&room);
}

static void test_caseload__an_empty_clinic(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_caseload of = {0};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, NULL, 0, room.into, &of));
    assert_int_equal(of.all.heels, 0);
    assert_int_equal(of.act_count, 0);
    hw_test_close(&room);
}

int test_clinic_caseload(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_caseload__counts_by_hand),
        cmocka_unit_test(test_caseload__an_empty_clinic),
    };
    return cmocka_run_group_tests_name("clinic caseload", tests, NULL, NULL);
}
