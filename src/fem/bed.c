// SPDX-License-Identifier: GPL-3.0-or-later
// The law of soft ground: nothing, then exponential, then straight on.
#include "fem_internal.h"

static const double straight_from = 0.75; // strain; beyond, bone is near and the law unknown

double bed_pressure(const hw_fem_bed *bed, double strain, double *slope)
{
    *slope = 0.0;
    if (strain <= 0.0) return 0.0;
    *slope = bed->modulus;
    if (bed->exponent <= 0.0) return bed->modulus * strain;
    double curved = fmin(strain, straight_from);
    *slope = bed->modulus * exp(bed->exponent * curved);
    return (*slope - bed->modulus) / bed->exponent + *slope * (strain - curved);
}
