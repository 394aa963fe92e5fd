// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

int main(void)
{
    int failed = run_balance_tests();
    failed += run_limit_tests() + run_still_tests();
    failed += run_stance_tests();
    failed += run_what_if_tests() + run_random_tests() + run_coverage_tests() + run_cause_tests();
    return failed + run_assess_tests();
}
