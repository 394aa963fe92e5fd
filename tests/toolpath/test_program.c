// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "solids.h"
#include "suites.h"
#include "toolpath/toolpath.h"

int run_program_tests(void)
{
    return 0;
}
