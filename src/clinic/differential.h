// SPDX-License-Identifier: GPL-3.0-or-later
// What else it may be. Published likelihood ratios where they exist, never two of tests that load
// the same tissue; patterns elsewhere; "cannot be said" where findings are missing. "Not the
// plantar fascia" is a complete outcome, with its next step and its words for the letter.
#ifndef HW_CLINIC_DIFFERENTIAL_H
#define HW_CLINIC_DIFFERENTIAL_H

#include "rules.h"

/// A cause of heel pain. Words in hw_cause_rows; the first is what this program treats.
typedef enum hw_cause {
    HW_CAUSE_FASCIA = 0,
    HW_CAUSE_STRESS_FRACTURE,
    HW_CAUSE_TARSAL_TUNNEL,
    HW_CAUSE_LATERAL_PLANTAR_NERVE,
    HW_CAUSE_FAT_PAD,
    HW_CAUSE_ENTHESITIS,
    HW_CAUSE_S1_ROOT,
    HW_CAUSE_RUPTURE,
    HW_CAUSE_FIBROMATOSIS,
    HW_CAUSE_BACK_OF_HEEL,
    HW_CAUSE_APOPHYSITIS,
    HW_CAUSE_TENDON,
    HW_CAUSE_INFECTION,
    HW_CAUSE_TUMOUR,
    HW_CAUSE_NEUROPATHY,
    HW_CAUSE_ARTERIES,
    HW_CAUSE_COUNT,
} hw_cause;

enum { HW_CAUSE_FEATURES = 6, HW_CAUSE_RATIOS = 8 };

/// One feature of a pattern, and what it counts.
typedef struct hw_feature {
    hw_test test;
    int weight;
    const char *text; // "squeezing the heel bone hurts"
} hw_feature;

/// A pattern fits when the weights of what is there reach `needed`; it does not fit when even all
/// that is unknown could not reach it. The weights are common practice put into numbers.
typedef struct hw_cause_row {
    hw_cause cause;
    const char *name;
    int needed;
    hw_feature features[HW_CAUSE_FEATURES]; // to the first of weight 0
    hw_urgency urgency;
    const char *next_step; // for the clinician
    const char *letter;    // for the family doctor
    const char *source;    // key
} hw_cause_row;

/// All rows; row i has cause i.
const hw_cause_row *hw_cause_rows(void);

/// What of a heel is loaded or looked at: two tests of one of them are not independent.
typedef enum hw_tissue {
    HW_TISSUE_WINDLASS = 0, // fascia and the nerves beside it (Alshami 2007)
    HW_TISSUE_FASCIA_IMAGE,
    HW_TISSUE_TIBIAL_NERVE,
    HW_TISSUE_SCIATIC_NERVE,
} hw_tissue;

/// A test whose accuracy was published, as counts of people.
typedef struct hw_accuracy_row {
    hw_cause cause;
    hw_tissue tissue;
    hw_test positive; // the reading that counts as positive
    const char *name;
    double hits, with;            // positive of those with the cause
    double false_alarms, without; // positive of those without
    bool is_split_assumed;        // only shares and about how many people were printed
    const char *note;             // what limits it
    const char *source;           // key
} hw_accuracy_row;

/// By cause, the best-founded test of a tissue first: of several it alone is used.
const hw_accuracy_row *hw_accuracy_rows(int *count);

/// A ratio or a share with its 95 % interval.
typedef struct hw_estimate {
    double value, low, high;
    bool is_corrected; // a zero cell: half a person was added to each
} hw_estimate;

/// Likelihood ratio of a positive or a negative result.
///
///   source  interval of the logarithm: Simel 1991 J Clin Epidemiol 44:763, from memory
hw_estimate hw_likelihood_ratio(const hw_accuracy_row *row, bool is_positive);

/// Bayes in odds: p / (1 - p) times the ratio. `before` within 0 and 1, ends left out.
double hw_probability_after(double before, double ratio);

/// What a test not made yet would tell on average, bits; `before` as above.
double hw_expected_bits(const hw_accuracy_row *row, double before);

typedef struct hw_cause_fit {
    const hw_cause_row *row;
    hw_verdict fits;                        // unknown: cannot be said
    hw_verdict features[HW_CAUSE_FEATURES]; // of each
} hw_cause_fit;

typedef struct hw_test_result {
    const hw_accuracy_row *row;
    bool is_positive;
    bool is_used; // else another test of the same tissue was
    hw_estimate ratio;
} hw_test_result;

typedef enum hw_outcome {
    HW_OUTCOME_CANNOT_BE_SAID = 0,
    HW_OUTCOME_FASCIA,
    HW_OUTCOME_FASCIA_AND_MORE, // its pattern fits, and another's too
    HW_OUTCOME_NOT_FASCIA,      // its pattern does not fit
} hw_outcome;

/// As JSON and page write it.
const char *hw_outcome_word(hw_outcome outcome);

/// What is said of one painful heel.
typedef struct hw_differential {
    hw_side side;
    hw_outcome outcome;
    const char *sentence; // in `into`
    hw_cause_fit causes[HW_CAUSE_COUNT];
    hw_estimate before, after;               // that it is the fascia
    hw_test_result results[HW_CAUSE_RATIOS]; // of tests that were made
    int result_count;
    const hw_accuracy_row *tells_most; // not made yet; NULL: none left
    double tells_bits;
    const hw_feature *missing; // the feature not known that would settle most patterns; may be NULL
    int missing_patterns;      // how many
    hw_urgency urgency;        // of the causes that fit
} hw_differential;

/// Judges one heel: `one->side` is left or right.
HW_MUST_USE hw_status hw_differ(hw_job *job, const hw_situation *one, hw_arena *into,
                                hw_differential *out);

/// Whether the fascia's pattern fits: for the rule row that asks. Never fails.
hw_verdict hw_fits_fascia(const hw_situation *one);

/// What of the fascia's pattern is to be asked next: its first feature that is not known. NULL: all
/// are.
const hw_feature *hw_fascia_missing(const hw_situation *one);

#endif
