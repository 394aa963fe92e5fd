// SPDX-License-Identifier: GPL-3.0-or-later
//
// clinic: from what was found to what may be done. Safety rules as rows with sources, doses with
// the bound that limited them, and a plan in three principles with a dated timeline.
//
//     hw_findings findings = {...};                       // record fills it from a case file
//     hw_plan plan = {0};
//     HW_TRY(hw_clinic_plan(job, &findings, into, &plan));
//     if (!plan.released) show(plan.questions, plan.question_count);
//     for (int i = 0; i < plan.option_count; i++) show_option(&plan.options[i]);
//
// It hides the rule tables, the names of medicines and conditions, the search for dates. It advises
// a licensed clinician: it does not diagnose, it does not prescribe, and it never takes "not asked"
// for "no". Findings, doses and limits stand in the units a clinician types (mg, mL, deg, mm,
// weeks).
#ifndef HW_CLINIC_CLINIC_H
#define HW_CLINIC_CLINIC_H

#include "base/base.h"
#include "caseload.h"     // IWYU pragma: export
#include "differential.h" // IWYU pragma: export
#include "dose.h"         // IWYU pragma: export
#include "findings.h"     // IWYU pragma: export
#include "follow.h"       // IWYU pragma: export
#include "harms.h"        // IWYU pragma: export
#include "names.h"        // IWYU pragma: export
#include "orders.h"       // IWYU pragma: export
#include "plan.h"         // IWYU pragma: export
#include "pools.h"        // IWYU pragma: export
#include "risk.h"         // IWYU pragma: export
#include "rules.h"        // IWYU pragma: export
#include "scores.h"       // IWYU pragma: export
#include "trials.h"       // IWYU pragma: export

#endif
