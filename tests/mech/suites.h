// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_TESTS_MECH_SUITES_H
#define HW_TESTS_MECH_SUITES_H

#include "mech/mech_internal.h"
#include "near.h"

int run_balance_tests(void);
int run_limit_tests(void);
int run_still_tests(void);
int run_stance_tests(void);
int run_assess_tests(void);
int run_what_if_tests(void);
int run_random_tests(void);
int run_coverage_tests(void);
int run_cause_tests(void);

/// The foot of the reference runs: 75 kg, 255 mm, nothing else known.
static inline hw_mech_subject plain_subject(void)
{
    hw_mech_subject subject = {.mass_kg = 75.0, .loading = HW_LOADING_HANGING};
    subject.measures.foot_length_m = hw_known(0.255);
    return subject;
}

#endif
