// SPDX-License-Identifier: GPL-3.0-or-later
// A number with its derivatives: forward differentiation, so that the Newton step has the exact
// Jacobian and every force law is written once. Checked against differences in tests/mech.
#ifndef HW_MECH_DUAL_H
#define HW_MECH_DUAL_H

#include <math.h>

/// What one ray can feel: heel height, pitch, roll, its own flattening.
/// Named members, not an array: the compiler then keeps them in registers (four times as fast).
typedef struct dual {
    double v;
    double by_z, by_pitch, by_roll, by_flattening;
} dual;

/// A place in a ray's plane, an arm or a length: what turning hindfoot and ray make of it.
typedef struct bend {
    double v, by_pitch, by_flattening;
} bend;

static inline dual dual_constant(double v)
{
    return (dual){.v = v};
}
/// A function of one number: its value and its slope at `a`.
static inline dual dual_chain(dual a, double value, double slope)
{
    return (dual){value, slope * a.by_z, slope * a.by_pitch, slope * a.by_roll,
                  slope * a.by_flattening};
}
/// fa * a + fb * b.
static inline dual dual_mix(dual a, double fa, dual b, double fb)
{
    return (dual){fa * a.v + fb * b.v, fa * a.by_z + fb * b.by_z, fa * a.by_pitch + fb * b.by_pitch,
                  fa * a.by_roll + fb * b.by_roll, fa * a.by_flattening + fb * b.by_flattening};
}
static inline dual dual_scale(dual a, double factor)
{
    return dual_chain(a, factor * a.v, factor);
}
#endif
