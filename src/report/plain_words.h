// SPDX-License-Identifier: GPL-3.0-or-later
// What the treatments and warning signs are called to the person who has the pain. Internal to
// report.
#ifndef HW_REPORT_PLAIN_WORDS_H
#define HW_REPORT_PLAIN_WORDS_H

#include "clinic/clinic.h"
#include "figures.h"

/// One exercise or aid as it is drawn: how it is done, and its dose beside the drawing.
typedef struct plain_picture {
    figure_kind figure; // FIGURE_NONE: no more pictures
    const char *title, *how;
    const char *dose; // "{hold}" is that number of the dose
} plain_picture;

enum { PLAIN_PICTURES = 2 };

/// One treatment in plain words.
typedef struct plain_act {
    hw_act act;
    bool is_at_home; // done by the person; else at the clinic
    const char *title;
    const char *text;    // as `dose` above; NULL: its pictures say it, or only its dates are told
    const char *warning; // when to stop it, or NULL
    plain_picture pictures[PLAIN_PICTURES];
} plain_act;

/// NULL for what is never offered.
const plain_act *plain_act_of(hw_act act);

/// A text of this treatment with the numbers of its usual dose in it: "hold 10 seconds, 20 to 180
/// ...".
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status plain_text(hw_job *job, const plain_act *of, const char *text, hw_arena *into,
                                 const char **out);

/// How soon a person is to act on a sign.
typedef enum plain_urgency { PLAIN_RING_TODAY = 0, PLAIN_EMERGENCY } plain_urgency;

typedef struct plain_sign {
    hw_finding_id finding; // the red flag it is
    plain_urgency urgency; // never less than that of the red flag's row: tested
    const char *text;
} plain_sign;

const plain_sign *plain_signs(int *count);

/// "Monday 9 March 2026".
const char *plain_date(hw_date date, char text[static 40]);

#endif
