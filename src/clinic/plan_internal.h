// SPDX-License-Identifier: GPL-3.0-or-later
// What the two files of the plan share.
#ifndef HW_CLINIC_PLAN_INTERNAL_H
#define HW_CLINIC_PLAN_INTERNAL_H

#include "clinic.h"
#include "readings.h"

typedef struct plan_maker {
    hw_job *job;
    hw_arena *into;
    const hw_findings *findings;
    hw_plan *plan;
    hw_option *options;           // of the plan, still growing
    hw_questions blocking, other; // before and beside the release
} plan_maker;

/// Dates what is available, from the plan's options.
HW_MUST_USE hw_status plan_timeline(plan_maker *make);

#endif
