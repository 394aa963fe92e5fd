// SPDX-License-Identifier: GPL-3.0-or-later
// What the treatments and warning signs are called to the person who has the pain. Internal to report.
#ifndef HW_REPORT_PLAIN_WORDS_H
#define HW_REPORT_PLAIN_WORDS_H

#include "clinic/clinic.h"
#include "figures.h"

/// One treatment in plain words.
typedef struct plain_act {
    hw_act act;
    bool is_at_home; // done by the person; else at the clinic
    figure_kind figure;
    const char *title;
    const char *text;    // "{hold}" is that number of the dose; NULL: only its dates
    const char *warning; // when to stop it, or NULL
} plain_act;

/// NULL for what is never offered.
const plain_act *plain_act_of(hw_act act);

/// The text with the numbers of the usual dose in it: "hold 10 seconds, 20 to 180 ...".
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status plain_text(hw_job *job, const plain_act *of, hw_arena *into,
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
