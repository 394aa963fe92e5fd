// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_TESTS_STORE_SUITES_H
#define HW_TESTS_STORE_SUITES_H

#include "place.h"

/// The state, or out by name where PostgreSQL is missing.
static inline hw_place *hw_place_of(void **state)
{
    if (!*state) skip();
    return *state;
}

#define BOTH(test)                                                                                 \
    cmocka_unit_test_setup_teardown(test, hw_place_set_up, hw_place_tear_down),                    \
    {                                                                                              \
#test "__on_a_server", test, hw_place_set_up_server, hw_place_tear_down, NULL              \
    }

int hw_test_records(void);
int hw_test_jobs(void);
int hw_test_guests(void);
int hw_test_keep(void);
int hw_test_tamper(void);
int hw_test_clear(void);
int hw_test_kill(void);
int hw_test_replay(void);

#endif
