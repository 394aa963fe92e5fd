// SPDX-License-Identifier: GPL-3.0-or-later
// What the suites of test_orthosis share. Each suite returns how many of its tests failed.
#ifndef HW_TESTS_ORTHOSIS_SUITES_H
#define HW_TESTS_ORTHOSIS_SUITES_H

#include "near.h"
#include "orthosis/orthosis.h"

/// The default order with nothing corrected: no fill, no expansion, no post.
hw_orthosis_order plain_order(const hw_foot *foot);

/// A device that must come about.
hw_orthosis built(hw_test_room *room, const hw_foot *foot, const hw_orthosis_order *order);

int run_emboss_tests(void);       // side and code on the underside
int run_press_tests(void);        // under the foot's weight
int run_shape_tests(void);        // form, edges, noise, holes, a real scan
int run_prescription_tests(void); // seeded, measured back from files

#endif
