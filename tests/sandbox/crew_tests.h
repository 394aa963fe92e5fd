// SPDX-License-Identifier: GPL-3.0-or-later
// Tests of crew.c, run by test_sandbox.c.
#ifndef HW_TESTS_CREW_TESTS_H
#define HW_TESTS_CREW_TESTS_H

void test_crew__answers_come_in_order_and_a_crash_costs_its_piece(void **state);
void test_crew__it_stops_when_asked_and_when_the_taker_fails(void **state);

#endif
