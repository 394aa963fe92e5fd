// SPDX-License-Identifier: GPL-3.0-or-later
// What can go wrong with a treatment and how often, as far as anybody has counted. A row without a
// count says so: "not counted" is not "rare".
#ifndef HW_CLINIC_HARMS_H
#define HW_CLINIC_HARMS_H

#include "findings.h"

typedef struct hw_harm {
    hw_acts acts;
    const char *what;
    const char *how_often; // as counted, people of people; NULL: no count found
    const char *source;    // key: of the count, or of the harm where there is none
} hw_harm;

/// By act, the gravest first. Counts that disagree stand side by side.
const hw_harm *hw_harm_rows(int *count);

#endif
