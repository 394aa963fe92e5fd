// SPDX-License-Identifier: GPL-3.0-or-later
#include "findings.h"
#include <string.h>

#define NUMBER(id, scope, key, unit, low, high, what)                                              \
    [HW_FINDING_##id] = {HW_FINDING_##id, key, HW_SCOPE_##scope, HW_KIND_NUMBER, unit, low, high,  \
                         {NULL},          what}
#define ANSWER(id, scope, key, what)                                                               \
    [HW_FINDING_##id] = {HW_FINDING_##id,     key, HW_SCOPE_##scope, HW_KIND_ANSWER, "", 0.0, 0.0, \
                         {"no", "yes", NULL}, what}
#define WORD(id, scope, key, what, ...)                                                            \
    [HW_FINDING_##id] = {HW_FINDING_##id, key, HW_SCOPE_##scope, HW_KIND_WORD, "", 0.0, 0.0,       \
                         {__VA_ARGS__},   what}

// Low and high are what a body or an instrument can do at all: a slip of a decimal point or of a
// unit falls outside. What is merely unusual stays inside and is for the clinician to see.
static const hw_finding_row finding_rows[HW_FINDING_COUNT] = {
    NUMBER(MASS_KG, VISIT, "mass_kg", "kg", 5, 350, "body mass, weighed"),
    NUMBER(HEIGHT_CM, VISIT, "height_cm", "cm", 50, 250, "standing height"),
    NUMBER(STANDING_HOURS_PER_DAY, VISIT, "standing_hours_per_day", "h", 0, 24,
           "hours on the feet on a usual day"),
    NUMBER(STEPS_PER_DAY, VISIT, "steps_per_day", "", 0, 100000, "steps on a usual day"),
    NUMBER(WALKING_SPEED_M_PER_S, VISIT, "walking_speed_m_per_s", "m/s", 0.2, 3,
           "usual walking speed, timed over a known distance"),
    NUMBER(LONGEST_RUN_30_DAYS_KM, VISIT, "longest_run_30_days_km", "km", 0, 300,
           "longest single run of the last 30 days"),

    NUMBER(BIRTH_YEAR, PERSON, "birth_year", "", 1900, 2999, "year of birth"),
    WORD(SEX, PERSON, "sex", "sex, as far as doses and pregnancy are concerned", "female", "male",
         "other", NULL),
    ANSWER(PREGNANCY, PERSON, "pregnancy", "pregnant, or may be"),
    ANSWER(PACEMAKER, PERSON, "pacemaker", "pacemaker or another implanted electrical device"),
    NUMBER(HBA1C_PERCENT, PERSON, "hba1c_percent", "%", 3, 20, "latest HbA1c"),
    NUMBER(INR, PERSON, "inr", "", 0.5, 15, "latest INR, where a vitamin K antagonist is taken"),
    NUMBER(PLATELET_COUNT, PERSON, "platelet_count", "10^9/L", 1, 2000, "platelets in blood"),
    NUMBER(HAEMOGLOBIN_G_PER_L, PERSON, "haemoglobin_g_per_L", "g/L", 20, 250, "haemoglobin"),
    ANSWER(FRAIL, PERSON, "frail",
           "old, frail, or with heart or liver disease that slows drug removal"),
    ANSWER(SMOKING, PERSON, "smoking", "smokes"),
    ANSWER(PREVIOUS_CLOT, PERSON, "previous_clot", "a blood clot in leg or lung, ever"),
    ANSWER(RECENT_SURGERY, PERSON, "recent_surgery", "surgery within six weeks"),
    ANSWER(RECENT_IMMOBILISATION, PERSON, "recent_immobilisation",
           "bed rest, plaster or a long journey within four weeks"),
    ANSWER(SYSTEMIC_INFECTION, PERSON, "systemic_infection", "an infection of the whole body now"),
    ANSWER(BLOOD_IDENTITY_CHECKED, PERSON, "blood_identity_checked",
           "the tube bears two identifiers and was read back to the person"),

    ANSWER(FEVER, RED_FLAG, "fever", "fever or feeling ill with the heel pain"),
    ANSWER(SPREADING_REDNESS, RED_FLAG, "spreading_redness", "redness that spreads"),
    ANSWER(WOUND, RED_FLAG, "wound",
           "a wound or ulcer of the foot, above all one that does not heal"),
    ANSWER(HOT_SWOLLEN_FOOT, RED_FLAG, "hot_swollen_foot",
           "a hot, swollen foot, above all with numbness or diabetes"),
    ANSWER(CALF_SWELLING, RED_FLAG, "calf_swelling", "new pain or swelling of a calf"),
    ANSWER(BREATHLESSNESS, RED_FLAG, "breathlessness", "new breathlessness"),
    ANSWER(NIGHT_PAIN, RED_FLAG, "night_pain", "pain that wakes at night"),
    ANSWER(REST_PAIN, RED_FLAG, "rest_pain", "pain at rest, of heel or toes"),
    ANSWER(UNEXPLAINED_WEIGHT_LOSS, RED_FLAG, "unexplained_weight_loss",
           "weight lost without trying"),
    ANSWER(CANCER_HISTORY, RED_FLAG, "cancer_history", "cancer, now or in the past"),
    ANSWER(PALPABLE_MASS, RED_FLAG, "palpable_mass", "a lump that can be felt"),
    ANSWER(CANNOT_BEAR_WEIGHT, RED_FLAG, "cannot_bear_weight",
           "cannot stand on it since an injury"),
    ANSWER(SUDDEN_POP, RED_FLAG, "sudden_pop", "a sudden snap with loss of push-off"),
    ANSWER(SADDLE_NUMBNESS, RED_FLAG, "saddle_numbness", "numbness where a saddle would touch"),
    ANSWER(BLADDER_BOWEL_CHANGE, RED_FLAG, "bladder_bowel_change",
           "a change of bladder or bowel control"),
    ANSWER(LEG_WEAKNESS, RED_FLAG, "leg_weakness", "a leg that grows weaker"),
    ANSWER(INFLAMMATORY_SIGNS, RED_FLAG, "inflammatory_signs",
           "morning stiffness over 30 minutes with other joints, psoriasis, eye or bowel "
           "inflammation"),

    NUMBER(LUNGE_DEG, FOOT, "lunge_deg", "deg", -10, 70,
           "weight-bearing lunge, knee bent: shin to vertical"),
    NUMBER(LUNGE_CM, FOOT, "lunge_cm", "cm", 0, 30, "weight-bearing lunge, knee bent: toe to wall"),
    NUMBER(DORSIFLEXION_KNEE_EXTENDED_DEG, FOOT, "dorsiflexion_knee_extended_deg", "deg", -45, 50,
           "ankle dorsiflexion unloaded, knee straight"),
    NUMBER(DORSIFLEXION_KNEE_BENT_DEG, FOOT, "dorsiflexion_knee_bent_deg", "deg", -45, 60,
           "ankle dorsiflexion unloaded, knee bent"),
    NUMBER(WEIGHT_BEARING_KNEE_STRAIGHT_DEG, FOOT, "weight_bearing_knee_straight_deg", "deg", -20,
           65, "weight-bearing lunge, knee straight: shin to vertical"),
    NUMBER(FIRST_MTP_DORSIFLEXION_DEG, FOOT, "first_mtp_dorsiflexion_deg", "deg", -20, 130,
           "big toe joint, passive dorsiflexion"),
    NUMBER(FOOT_POSTURE_INDEX, FOOT, "foot_posture_index", "", -12, 12,
           "sum of the six posture scores"),
    NUMBER(NAVICULAR_DROP_MM, FOOT, "navicular_drop_mm", "mm", -10, 40,
           "navicular height, sitting minus standing"),
    NUMBER(FASCIA_THICKNESS_MM, FOOT, "fascia_thickness_mm", "mm", 0.5, 20,
           "plantar fascia at its origin, by ultrasound"),
    NUMBER(HEEL_PAD_THICKNESS_MM, FOOT, "heel_pad_thickness_mm", "mm", 2, 40, "heel pad, unloaded"),
    NUMBER(HEEL_RAISES, FOOT, "heel_raises", "", 0, 300, "single-leg heel raises to tiring"),
    WORD(WINDLASS_TEST_STANDING, FOOT, "windlass_test_standing",
         "toe raised in standing brings on the pain", "negative", "positive", NULL),
    WORD(WINDLASS_TEST_UNLOADED, FOOT, "windlass_test_unloaded",
         "toe raised unloaded brings on the pain", "negative", "positive", NULL),
    WORD(SQUEEZE_TEST, FOOT, "squeeze_test", "squeezing the heel bone from both sides hurts",
         "negative", "positive", NULL),
    WORD(TINEL_TEST, FOOT, "tinel_test", "tapping behind the inner ankle tingles", "negative",
         "positive", NULL),
    WORD(TENDER_AT, FOOT, "tender_at", "where it is most tender", "fascia origin", "heel pad",
         "back of heel", "arch", "inner ankle", NULL),
    WORD(MONOFILAMENT, FOOT, "monofilament", "10 g monofilament: protective sensation", "felt",
         "not felt", NULL),
    WORD(PULSES, FOOT, "pulses", "foot pulses", "present", "weak", "absent", NULL),
    ANSWER(OPEN_WOUND, FOOT, "open_wound", "broken skin at the heel"),
    ANSWER(SKIN_INFECTION, FOOT, "skin_infection", "infection at or near the heel, bone included"),
    ANSWER(FRAGILE_SKIN, FOOT, "fragile_skin", "thin, torn or blistering skin"),
    ANSWER(TUMOUR_IN_FIELD, FOOT, "tumour_in_field", "a tumour where treatment would reach"),
    ANSWER(SUSPECTED_RUPTURE, FOOT, "suspected_rupture", "a torn fascia is suspected"),
    ANSWER(SUSPECTED_STRESS_FRACTURE, FOOT, "suspected_stress_fracture",
           "a stress fracture is suspected"),
    ANSWER(OPEN_GROWTH_PLATE, FOOT, "open_growth_plate", "the heel's growth plate is still open"),
    ANSWER(IMPLANT_AT_HEEL, FOOT, "implant_at_heel",
           "joint replacement or metalwork next to the heel"),
    ANSWER(PAST_ULCER, FOOT, "past_ulcer", "a foot ulcer or a part of the foot lost, ever"),

    NUMBER(WEEKS_SINCE_ONSET, HEEL_PAIN, "weeks_since_onset", "weeks", 0, 3000,
           "since the heel pain began"),
    NUMBER(FIRST_STEP_PAIN_0_10, HEEL_PAIN, "first_step_pain_0_10", "", 0, 10,
           "first steps of the morning, last week"),
    NUMBER(AVERAGE_PAIN_0_10, HEEL_PAIN, "average_pain_0_10", "", 0, 10, "on average, last week"),
    NUMBER(ACTIVITY_PAIN_0_10, HEEL_PAIN, "activity_pain_0_10", "", 0, 10,
           "during activity, last week"),

    WORD(PAIN_PATTERN, HEEL_PAIN, "pain_pattern", "how the pain goes through the day",
         "first steps, then eases", "worse with each step", "with long standing", NULL),
    ANSWER(BACK_PAIN, PERSON, "back_pain", "pain of the lower back or buttock with it"),
    NUMBER(MORNING_STIFFNESS_MIN, PERSON, "morning_stiffness_min", "min", 0, 600,
           "stiffness of joints or back in the morning"),
    ANSWER(BURNING, FOOT, "burning", "burning, tingling or numbness of the sole"),
    WORD(DORSIFLEXION_EVERSION_TEST, FOOT, "dorsiflexion_eversion_test",
         "ankle up and out, toes up, held 5 to 10 s: brings on the tingling or pain", "negative",
         "positive", NULL),
    WORD(TRIPLE_COMPRESSION_TEST, FOOT, "triple_compression_test",
         "ankle down and in with a thumb on the tibial nerve: brings on the tingling", "negative",
         "positive", NULL),
    ANSWER(ABDUCTOR_TENDER, FOOT, "abductor_tender",
           "more tender at the inner edge of the heel, over the big toe's abductor"),
    WORD(FIFTH_TOE_ABDUCTION, FOOT, "fifth_toe_abduction", "spreading the little toe", "strong",
         "weak", NULL),
    WORD(HEEL_PAD_FEEL, FOOT, "heel_pad_feel", "the heel pad under the thumb", "firm",
         "thin and soft", NULL),
    NUMBER(HEEL_PAD_LOADED_MM, FOOT, "heel_pad_loaded_mm", "mm", 0.5, 30,
           "heel pad under load, by ultrasound"),
    WORD(STRAIGHT_LEG_RAISE, FOOT, "straight_leg_raise",
         "raising the straight leg brings on pain below the knee", "negative", "positive", NULL),
    WORD(ANKLE_REFLEX, FOOT, "ankle_reflex", "ankle reflex of this leg", "present", "reduced",
         NULL),
    ANSWER(BRUISE_OR_GAP, FOOT, "bruise_or_gap", "a bruise or a gap in the arch"),
    ANSWER(ARCH_NODULE, FOOT, "arch_nodule", "a firm knot in the band of the arch"),
    WORD(RESISTED_TENDON_TEST, FOOT, "resisted_tendon_test",
         "turning the foot in or bending the big toe against the hand hurts at the inner ankle",
         "negative", "positive", NULL),
};

const hw_finding_row *hw_finding_rows(void)
{
    return finding_rows;
}

const hw_finding_row *hw_finding_by_key(hw_scope scope, const char *key)
{
    for (int i = 0; i < HW_FINDING_COUNT; i++)
        if (finding_rows[i].scope == scope && strcmp(finding_rows[i].key, key) == 0)
            return &finding_rows[i];
    return NULL;
}

hw_finding hw_finding_of_number(double number)
{
    return (hw_finding){HW_GIVEN_VALUE, number, 0};
}

hw_finding hw_finding_of_word(int word)
{
    return (hw_finding){HW_GIVEN_VALUE, 0.0, word};
}

hw_finding hw_finding_not_asked(void)
{
    return (hw_finding){HW_GIVEN_NOT_ASKED, 0.0, 0};
}

bool hw_finding_from_word(const hw_finding_row *row, const char *text, hw_finding *out)
{
    if (hw_text_same(text, "not asked")) {
        *out = hw_finding_not_asked();
        return true;
    }
    for (int i = 0; i < HW_FINDING_WORDS && row->words[i]; i++) {
        if (!hw_text_same(text, row->words[i])) continue;
        *out = hw_finding_of_word(i);
        return true;
    }
    return false;
}

const char *hw_finding_word(const hw_finding_row *row, hw_finding finding)
{
    if (finding.given == HW_GIVEN_ABSENT) return "unknown";
    if (finding.given == HW_GIVEN_NOT_ASKED) return "not asked";
    HW_ASSERT(row->kind != HW_KIND_NUMBER && finding.word >= 0 && finding.word < HW_FINDING_WORDS);
    return row->words[finding.word];
}

bool hw_finding_possible(const hw_finding_row *row, double number)
{
    return number >= row->low && number <= row->high;
}

hw_answer hw_finding_answer(hw_finding finding)
{
    if (finding.given == HW_GIVEN_ABSENT) return HW_ANSWER_UNKNOWN;
    if (finding.given == HW_GIVEN_NOT_ASKED) return HW_ANSWER_NOT_ASKED;
    return finding.word == HW_WORD_YES ? HW_ANSWER_YES : HW_ANSWER_NO;
}

hw_maybe hw_finding_number(hw_finding finding)
{
    return (hw_maybe){finding.number, finding.given == HW_GIVEN_VALUE};
}

const hw_foot_findings *hw_foot_of(const hw_findings *findings, hw_side side)
{
    HW_ASSERT(side == HW_SIDE_LEFT || side == HW_SIDE_RIGHT);
    return &findings->feet[side == HW_SIDE_RIGHT];
}

hw_finding hw_finding_at(const hw_findings *findings, hw_side side, hw_finding_id id)
{
    const hw_scope scope = finding_rows[id].scope;
    if (scope == HW_SCOPE_FOOT || scope == HW_SCOPE_HEEL_PAIN)
        return hw_foot_of(findings, side)->values[id];
    return findings->values[id];
}

hw_maybe hw_age_at_least(const hw_findings *findings)
{
    const hw_maybe birth = hw_finding_number(findings->values[HW_FINDING_BIRTH_YEAR]);
    if (!birth.known || !findings->visit_date.known) return (hw_maybe){0};
    return hw_known(hw_date_year(findings->visit_date) - birth.value - 1.0);
}

hw_maybe hw_body_mass_index(const hw_findings *findings)
{
    const hw_maybe mass = hw_finding_number(findings->values[HW_FINDING_MASS_KG]);
    const hw_maybe height = hw_finding_number(findings->values[HW_FINDING_HEIGHT_CM]);
    if (!mass.known || !height.known) return (hw_maybe){0};
    const double metres = hw_m_from_cm(height.value);
    return hw_known(mass.value / (metres * metres));
}

bool hw_pregnancy_applies(const hw_findings *findings)
{
    enum { youngest = 12, oldest = 55 }; // common practice
    const hw_finding sex = findings->values[HW_FINDING_SEX];
    if (sex.given == HW_GIVEN_VALUE && sex.word == HW_SEX_MALE) return false;
    const hw_maybe age = hw_age_at_least(findings); // or one more, if the birthday was this year
    return !age.known || (age.value + 1.0 >= youngest && age.value <= oldest);
}
