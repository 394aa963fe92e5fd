// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of app.
#ifndef HW_APP_INTERNAL_H
#define HW_APP_INTERNAL_H

#include "app/app.h"

/// What wearing this device is to the foot model.
///
///   press   its stiffness, where it was computed; NULL: the model's own
hw_mech_change app_change_of(const char *name, const hw_orthosis_order *order,
                             const hw_press *press);

/// Whose load is computed: this foot, walking as it was recorded where it was.
///
///   fails   as hw_visit_subject; HW_BAD_INPUT where the recording could not be read (foot->load_why)
HW_MUST_USE hw_status app_subject(hw_job *job, const hw_visit *visit, hw_side side,
                                  const hw_report_foot *foot, hw_mech_subject *out);

/// Between nothing and the least that can be ordered of a term, the nearer of the two; else the value itself.
double app_orderable(hw_order_term term, double value);

/// ask->evaluations random designs of the search's box, tried as the search tries its own: to judge
/// its trade-off by.
///
///   out      as many designs
HW_MUST_USE hw_status app_search_random(hw_job *job, const hw_visit *visit,
                                        const hw_report_foot *foot, const hw_search_ask *ask,
                                        uint64_t seed, hw_arena *into, hw_search_design *out);

#endif
