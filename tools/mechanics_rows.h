// SPDX-License-Identifier: GPL-3.0-or-later
// The published results that the foot model is calibrated on and judged by, each as one number that
// a tissue set gives. Used by tools/mechanics.c only.
#ifndef HW_TOOLS_MECHANICS_ROWS_H
#define HW_TOOLS_MECHANICS_ROWS_H

#include "mech/mech.h"

/// The split was written down on 2026-11-25, before the rows H were run on the new ensemble.
typedef enum row_use {
    ROW_FIT = 'F',    // weights the draws
    ROW_SELECT = 'S', // may choose between variants of the model
    ROW_HELD = 'H',   // looked at once, printed whatever it shows
    ROW_QUOTE = 'Q',  // no number to hold it against
} row_use;

/// One tissue set under test, with its walk today.
typedef struct row_probe {
    hw_job *job;
    hw_mech_subject subject; // 75 kg, 255 mm
    hw_mech_tissue tissue;
    hw_mech_run walk;
} row_probe;

typedef struct published_row {
    const char *id, *what, *published, *unit;
    row_use use;
    double target, spread; // F: normal likelihood
    double low, high;      // the median must lie within
    bool (*value)(row_probe *probe, double *out);
} published_row;

const published_row *published_rows(int *count);

#endif
