// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_TESTS_FOOT_SUITES_H
#define HW_TESTS_FOOT_SUITES_H

#include "near.h"

#include "foot/foot.h"

int run_foot_tests(void);
int run_measure_tests(void);
int run_print_tests(void);

/// A box [0, size.x] x [-size.y/2, size.y/2] x [0, size.z] with `cuts` squares along each edge.
hw_mesh box_mesh(hw_arena *into, hw_vec3 size, int cuts);

/// Landmarks of a foot that fills such a box.
hw_landmarks box_landmarks(hw_vec3 size);

#endif
