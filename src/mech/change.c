// SPDX-License-Identifier: GPL-3.0-or-later
// Treatments, and what each tissue set sees of one that is unsure of itself.
#include "mech_internal.h"

hw_mech_change hw_mech_change_none(const char *name)
{
    return (hw_mech_change){
        .name = name,
        .shell_N_per_m = 30e3,
        .tape_hold = 1.0,
        .mass_factor = 1.0,
        .toe_factor = 1.0,
        .speed_factor = 1.0,
    };
}

static const double toe_factor_least = 0.2; // as hw_mech_change says

// Even over the members, and evenly mixed with their other errors: multiples of an irrational number.
static double unsure(int member, double irrational, double spread)
{
    double place = 0.5 + (member + 1) * irrational;
    return spread * (2.0 * (place - floor(place)) - 1.0);
}

hw_mech_change hw_mech_change_of(const hw_mech_change *change, int member)
{
    hw_mech_change mine = *change;
    mine.calf_gain_rad += unsure(member, sqrt(2.0), change->calf_gain_spread_rad);
    mine.arch_fill_m += unsure(member, sqrt(3.0), change->arch_fill_spread_m);
    mine.shell_N_per_m *= 1.0 + unsure(member, sqrt(5.0), change->shell_spread);
    mine.tape_hold = fmax(0.0, change->tape_hold + unsure(member, sqrt(7.0), change->tape_spread));
    const double toes = change->toe_factor + unsure(member, sqrt(11.0), change->toe_spread);
    mine.toe_factor = fmin(1.0, fmax(toe_factor_least, toes));
    return mine;
}
