// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

int main(void)
{
    int failed = run_pool_tests();
    failed += run_surface_tests() + run_moderate_tests();
    failed += run_simple_tests() + run_fit_tests();
    return failed + run_course_tests();
}
