// SPDX-License-Identifier: GPL-3.0-or-later
// The suites of test_httpd; each returns how many of its tests failed.
#ifndef HW_TESTS_HTTPD_SUITES_H
#define HW_TESTS_HTTPD_SUITES_H

int run_parse_tests(void);
int run_server_tests(void);
int run_stream_tests(void);

#endif
