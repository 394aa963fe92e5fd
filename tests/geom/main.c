// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

int main(void)
{
    int failed = run_mesh_tests();
    failed += run_cloud_tests();
    failed += run_crossing_tests();
    return failed + run_near_tests();
}
