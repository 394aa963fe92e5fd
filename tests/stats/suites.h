// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_TESTS_STATS_SUITES_H
#define HW_TESTS_STATS_SUITES_H

#include "near.h"
#include "stats/stats.h"

int run_pool_tests(void);
int run_simple_tests(void);
int run_course_tests(void);
int run_surface_tests(void);
int run_fit_tests(void);
int run_moderate_tests(void);

#endif
