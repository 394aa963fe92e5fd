// SPDX-License-Identifier: GPL-3.0-or-later
// The suites of test_meshfile; each returns how many of its tests failed.
#ifndef HW_TESTS_MESHFILE_SUITES_H
#define HW_TESTS_MESHFILE_SUITES_H

int run_read_tests(void);
int run_read_oracle_tests(void); // against an independent reader and the shared files
int run_read_3mf_tests(void);
int run_colour_tests(void);
int run_write_tests(void);
int run_write_ply_tests(void);    // with libassimp as oracle
int run_write_oracle_tests(void); // against admesh, unzip and xmllint with the 3MF schema

#endif
