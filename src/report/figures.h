// SPDX-License-Identifier: GPL-3.0-or-later
// The exercises and aids as drawings, of our own making: vectors in greys, no words. Internal to
// report.
#ifndef HW_REPORT_FIGURES_H
#define HW_REPORT_FIGURES_H

#include "pdf/pdf.h"

typedef enum figure_kind {
    FIGURE_NONE = 0,
    FIGURE_FASCIA_STRETCH,    // seated, leg crossed, toes pulled back
    FIGURE_CALF_STRETCH,      // standing at a wall, rear knee straight
    FIGURE_CALF_STRETCH_BENT, // the same, rear knee bent
    FIGURE_HEEL_RAISE,        // one leg on a step, towel under the toes
    FIGURE_SHORT_FOOT,        // the ball drawn towards the heel, toes long
    FIGURE_TAPE,              // strips under the arch and round the heel
    FIGURE_INSOLE,            // in the shoe, under the arch
    FIGURE_COUNT,
} figure_kind;

/// Height of a figure drawn `width` wide.
#define FIGURE_ASPECT 0.76

/// What it shows, for who cannot see it. NULL for FIGURE_NONE.
const char *figure_words(figure_kind which);

/// Draws it with its upper left corner at {x, y}; tagged as a figure.
void figure_draw(hw_pdf *pdf, figure_kind which, double x, double y, double width);

#endif
