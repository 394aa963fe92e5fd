// SPDX-License-Identifier: GPL-3.0-or-later
// What a search for a better device found. Filled by app, written by report. Included by report.h.
#ifndef HW_REPORT_SEARCH_H
#define HW_REPORT_SEARCH_H

#include "record/record.h"

enum {
    HW_SEARCH_TERMS = 6,    // that are varied, at most
    HW_SEARCH_FRONT = 24,   // designs of the trade-off, at most
    HW_SEARCH_EVERY = 1000, // designs looked at, at most
};

/// What a design must keep. The pressure under the arch is no limit: it is what relief is paid
/// with.
typedef enum hw_search_limit {
    HW_SEARCH_ARCH_MEAN = 0, // Pa, the high end of its range
    HW_SEARCH_HEEL_PEAK,     // Pa, the low ends of theirs
    HW_SEARCH_LATERAL_PEAK,
    HW_SEARCH_EDGE_PEAK,
    HW_SEARCH_STRESS, // Pa: half of what the material yields at
    HW_SEARCH_STACK,  // m under the heel, cover included
    HW_SEARCH_LIMITS,
} hw_search_limit;

/// In words, for screen and sheet: "mean pressure under the arch".
const char *hw_search_limit_word(hw_search_limit limit);

/// One design as solved: in a hurry for the search, finally for the front.
typedef struct hw_search_numbers {
    hw_band relief;                // change of the fascia's mid-stance load, negative is less
    double arch_peak_Pa;           // greatest mean over 1 cm2 under the medial arch
    double held[HW_SEARCH_LIMITS]; // what the limits hold
    double shell_N_per_m;
} hw_search_numbers;

typedef enum hw_search_state {
    HW_SEARCH_NOT_MADE = 0, // why: the shell cannot be made or solved
    HW_SEARCH_OVER,         // over a limit: why
    HW_SEARCH_POSSIBLE,
    HW_SEARCH_CONFIRMED, // and the final solve says so too
    HW_SEARCH_DROPPED,   // the final solve does not: why
} hw_search_state;

typedef struct hw_search_design {
    double value[HW_SEARCH_TERMS]; // of the varied terms, m or rad
    hw_search_state state;
    const char *why;           // in `into` or static
    hw_search_numbers preview; // where it was made
    bool is_final;             // and solved finally: the numbers to show are these
    hw_search_numbers final;
    const char *binds; // which limit or end of range stops it; "" none
} hw_search_design;

typedef struct hw_search {
    hw_order_term terms[HW_SEARCH_TERMS];
    double low[HW_SEARCH_TERMS], high[HW_SEARCH_TERMS]; // between which they were varied
    int term_count;
    double limits[HW_SEARCH_LIMITS];         // infinite: no such limit is known
    hw_search_design now;                    // the order as it stands
    hw_search_design front[HW_SEARCH_FRONT]; // by pressure, the gentlest first
    int front_count, confirmed_count;
    int looked_at, possible; // designs solved, and within the limits
    double volume;           // of the trade-off the previews span: hw_search_volume
    double final_bias;       // mean of final over preview arch pressure, less one
} hw_search;

#endif
