// SPDX-License-Identifier: GPL-3.0-or-later
// The suites of test_orthosis; each returns how many of its tests failed.
#ifndef HW_TESTS_ORTHOSIS_SUITES_H
#define HW_TESTS_ORTHOSIS_SUITES_H

int run_shape_tests(void); // form, edges, noise, holes, a real scan

#endif
