// SPDX-License-Identifier: GPL-3.0-or-later
#include "norms.h"

#include "norms_table.h"

enum {
    SHARES = sizeof norm_shares / sizeof *norm_shares,
    ROWS = sizeof norm_rows / sizeof *norm_rows
};

hw_maybe hw_foot_percentile(const hw_foot_measures *measures, hw_measure which, int group)
{
    hw_maybe value = hw_foot_measure_of(measures, which);
    const double *at = NULL;
    for (int i = 0; i < ROWS; i++)
        if (norm_rows[i].which == which) at = norm_rows[i].at[group];
    if (!at || !value.known) return (hw_maybe){0};
    if (value.value < at[0]) return hw_known(0.0);
    for (int k = 1; k < SHARES; k++) {
        if (value.value > at[k]) continue;
        double part = (value.value - at[k - 1]) / (at[k] - at[k - 1]);
        return hw_known(norm_shares[k - 1] + part * (norm_shares[k] - norm_shares[k - 1]));
    }
    return hw_known(100.0);
}

const char *hw_foot_norm_population(void)
{
    return "ANSUR II: US Army, 4082 men and 1986 women, 2010-2012, right foot, standing, by hand; "
           "a "
           "hanging foot is some millimetres shorter and narrower than the same foot standing.";
}
