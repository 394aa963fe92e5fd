// SPDX-License-Identifier: GPL-3.0-or-later
#include "mech.h"

hw_mech_change hw_mech_change_none(const char *name)
{
    return (hw_mech_change){
        .name = name,
        .shell_N_per_m = 30e3,
        .mass_factor = 1.0,
        .toe_factor = 1.0,
    };
}
