// SPDX-License-Identifier: GPL-3.0-or-later
//
// stats: trials pooled, pain followed, caseloads described. It owns the library Rmath.
//
//     hw_trial_effect effects[13] = {...};
//     hw_pooled pooled = {0};
//     HW_TRY(hw_pool(job, effects, 13, HW_POOL_REML, into, &pooled));
//     printf("%.2f (%.2f to %.2f)", pooled.mean, pooled.low, pooled.high);
//
// Plain numbers in, plain numbers out: it knows no treatments, no people, no units. Intervals are
// two-sided 95 % unless a name says otherwise. Check values: tests/stats names their sources.
#ifndef HW_STATS_H
#define HW_STATS_H

#include "counts.h"   // IWYU pragma: export
#include "fit.h"      // IWYU pragma: export
#include "funnel.h"   // IWYU pragma: export
#include "growth.h"   // IWYU pragma: export
#include "hazard.h"   // IWYU pragma: export
#include "mixed.h"    // IWYU pragma: export
#include "moderate.h" // IWYU pragma: export
#include "pool.h"     // IWYU pragma: export
#include "quality.h"  // IWYU pragma: export
#include "surface.h"  // IWYU pragma: export
#include "survival.h" // IWYU pragma: export
#include "two.h"      // IWYU pragma: export

#endif
