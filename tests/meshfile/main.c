// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

int main(void)
{
    int failed = run_read_tests();
    failed += run_read_oracle_tests();
    failed += run_read_3mf_tests();
    failed += run_colour_tests();
    failed += run_write_tests();
    failed += run_write_ply_tests();
    failed += run_write_oracle_tests();
    return failed;
}
