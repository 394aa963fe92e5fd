// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/app_internal.h"

#include <math.h>

// The shell's stiffness is the computed one where the device was pressed and its arch gave. A heel cup
// bears no arch; what it still does is its raise.
hw_mech_change app_change_of(const char *name, const hw_orthosis_order *order,
                             const hw_press *press)
{
    hw_mech_change change = hw_mech_change_none(name);
    bool goes_on = order->length == HW_ORTHOSIS_SULCUS || order->length == HW_ORTHOSIS_FULL;
    change.has_orthosis = order->length != HW_ORTHOSIS_HEEL_CUP;
    change.orthosis_reaches_heads = goes_on && hw_shell_row_of(order->material)->is_soft;
    if (press && press->shell_N_per_m > 0.0) // within what the model takes
        change.shell_N_per_m = fmin(1e6, fmax(1e3, press->shell_N_per_m));
    change.arch_fill_m = -order->arch_fill_m; // fill lowers the arch
    change.arch_fill_spread_m = 0.001;
    change.shell_spread = 0.3;
    change.heel_raise_m = order->heel_raise_m;
    // Valgus lifts the lateral heads; a device that ends behind them has nothing under them to lift by.
    if (goes_on) change.forefoot_wedge_rad = -order->forefoot_post_rad;
    change.has_idle_post = !goes_on && fabs(order->forefoot_post_rad) > 0.0;
    return change;
}
