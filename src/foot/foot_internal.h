// SPDX-License-Identifier: GPL-3.0-or-later
// The parts of hw_foot_measure_surface.
#ifndef HW_FOOT_INTERNAL_H
#define HW_FOOT_INTERNAL_H

#include "foot/foot.h"

/// Sets a measure, or its reason.
void settle_measure(hw_foot_measures *out, hw_measure which, hw_maybe value, const char *why);

/// Foot length, or for a sole alone what it would be by its truncated length, m.
double working_length(const hw_landmarks *at);

/// Girths and navicular-region height.
HW_MUST_USE hw_status measure_sections(hw_job *job, const hw_mesh *surface, const hw_landmarks *at,
                                       hw_foot_measures *out);

/// Heel bisection, forefoot to rearfoot, hallux.
void measure_angles(const hw_mesh *surface, const hw_landmarks *at, hw_loading loading,
                    hw_foot_measures *out);

HW_MUST_USE hw_status measure_sole_area(hw_job *job, const hw_mesh *surface, const hw_landmarks *at,
                                        hw_foot_measures *out);

void measure_volume(const hw_mesh *surface, const hw_landmarks *at, hw_foot_measures *out);

/// Lowest heights of a surface over a grid of the support plane: fills low, cell, size and height
/// of `out`. Only what lies below 0.16 of the length counts as sole.
HW_MUST_USE hw_status sole_heights(hw_job *job, const hw_mesh *surface, double length,
                                   hw_arena *into, hw_foot_print *out);

#endif
