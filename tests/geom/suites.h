// SPDX-License-Identifier: GPL-3.0-or-later
// The suites of test_geom; each returns how many of its tests failed.
#ifndef HW_TESTS_GEOM_SUITES_H
#define HW_TESTS_GEOM_SUITES_H

int run_mesh_tests(void);
int run_near_tests(void);
int run_cloud_tests(void);
int run_crossing_tests(void);

#endif
