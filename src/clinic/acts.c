// SPDX-License-Identifier: GPL-3.0-or-later
#include "clinic.h"

#define HEEL true
#define PERSON false
#define OFFERED true
#define ROW(id, word, principle, changes, whose, offered, ...)                                     \
    [HW_ACT_##id] = {HW_ACT_##id,       word,  {__VA_ARGS__}, HW_##principle,                      \
                     HW_LOAD_##changes, whose, offered}

static const hw_act_row act_rows[HW_ACT_COUNT] = {
    ROW(ACTIVITY, "activity rules", UNLOAD, STEPS, PERSON, OFFERED, "education", "load management"),
    ROW(FOOTWEAR, "footwear", UNLOAD, HEEL_RAISE, PERSON, OFFERED, "shoe advice"),
    ROW(TAPE, "tape", UNLOAD, ARCH_TAPE, HEEL, OFFERED, "taping"),
    ROW(INSOLE, "prefabricated insole", UNLOAD, ARCH_INSOLE, HEEL, OFFERED, "insole"),
    ROW(ORTHOSIS, "custom orthosis", UNLOAD, ARCH_ORTHOSIS, HEEL, OFFERED, "orthosis",
        "custom foot orthosis"),
    ROW(HEEL_RAISE, "heel raise", UNLOAD, HEEL_RAISE, HEEL, OFFERED, "heel lift"),
    ROW(CALF_STRETCH, "calf stretch", UNLOAD, CALF_RANGE, HEEL, OFFERED, "calf stretching"),
    ROW(WEIGHT, "weight reduction", UNLOAD, BODY_MASS, PERSON, OFFERED, "weight loss"),
    ROW(BOOT, "walking boot", UNLOAD, BOOT, HEEL, OFFERED, "boot"),
    ROW(NIGHT_SPLINT, "night splint", SETTLE, NONE, HEEL, OFFERED, "splint"),
    ROW(MANUAL_THERAPY, "manual therapy", SETTLE, NONE, HEEL, OFFERED, "mobilisation"),
    ROW(NSAID, "NSAID course", SETTLE, NONE, PERSON, OFFERED, "anti-inflammatory course", "nsaid"),
    ROW(DRY_NEEDLING, "dry needling", SETTLE, NONE, HEEL, OFFERED, "needling"),
    ROW(CORTICOSTEROID, "corticosteroid injection", SETTLE, NONE, HEEL, OFFERED,
        "steroid injection", "cortisone injection"),
    ROW(LOCAL_ANAESTHETIC, "local anaesthetic", SETTLE, NONE, HEEL, OFFERED, "local anesthetic",
        "nerve block"),
    ROW(LOCAL_ANAESTHETIC_ADRENALINE, "local anaesthetic with adrenaline", SETTLE, NONE, HEEL,
        OFFERED, "local anesthetic with epinephrine"),
    ROW(FASCIA_STRETCH, "plantar fascia stretch", HEAL, NONE, HEEL, OFFERED, "fascia stretch"),
    ROW(STRENGTH, "high-load strength", HEAL, NONE, HEEL, OFFERED, "strength training"),
    ROW(SHOCKWAVE_RADIAL, "radial shockwave", HEAL, NONE, HEEL, OFFERED, "radial pressure wave"),
    ROW(SHOCKWAVE_FOCUSED, "focused shockwave", HEAL, NONE, HEEL, OFFERED,
        "focused extracorporeal shockwave"),
    ROW(PRP, "platelet-rich plasma", HEAL, NONE, HEEL, OFFERED, "prp", "prp injection"),
    ROW(RETURN_TO_IMPACT, "return to impact", HEAL, STEPS, PERSON, OFFERED, "running",
        "return to running"),
    ROW(SURGERY, "surgery at the heel", HEAL, NONE, HEEL, OFFERED, "heel surgery",
        "referral for surgery"),
};

const hw_act_row *hw_act_rows(void)
{
    return act_rows;
}

static bool bears_word(const hw_act_row *row, const char *word)
{
    if (hw_text_same(row->word, word)) return true;
    for (size_t i = 0; i < sizeof row->other / sizeof *row->other && row->other[i]; i++)
        if (hw_text_same(row->other[i], word)) return true;
    return false;
}

const hw_act_row *hw_act_by_word(const char *word)
{
    for (int i = 0; i < HW_ACT_COUNT; i++)
        if (bears_word(&act_rows[i], word)) return &act_rows[i];
    return NULL;
}
