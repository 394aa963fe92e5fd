// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

int main(void)
{
    return run_drop_tests() + run_program_tests() + run_reader_tests();
}
