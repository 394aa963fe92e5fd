// SPDX-License-Identifier: GPL-3.0-or-later
// Lines and groups against NIST's certified values (StRD; shared/data/statistics), to the digits double
// arithmetic can give: SmLs07's values differ in their 13th digit only, so rounded to doubles they are
// another set. Its sums in exact arithmetic (Python's fractions, of the same doubles) lie 1e-4 from the
// certified ones: ours are held to both.
#include "suites.h"

#include <stdio.h>
#include <string.h>

enum { MOST = 400 };

// Columns of numbers from line 61 on: as all these files are laid out. Gives how many rows.
static int read_columns(const char *name, double *first, double *second)
{
    const char *folder = hw_test_data();
    char path[600], line[400];
    int rows = 0;
    if (!folder) skip();
    snprintf(path, sizeof path, "%s/statistics/%s", folder, name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    for (int i = 1; fgets(line, sizeof line, file); i++)
        if (i > 60 && rows < MOST && sscanf(line, "%lf %lf", &first[rows], &second[rows]) == 2)
            rows++;
    fclose(file);
    return rows;
}

static void test_one_way__nist_certified(void **state)
{
    (void)state;
    static const struct {
        const char *file;
        double between, within, f, r2, sd, within_of; // last: relative tolerance
    } rows[] = {
        {"nist_SiRstv.dat", 5.11462616e-2, 2.1663656e-1, 1.18046237440255, 1.90999039051129e-1,
         1.04076068334656e-1, 1e-12},
        {"nist_AtmWtAg.dat", 3.63834187500000e-9, 1.04951729166667e-08, 15.9467335677930,
         2.57426544538321e-1, 1.51048314446410e-5, 1e-8},
        {"nist_SmLs01.dat", 1.68, 1.80, 21.0, 4.82758620689655e-1, 0.1, 1e-13},
        {"nist_SmLs07.dat", 1.68, 1.80, 21.0, 4.82758620689655e-1, 0.1, 1e-4},
        {"nist_SmLs07.dat", 1.6801562694014696, 1.8000978373345875, 21.00081188781877,
         0.4827682743479894, 0.10000271766680997, 1e-12},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double group_words[MOST], values[MOST];
        int groups[MOST], most = 0;
        const int count = read_columns(rows[i].file, group_words, values);
        for (int k = 0; k < count; k++) {
            groups[k] = (int)group_words[k] - 1;
            if (groups[k] > most) most = groups[k];
        }
        hw_test_room room = hw_test_open();
        hw_one_way got = {0};
        CHECK_OK(&room.job, hw_one_way_of(&room.job, values, groups, count, most + 1, &got));
        const double t = rows[i].within_of;
        CHECK_NEAR(got.between_squares, rows[i].between, t * rows[i].between, "");
        CHECK_NEAR(got.within_squares, rows[i].within, t * rows[i].within, "");
        CHECK_NEAR(got.f, rows[i].f, t * rows[i].f, "");
        CHECK_NEAR(got.r2, rows[i].r2, t * rows[i].r2, "");
        CHECK_NEAR(got.residual_sd, rows[i].sd, t * rows[i].sd, "");
        hw_test_close(&room);
    }
}

static void test_line__nist_norris(void **state)
{
    (void)state;
    double x[MOST], y[MOST];
    const int count = read_columns("nist_Norris.dat", y, x); // y stands first
    hw_test_room room = hw_test_open();
    hw_line_fit got = {0};
    CHECK_OK(&room.job, hw_fit_line(&room.job, x, y, NULL, count, &got));
    CHECK_NEAR(got.start, -0.262323073774029, 1e-12, "");
    CHECK_NEAR(got.slope, 1.00211681802045, 1e-14, "");
    CHECK_NEAR(got.start_se, 0.232818234301152, 1e-12, "");
    CHECK_NEAR(got.slope_se, 0.429796848199937e-3, 1e-15, "");
    CHECK_NEAR(got.residual_sd, 0.884796396144373, 1e-12, "");
    CHECK_NEAR(got.r2, 0.999993745883712, 1e-14, "");
    hw_test_close(&room);
}

// Anscombe's first set: 3.000091 (1.124747), 0.500091 (0.117906) (facts/standards.md 10.4).
static void test_line__anscombe_and_bad_input(void **state)
{
    (void)state;
    static const double x[11] = {10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5};
    static const double y[11] = {8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68};
    hw_test_room room = hw_test_open();
    hw_line_fit got = {0};
    hw_one_way groups = {0};
    CHECK_OK(&room.job, hw_fit_line(&room.job, x, y, NULL, 11, &got));
    CHECK_NEAR(got.start, 3.000091, 5e-7, "");
    CHECK_NEAR(got.start_se, 1.124747, 5e-7, "");
    CHECK_NEAR(got.slope, 0.500091, 5e-7, "");
    CHECK_NEAR(got.slope_se, 0.117906, 5e-7, "");
    CHECK_NEAR(sqrt(got.r2), 0.816421, 5e-7, "");
    static const double same[3] = {1, 1, 1};
    static const int two[3] = {0, 0, 1};
    CHECK_FAILS(&room.job, hw_fit_line(&room.job, same, y, NULL, 3, &got), HW_BAD_INPUT, "same");
    CHECK_FAILS(&room.job, hw_fit_line(&room.job, x, y, NULL, 2, &got), HW_BAD_INPUT, "three");
    CHECK_FAILS(&room.job, hw_one_way_of(&room.job, y, two, 2, 2, &groups), HW_BAD_INPUT,
                "compared");
    CHECK_FAILS(&room.job, hw_one_way_of(&room.job, y, two, 3, 3, &groups), HW_BAD_INPUT,
                "compared");
    hw_test_close(&room);
}

int run_fit_tests(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_way__nist_certified),
        cmocka_unit_test(test_line__nist_norris),
        cmocka_unit_test(test_line__anscombe_and_bad_input),
    };
    return cmocka_run_group_tests_name("stats fit", tests, NULL, NULL);
}
