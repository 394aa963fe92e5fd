// SPDX-License-Identifier: GPL-3.0-or-later
// Whether small trials tell another story than large ones.
#ifndef HW_STATS_FUNNEL_H
#define HW_STATS_FUNNEL_H

#include "moderate.h"

/// Three looks at one funnel. They differ in what they take for chance, so none is the verdict
/// alone.
typedef struct hw_funnel {
    double t, p; // Egger: weighted line of effect on its standard error, by Student's t
    // The same line with a spread between trials of its own (REML), by the normal distribution.
    bool has_mixed; // false: its variance between trials does not settle
    double mixed_z, mixed_p;
    double tau, tau_p; // Begg: rank correlation of standardised effects with variances
    bool tau_is_exact; // no ties and fewer than 50 trials; else by the normal distribution
} hw_funnel;

/// Asymmetry of the funnel. Below ten trials nothing is said.
///
///   fails   HW_BAD_INPUT fewer than 10 trials, or all with the same standard error
///   source  Egger 1997; Sterne and Egger 2005 (mixed form); Begg and Mazumdar 1994; Kendall's
///           distribution by counting (all from memory)
HW_MUST_USE hw_status hw_pool_asymmetry(hw_job *job, const hw_trial_effect *effects, int count,
                                        hw_funnel *out);

#endif
