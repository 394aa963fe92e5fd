// SPDX-License-Identifier: GPL-3.0-or-later
// The words of the groups, for a name that is classified by hand.
#include "clinic/clinic.h"

static const char *const medicine_words[HW_MED_GROUPS] = {
    "anticoagulant",
    "vitamin K antagonist",
    "antiplatelet",
    "anti-inflammatory",
    "strong CYP3A4 inhibitor",
    "fluoroquinolone",
    "systemic corticosteroid",
    "immunosuppressant",
    "insulin or sulfonylurea",
    "glucose lowering",
    "oestrogen",
    "aromatase inhibitor",
    "serotonergic antidepressant",
    "ACE inhibitor, receptor blocker or diuretic",
    "raised by an anti-inflammatory",
};

static const char *const condition_words[HW_COND_GROUPS] = {
    "diabetes",
    "poor perfusion",
    "coagulopathy",
    "platelet disorder",
    "inflammatory arthritis",
    "immunosuppressed",
    "neuropathy",
    "cancer",
    "blood cancer",
    "clot risk",
    "heart disease",
    "heart failure",
    "liver disease",
    "kidney disease",
    "stomach ulcer",
    "asthma",
    "osteoporosis",
    "porphyria",
    "sepsis",
    "pacemaker",
};

static const char *const allergen_words[HW_ALLERGEN_GROUPS] = {
    "amide anaesthetic", "corticosteroid", "anti-inflammatory", "adrenaline or sulphite",
    "citrate",           "latex",          "adhesive",          "skin antiseptic",
};

static const char *word_at(const char *const *words, int count, int index)
{
    HW_ASSERT(index >= 0 && index < count);
    return words[index];
}

static unsigned group_of(const char *const *words, int count, const char *word)
{
    for (int i = 0; i < count; i++)
        if (hw_text_same(words[i], word)) return 1u << i;
    return 0;
}

// A group that is a kind of another stands for both, as its names in the tables do: rows ask for
// the wider.
typedef struct kind_of {
    unsigned group, also;
} kind_of;

static unsigned with_wider(unsigned group, const kind_of *kinds, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (kinds[i].group == group) return group | kinds[i].also;
    return group;
}

const char *hw_medicine_group_word(int index)
{
    return word_at(medicine_words, HW_MED_GROUPS, index);
}

const char *hw_condition_group_word(int index)
{
    return word_at(condition_words, HW_COND_GROUPS, index);
}

const char *hw_allergen_word(int index)
{
    return word_at(allergen_words, HW_ALLERGEN_GROUPS, index);
}

unsigned hw_medicine_group_by_word(const char *word)
{
    static const kind_of kinds[] = {
        {HW_MED_VITAMIN_K_ANTAGONIST, HW_MED_ANTICOAGULANT},
        {HW_MED_INSULIN_SULFONYLUREA, HW_MED_GLUCOSE_LOWERING},
    };
    return with_wider(group_of(medicine_words, HW_MED_GROUPS, word), kinds,
                      sizeof kinds / sizeof *kinds);
}

unsigned hw_condition_group_by_word(const char *word)
{
    static const kind_of kinds[] = {
        {HW_COND_BLOOD_CANCER, HW_COND_CANCER | HW_COND_IMMUNOSUPPRESSED},
        {HW_COND_HEART_FAILURE, HW_COND_HEART},
    };
    return with_wider(group_of(condition_words, HW_COND_GROUPS, word), kinds,
                      sizeof kinds / sizeof *kinds);
}

unsigned hw_allergen_by_word(const char *word)
{
    return group_of(allergen_words, HW_ALLERGEN_GROUPS, word);
}
