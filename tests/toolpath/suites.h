// SPDX-License-Identifier: GPL-3.0-or-later
// The suites of test_toolpath; each returns how many of its tests failed.
#ifndef HW_TESTS_TOOLPATH_SUITES_H
#define HW_TESTS_TOOLPATH_SUITES_H

int run_drop_tests(void);
int run_program_tests(void);
int run_reader_tests(void);

#endif
