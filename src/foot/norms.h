// SPDX-License-Identifier: GPL-3.0-or-later
// How a measure compares with a measured population. Part of foot.h.
#ifndef HW_FOOT_NORMS_H
#define HW_FOOT_NORMS_H

#include "measures.h"

enum { HW_NORM_MEN = 0, HW_NORM_WOMEN, HW_NORM_GROUPS };

/// Percentile of a measure, 0..100, among the men or women of ANSUR II: 4082 men and 1986 women of
/// the US Army, measured 2010-2012 by hand, right foot, standing. Below the 1st it is 0, beyond the
/// 99th 100. Unknown for an unknown measure and for one that was not measured there.
///
///   source   tools/foot_norms.py over the public ANSUR II files (public domain)
hw_maybe hw_foot_percentile(const hw_foot_measures *measures, hw_measure which, int group);

/// One sentence on the population, for the foot of a table.
const char *hw_foot_norm_population(void);

#endif
