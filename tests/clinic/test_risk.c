// SPDX-License-Identifier: GPL-3.0-or-later
// Risk and course: the printed figures (facts/clinical.md 2, 6.4, 13 no. 23 and 25), at their limits.
#include "near.h"
#include "person.h"

static const hw_risk_row *row_with(double ratio)
{
    int count = 0;
    const hw_risk_row *rows = hw_risk_rows(&count);
    for (int i = 0; i < count; i++)
        if (rows[i].ratio.known && fabs(rows[i].ratio.value - ratio) < 1e-9) return &rows[i];
    fail_msg("no row of %g", ratio);
    return NULL;
}

// Facts 2: ln OR and its standard error, SE = (ln hi - ln lo) / 3.9199.
static void test_risk__is_that_of_the_papers(void **state)
{
    (void)state;
    static const struct {
        double ratio, log_ratio, se;
    } rows[] = {{23.3, 3.1485, 0.8584},
                {5.6, 1.7228, 0.5530},
                {3.6, 1.2809, 0.5230},
                {2.9, 1.0647, 0.3755},
                {3.7, 1.3083, 0.4320}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        int count = 0;
        const hw_risk_row *all = hw_risk_rows(&count), *row = NULL;
        for (int k = 0; k < count; k++)
            if (all[k].low.known && fabs(all[k].ratio.value - rows[i].ratio) < 1e-9) row = &all[k];
        assert_non_null(row);
        CHECK_NEAR(log(row->ratio.value), rows[i].log_ratio, 1e-4, "");
        CHECK_NEAR((log(row->high.value) - log(row->low.value)) / 3.9199, rows[i].se, 1e-4, "");
    }
}

static void test_risk__holds_within_its_limits_and_never_by_silence(void **state)
{
    (void)state;
    static const struct {
        double ratio;
        hw_finding_id id;
        double no, yes, also;
    } rows[] = {{23.3, HW_FINDING_DORSIFLEXION_KNEE_EXTENDED_DEG, 0.1, 0.0, -9.0},
                {8.2, HW_FINDING_DORSIFLEXION_KNEE_EXTENDED_DEG, 5.1, 5.0, 0.1},
                {3.7, HW_FINDING_FOOT_POSTURE_INDEX, 3.0, 4.0, 9.0},
                {3.8, HW_FINDING_FIRST_STEP_PAIN_0_10, 7.5, 7.0, 2.0},
                {3.9, HW_FINDING_DORSIFLEXION_KNEE_EXTENDED_DEG, -4.9, -5.0, -9.0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        hw_findings findings = healthy_person();
        const hw_situation one = case_of(&findings, HW_SIDE_LEFT);
        hw_finding *at = &findings.feet[0].values[rows[i].id];
        const hw_risk_row *row = row_with(rows[i].ratio);
        *at = hw_finding_of_number(rows[i].no);
        assert_int_equal(hw_risk_holds(row, &one), HW_VERDICT_NO);
        *at = hw_finding_of_number(rows[i].yes);
        assert_int_equal(hw_risk_holds(row, &one), HW_VERDICT_YES);
        *at = hw_finding_of_number(rows[i].also);
        assert_int_equal(hw_risk_holds(row, &one), HW_VERDICT_YES);
        *at = hw_finding_not_asked();
        assert_int_equal(hw_risk_holds(row, &one), HW_VERDICT_UNKNOWN);
    }
}

static void test_risk__rows_cite_sources_and_say_what_is_against_them(void **state)
{
    (void)state;
    int count = 0;
    const hw_risk_row *rows = hw_risk_rows(&count);
    for (int i = 0; i < count; i++) {
        assert_non_null(hw_source_by_key(rows[i].source));
        assert_non_null(rows[i].against);
    }
    // Hansen 2018: 80.5, 50.0, 45.6, 44.0 % at 1, 5, 10, 15 years.
    const double want[] = {80.5, 50.0, 45.6, 44.0};
    const hw_history_row *history = hw_history_rows(&count);
    assert_int_equal(count, 4);
    for (int i = 0; i < count; i++) CHECK_NEAR(history[i].percent, want[i], 1e-12, "%");
    assert_non_null(strstr(hw_history_against(), "80 %"));
}

int test_clinic_risk(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_risk__is_that_of_the_papers),
        cmocka_unit_test(test_risk__holds_within_its_limits_and_never_by_silence),
        cmocka_unit_test(test_risk__rows_cite_sources_and_say_what_is_against_them),
    };
    return cmocka_run_group_tests_name("clinic risk", tests, NULL, NULL);
}
