// SPDX-License-Identifier: GPL-3.0-or-later
#include "clinic.h"

#define ACT(id) [HW_ACT_##id] = {HW_ACT_##id,

// clang-format off
static const hw_act_row act_rows[HW_ACT_COUNT] = {
    ACT(ACTIVITY) "activity rules", {"education", "load management"}, HW_UNLOAD, HW_LOAD_STEPS, false, true},
    ACT(FOOTWEAR) "footwear", {"shoe advice"}, HW_UNLOAD, HW_LOAD_HEEL_RAISE, false, true},
    ACT(TAPE) "tape", {"taping"}, HW_UNLOAD, HW_LOAD_ARCH_TAPE, true, true},
    ACT(INSOLE) "prefabricated insole", {"insole"}, HW_UNLOAD, HW_LOAD_ARCH_INSOLE, true, true},
    ACT(ORTHOSIS) "custom orthosis", {"orthosis", "custom foot orthosis"}, HW_UNLOAD, HW_LOAD_ARCH_ORTHOSIS, true, true},
    ACT(HEEL_RAISE) "heel raise", {"heel lift"}, HW_UNLOAD, HW_LOAD_HEEL_RAISE, true, true},
    ACT(CALF_STRETCH) "calf stretch", {NULL}, HW_UNLOAD, HW_LOAD_CALF_RANGE, true, true},
    ACT(WEIGHT) "weight reduction", {"weight loss"}, HW_UNLOAD, HW_LOAD_BODY_MASS, false, true},
    ACT(BOOT) "walking boot", {"boot"}, HW_UNLOAD, HW_LOAD_BOOT, true, true},
    ACT(NIGHT_SPLINT) "night splint", {NULL}, HW_SETTLE, HW_LOAD_NONE, true, true},
    ACT(MANUAL_THERAPY) "manual therapy", {NULL}, HW_SETTLE, HW_LOAD_NONE, true, true},
    ACT(NSAID) "nsaid course", {"anti-inflammatory course"}, HW_SETTLE, HW_LOAD_NONE, false, true},
    ACT(DRY_NEEDLING) "dry needling", {NULL}, HW_SETTLE, HW_LOAD_NONE, true, true},
    ACT(CORTICOSTEROID) "corticosteroid injection", {"steroid injection", "cortisone injection"}, HW_SETTLE, HW_LOAD_NONE, true, true},
    ACT(LOCAL_ANAESTHETIC) "local anaesthetic", {"local anesthetic", "nerve block"}, HW_SETTLE, HW_LOAD_NONE, true, true},
    ACT(LOCAL_ANAESTHETIC_ADRENALINE) "local anaesthetic with adrenaline", {"local anesthetic with epinephrine"}, HW_SETTLE, HW_LOAD_NONE, true, true},
    ACT(FASCIA_STRETCH) "plantar fascia stretch", {"fascia stretch"}, HW_HEAL, HW_LOAD_NONE, true, true},
    ACT(STRENGTH) "high-load strength", {"strength training"}, HW_HEAL, HW_LOAD_NONE, true, true},
    ACT(SHOCKWAVE_RADIAL) "radial shockwave", {"shockwave"}, HW_HEAL, HW_LOAD_NONE, true, true},
    ACT(SHOCKWAVE_FOCUSED) "focused shockwave", {NULL}, HW_HEAL, HW_LOAD_NONE, true, true},
    ACT(PRP) "platelet-rich plasma", {"prp", "prp injection"}, HW_HEAL, HW_LOAD_NONE, true, true},
    ACT(RETURN_TO_IMPACT) "return to impact", {"running", "return to running"}, HW_HEAL, HW_LOAD_STEPS, false, true},
    ACT(SURGERY) "surgery at the heel", {"heel surgery"}, HW_HEAL, HW_LOAD_NONE, true, false},
};
// clang-format on

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
