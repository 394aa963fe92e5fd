// SPDX-License-Identifier: GPL-3.0-or-later
// Whether the device goes into the shoe. Included by orthosis.h.
#ifndef HW_ORTHOSIS_FIT_H
#define HW_ORTHOSIS_FIT_H

#include "order.h"

typedef enum hw_shoe_fit {
    HW_SHOE_FIT_TOE_ROOM = 0, // the foot's length against the shoe's inner length
    HW_SHOE_FIT_LENGTH,       // the device's, where it goes under the toes
    HW_SHOE_FIT_BALL_WIDTH,
    HW_SHOE_FIT_HEEL_WIDTH,
    HW_SHOE_FIT_HEEL_STACK, // what lies under the heel, cover included
    HW_SHOE_FITS,
} hw_shoe_fit;

typedef struct hw_shoe_fit_row {
    const char *name;
    double value, limit; // m
    bool is_known;       // the shoe's size, or a rule, says the limit
    bool is_over;
    const char *source;
} hw_shoe_fit_row;

/// What the shoe takes under the heel, m: 8 mm a laced one, 4 a dress shoe (common practice).
double hw_orthosis_stack_limit(const hw_orthosis_order *order);

#endif
