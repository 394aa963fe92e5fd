// SPDX-License-Identifier: GPL-3.0-or-later
// The suites of test_scan and what they share.
#ifndef HW_TESTS_SCAN_SUITES_H
#define HW_TESTS_SCAN_SUITES_H

#include "near.h"
#include "scan/scan.h"

int run_invented_tests(void); // feet with known truth, made by `demo`
int run_refusal_tests(void);
int run_shared_tests(void); // real and modelled feet of the shared data
int run_perturbed_tests(void);
int run_state_tests(void);
int run_compare_tests(void);
int run_by_hand_tests(void);
int run_fit_tests(void);

/// A mesh of the shared feet; only where hw_test_data() is there.
hw_mesh read_shared(hw_test_room *room, const char *file);

/// The mesh somewhere else: a random rotation, shift and scale, all from the stream.
hw_mesh elsewhere(hw_arena *into, const hw_mesh *mesh, hw_random *random, double scale);

/// Two meshes as one, the second of them shifted by `by`.
hw_mesh both(hw_test_room *room, const hw_mesh *one, const hw_mesh *other, hw_vec3 by);

/// A sheet of squares of 8 mm about the foot at a height, m; with a hole of a foot's size in it.
hw_mesh sheet_at(hw_test_room *room, double z, bool has_hole);

#endif
