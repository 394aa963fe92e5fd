// SPDX-License-Identifier: GPL-3.0-or-later
// The rows. A row is a statement about one act or several: when `when` holds (and `only_if`, where
// given, too), the row stands. An id is never renamed or reused; a retired row stays, marked.
// Sentences are for the clinician and are shown with the source.
#include "clinic.h"
#include <string.h>

#define ACT(name) (1u << HW_ACT_##name)
#define SHOCKWAVE (ACT(SHOCKWAVE_RADIAL) | ACT(SHOCKWAVE_FOCUSED))
#define ANAESTHETIC (ACT(LOCAL_ANAESTHETIC) | ACT(LOCAL_ANAESTHETIC_ADRENALINE))
#define INJECTION (ACT(CORTICOSTEROID) | ACT(PRP) | ANAESTHETIC)
#define NEEDLE (INJECTION | ACT(DRY_NEEDLING))
#define IMPACT (ACT(STRENGTH) | ACT(RETURN_TO_IMPACT))
#define STRETCH (ACT(FASCIA_STRETCH) | ACT(CALF_STRETCH))

#define YES(finding)                                                                               \
    {                                                                                              \
        HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_IS, HW_WORD_YES                               \
    }
#define NO(finding)                                                                                \
    {                                                                                              \
        HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_IS, HW_WORD_NO                                \
    }
#define WORD(finding, word)                                                                        \
    {                                                                                              \
        HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_IS, HW_##word                                 \
    }
#define FROM(finding, word)                                                                        \
    {                                                                                              \
        HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_AT_LEAST, HW_##word                           \
    }
#define NUMBER(finding, comparison, limit)                                                         \
    {                                                                                              \
        HW_SUBJECT_FINDING, HW_FINDING_##finding, HW_##comparison, limit                           \
    }
#define PERSON(subject, comparison, limit)                                                         \
    {                                                                                              \
        HW_SUBJECT_##subject, 0, HW_##comparison, limit                                            \
    }
#define TAKES(groups)                                                                              \
    {                                                                                              \
        HW_SUBJECT_MEDICINE, groups, HW_IS, 1                                                      \
    }
#define HAS(groups)                                                                                \
    {                                                                                              \
        HW_SUBJECT_CONDITION, groups, HW_IS, 1                                                     \
    }
#define ALLERGIC(groups)                                                                           \
    {                                                                                              \
        HW_SUBJECT_ALLERGY, groups, HW_IS, 1                                                       \
    }
#define DAYS_SINCE(acts, days)                                                                     \
    {                                                                                              \
        HW_SUBJECT_DAYS_SINCE, acts, HW_BELOW, days                                                \
    }
#define TIMES(subject, acts, times)                                                                \
    {                                                                                              \
        HW_SUBJECT_##subject, acts, HW_AT_LEAST, times                                             \
    }
#define ALWAYS                                                                                     \
    {                                                                                              \
        HW_SUBJECT_NOTHING, 0, HW_IS, 0                                                            \
    }

// kind, id, acts, when, only if, what an unknown does, sentence, source
#define ROW(kind, id, acts, when, only_if, unanswered, sentence, source)                           \
    {                                                                                              \
        id, HW_RULE_##kind, acts, when, only_if, HW_UNANSWERED_##unanswered, HW_URGENCY_NONE,      \
            sentence, source, false                                                                \
    }

static const hw_rule rules[] = {
    // Lists that must be read whole before anything enters the skin.
    ROW(STOP, "med-unrecognised", INJECTION | SHOCKWAVE, PERSON(UNRECOGNISED_MEDICINE, IS, 1),
        ALWAYS, HOLDS, "A medicine is in no table here: classify it by hand first.", "hazard-log"),
    ROW(CAUTION, "condition-unrecognised", NEEDLE | SHOCKWAVE | ACT(NSAID) | ACT(BOOT),
        PERSON(UNRECOGNISED_CONDITION, IS, 1), ALWAYS, ASKS,
        "A condition is in no table here: look at it before going on.", "hazard-log"),
    ROW(STOP, "allergy-unrecognised", INJECTION | ACT(NSAID), PERSON(UNRECOGNISED_ALLERGY, IS, 1),
        ALWAYS, HOLDS, "An allergy is in no table here: classify it by hand first.", "hazard-log"),
    ROW(CAUTION, "allergy-latex", NEEDLE | SHOCKWAVE | ACT(TAPE) | ACT(MANUAL_THERAPY),
        ALLERGIC(HW_ALLERGEN_LATEX), ALWAYS, ASKS, "Latex allergy: gloves and tape without it.",
        "common-practice"),
    ROW(CAUTION, "allergy-antiseptic", NEEDLE, ALLERGIC(HW_ALLERGEN_SKIN_ANTISEPTIC), ALWAYS, ASKS,
        "Allergy to a skin antiseptic: use another.", "common-practice"),

    // Shockwave.
    ROW(NEVER, "sw-pregnancy", SHOCKWAVE, YES(PREGNANCY), ALWAYS, HOLDS,
        "No shockwave in pregnancy.", "tenforde-2022"),
    ROW(NEVER, "sw-tumour", SHOCKWAVE, YES(TUMOUR_IN_FIELD), ALWAYS, HOLDS,
        "No shockwave over a tumour.", "tenforde-2022"),
    ROW(NEVER, "sw-infection", SHOCKWAVE, YES(SKIN_INFECTION), ALWAYS, HOLDS,
        "No shockwave over an infection of skin or bone.", "tenforde-2022"),
    ROW(STOP, "sw-coagulopathy", SHOCKWAVE, HAS(HW_COND_COAGULOPATHY), ALWAYS, HOLDS,
        "A clotting disorder: shockwave may bleed into the heel.", "tenforde-2022"),
    ROW(STOP, "sw-anticoagulant-focused", ACT(SHOCKWAVE_FOCUSED), TAKES(HW_MED_ANTICOAGULANT),
        ALWAYS, HOLDS, "An anticoagulant: focused shockwave may bleed in depth.", "tenforde-2022"),
    ROW(STOP, "sw-anticoagulant-radial", ACT(SHOCKWAVE_RADIAL), TAKES(HW_MED_ANTICOAGULANT), ALWAYS,
        HOLDS, "An anticoagulant: radial shockwave may bruise widely.", "tenforde-2022"),
    ROW(CAUTION, "sw-antiplatelet", SHOCKWAVE, TAKES(HW_MED_ANTIPLATELET), ALWAYS, HOLDS,
        "An antiplatelet medicine: expect more bruising.", "common-practice"),
    ROW(CAUTION, "sw-nsaid", SHOCKWAVE, TAKES(HW_MED_NSAID), ALWAYS, HOLDS,
        "An NSAID is taken: consider a pause of one to two weeks before shockwave.",
        "tenforde-2022"),
    ROW(CAUTION, "sw-after-nsaid", SHOCKWAVE, DAYS_SINCE(ACT(NSAID), 14), ALWAYS, HOLDS,
        "Less than two weeks since an NSAID course (one to two weeks are usual).",
        "common-practice"),
    ROW(STOP, "sw-after-steroid", SHOCKWAVE, DAYS_SINCE(ACT(CORTICOSTEROID), 42), ALWAYS, HOLDS,
        "Less than six weeks since a corticosteroid injection of this heel.",
        "clinic-page-shockwave"),
    ROW(CAUTION, "sw-after-prp", SHOCKWAVE, DAYS_SINCE(ACT(PRP), 42), ALWAYS, HOLDS,
        "Less than six weeks since platelet-rich plasma in this heel.", "common-practice"),
    ROW(STOP, "sw-session-gap", SHOCKWAVE, DAYS_SINCE(SHOCKWAVE, 7), ALWAYS, HOLDS,
        "Less than a week since the last session on this heel.", "mardani-kivi-2015"),
    ROW(CAUTION, "sw-anaesthetic", SHOCKWAVE, DAYS_SINCE(ANAESTHETIC, 1), ALWAYS, ASKS,
        "Local anaesthetic on the same day may lower the effect of shockwave.", "lohrer-2016"),
    ROW(STOP, "sw-under-18", SHOCKWAVE, PERSON(AGE, BELOW, 18), ALWAYS, HOLDS,
        "Under 18: think of the growth plate; guardian's consent.", "common-practice"),
    ROW(STOP, "sw-growth-plate", SHOCKWAVE, YES(OPEN_GROWTH_PLATE), PERSON(AGE, BELOW, 20), HOLDS,
        "An open growth plate in the field.", "tenforde-2022"),
    ROW(CAUTION, "sw-pacemaker", SHOCKWAVE, YES(PACEMAKER), ALWAYS, HOLDS,
        "A pacemaker or other implanted device: ask who looks after it.", "tenforde-2022"),
    ROW(CAUTION, "sw-pacemaker-condition", SHOCKWAVE, HAS(HW_COND_PACEMAKER), ALWAYS, HOLDS,
        "A pacemaker or other implanted device: ask who looks after it.", "tenforde-2022"),
    ROW(STOP, "sw-sensation", SHOCKWAVE, WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS, HOLDS,
        "Protective sensation is lost: pain cannot guide the energy.", "common-practice"),
    ROW(STOP, "sw-wound", SHOCKWAVE, YES(OPEN_WOUND), ALWAYS, HOLDS, "Broken skin at the heel.",
        "common-practice"),
    ROW(STOP, "sw-rupture", SHOCKWAVE, YES(SUSPECTED_RUPTURE), ALWAYS, HOLDS,
        "A torn fascia is suspected: image it first.", "common-practice"),
    ROW(STOP, "sw-ischaemia", SHOCKWAVE, WORD(PULSES, PULSES_ABSENT), ALWAYS, HOLDS,
        "No foot pulses: severe ischaemia must be ruled out first.", "common-practice"),
    ROW(CAUTION, "sw-weak-pulses", SHOCKWAVE, WORD(PULSES, PULSES_WEAK), ALWAYS, HOLDS,
        "Weak pulses: look at the circulation first.", "common-practice"),
    ROW(CAUTION, "sw-early", SHOCKWAVE, NUMBER(WEEKS_SINCE_ONSET, BELOW, 6), ALWAYS, ASKS,
        "Within six weeks of onset the fascia stretch did better than radial shockwave.",
        "rompe-2010"),

    // Corticosteroid injection.
    ROW(NEVER, "cs-allergy", ACT(CORTICOSTEROID), ALLERGIC(HW_ALLERGEN_CORTICOSTEROID), ALWAYS,
        HOLDS, "Allergy to a corticosteroid.", "common-practice"),
    ROW(CAUTION, "cs-anaesthetic-allergy", ACT(CORTICOSTEROID),
        ALLERGIC(HW_ALLERGEN_AMIDE_ANAESTHETIC), ALWAYS, HOLDS,
        "Allergy to local anaesthetics: inject without one.", "common-practice"),
    ROW(NEVER, "cs-infection", ACT(CORTICOSTEROID), YES(SKIN_INFECTION), ALWAYS, HOLDS,
        "No corticosteroid into or near an infection.", "common-practice"),
    ROW(NEVER, "cs-tumour", ACT(CORTICOSTEROID), YES(TUMOUR_IN_FIELD), ALWAYS, HOLDS,
        "No corticosteroid into or near a tumour.", "common-practice"),
    ROW(STOP, "cs-systemic-infection", ACT(CORTICOSTEROID), YES(SYSTEMIC_INFECTION), ALWAYS, HOLDS,
        "An infection of the whole body.", "common-practice"),
    ROW(STOP, "cs-wound", ACT(CORTICOSTEROID), YES(OPEN_WOUND), ALWAYS, HOLDS,
        "Broken skin at the heel.", "common-practice"),
    ROW(STOP, "cs-implant", ACT(CORTICOSTEROID), YES(IMPLANT_AT_HEEL), ALWAYS, ASKS,
        "Metalwork or a joint replacement next to the heel.", "common-practice"),
    ROW(STOP, "cs-rupture", ACT(CORTICOSTEROID), YES(SUSPECTED_RUPTURE), ALWAYS, HOLDS,
        "A torn fascia is suspected.", "common-practice"),
    ROW(STOP, "cs-stress-fracture", ACT(CORTICOSTEROID), YES(SUSPECTED_STRESS_FRACTURE), ALWAYS,
        ASKS, "A stress fracture is suspected.", "common-practice"),
    ROW(STOP, "cs-under-18", ACT(CORTICOSTEROID), PERSON(AGE, BELOW, 18), ALWAYS, HOLDS,
        "Under 18: no corticosteroid at the heel.", "common-practice"),
    ROW(STOP, "cs-pregnancy", ACT(CORTICOSTEROID), YES(PREGNANCY), ALWAYS, HOLDS,
        "Pregnancy: only if essential; tape, orthosis and stretch come first.", "common-practice"),
    ROW(STOP, "cs-spacing", ACT(CORTICOSTEROID), DAYS_SINCE(ACT(CORTICOSTEROID), 84), ALWAYS, HOLDS,
        "Less than 12 weeks since the last corticosteroid in this heel (6 at the very least).",
        "common-practice"),
    ROW(STOP, "cs-count-year", ACT(CORTICOSTEROID), TIMES(TIMES_IN_YEAR, ACT(CORTICOSTEROID), 2),
        ALWAYS, HOLDS, "Two corticosteroid injections of this heel within a year already.",
        "common-practice"),
    ROW(STOP, "cs-count-ever", ACT(CORTICOSTEROID), TIMES(TIMES_EVER, ACT(CORTICOSTEROID), 3),
        ALWAYS, HOLDS, "Three corticosteroid injections of this heel already: specialist review.",
        "common-practice"),
    ROW(CAUTION, "cs-day-total", ACT(CORTICOSTEROID), PERSON(STEROID_DAY_TOTAL, ABOVE, 200), ALWAYS,
        ASKS, "Over both heels more than one usual dose on one day: consider two days.",
        "design-rule"),
    ROW(CAUTION, "cs-diabetes", ACT(CORTICOSTEROID), HAS(HW_COND_DIABETES), ALWAYS, HOLDS,
        "Diabetes: glucose rises; measure four times a day for 5 to 7 days.", "glucose-page"),
    ROW(CAUTION, "cs-glucose-medicine", ACT(CORTICOSTEROID), TAKES(HW_MED_GLUCOSE_LOWERING), ALWAYS,
        HOLDS, "Glucose-lowering medicine: agree a plan for the days after.", "shin-2020"),
    ROW(CAUTION, "cs-insulin", ACT(CORTICOSTEROID), TAKES(HW_MED_INSULIN_SULFONYLUREA), ALWAYS,
        HOLDS, "Insulin or a sulfonylurea: the rise is larger.", "shin-2020"),
    ROW(CAUTION, "cs-hba1c", ACT(CORTICOSTEROID), NUMBER(HBA1C_PERCENT, ABOVE, 8.0),
        HAS(HW_COND_DIABETES), HOLDS, "HbA1c above 8 %: agree a plan with the diabetes team.",
        "common-practice"),
    ROW(STOP, "cs-hba1c-high", ACT(CORTICOSTEROID), NUMBER(HBA1C_PERCENT, ABOVE, 8.5),
        HAS(HW_COND_DIABETES), HOLDS, "HbA1c above 8.5 %: diabetes is not controlled.",
        "common-practice"),
    ROW(CAUTION, "cs-anticoagulant", ACT(CORTICOSTEROID), TAKES(HW_MED_ANTICOAGULANT), ALWAYS,
        HOLDS, "An anticoagulant: usually continued; thin needle, press 5 minutes.", "eular-2021"),
    ROW(STOP, "cs-inr", ACT(CORTICOSTEROID), NUMBER(INR, ABOVE, 3.0),
        TAKES(HW_MED_VITAMIN_K_ANTAGONIST), HOLDS, "INR above 3.0.", "inr-memory"),
    ROW(STOP, "cs-coagulopathy", ACT(CORTICOSTEROID), HAS(HW_COND_COAGULOPATHY), ALWAYS, HOLDS,
        "A clotting disorder: ask the haematology team.", "eular-2021"),
    ROW(CAUTION, "cs-immunosuppressant", ACT(CORTICOSTEROID), TAKES(HW_MED_IMMUNOSUPPRESSANT),
        ALWAYS, HOLDS, "An immunosuppressant: talk to the team that prescribes it first.",
        "common-practice"),
    ROW(CAUTION, "cs-immunosuppressed", ACT(CORTICOSTEROID),
        HAS(HW_COND_IMMUNOSUPPRESSED | HW_COND_INFLAMMATORY_ARTHRITIS), ALWAYS, HOLDS,
        "Inflammatory arthritis or a weak immune system: risk of infection.", "common-practice"),
    ROW(CAUTION, "cs-systemic-steroid", ACT(CORTICOSTEROID), TAKES(HW_MED_SYSTEMIC_STEROID), ALWAYS,
        HOLDS, "A corticosteroid is taken already: the doses add up.", "common-practice"),
    ROW(STOP, "cs-cyp3a4", ACT(CORTICOSTEROID), TAKES(HW_MED_STRONG_CYP3A4), ALWAYS, HOLDS,
        "A strong CYP3A4 inhibitor: one injection has caused Cushing's syndrome and adrenal "
        "failure.",
        "mhra-2016"),
    ROW(STOP, "cs-fluoroquinolone", ACT(CORTICOSTEROID), TAKES(HW_MED_FLUOROQUINOLONE), ALWAYS,
        HOLDS, "A fluoroquinolone: with a corticosteroid the risk of rupture rises.", "mhra-2019"),
    ROW(STOP, "cs-perfusion", ACT(CORTICOSTEROID), WORD(PULSES, PULSES_ABSENT), ALWAYS, HOLDS,
        "No foot pulses: vascular opinion before an injection.", "common-practice"),
    ROW(STOP, "cs-arterial-disease", ACT(CORTICOSTEROID), HAS(HW_COND_POOR_PERFUSION), ALWAYS,
        HOLDS, "Arterial disease: vascular opinion before an injection.", "common-practice"),
    ROW(CAUTION, "cs-sensation", ACT(CORTICOSTEROID), WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS,
        HOLDS, "Protective sensation is lost: skin and healing need watching.", "common-practice"),
    ROW(CAUTION, "cs-body-mass", ACT(CORTICOSTEROID), PERSON(BODY_MASS_INDEX, AT_LEAST, 30), ALWAYS,
        ASKS, "Ruptures after injection were seen at a high body mass index.", "kim-2010"),

    // Local anaesthetic.
    ROW(NEVER, "la-allergy", ANAESTHETIC, ALLERGIC(HW_ALLERGEN_AMIDE_ANAESTHETIC), ALWAYS, HOLDS,
        "Allergy to an amide local anaesthetic: all in the table are amides.", "spc-lidocaine"),
    ROW(NEVER, "la-over-maximum", ANAESTHETIC, PERSON(ANAESTHETIC_FRACTION, ABOVE, 1.0), ALWAYS,
        HOLDS, "Over the maximum: all agents and both feet count together.", "la-adult-guide"),
    ROW(NEVER, "la-infection", ANAESTHETIC, YES(SKIN_INFECTION), ALWAYS, HOLDS,
        "No local anaesthetic into infected tissue.", "spc-lidocaine"),
    ROW(NEVER, "la-tumour", ANAESTHETIC, YES(TUMOUR_IN_FIELD), ALWAYS, HOLDS,
        "No needle through a tumour.", "common-practice"),
    ROW(STOP, "la-weight-age-adult", ANAESTHETIC, PERSON(MASS_AGE, ABOVE, 90),
        PERSON(AGE, AT_LEAST, 18), HOLDS, "The weight is more than 90 days old: weigh again.",
        "hazard-log"),
    ROW(STOP, "la-weight-age-child", ANAESTHETIC, PERSON(MASS_AGE, ABOVE, 30),
        PERSON(AGE, BELOW, 18), HOLDS, "A child's weight is more than 30 days old: weigh again.",
        "hazard-log"),
    ROW(CAUTION, "la-low-mass", ANAESTHETIC, NUMBER(MASS_KG, BELOW, 40), ALWAYS, HOLDS,
        "Less than 40 kg: check the weight and its unit.", "hazard-log"),
    ROW(CAUTION, "la-bmi-low", ANAESTHETIC, PERSON(BODY_MASS_INDEX, BELOW, 14), ALWAYS, ASKS,
        "Mass and height do not fit each other: check both.", "hazard-log"),
    ROW(CAUTION, "la-bmi-high", ANAESTHETIC, PERSON(BODY_MASS_INDEX, ABOVE, 60), ALWAYS, ASKS,
        "Mass and height do not fit each other: check both.", "hazard-log"),
    ROW(STOP, "la-under-18", ANAESTHETIC, PERSON(AGE, BELOW, 18), ALWAYS, HOLDS,
        "Under 18: the maxima here are for adults.", "hazard-log"),
    ROW(CAUTION, "la-pregnancy", ANAESTHETIC, YES(PREGNANCY), ALWAYS, HOLDS,
        "Pregnancy: only if essential, the least that works.", "common-practice"),
    ROW(CAUTION, "la-frail", ANAESTHETIC, YES(FRAIL), ALWAYS, ASKS,
        "Frail: the maximum is lowered by 30 %.", "la-frail"),
    ROW(CAUTION, "la-heart-liver", ANAESTHETIC, HAS(HW_COND_HEART | HW_COND_LIVER), ALWAYS, HOLDS,
        "Heart or liver disease: the maximum is lowered by 30 %.", "la-frail"),
    ROW(STOP, "la-porphyria", ANAESTHETIC, HAS(HW_COND_PORPHYRIA), ALWAYS, HOLDS,
        "Porphyria: amide local anaesthetics may set off an attack.", "spc-lidocaine"),
    ROW(CAUTION, "la-anticoagulant", ANAESTHETIC, TAKES(HW_MED_ANTICOAGULANT), ALWAYS, HOLDS,
        "An anticoagulant: thin needle, press 5 minutes; no deep block without need.",
        "eular-2021"),
    ROW(STOP, "la-coagulopathy", ANAESTHETIC, HAS(HW_COND_COAGULOPATHY), ALWAYS, HOLDS,
        "A clotting disorder: ask the haematology team.", "common-practice"),
    ROW(NEVER, "ad-pulses", ACT(LOCAL_ANAESTHETIC_ADRENALINE), FROM(PULSES, PULSES_WEAK), ALWAYS,
        HOLDS, "No adrenaline in a poorly perfused foot.", "common-practice"),
    ROW(NEVER, "ad-arterial-disease", ACT(LOCAL_ANAESTHETIC_ADRENALINE),
        HAS(HW_COND_POOR_PERFUSION), ALWAYS, HOLDS, "No adrenaline with arterial disease.",
        "common-practice"),
    ROW(NEVER, "ad-allergy", ACT(LOCAL_ANAESTHETIC_ADRENALINE),
        ALLERGIC(HW_ALLERGEN_ADRENALINE_SULPHITE), ALWAYS, HOLDS,
        "Allergy to the sulphite that keeps adrenaline.", "common-practice"),

    // Platelet-rich plasma.
    ROW(NEVER, "prp-infection", ACT(PRP), YES(SKIN_INFECTION), ALWAYS, HOLDS,
        "No injection into or near an infection.", "common-practice"),
    ROW(NEVER, "prp-tumour", ACT(PRP), YES(TUMOUR_IN_FIELD), ALWAYS, HOLDS,
        "No growth factors into or near a tumour.", "peerbooms-thesis"),
    ROW(NEVER, "prp-citrate", ACT(PRP), ALLERGIC(HW_ALLERGEN_CITRATE), ALWAYS, HOLDS,
        "Allergy to citrate, which keeps the blood from clotting.", "common-practice"),
    ROW(STOP, "prp-identity", ACT(PRP), NO(BLOOD_IDENTITY_CHECKED), ALWAYS, HOLDS,
        "The tube must bear two identifiers and be read back to the person.", "hazard-log"),
    ROW(STOP, "prp-platelet-disorder", ACT(PRP), HAS(HW_COND_PLATELET_DISORDER), ALWAYS, HOLDS,
        "A platelet disorder.", "common-practice"),
    ROW(STOP, "prp-platelet-count", ACT(PRP), NUMBER(PLATELET_COUNT, BELOW, 100), ALWAYS, HOLDS,
        "Platelets below 100 x 10^9/L.", "common-practice"),
    ROW(STOP, "prp-haemoglobin", ACT(PRP), NUMBER(HAEMOGLOBIN_G_PER_L, BELOW, 100), ALWAYS, ASKS,
        "Haemoglobin below 100 g/L.", "common-practice"),
    ROW(STOP, "prp-sepsis", ACT(PRP), YES(SYSTEMIC_INFECTION), ALWAYS, HOLDS,
        "An infection of the whole body.", "common-practice"),
    ROW(STOP, "prp-sepsis-condition", ACT(PRP) | ACT(CORTICOSTEROID), HAS(HW_COND_SEPSIS), ALWAYS,
        HOLDS, "An infection of the whole body.", "common-practice"),
    ROW(STOP, "prp-cancer", ACT(PRP), HAS(HW_COND_CANCER), ALWAYS, HOLDS,
        "Cancer, of the blood above all: ask the oncology team.", "common-practice"),
    ROW(STOP, "prp-pregnancy", ACT(PRP), YES(PREGNANCY), ALWAYS, HOLDS, "Pregnancy.",
        "peerbooms-thesis"),
    ROW(STOP, "prp-under-18", ACT(PRP), PERSON(AGE, BELOW, 18), ALWAYS, HOLDS, "Under 18.",
        "common-practice"),
    ROW(STOP, "prp-anticoagulant", ACT(PRP), TAKES(HW_MED_ANTICOAGULANT), ALWAYS, HOLDS,
        "An anticoagulant.", "common-practice"),
    ROW(STOP, "prp-coagulopathy", ACT(PRP), HAS(HW_COND_COAGULOPATHY), ALWAYS, HOLDS,
        "A clotting disorder.", "common-practice"),
    ROW(CAUTION, "prp-antiplatelet", ACT(PRP), TAKES(HW_MED_ANTIPLATELET), ALWAYS, HOLDS,
        "An antiplatelet medicine: the platelets may not work.", "common-practice"),
    ROW(STOP, "prp-nsaid", ACT(PRP), TAKES(HW_MED_NSAID), ALWAYS, HOLDS,
        "An NSAID is taken: none for a week before.", "peerbooms-thesis"),
    ROW(STOP, "prp-after-nsaid", ACT(PRP), DAYS_SINCE(ACT(NSAID), 7), ALWAYS, HOLDS,
        "Less than a week since an NSAID course.", "peerbooms-thesis"),
    ROW(STOP, "prp-after-steroid", ACT(PRP), DAYS_SINCE(ACT(CORTICOSTEROID), 42), ALWAYS, HOLDS,
        "Less than six weeks since a corticosteroid in this heel (4 to 6 are usual).",
        "prp-clinic-pages"),
    ROW(CAUTION, "prp-after-shockwave", ACT(PRP), DAYS_SINCE(SHOCKWAVE, 42), ALWAYS, HOLDS,
        "Less than six weeks since shockwave on this heel.", "common-practice"),
    ROW(STOP, "prp-rupture", ACT(PRP), YES(SUSPECTED_RUPTURE), ALWAYS, HOLDS,
        "A torn fascia is suspected: image it first.", "common-practice"),
    ROW(STOP, "prp-perfusion", ACT(PRP), WORD(PULSES, PULSES_ABSENT), ALWAYS, HOLDS,
        "No foot pulses: vascular opinion before an injection.", "common-practice"),
    ROW(CAUTION, "prp-sensation", ACT(PRP), WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS, HOLDS,
        "Protective sensation is lost: such people were not in the trial.", "peerbooms-thesis"),
    ROW(CAUTION, "prp-diabetes", ACT(PRP), HAS(HW_COND_DIABETES), ALWAYS, HOLDS,
        "Diabetes: such people were not in the trial.", "peerbooms-thesis"),
    ROW(CAUTION, "prp-smoking", ACT(PRP), YES(SMOKING), ALWAYS, ASKS,
        "Smoking may blunt the effect.", "common-practice"),

    // NSAID by mouth.
    ROW(NEVER, "nsaid-allergy", ACT(NSAID), ALLERGIC(HW_ALLERGEN_NSAID), ALWAYS, HOLDS,
        "Allergy to an NSAID or to aspirin.", "common-practice"),
    ROW(STOP, "nsaid-anticoagulant", ACT(NSAID), TAKES(HW_MED_ANTICOAGULANT), ALWAYS, HOLDS,
        "An anticoagulant: an NSAID may make it bleed.", "common-practice"),
    ROW(STOP, "nsaid-ulcer", ACT(NSAID), HAS(HW_COND_STOMACH_ULCER), ALWAYS, HOLDS,
        "A stomach ulcer or bleeding.", "common-practice"),
    ROW(STOP, "nsaid-organs", ACT(NSAID),
        HAS(HW_COND_KIDNEY | HW_COND_HEART_FAILURE | HW_COND_LIVER | HW_COND_COAGULOPATHY), ALWAYS,
        HOLDS, "Kidney, liver or heart failure, or a clotting disorder.", "common-practice"),
    ROW(STOP, "nsaid-pregnancy", ACT(NSAID), YES(PREGNANCY), ALWAYS, HOLDS,
        "Pregnancy: no NSAID without the obstetric team.", "common-practice"),
    ROW(STOP, "nsaid-raised-level", ACT(NSAID), TAKES(HW_MED_NSAID_RAISES), ALWAYS, HOLDS,
        "Lithium or methotrexate: an NSAID raises its level.", "common-practice"),
    ROW(CAUTION, "nsaid-twice", ACT(NSAID), TAKES(HW_MED_NSAID), ALWAYS, HOLDS,
        "An NSAID is taken already: do not add a second.", "common-practice"),
    ROW(CAUTION, "nsaid-bleeding", ACT(NSAID),
        TAKES(HW_MED_ANTIPLATELET | HW_MED_SEROTONIN | HW_MED_SYSTEMIC_STEROID), ALWAYS, HOLDS,
        "With an antiplatelet, a serotonin medicine or a corticosteroid: protect the stomach.",
        "common-practice"),
    ROW(CAUTION, "nsaid-kidney-pressure", ACT(NSAID), TAKES(HW_MED_KIDNEY_PRESSURE), ALWAYS, HOLDS,
        "With a pressure or water tablet: kidneys and pressure need watching.", "common-practice"),
    ROW(CAUTION, "nsaid-asthma", ACT(NSAID), HAS(HW_COND_ASTHMA), ALWAYS, HOLDS,
        "Asthma: ask whether an NSAID was ever taken without harm.", "common-practice"),
    ROW(CAUTION, "nsaid-age", ACT(NSAID), PERSON(AGE, AT_LEAST, 65), ALWAYS, ASKS,
        "65 or older: shorter, lower, with stomach protection.", "common-practice"),
    ROW(STOP, "nsaid-under-18", ACT(NSAID), PERSON(AGE, BELOW, 18), ALWAYS, HOLDS,
        "Under 18: the course here is for adults.", "common-practice"),
    ROW(CAUTION, "nsaid-after-shockwave", ACT(NSAID), DAYS_SINCE(SHOCKWAVE, 14), ALWAYS, ASKS,
        "Less than two weeks since shockwave (two to six are usual).", "common-practice"),
    ROW(STOP, "nsaid-after-prp", ACT(NSAID), DAYS_SINCE(ACT(PRP), 14), ALWAYS, HOLDS,
        "Less than two weeks since platelet-rich plasma.", "prp-clinic-pages"),

    // Home programme and return to impact.
    ROW(STOP, "home-rupture", IMPACT, YES(SUSPECTED_RUPTURE), ALWAYS, HOLDS,
        "A torn fascia is suspected: no loading.", "hazard-log"),
    ROW(STOP, "home-rupture-stretch", STRETCH, YES(SUSPECTED_RUPTURE), ALWAYS, ASKS,
        "A torn fascia is suspected: no stretching.", "hazard-log"),
    ROW(STOP, "home-stress-fracture", IMPACT, YES(SUSPECTED_STRESS_FRACTURE), ALWAYS, HOLDS,
        "A stress fracture is suspected: no loading.", "hazard-log"),
    ROW(STOP, "home-stress-fracture-stretch", STRETCH, YES(SUSPECTED_STRESS_FRACTURE), ALWAYS, ASKS,
        "A stress fracture is suspected: image it before stretching.", "hazard-log"),
    ROW(STOP, "home-sensation", IMPACT, WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS, HOLDS,
        "Protective sensation is lost: no heavy loading on one's own.", "common-practice"),
    ROW(CAUTION, "home-sensation-stretch", STRETCH | ACT(NIGHT_SPLINT),
        WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS, ASKS,
        "Protective sensation is lost: check the skin every day.", "common-practice"),
    ROW(CAUTION, "home-pain", IMPACT, NUMBER(ACTIVITY_PAIN_0_10, ABOVE, 5), ALWAYS, ASKS,
        "Pain above 5 during activity: cut back first.", "silbernagel-2007"),
    ROW(CAUTION, "home-fluoroquinolone", IMPACT, TAKES(HW_MED_FLUOROQUINOLONE), ALWAYS, ASKS,
        "A fluoroquinolone: tendons may tear; go easy until it is over.", "alves-2019"),
    ROW(STOP, "impact-after-injection", ACT(RETURN_TO_IMPACT),
        DAYS_SINCE(ACT(CORTICOSTEROID) | ACT(PRP), 14), ALWAYS, HOLDS,
        "Less than two weeks since an injection (one trial advised eight).", "common-practice"),
    ROW(STOP, "strength-after-injection", ACT(STRENGTH),
        DAYS_SINCE(ACT(CORTICOSTEROID) | ACT(PRP), 2), ALWAYS, HOLDS,
        "Rest 48 hours after an injection.", "common-practice"),
    ROW(STOP, "load-after-shockwave", IMPACT, DAYS_SINCE(SHOCKWAVE, 2), ALWAYS, HOLDS,
        "Relative rest for 48 hours after shockwave.", "common-practice"),
    ROW(CAUTION, "impact-first-step", ACT(RETURN_TO_IMPACT), NUMBER(FIRST_STEP_PAIN_0_10, ABOVE, 2),
        ALWAYS, ASKS,
        "First-step pain above 2: start running when a brisk 30-minute walk is 2 or less.",
        "common-practice"),
    ROW(CAUTION, "pain-from-medicine", ACT(ACTIVITY), TAKES(HW_MED_AROMATASE_INHIBITOR), ALWAYS,
        ASKS, "An aromatase inhibitor: the heel may hurt because of it.", "shanmugam-2012"),
    ROW(CAUTION, "pain-elsewhere",
        ACT(ORTHOSIS) | SHOCKWAVE | ACT(CORTICOSTEROID) | ACT(PRP) | ACT(FASCIA_STRETCH),
        FROM(TENDER_AT, TENDER_HEEL_PAD), ALWAYS, ASKS,
        "It is tender elsewhere than where the fascia starts: is it the fascia?",
        "common-practice"),

    ROW(STOP, "not-the-fascia",
        SHOCKWAVE | INJECTION | ACT(DRY_NEEDLING) | ACT(FASCIA_STRETCH) | IMPACT,
        PERSON(NOT_FASCIA, IS, 1), ALWAYS, ASKS,
        "The findings do not fit the plantar fascia: what is meant for it waits.", "martin-2014"),

    // Devices, tape, splint, boot, hands, dry needles.
    ROW(STOP, "device-sensation", ACT(ORTHOSIS), WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS,
        HOLDS, "Protective sensation is lost: no hard shell without review; soft full contact.",
        "hazard-log"),
    ROW(STOP, "device-pulses", ACT(ORTHOSIS), WORD(PULSES, PULSES_ABSENT), ALWAYS, HOLDS,
        "No foot pulses: no hard shell without review.", "hazard-log"),
    ROW(STOP, "device-past-ulcer", ACT(ORTHOSIS), YES(PAST_ULCER), ALWAYS, ASKS,
        "A past ulcer: no hard shell without review.", "common-practice"),
    ROW(STOP, "device-wound", ACT(ORTHOSIS) | ACT(INSOLE), YES(OPEN_WOUND), ALWAYS, ASKS,
        "Broken skin under the device.", "common-practice"),
    ROW(CAUTION, "insole-sensation", ACT(INSOLE) | ACT(HEEL_RAISE),
        WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS, HOLDS,
        "Protective sensation is lost: soft, full contact, skin checked every day.",
        "common-practice"),
    ROW(NEVER, "tape-allergy", ACT(TAPE), ALLERGIC(HW_ALLERGEN_ADHESIVE), ALWAYS, HOLDS,
        "Allergy to the adhesive.", "common-practice"),
    ROW(STOP, "tape-perfusion", ACT(TAPE), FROM(PULSES, PULSES_WEAK), ALWAYS, HOLDS,
        "Poor perfusion: no tight tape.", "common-practice"),
    ROW(STOP, "tape-arterial-disease", ACT(TAPE), HAS(HW_COND_POOR_PERFUSION), ALWAYS, HOLDS,
        "Arterial disease: no tight tape.", "common-practice"),
    ROW(STOP, "tape-wound", ACT(TAPE), YES(OPEN_WOUND), ALWAYS, ASKS, "Broken skin under the tape.",
        "common-practice"),
    ROW(STOP, "tape-skin", ACT(TAPE), YES(FRAGILE_SKIN), ALWAYS, ASKS,
        "Skin that tears under tape.", "common-practice"),
    ROW(CAUTION, "tape-sensation", ACT(TAPE), WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS, HOLDS,
        "Protective sensation is lost: a blister will not be felt.", "common-practice"),
    ROW(STOP, "splint-perfusion", ACT(NIGHT_SPLINT), WORD(PULSES, PULSES_ABSENT), ALWAYS, HOLDS,
        "No foot pulses: no splint that presses.", "common-practice"),
    ROW(STOP, "boot-clot", ACT(BOOT), YES(PREVIOUS_CLOT), ALWAYS, HOLDS,
        "A past clot: decide on prevention before a boot.", "clot-review-2011"),
    ROW(STOP, "boot-clot-condition", ACT(BOOT), HAS(HW_COND_CLOT_RISK), ALWAYS, HOLDS,
        "A clotting tendency: decide on prevention before a boot.", "clot-review-2011"),
    ROW(CAUTION, "boot-cancer", ACT(BOOT), HAS(HW_COND_CANCER), ALWAYS, HOLDS,
        "Cancer raises the risk of a clot in a boot.", "common-practice"),
    ROW(CAUTION, "boot-oestrogen", ACT(BOOT), TAKES(HW_MED_OESTROGEN), ALWAYS, HOLDS,
        "An oestrogen raises the risk of a clot in a boot.", "common-practice"),
    ROW(CAUTION, "boot-pregnancy", ACT(BOOT), YES(PREGNANCY), ALWAYS, HOLDS,
        "Pregnancy raises the risk of a clot in a boot.", "common-practice"),
    ROW(CAUTION, "boot-surgery", ACT(BOOT), YES(RECENT_SURGERY), ALWAYS, HOLDS,
        "Recent surgery raises the risk of a clot in a boot.", "common-practice"),
    ROW(CAUTION, "boot-immobilisation", ACT(BOOT), YES(RECENT_IMMOBILISATION), ALWAYS, HOLDS,
        "Lying or sitting long raises the risk of a clot in a boot.", "common-practice"),
    ROW(CAUTION, "boot-body-mass", ACT(BOOT), PERSON(BODY_MASS_INDEX, AT_LEAST, 30), ALWAYS, HOLDS,
        "A body mass index of 30 or more raises the risk of a clot in a boot.", "common-practice"),
    ROW(CAUTION, "boot-age", ACT(BOOT), PERSON(AGE, ABOVE, 50), ALWAYS, HOLDS,
        "Over 50: the risk of a clot in a boot is higher.", "clot-review-2011"),
    ROW(STOP, "boot-sensation", ACT(BOOT), WORD(MONOFILAMENT, FILAMENT_NOT_FELT), ALWAYS, HOLDS,
        "Protective sensation is lost: a boot may ulcerate.", "common-practice"),
    ROW(STOP, "hands-infection", ACT(MANUAL_THERAPY), YES(SKIN_INFECTION), ALWAYS, ASKS,
        "An infection at the heel.", "common-practice"),
    ROW(STOP, "hands-tumour", ACT(MANUAL_THERAPY), YES(TUMOUR_IN_FIELD), ALWAYS, ASKS,
        "A tumour where hands would press.", "common-practice"),
    ROW(CAUTION, "hands-osteoporosis", ACT(MANUAL_THERAPY), HAS(HW_COND_OSTEOPOROSIS), ALWAYS, ASKS,
        "Osteoporosis: gentle hands, no thrust.", "common-practice"),
    ROW(NEVER, "needling-infection", ACT(DRY_NEEDLING), YES(SKIN_INFECTION), ALWAYS, HOLDS,
        "No needle into or near an infection.", "common-practice"),
    ROW(NEVER, "needling-tumour", ACT(DRY_NEEDLING), YES(TUMOUR_IN_FIELD), ALWAYS, HOLDS,
        "No needle into or near a tumour.", "common-practice"),
    ROW(STOP, "needling-coagulopathy", ACT(DRY_NEEDLING), HAS(HW_COND_COAGULOPATHY), ALWAYS, HOLDS,
        "A clotting disorder.", "common-practice"),
    ROW(CAUTION, "needling-anticoagulant", ACT(DRY_NEEDLING), TAKES(HW_MED_ANTICOAGULANT), ALWAYS,
        HOLDS, "An anticoagulant: bruises.", "common-practice"),
    ROW(CAUTION, "needling-pregnancy", ACT(DRY_NEEDLING), YES(PREGNANCY), ALWAYS, HOLDS,
        "Pregnancy.", "common-practice"),
    ROW(CAUTION, "needling-immunosuppressant", ACT(DRY_NEEDLING), TAKES(HW_MED_IMMUNOSUPPRESSANT),
        ALWAYS, HOLDS, "An immunosuppressant: risk of infection.", "common-practice"),
    ROW(CAUTION, "surgery-early", ACT(SURGERY), NUMBER(WEEKS_SINCE_ONSET, BELOW, 26), ALWAYS, ASKS,
        "Less than six months: treat in full without surgery first (6 to 12 months).",
        "common-practice"),
    ROW(STOP, "surgery-after-steroid", ACT(SURGERY), DAYS_SINCE(ACT(CORTICOSTEROID), 92), ALWAYS,
        HOLDS, "Less than three months since a corticosteroid at the site.", "common-practice"),
};

// urgency, id, when, only if, what an unknown does, sentence, source
#define FLAG(urgency, id, when, only_if, unanswered, sentence, source)                             \
    {                                                                                              \
        id, HW_RULE_STOP, 0, when, only_if, HW_UNANSWERED_##unanswered, HW_URGENCY_##urgency,      \
            sentence, source, false                                                                \
    }

// About the plan as a whole: any that stands sends the person on before an ordinary plan is made.
static const hw_rule red_flags[] = {
    FLAG(EMERGENCY, "rf-saddle-numbness", YES(SADDLE_NUMBNESS), ALWAYS, HOLDS,
         "Numbness of the saddle area: emergency department now, nerves of the lower spine.",
         "common-practice"),
    FLAG(EMERGENCY, "rf-bladder-bowel", YES(BLADDER_BOWEL_CHANGE), ALWAYS, HOLDS,
         "Bladder or bowel has changed: emergency department now, nerves of the lower spine.",
         "common-practice"),
    FLAG(EMERGENCY, "rf-leg-weakness", YES(LEG_WEAKNESS), ALWAYS, HOLDS,
         "A leg grows weaker: emergency assessment of spine and nerves.", "common-practice"),
    FLAG(SAME_DAY, "rf-fever", YES(FEVER), ALWAYS, HOLDS,
         "Fever with heel pain: see a doctor today, infection of bone or soft tissue.",
         "common-practice"),
    FLAG(SAME_DAY, "rf-spreading-redness", YES(SPREADING_REDNESS), ALWAYS, HOLDS,
         "Redness that spreads: see a doctor today, infection.", "common-practice"),
    FLAG(SAME_DAY, "rf-wound", YES(WOUND), ALWAYS, HOLDS,
         "A wound with heel pain: today; one that does not heal also needs a vascular opinion.",
         "common-practice"),
    FLAG(SAME_DAY, "rf-hot-swollen-foot", YES(HOT_SWOLLEN_FOOT), ALWAYS, HOLDS,
         "A hot, swollen foot: foot protection team within one working day, no weight on it.",
         "nice-ng19"),
    FLAG(SAME_DAY, "rf-calf", YES(CALF_SWELLING), ALWAYS, HOLDS,
         "New calf pain or swelling: see a doctor today, clot in the leg.", "common-practice"),
    FLAG(SAME_DAY, "rf-breathlessness", YES(BREATHLESSNESS), ALWAYS, HOLDS,
         "New breathlessness: today, clot in the lung.", "common-practice"),
    FLAG(SAME_DAY, "rf-cannot-bear-weight", YES(CANNOT_BEAR_WEIGHT), ALWAYS, HOLDS,
         "Cannot bear weight after an injury: X-ray today, MRI if it is normal and doubt stays.",
         "common-practice"),
    FLAG(SAME_DAY, "rf-squeeze", WORD(SQUEEZE_TEST, TEST_POSITIVE), ALWAYS, ASKS,
         "Squeezing the heel bone hurts: X-ray for a stress fracture, MRI if doubt stays.",
         "common-practice"),
    FLAG(URGENT, "rf-sudden-pop", YES(SUDDEN_POP), ALWAYS, HOLDS,
         "A snap with loss of push-off: image the fascia and the tendon soon, boot meanwhile.",
         "common-practice"),
    FLAG(URGENT, "rf-night-pain", YES(NIGHT_PAIN), ALWAYS, HOLDS,
         "Pain at night: look for another cause (tumour, infection, inflammation, nerve).",
         "common-practice"),
    FLAG(URGENT, "rf-rest-pain", YES(REST_PAIN), ALWAYS, HOLDS,
         "Pain at rest: look for another cause; in the toes, the arteries.", "common-practice"),
    FLAG(URGENT, "rf-weight-loss", YES(UNEXPLAINED_WEIGHT_LOSS), ALWAYS, HOLDS,
         "Weight lost without trying: see a doctor soon.", "common-practice"),
    FLAG(URGENT, "rf-cancer-history", YES(CANCER_HISTORY), ALWAYS, HOLDS,
         "Cancer now or in the past: image before treating.", "common-practice"),
    FLAG(URGENT, "rf-mass", YES(PALPABLE_MASS), ALWAYS, HOLDS, "A lump: image it before treating.",
         "common-practice"),
    FLAG(URGENT, "rf-no-pulses", WORD(PULSES, PULSES_ABSENT), ALWAYS, HOLDS,
         "No foot pulses: vascular opinion.", "common-practice"),
    FLAG(SOON, "rf-inflammatory", YES(INFLAMMATORY_SIGNS), ALWAYS, HOLDS,
         "Long morning stiffness with other joints, skin, eye or bowel: rheumatology.",
         "common-practice"),
    // Many have it on both sides: worth a thought, no reason to wait.
    {"rf-both-heels-young", HW_RULE_CAUTION, 0, PERSON(BOTH_HEELS, IS, 1), PERSON(AGE, BELOW, 30),
     HW_UNANSWERED_ASKS, HW_URGENCY_SOON,
     "Both heels in a young adult: think of spondyloarthritis.", "common-practice", false},
};

const hw_rule *hw_rule_rows(int *count)
{
    *count = (int)(sizeof rules / sizeof *rules);
    return rules;
}

const hw_rule *hw_red_flag_rows(int *count)
{
    *count = (int)(sizeof red_flags / sizeof *red_flags);
    return red_flags;
}

static const hw_rule *with_id(const hw_rule *rows, int count, const char *id)
{
    for (int i = 0; i < count; i++)
        if (strcmp(rows[i].id, id) == 0) return &rows[i];
    return NULL;
}

const hw_rule *hw_rule_by_id(const char *id)
{
    int count = 0;
    const hw_rule *rows = hw_rule_rows(&count);
    const hw_rule *found = with_id(rows, count, id);
    if (found) return found;
    rows = hw_red_flag_rows(&count);
    return with_id(rows, count, id);
}
