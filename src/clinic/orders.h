// SPDX-License-Identifier: GPL-3.0-or-later
// What is ordered, worked out: the arithmetic with its formula and source, and all that is wrong
// with it. A course of shockwave is also held against what was really given.
#ifndef HW_CLINIC_ORDERS_H
#define HW_CLINIC_ORDERS_H

#include "dose.h"

enum { HW_ORDER_LINES = 12 };

/// One worked number. Low and high are the same where there is no band.
typedef struct hw_order_line {
    const char *name;
    double value, low, high;
    const char *unit;    // as written
    const char *formula; // static
    const char *source;  // key
} hw_order_line;

typedef struct hw_order_sheet {
    const hw_order *order;
    hw_order_line lines[HW_ORDER_LINES];
    int line_count;
    const char *bound; // of a local anaesthetic: which limit bound it; else NULL
    hw_faults faults;  // what is wrong with the order, or of the sessions given against it
    int given;         // sessions of it on record
} hw_order_sheet;

/// An order as if it were done on that day, for the totals of a day.
hw_past_act hw_order_as_done(const hw_order *order, hw_date date);

/// Works out one order.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_work_out(hw_job *job, const hw_findings *findings, const hw_order *order,
                                  hw_arena *into, hw_order_sheet *out);

/// The class of an energy as one table names it; that table has no name between 0.28 and 0.6.
///
///   source  shockwave variables table (facts 5.1)
const char *hw_energy_class(double energy_mJ_per_mm2);

/// What two spins recover of the platelets, with their spread (facts 7.5, prp-optimisation-2013).
hw_prp hw_prp_band(double count_1e9_per_L, double blood_mL, double plasma_mL, double sd_from_mean);

#endif
