// SPDX-License-Identifier: GPL-3.0-or-later
// Patterns of the causes of heel pain, and the tests whose accuracy was published. What separates
// the causes is common practice; the weights put it into numbers and are editable defaults, not
// evidence.
#include "clinic.h"

#define YES(finding, weight, text)                                                                 \
    {                                                                                              \
        {HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_IS, HW_WORD_YES}, weight, text               \
    }
#define WORD(finding, word, weight, text)                                                          \
    {                                                                                              \
        {HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_IS, HW_##word}, weight, text                 \
    }
#define FROM(finding, word, weight, text)                                                          \
    {                                                                                              \
        {HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_AT_LEAST, HW_##word}, weight, text           \
    }
#define NUMBER(finding, comparison, limit, weight, text)                                           \
    {                                                                                              \
        {HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_##comparison, limit}, weight, text           \
    }
#define AGE_BELOW(years, weight, text)                                                             \
    {                                                                                              \
        {HW_SUBJECT_AGE, 0, HW_BELOW, years}, weight, text                                         \
    }
#define HAS(group, weight, text)                                                                   \
    {                                                                                              \
        {HW_SUBJECT_CONDITION, HW_COND_##group, HW_IS, 1}, weight, text                            \
    }
#define BOTH_HEELS(weight)                                                                         \
    {                                                                                              \
        {HW_SUBJECT_BOTH_HEELS, 0, HW_IS, 1}, weight, "both heels hurt"                            \
    }

static const hw_cause_row causes[HW_CAUSE_COUNT] = {
    {HW_CAUSE_FASCIA,
     "plantar fascia",
     3,
     {WORD(TENDER_AT, TENDER_FASCIA_ORIGIN, 2, "most tender where the fascia starts"),
      WORD(PAIN_PATTERN, PATTERN_FIRST_STEPS, 2, "worst at the first steps, then eases"),
      WORD(WINDLASS_TEST_STANDING, TEST_POSITIVE, 1, "raising the toe in standing brings it on"),
      NUMBER(FASCIA_THICKNESS_MM, ABOVE, 4.0, 1, "the fascia is thicker than 4 mm")},
     HW_URGENCY_NONE,
     "Go on with the plan for the plantar fascia.",
     "The findings fit the plantar fascia.",
     "martin-2014"},
    {HW_CAUSE_STRESS_FRACTURE,
     "stress fracture of the heel bone",
     3,
     {WORD(SQUEEZE_TEST, TEST_POSITIVE, 2, "squeezing the heel bone from both sides hurts"),
      WORD(PAIN_PATTERN, PATTERN_WORSE_EACH_STEP, 2, "worse with each step"),
      HAS(OSTEOPOROSIS, 1, "thin bone is known"),
      YES(CANNOT_BEAR_WEIGHT, 1, "cannot stand on it since an injury"),
      YES(SUSPECTED_STRESS_FRACTURE, 3, "the clinician suspects it")},
     HW_URGENCY_SAME_DAY,
     "No impact, crutches or boot; X-ray today, MRI if it is normal: it often is for two to three "
     "weeks.",
     "We think of a stress fracture of the heel bone and ask for an X-ray today, and for an MRI if "
     "it is normal.",
     "common-practice"},
    {HW_CAUSE_TARSAL_TUNNEL,
     "tibial nerve at the inner ankle (tarsal tunnel)",
     3,
     {WORD(DORSIFLEXION_EVERSION_TEST, TEST_POSITIVE, 2,
           "ankle up and out, toes up, brings on the tingling"),
      WORD(TRIPLE_COMPRESSION_TEST, TEST_POSITIVE, 2, "pressing the nerve in the bent ankle does"),
      WORD(TINEL_TEST, TEST_POSITIVE, 2, "tapping behind the inner ankle tingles"),
      YES(BURNING, 1, "burning, tingling or numbness"), YES(NIGHT_PAIN, 1, "pain at night")},
     HW_URGENCY_SOON,
     "Look for what presses the nerve (ultrasound or MRI), nerve conduction if doubt stays.",
     "The findings fit the tibial nerve at the inner ankle rather than the fascia; we ask for an "
     "opinion on imaging and nerve conduction.",
     "kinoshita-2001"},
    {HW_CAUSE_LATERAL_PLANTAR_NERVE,
     "first branch of the lateral plantar nerve",
     3,
     {YES(ABDUCTOR_TENDER, 2, "more tender at the inner edge, over the big toe's abductor"),
      WORD(FIFTH_TOE_ABDUCTION, TOE_WEAK, 2, "the little toe spreads weakly"),
      FROM(PAIN_PATTERN, PATTERN_WORSE_EACH_STEP, 1, "no pattern of first steps")},
     HW_URGENCY_SOON,
     "Unload the inner arch; MRI shows wasting of the little toe's abductor; injection of the "
     "nerve is a specialist's.",
     "The findings fit the first branch of the lateral plantar nerve; if it does not settle we "
     "would ask for an MRI.",
     "baxter-1992"},
    {HW_CAUSE_FAT_PAD,
     "heel fat pad",
     3,
     {WORD(TENDER_AT, TENDER_HEEL_PAD, 2, "most tender at the middle of the heel pad"),
      WORD(PAIN_PATTERN, PATTERN_LONG_STANDING, 1, "worse with long standing, not at first steps"),
      WORD(HEEL_PAD_FEEL, PAD_THIN, 2, "the pad is thin and soft"),
      NUMBER(HEEL_PAD_LOADED_MM, BELOW, 3.0, 2, "the loaded pad is thinner than 3 mm")},
     HW_URGENCY_NONE,
     "Cushion and hold the pad together: heel cup or deep soft cup, tape, shoes indoors too. No "
     "corticosteroid.",
     "The findings fit the heel's fat pad rather than the fascia. It is treated with cushioning; "
     "please no corticosteroid injection here.",
     "yi-2011"},
    {HW_CAUSE_ENTHESITIS,
     "inflammation of the tendon insertions (spondyloarthritis)",
     3,
     {YES(INFLAMMATORY_SIGNS, 3, "long stiffness with joints, skin, eyes or bowel"),
      NUMBER(MORNING_STIFFNESS_MIN, ABOVE, 30, 2, "stiff for more than 30 minutes"),
      HAS(INFLAMMATORY_ARTHRITIS, 2, "an inflammatory arthritis is known"),
      AGE_BELOW(45, 1, "younger than 45"), BOTH_HEELS(1)},
     HW_URGENCY_SOON,
     "Ask the family doctor for CRP and HLA-B27 and refer to rheumatology.",
     "The findings fit inflamed insertions of a spondyloarthritis; we ask for blood tests and an "
     "opinion of rheumatology.",
     "common-practice"},
    {HW_CAUSE_S1_ROOT,
     "nerve root S1, referred from the back",
     3,
     {YES(BACK_PAIN, 2, "pain of the lower back or buttock"),
      WORD(ANKLE_REFLEX, REFLEX_REDUCED, 2, "the ankle reflex is reduced"),
      WORD(STRAIGHT_LEG_RAISE, TEST_POSITIVE, 1, "raising the straight leg brings it on"),
      YES(BURNING, 1, "burning, tingling or numbness")},
     HW_URGENCY_SOON,
     "Examine the spine and the leg's strength; treat the back. Growing weakness is an emergency.",
     "The findings point to the nerve root S1; we ask you to look at the lower back.",
     "common-practice"},
    {HW_CAUSE_RUPTURE,
     "torn plantar fascia",
     3,
     {YES(SUDDEN_POP, 2, "a sudden snap with loss of push-off"),
      YES(BRUISE_OR_GAP, 2, "a bruise or a gap in the arch"),
      YES(SUSPECTED_RUPTURE, 3, "the clinician suspects it"),
      {{HW_SUBJECT_DAYS_SINCE, 1u << HW_ACT_CORTICOSTEROID, HW_BELOW, 365},
       1,
       "a corticosteroid in this heel within a year"}},
     HW_URGENCY_URGENT,
     "Boot, no stretching, no loading; ultrasound or MRI soon.",
     "We think the plantar fascia is torn; a boot was advised and we ask for imaging soon.",
     "common-practice"},
    {HW_CAUSE_FIBROMATOSIS,
     "knots of the plantar fascia (fibromatosis)",
     2,
     {YES(ARCH_NODULE, 2, "a firm knot in the band of the arch"),
      WORD(TENDER_AT, TENDER_ARCH, 1, "most tender in the arch")},
     HW_URGENCY_NONE,
     "Keep pressure off the knot; ultrasound if it grows.",
     "There is a knot in the arch that fits fibromatosis of the fascia; an ultrasound if it grows.",
     "common-practice"},
    {HW_CAUSE_BACK_OF_HEEL,
     "Achilles insertion or the bursa behind the heel",
     2,
     {WORD(TENDER_AT, TENDER_BACK_OF_HEEL, 2, "most tender at the back of the heel")},
     HW_URGENCY_NONE,
     "Examine the Achilles tendon and its bursa; heel raise, and strength for the calf.",
     "The pain is behind the heel, not under it: Achilles insertion or bursa.",
     "common-practice"},
    {HW_CAUSE_APOPHYSITIS,
     "growth plate of the heel (apophysitis)",
     3,
     {AGE_BELOW(15, 2, "younger than 15"),
      WORD(SQUEEZE_TEST, TEST_POSITIVE, 1, "squeezing the heel hurts"),
      WORD(TENDER_AT, TENDER_BACK_OF_HEEL, 1, "most tender at the back of the heel"),
      YES(OPEN_GROWTH_PLATE, 1, "the growth plate is open")},
     HW_URGENCY_NONE,
     "Less jumping and running, heel raise, time. No injection, no shockwave.",
     "The findings fit the growth plate of the heel; it passes with less impact and a heel raise.",
     "common-practice"},
    {HW_CAUSE_TENDON,
     "tendons behind the inner ankle",
     3,
     {WORD(TENDER_AT, TENDER_INNER_ANKLE, 2, "most tender at the inner ankle"),
      WORD(RESISTED_TENDON_TEST, TEST_POSITIVE, 2, "working against the hand hurts there")},
     HW_URGENCY_NONE,
     "Examine the tibialis posterior and the big toe's flexor, with heel raises on one leg.",
     "The findings fit a tendon behind the inner ankle rather than the fascia.",
     "common-practice"},
    {HW_CAUSE_INFECTION,
     "infection of bone or soft tissue",
     2,
     {YES(FEVER, 2, "fever"), YES(SPREADING_REDNESS, 2, "redness that spreads"),
      YES(HOT_SWOLLEN_FOOT, 2, "a hot, swollen foot"), YES(SKIN_INFECTION, 2, "an infection there"),
      YES(WOUND, 1, "a wound of the foot"), YES(SYSTEMIC_INFECTION, 1, "an infection elsewhere")},
     HW_URGENCY_SAME_DAY,
     "To be seen today: blood count, CRP, X-ray; nothing is injected.",
     "We think of an infection and ask that this person is seen today.",
     "common-practice"},
    {HW_CAUSE_TUMOUR,
     "tumour",
     3,
     {YES(TUMOUR_IN_FIELD, 3, "a tumour is known there"), YES(PALPABLE_MASS, 2, "a lump"),
      YES(NIGHT_PAIN, 1, "pain at night"), YES(REST_PAIN, 1, "pain at rest"),
      YES(UNEXPLAINED_WEIGHT_LOSS, 1, "weight lost without trying"),
      YES(CANCER_HISTORY, 1, "cancer now or in the past")},
     HW_URGENCY_URGENT,
     "Image before anything else: X-ray and MRI, urgently.",
     "A tumour must be ruled out first; we ask for urgent imaging.",
     "common-practice"},
    {HW_CAUSE_NEUROPATHY,
     "nerves of the feet (neuropathy)",
     2,
     {WORD(MONOFILAMENT, FILAMENT_NOT_FELT, 2, "the 10 g monofilament is not felt"),
      HAS(NEUROPATHY, 2, "a neuropathy is known"), YES(BURNING, 1, "burning, tingling or numbness"),
      HAS(DIABETES, 1, "diabetes")},
     HW_URGENCY_SOON,
     "Look for its cause; protect the skin; no heat, no hard device without review.",
     "The nerves of the feet seem to be affected; please look for a cause (glucose, B12, alcohol).",
     "common-practice"},
    {HW_CAUSE_ARTERIES,
     "arteries of the leg",
     2,
     {FROM(PULSES, PULSES_WEAK, 1, "weak or absent pulses"),
      WORD(PULSES, PULSES_ABSENT, 1, "no pulses"),
      HAS(POOR_PERFUSION, 2, "arterial disease is known"), YES(REST_PAIN, 1, "pain at rest")},
     HW_URGENCY_URGENT,
     "Ankle pressures and a vascular opinion; no tight tape, no adrenaline.",
     "The circulation of the foot is in doubt; we ask for ankle pressures and a vascular opinion.",
     "common-practice"},
};

#define POSITIVE(finding)                                                                          \
    {                                                                                              \
        HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_IS, HW_TEST_POSITIVE                          \
    }

static const hw_accuracy_row accuracies[] = {
    {HW_CAUSE_FASCIA, HW_TISSUE_WINDLASS, POSITIVE(WINDLASS_TEST_STANDING), "windlass, standing", 7,
     22, 0, 53, false, "22 people with it only; a negative test rules nothing out",
     "degarceau-2003"},
    {HW_CAUSE_FASCIA, HW_TISSUE_WINDLASS, POSITIVE(WINDLASS_TEST_UNLOADED), "windlass, unloaded", 3,
     22, 0, 53, false, "22 people with it only; a negative test rules nothing out",
     "degarceau-2003"},
    {HW_CAUSE_FASCIA,
     HW_TISSUE_FASCIA_IMAGE,
     {HW_SUBJECT_FINDING, HW_FINDING_FASCIA_THICKNESS_MM, HW_ABOVE, 4.0},
     "fascia thicker than 4 mm by ultrasound",
     24.0,
     30,
     3.45,
     30,
     true,
     "80 and 88.5 % of about 60 people, split not known, taken as halves; healthy people may "
     "exceed 4 mm; a second study found 48 of 50 against 0 of 50, readers not blinded",
     "sabir-2005"},
    {HW_CAUSE_TARSAL_TUNNEL, HW_TISSUE_TIBIAL_NERVE, POSITIVE(DORSIFLEXION_EVERSION_TEST),
     "dorsiflexion-eversion", 36, 44, 0, 100, false,
     "operated feet against healthy ones: in doubtful cases it will do worse; the fascia is loaded "
     "too",
     "kinoshita-2001"},
    {HW_CAUSE_TARSAL_TUNNEL, HW_TISSUE_TIBIAL_NERVE, POSITIVE(TRIPLE_COMPRESSION_TEST),
     "triple compression", 42.95, 50, 0, 40, true,
     "85.9 % of 50 printed, which no whole number of 50 is; against healthy people",
     "abouelela-2012"},
    {HW_CAUSE_S1_ROOT, HW_TISSUE_SCIATIC_NERVE, POSITIVE(STRAIGHT_LEG_RAISE), "straight leg raise",
     91, 100, 74, 100, true, "pooled from people before surgery; counts taken as of 100 each",
     "deville-2000"},
};

const hw_cause_row *hw_cause_rows(void)
{
    return causes;
}

const hw_accuracy_row *hw_accuracy_rows(int *count)
{
    *count = (int)(sizeof accuracies / sizeof *accuracies);
    return accuracies;
}
