// SPDX-License-Identifier: GPL-3.0-or-later
// Names as typed: medicines, conditions and allergies, and the groups that rules ask for. By
// substance, never by product. A name no table knows is said to be unknown, never taken for
// harmless.
#ifndef HW_CLINIC_NAMES_H
#define HW_CLINIC_NAMES_H

#include "base/base.h"

/// What a medicine is to a rule; one name may be several.
typedef enum hw_medicine_group {
    HW_MED_ANTICOAGULANT = 1 << 0,
    HW_MED_VITAMIN_K_ANTAGONIST = 1 << 1,
    HW_MED_ANTIPLATELET = 1 << 2,
    HW_MED_NSAID = 1 << 3,
    HW_MED_STRONG_CYP3A4 = 1 << 4, // slows the removal of corticosteroids
    HW_MED_FLUOROQUINOLONE = 1 << 5,
    HW_MED_SYSTEMIC_STEROID = 1 << 6,
    HW_MED_IMMUNOSUPPRESSANT = 1 << 7, // biologics and chemotherapy included
    HW_MED_INSULIN_SULFONYLUREA = 1 << 8,
    HW_MED_GLUCOSE_LOWERING = 1 << 9, // any, the former included
    HW_MED_OESTROGEN = 1 << 10,
    HW_MED_AROMATASE_INHIBITOR = 1 << 11,
    HW_MED_SEROTONIN = 1 << 12,       // bleeding with an NSAID
    HW_MED_KIDNEY_PRESSURE = 1 << 13, // ACE inhibitor, receptor blocker, diuretic
    HW_MED_NSAID_RAISES = 1 << 14,    // lithium, methotrexate: an NSAID raises their level
    HW_MED_GROUPS = 15,               // how many
} hw_medicine_group;

typedef enum hw_condition_group {
    HW_COND_DIABETES = 1 << 0,
    HW_COND_POOR_PERFUSION = 1 << 1,
    HW_COND_COAGULOPATHY = 1 << 2,
    HW_COND_PLATELET_DISORDER = 1 << 3,
    HW_COND_INFLAMMATORY_ARTHRITIS = 1 << 4,
    HW_COND_IMMUNOSUPPRESSED = 1 << 5,
    HW_COND_NEUROPATHY = 1 << 6,
    HW_COND_CANCER = 1 << 7,
    HW_COND_BLOOD_CANCER = 1 << 8,
    HW_COND_CLOT_RISK = 1 << 9,
    HW_COND_HEART = 1 << 10,
    HW_COND_HEART_FAILURE = 1 << 11,
    HW_COND_LIVER = 1 << 12,
    HW_COND_KIDNEY = 1 << 13,
    HW_COND_STOMACH_ULCER = 1 << 14,
    HW_COND_ASTHMA = 1 << 15,
    HW_COND_OSTEOPOROSIS = 1 << 16,
    HW_COND_PORPHYRIA = 1 << 17,
    HW_COND_SEPSIS = 1 << 18,
    HW_COND_PACEMAKER = 1 << 19,
    HW_COND_GROUPS = 20, // how many
} hw_condition_group;

typedef enum hw_allergen {
    HW_ALLERGEN_AMIDE_ANAESTHETIC = 1 << 0,
    HW_ALLERGEN_CORTICOSTEROID = 1 << 1,
    HW_ALLERGEN_NSAID = 1 << 2,
    HW_ALLERGEN_ADRENALINE_SULPHITE = 1 << 3,
    HW_ALLERGEN_CITRATE = 1 << 4,
    HW_ALLERGEN_LATEX = 1 << 5,
    HW_ALLERGEN_ADHESIVE = 1 << 6,
    HW_ALLERGEN_SKIN_ANTISEPTIC = 1 << 7,
    HW_ALLERGEN_GROUPS = 8, // how many
} hw_allergen;

/// A name and its groups. `preferred` is the international name where `name` is a national one.
typedef struct hw_name_row {
    const char *name; // lower case
    const char *preferred;
    unsigned groups;
    unsigned allergens; // for substances: what an allergy to it is an allergy to
} hw_name_row;

/// The substance of a typed medicine: the name alone, or followed by a salt, form or strength
/// ("warfarin sodium 3 mg"). NULL when no row has it, also for a mixture of which one part is
/// unknown.
const hw_name_row *hw_substance(const char *typed);

/// The condition of that name, or NULL.
const hw_name_row *hw_condition(const char *typed);

/// The allergens of a typed allergy (a substance, or a material such as latex). False when unknown.
bool hw_allergy(const char *typed, unsigned *allergens);

/// All rows, for tests and for pick lists.
const hw_name_row *hw_substance_rows(int *count);
/// All rows of conditions.
const hw_name_row *hw_condition_rows(int *count);

/// The word of group `1 << index`, as a case file writes it for a name classified by hand.
const char *hw_medicine_group_word(int index);
/// The same for conditions.
const char *hw_condition_group_word(int index);
/// The same for allergens.
const char *hw_allergen_word(int index);

/// The group of such a word (letters' case ignored) with what it is a kind of, or 0 when there is
/// none.
unsigned hw_medicine_group_by_word(const char *word);
/// The same for conditions.
unsigned hw_condition_group_by_word(const char *word);
/// The same for allergens.
unsigned hw_allergen_by_word(const char *word);

#endif
