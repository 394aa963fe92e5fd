// SPDX-License-Identifier: GPL-3.0-or-later
// The law of soft ground: nothing, then exponential, then straight on.
#include "fem_internal.h"

static const double straight_from = 0.75; // strain; beyond, bone is near and the law unknown

double hw_fem_bed_pressure(const hw_fem_bed *bed, double strain, double *slope)
{
    double pressure = 0.0, rise = 0.0;
    if (strain > 0.0 && bed->exponent <= 0.0) {
        rise = bed->modulus;
        pressure = rise * strain;
    } else if (strain > 0.0) {
        double curved = fmin(strain, straight_from);
        rise = bed->modulus * exp(bed->exponent * curved);
        pressure = (rise - bed->modulus) / bed->exponent + rise * (strain - curved);
    }
    if (slope) *slope = rise;
    return pressure;
}
