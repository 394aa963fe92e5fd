// SPDX-License-Identifier: GPL-3.0-or-later
// Tests of this folder's other files, run by test_app.c.
#ifndef HW_TESTS_APP_TESTS_H
#define HW_TESTS_APP_TESTS_H

void test_csv__a_formula_is_a_text(void **state);
void test_csv__the_dictionary_is_in_order(void **state);

void test_books__what_a_heel_began_with_goes_by_the_day(void **state);
void test_books__who_was_never_rated_is_called_too(void **state);
void test_books__the_export_without_people_has_an_order_of_its_own(void **state);

#endif
