// SPDX-License-Identifier: GPL-3.0-or-later
// Tests of this folder's other files, run by test_report.c.
#ifndef HW_TESTS_REPORT_TESTS_H
#define HW_TESTS_REPORT_TESTS_H

void test_plain_words__every_offered_act_has_words_and_its_own_numbers(void **state);
void test_plain_words__no_sign_is_less_urgent_than_its_red_flag(void **state);
void test_plain_words__dates_bear_their_weekday(void **state);
void test_figures__each_says_in_words_what_it_shows(void **state);
void test_figures__one_person_of_fixed_bones_takes_every_pose(void **state);

#endif
