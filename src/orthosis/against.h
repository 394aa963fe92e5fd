// SPDX-License-Identifier: GPL-3.0-or-later
// A device laid on the one before it. Included by orthosis.h.
#ifndef HW_ORTHOSIS_AGAINST_H
#define HW_ORTHOSIS_AGAINST_H

#include "geom/geom.h"

/// A third of the device's length: of a shell that ends behind the heads, heel, arch and forefoot.
typedef struct hw_against_part {
    int compared; // places; with none the rest says nothing
    double mean;  // m, signed
    double most;  // m, signed: the gap that is greatest in size
} hw_against_part;

enum { HW_AGAINST_PARTS = 3 };

/// "heel", "arch", "forefoot".
const char *hw_against_part_word(int part);

/// How far a device's top stands over (+) or under (-) an earlier device's.
typedef struct hw_orthosis_against {
    int count;          // places of the top, of which
    int compared;       // so many lie over the earlier one's top; the rest is beyond its edge
    float *gaps;        // m, a place each; NAN beyond the edge
    double mean;        // m, signed
    double mean_size;   // m, without sign
    double within_1;    // share of them closer than 1 mm
    double most_higher; // m, >= 0
    double most_lower;  // m, >= 0
    hw_vec3 where;      // foot frame, as a left foot's: the place that differs most
    hw_against_part part[HW_AGAINST_PARTS]; // from the heel on
} hw_orthosis_against;

#endif
