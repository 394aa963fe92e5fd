// SPDX-License-Identifier: GPL-3.0-or-later
// Questionnaires: scored by their published rules, with what counts as missing, which way is
// better, the change that matters to people and the error of one score. Nobody's wording is in here
// but what is common property: the rest comes from the clinic's own text file.
#ifndef HW_CLINIC_SCORES_H
#define HW_CLINIC_SCORES_H

#include "rules.h"

enum { HW_SCALE_VALUES = 5, HW_SCALE_ITEMS = 40 };

/// How items become a value.
typedef enum hw_scoring {
    HW_SCORING_PERCENT = 0, // of the most the answered items can reach
    HW_SCORING_SUM,         // of all items, scaled up for those missing
    HW_SCORING_MEAN,
    HW_SCORING_MEAN_OF_PARTS, // of the values before it
} hw_scoring;

typedef struct hw_scale_value {
    const char *name;
    hw_scoring scoring;
    int from, count;    // items
    int least_answered; // fewer: no value
    hw_maybe matters;   // smallest change that matters to people
    hw_maybe error;     // smallest change beyond the error of two scores
    const char *source; // of both, as cited
} hw_scale_value;

/// Whose words its items are.
typedef enum hw_wording {
    HW_WORDING_COMMON = 0, // generic, in our words
    HW_WORDING_CLINICS,    // from the clinic's text file only
} hw_wording;

typedef struct hw_scale {
    const char *key; // "faam-adl"
    const char *name;
    int item_count, least_items; // different where the number of items is the person's
    double item_low, item_high;
    bool higher_is_better;
    hw_scale_value values[HW_SCALE_VALUES]; // to the first without a name
    hw_wording wording;
    const char *items; // HW_WORDING_COMMON: what the one item, or each, asks
    const char *note;  // licence, versions; NULL: none
} hw_scale;

/// All questionnaires and ratings of the program.
const hw_scale *hw_scale_rows(int *count);

/// NULL when there is none.
const hw_scale *hw_scale_by_key(const char *key);

typedef enum hw_item_kind {
    HW_ITEM_MISSING = 0,
    HW_ITEM_NOT_APPLICABLE, // left out of sum and maximum
    HW_ITEM_ANSWERED,
} hw_item_kind;

typedef struct hw_item {
    hw_item_kind kind;
    double number; // item_low to item_high, in the scale's own direction
} hw_item;

typedef struct hw_scored {
    int value_count;
    hw_maybe values[HW_SCALE_VALUES];
    const char *why[HW_SCALE_VALUES]; // where a value is not known; static
    int answered, missing, not_applicable;
} hw_scored;

/// Scores one sheet of answers.
///
///   fails   HW_BAD_INPUT the number of items, or an answer, is none of this scale's
///   source  facts of each scale in scores.c
HW_MUST_USE hw_status hw_score_items(hw_job *job, const hw_scale *scale, const hw_item *items,
                                     int count, hw_scored *out);

/// Whether 1 or the highest grade of a single grade is the best must be said: papers code both
/// ways. Turns the grade round where the highest is; the scale's own direction is 1 best.
double hw_grade_from_best(const hw_scale *scale, double grade, bool highest_is_best);

typedef enum hw_change {
    HW_CHANGE_NOT_KNOWN = 0, // what matters is not known for this value
    HW_CHANGE_NONE,          // less than what matters
    HW_CHANGE_BETTER,        // by what matters, but one score's error may do that
    HW_CHANGE_BETTER_SURELY, // beyond the error too
    HW_CHANGE_WORSE,
    HW_CHANGE_WORSE_SURELY,
} hw_change;

/// In words: "better by what matters, beyond the error".
const char *hw_change_word(hw_change change);

/// A change from one score to another, by what matters and by the error.
hw_change hw_change_of(const hw_scale *scale, int value, double from, double to);

/// A questionnaire as the clinic's text file has it: the wording of a known scale, or one of its
/// own.
typedef struct hw_questionnaire {
    const hw_scale *scale;
    const char *const *items; // item_count
    bool is_own;
} hw_questionnaire;

/// Reads the clinic's text file: lines "key: value", then one line "- wording" an item; "#" begins
/// a remark. docs/questionnaires.md says which keys.
///
///   faults  all of them, by line
///   out     lives in `into`
///   fails   HW_BAD_INPUT faults
HW_MUST_USE hw_status hw_questionnaire_read(hw_job *job, hw_bytes text, hw_arena *into,
                                            hw_questionnaire *out, hw_faults *faults);

#endif
