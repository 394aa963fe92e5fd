// SPDX-License-Identifier: GPL-3.0-or-later
// A caseload small enough to count by hand.
#include "near.h"
#include "person.h"

static const hw_pain_score well[] = {{0, 8}, {6, 5}, {12, 2}};
static const hw_pain_score some[] = {{0, 7}, {6, 6}, {20, 5}};
static const hw_pain_score worse[] = {{0, 4}, {8, 6}};
static const hw_pain_score once[] = {{0, 9}};
static const hw_heel_course heels[] = {
    {well, 3, "tape", 40, {10, true}, {50, true}},
    {some, 3, "tape", 10, {30, true}, {0, false}},
    {worse, 2, "insole", 20, {0, false}, {30, true}},
    {once, 1, "tape", 30, {20, true}, {40, true}},
    {NULL, 0, NULL, 0, {0, false}, {0, false}},
    {well, 3, "insole", 50, {0, false}, {0, false}},
};
static const hw_given_act given[] = {
    {"tape", false}, {"insole", true}, {"tape", true}, {"tape", false}};
static const hw_caseload_books books = {heels, 6, given, 4};

static void test_caseload__counts_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_caseload of = {0};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, &books, room.into, &of));
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

static void test_caseload__harms_baselines_and_the_chart_by_hand(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_caseload of = {0};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, &books, room.into, &of));
    assert_int_equal(of.harm_count, 2);
    assert_string_equal(of.harms[1].act, "tape");
    assert_int_equal(of.harms[1].given, 3);
    assert_int_equal(of.harms[1].events, 1);
    // 1 of 3, Clopper and Pearson: 0.0084 to 0.9057 (facts/standards.md 10.4 names the method; R binom.test).
    CHECK_NEAR(of.harms[1].share.low, 0.008404, 1e-5, "");
    CHECK_NEAR(of.harms[1].share.high, 0.905701, 1e-5, "");
    // Of the three taped: first scores 8, 7, 9; onset 10, 30, 20 weeks; age 50 and 40.
    CHECK_NEAR(of.acts[1].first_score.value, 8.0, 1e-12, "points");
    CHECK_NEAR(of.acts[1].onset_weeks.value, 20.0, 1e-12, "weeks");
    CHECK_NEAR(of.acts[1].age_years.value, 45.0, 1e-12, "years");
    assert_int_equal(of.acts[1].age_known, 2);
    // In the order of their first days: better, not, better, better; one of four was not.
    assert_int_equal(of.control_count, 4);
    CHECK_NEAR(of.control_target, 0.25, 1e-12, "");
    const bool better[4] = {true, false, true, true};
    double sum = 0.0;
    for (int i = 0; i < 4; i++) {
        // Odds doubled: 1/3 becomes 2/3, the share 0.4; weights ln(0.4/0.25) and ln(0.6/0.75).
        sum = fmax(0.0, sum + (better[i] ? log(0.6 / 0.75) : log(0.4 / 0.25)));
        assert_int_equal(of.control[i].better, better[i]);
        CHECK_NEAR(of.control[i].sum, sum, 1e-12, "");
        assert_false(of.control[i].signal);
    }
    assert_string_equal(of.first_two.acts[0], "insole");
    assert_true(of.first_two.test.is_known);
    assert_non_null(strstr(of.first_two.not_adjusted, "needs 20"));
    hw_test_close(&room);
}

// Twenty heels that got better, then none that did: the chart tells it, and not before.
static void test_caseload__the_chart_signals_a_change_for_the_worse(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_heel_course many[30];
    hw_caseload of = {0};
    int first = -1;
    for (int i = 0; i < 30; i++)
        many[i] = (hw_heel_course){
            .scores = i < 20 ? well : worse, .count = i < 20 ? 3 : 2, .first_day = i};
    const hw_caseload_books changed = {.heels = many, .heel_count = 30};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, &changed, room.into, &of));
    for (int i = 0; i < of.control_count && first < 0; i++)
        if (of.control[i].signal) first = i;
    // Expected 1/3, odds doubled 1/2: each adds ln 1.5, so the limit of 4 is passed by the tenth.
    assert_int_equal(first, 29);
    hw_test_close(&room);
}

// Two treatments whose heels were never watched at one time: the log-rank test cannot be made, and the
// caseload is counted all the same.
static void test_caseload__groups_never_watched_together_have_no_test(void **state)
{
    (void)state;
    static const hw_pain_score soon[] = {{0, 8}, {2, 1}};
    static const hw_pain_score late[] = {{0, 8}, {1, 7}};
    static const hw_heel_course apart[] = {{.scores = soon, .count = 2, .act = "insole"},
                                           {.scores = soon, .count = 2, .act = "insole"},
                                           {.scores = late, .count = 2, .act = "tape"},
                                           {.scores = late, .count = 2, .act = "tape"}};
    hw_test_room room = hw_test_open();
    hw_caseload of = {0};
    const hw_caseload_books alone = {.heels = apart, .heel_count = 4};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, &alone, room.into, &of));
    assert_string_equal(of.first_two.acts[1], "tape");
    assert_false(of.first_two.test.is_known);
    // Four differences from the forecast: the interval is t's, 3.1824 in place of 1.96 (R qt(.975, 3)).
    const double reach = of.all.against_high - of.all.against_forecast.value;
    double sum = 0.0, squares = 0.0;
    const hw_growth_prior prior = hw_pain_scale_of(HW_PAIN_FIRST_STEP).prior;
    for (int i = 0; i < 4; i++) {
        hw_growth growth = hw_growth_begin(&prior);
        hw_growth_add(&growth, 0.0, apart[i].scores[0].score);
        const double off =
            apart[i].scores[1].score - hw_growth_at(&growth, apart[i].scores[1].week, 2.0).mean;
        sum += off, squares += off * off;
    }
    const double sd = sqrt((squares - sum * sum / 4.0) / 3.0);
    CHECK_NEAR(reach, 3.182446 * sd / 2.0, 1e-5 * sd, "points");
    hw_test_close(&room);
}

// Enough heels free of pain: the rate is held level for what they began with. The same columns given to the
// regression by hand (which tests/end_to_end/test_statistics.py holds against R) say the same.
static void test_caseload__two_treatments_are_held_level_for_their_baselines(void **state)
{
    (void)state;
    enum { N = 60 };
    hw_test_room room = hw_test_open();
    hw_random random = hw_random_begin(11);
    hw_pain_score scores[N][2];
    hw_heel_course many[N];
    hw_follow times[N];
    double columns[N][4];
    hw_caseload of = {0};
    hw_hazards want = {0};
    int events = 0;
    for (int i = 0; i < N; i++) {
        const bool is_first = i % 5 < 3;
        const double first = 3.0 + floor(7.0 * hw_random_uniform(&random));
        const double weeks = 4.0 + floor(90.0 * hw_random_uniform(&random));
        const double age = 30.0 + floor(40.0 * hw_random_uniform(&random));
        const double end = 6.0 + floor(40.0 * hw_random_uniform(&random));
        const bool gone = hw_random_uniform(&random) < 0.6;
        scores[i][0] = (hw_pain_score){0, first}, scores[i][1] = (hw_pain_score){end, gone ? 1 : 3};
        many[i] = (hw_heel_course){.scores = scores[i],
                                   .count = 2,
                                   .act = is_first ? "tape" : "insole",
                                   .onset_weeks = hw_known(weeks),
                                   .age_years = hw_known(age)};
        times[i] = (hw_follow){end, gone, 0};
        columns[i][0] = is_first, columns[i][1] = first, columns[i][2] = weeks, columns[i][3] = age;
        events += gone;
    }
    assert_true(events >= 20);
    const hw_hazards_of by_hand = {times, (const double *)columns, 4, N, HW_TIES_EFRON};
    const hw_caseload_books books_of = {.heels = many, .heel_count = N};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, &books_of, room.into, &of));
    CHECK_OK(&room.job, hw_fit_hazards(&room.job, &by_hand, &want));
    assert_string_equal(of.first_two.acts[0], "tape");
    assert_null(of.first_two.not_adjusted);
    assert_int_equal(of.first_two.adjusted[HW_TIES_EFRON].events, events);
    for (int i = 0; i < HW_ADJUSTED; i++) {
        CHECK_NEAR(of.first_two.adjusted[HW_TIES_EFRON].log_ratio[i], want.log_ratio[i], 1e-12, "");
        CHECK_NEAR(of.first_two.adjusted[HW_TIES_EFRON].se[i], want.se[i], 1e-12, "");
    }
    // All of one age: nothing can be held level for it, and that is said.
    for (int i = 0; i < N; i++) many[i].age_years = hw_known(50.0);
    CHECK_OK(&room.job, hw_count_caseload(&room.job, &books_of, room.into, &of));
    assert_non_null(strstr(of.first_two.not_adjusted, "same in all"));
    hw_test_close(&room);
}

static void test_caseload__an_empty_clinic(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    hw_caseload of = {0};
    CHECK_OK(&room.job, hw_count_caseload(&room.job, &(hw_caseload_books){0}, room.into, &of));
    assert_int_equal(of.all.heels, 0);
    assert_int_equal(of.act_count, 0);
    hw_test_close(&room);
}

int test_clinic_caseload(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_caseload__counts_by_hand),
        cmocka_unit_test(test_caseload__harms_baselines_and_the_chart_by_hand),
        cmocka_unit_test(test_caseload__the_chart_signals_a_change_for_the_worse),
        cmocka_unit_test(test_caseload__groups_never_watched_together_have_no_test),
        cmocka_unit_test(test_caseload__two_treatments_are_held_level_for_their_baselines),
        cmocka_unit_test(test_caseload__an_empty_clinic),
    };
    return cmocka_run_group_tests_name("clinic caseload", tests, NULL, NULL);
}
