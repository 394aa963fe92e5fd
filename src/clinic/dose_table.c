// SPDX-License-Identifier: GPL-3.0-or-later
// The usual dose of each treatment. Defaults to start from: the clinician edits them.
#include "clinic.h"
#include <string.h>

static const hw_dose_row doses[] = {
    {HW_ACT_ACTIVITY,
     "Explain pain and load. Cut steps by 20 to 50 % in a flare, then add 10 to 20 % a week while "
     "stable; break up standing every 30 to 60 minutes.",
     {{"steps cut", "%", 20, 50}, {"steps added per week", "%", 10, 20}},
     {{0, "Cut back, pace, know the pain rule.", NULL},
      {2, "Add 10 to 20 % of the steps a week; on the feet at work a break every 30 to 60 minutes.",
       "a week in which no first step was 2 points worse"}},
     "Pain up to 2 of 10 go on, 3 to 5 hold if settled by next morning, above 5 cut back. First "
     "step "
     "2 points worse next morning: one step back, 20 to 30 % less.",
     "common-practice"},
    {HW_ACT_FOOTWEAR,
     "A firm heel counter and a heel 8 to 12 mm higher than the ball, from the first step of the "
     "day; not barefoot.",
     {{"heel to ball drop", "mm", 8, 12}},
     {{0, NULL, NULL}},
     "New pain elsewhere: change the shoe.",
     "morrissey-2021"},
    {HW_ACT_TAPE,
     "Low-Dye or calcaneal tape, changed every 3 to 7 days, for 1 to 3 weeks.",
     {{"days per tape", "d", 3, 7}, {"weeks", "weeks", 1, 3}},
     {{0, NULL, NULL}},
     "Itch, blister, cold or blue toes: take it off at once.",
     "radford-2006"},
    {HW_ACT_INSOLE,
     "A prefabricated insole that holds the arch, or a heel cushion, in every shoe; it comes "
     "before a made one, which did no better. Wear-in as for an orthosis.",
     {{"hours on the first day", "h", 1, 2}, {"hours added per day", "h", 1, 2}},
     {{0, "1 to 2 hours, an hour or two more each day.", NULL},
      {2, "All day.", "no blister, no new ache"}},
     "Blister or new ache: a day off, then half the hours.",
     "landorf-2006"},
    {HW_ACT_ORTHOSIS,
     "A device made to this foot; 1 to 2 hours on the first day, 1 to 2 more each day, all day by "
     "1 "
     "to 2 weeks.",
     {{"hours on the first day", "h", 1, 2}, {"hours added per day", "h", 1, 2}},
     {{0, "1 to 2 hours, an hour or two more each day.", NULL},
      {2, "All day.", "no blister, no new ache"}},
     "Blister or new ache: a day off, then half the hours; no better in four weeks: have it seen.",
     "common-practice"},
    {HW_ACT_HEEL_RAISE,
     "3 to 6 mm under both heels, in the shoe.",
     {{"height", "mm", 3, 6}},
     {{0, NULL, NULL}},
     "Take it out again when the calf has its length.",
     "common-practice"},
    {HW_ACT_CALF_STRETCH,
     "Knee straight, 3 minutes three times a day, or 5 times 20 s twice a day.",
     {{"hold", "s", 20, 180}, {"times a day", "", 2, 3}},
     {{0, NULL, NULL}},
     "A pull, not a pain.",
     "porter-2002"},
    {HW_ACT_WEIGHT,
     "With a body mass index of 30 or more: help to lose weight, together with the family doctor.",
     {{"body mass index from", "kg/m2", 30, 30}},
     {{0, NULL, NULL}},
     "A link with heel pain is known; that losing weight cures it was not tested.",
     "common-practice"},
    {HW_ACT_BOOT,
     "For severe pain or a partial tear: 2 to 4 weeks, then 1 to 2 weeks out of it with an "
     "orthosis.",
     {{"weeks", "weeks", 2, 4}, {"weeks of weaning", "weeks", 1, 2}},
     {{0, "All walking.", NULL},
      {3, "Wean over 1 to 2 weeks, into an orthosis.",
       "walking in the boot hurts 2 of 10 at most"}},
     "Calf pain, swelling or breathlessness: the same day to a doctor.",
     "common-practice"},
    {HW_ACT_NIGHT_SPLINT,
     "At night, ankle neutral to 5 degrees up, for 1 to 3 months.",
     {{"ankle", "deg", 0, 5}, {"months", "months", 1, 3}},
     {{0, NULL, NULL}},
     "Numb toes: loosen it or leave it off.",
     "koc-2023"},
    {HW_ACT_MANUAL_THERAPY,
     "Ankle and subtalar joints, calf and fascia, in the sessions of the visit.",
     {{"sessions", "", 4, 6}},
     {{0, NULL, NULL}},
     "Sore for a day is usual.",
     "koc-2023"},
    {HW_ACT_NSAID,
     "By mouth, the lowest dose that works, the shortest time: 2 weeks, 3 at most.",
     {{"weeks", "weeks", 2, 3}},
     {{0, NULL, NULL}},
     "Stop at stomach pain, black stool, swelling. Not within 2 weeks before shockwave.",
     "digiovanni-2003"},
    {HW_ACT_DRY_NEEDLING,
     "One session a week, six weeks.",
     {{"sessions", "", 6, 6}, {"days between", "d", 7, 7}},
     {{0, NULL, NULL}},
     "Soreness and bruises are usual.",
     "cotchett-2014"},
    {HW_ACT_CORTICOSTEROID,
     "One injection, guided by ultrasound where possible, from the medial side, off the fat pad: "
     "methylprednisolone acetate 20 to 40 mg, triamcinolone 10 to 40 mg or dexamethasone 4 mg.",
     {{"dose of methylprednisolone", "mg", 20, 40},
      {"volume at 40 mg/mL", "mL", 0.5, 1.0},
      {"in a year, one heel", "", 0, 2},
      {"in a lifetime, one heel", "", 0, 3}},
     {{0, "Rest 24 to 48 hours.", NULL},
      {2, "Impact again after 2 weeks at the earliest.", "walking hurts 2 of 10 at most"}},
     "Observe 20 to 30 minutes. Flare for 2 to 3 days is usual; fever or spreading redness: the "
     "same "
     "day. Not part of the core sequence.",
     "common-practice"},
    {HW_ACT_LOCAL_ANAESTHETIC,
     "The least that works, with an injection or as a block of the tibial nerve: 3 to 5 mL.",
     {{"volume", "mL", 2, 5}},
     {{0, NULL, NULL}},
     "The foot is numb for hours: no driving. Ringing ears, numb lips, twitching: stop, call for "
     "help, lipid rescue.",
     "common-practice"},
    {HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE,
     "Only where a longer block is needed and the foot is well perfused; never in a toe.",
     {{"volume", "mL", 2, 5}},
     {{0, NULL, NULL}},
     "As for the plain agent; a white, painful foot: the same day.",
     "common-practice"},
    {HW_ACT_FASCIA_STRETCH,
     "Leg crossed, toes pulled back until the band is tight: 10 times 10 s, three sets a day, the "
     "first before the first step; 8 weeks.",
     {{"repetitions", "", 10, 10},
      {"hold", "s", 10, 10},
      {"sets a day", "", 3, 3},
      {"weeks", "weeks", 8, 8}},
     {{0, NULL, NULL}},
     "A pull, not a pain; a snap or sudden bruise: stop and ring.",
     "digiovanni-2003-dose"},
    {HW_ACT_STRENGTH,
     "Single-leg heel raise on a step, a rolled towel under the toes, every second day: 3 s up, 2 "
     "s "
     "hold, 3 s down; load in a backpack; 12 weeks.",
     // The short foot beside it is common practice; the trial did not have it.
     {{"days between", "d", 2, 2},
      {"weeks", "weeks", 12, 12},
      {"short foot hold", "s", 5, 5},
      {"short foot repetitions", "", 10, 10}},
     {{0, "3 sets of 12, as heavy as 12 allow.", NULL},
      {2, "4 sets of 10, as heavy as 10 allow.",
       "all repetitions done, pain 5 of 10 at most and settled by next morning"},
      {4, "5 sets of 8, as heavy as 8 allow.",
       "all repetitions done, pain 5 of 10 at most and settled by next morning"}},
     "Pain up to 5 of 10 if settled by next morning; above: a step back.",
     "rathleff-2015-dose"},
    {HW_ACT_SHOCKWAVE_RADIAL,
     "Three weekly sessions of 2000 pulses, 8 to 10 Hz, pressure raised to what is borne (1.5 to 4 "
     "bar). Energy only as the maker declares it for this head; bar is never converted.",
     {{"sessions", "", 3, 3},
      {"days between", "d", 7, 7},
      {"pulses", "", 2000, 2000},
      {"rate", "Hz", 8, 10},
      {"pressure", "bar", 1.5, 4},
      {"step of the ramp, every 200 pulses", "bar", 0.2, 0.2},
      {"pain borne", "of 10", 0, 6},
      {"declared energy in trials", "mJ/mm2", 0.16, 0.16}},
     {{0, NULL, NULL}},
     "No anaesthetic. Redness and bruises settle in 5 to 10 days; 48 hours without heavy load. "
     "Tell "
     "the governance lead, inform in writing, audit. Judge 12 weeks after the last session.",
     "gerdesmeyer-2008"},
    {HW_ACT_SHOCKWAVE_FOCUSED,
     "Three weekly sessions of 2000 pulses at an energy the maker declares between 0.08 and 0.28 "
     "mJ/mm2, 4 Hz.",
     {{"sessions", "", 3, 3},
      {"days between", "d", 7, 7},
      {"pulses", "", 2000, 2000},
      {"rate", "Hz", 4, 4},
      {"declared energy in trials", "mJ/mm2", 0.15, 0.25}},
     {{0, NULL, NULL}},
     "As for radial shockwave; who may use it, local law decides.",
     "mardani-kivi-2015"},
    {HW_ACT_PRP,
     "One injection of 3 mL, from 30 to 55 mL of blood; spin by g and minutes, not by rpm: 900 g "
     "for "
     "5 minutes, then 1500 g for 15. One person's blood at a time.",
     {{"volume", "mL", 3, 3},
      {"blood", "mL", 30, 55},
      {"citrate for 55 mL", "mL", 5, 5},
      {"first spin", "g", 900, 900},
      {"first spin time", "min", 5, 5},
      {"second spin", "g", 1500, 1500},
      {"second spin time", "min", 15, 15},
      {"recovery", "", 0.7756, 0.7756}},
     {{0, "No weight for 3 days, paracetamol only.", NULL},
      {1, "Shoes, stretching; no running for 10 days, no NSAID for 2 weeks or more.", NULL}},
     "None or worse for up to four weeks is usual; judge at 3 to 6 months.",
     "prp-optimisation-2013"},
    {HW_ACT_RETURN_TO_IMPACT,
     "When a brisk 30-minute walk hurts 2 of 10 at most and the next first step is no worse: 1 "
     "minute run, 1 walk, ten times, every other day; change one thing at a time. No run more than "
     "10 % longer than the longest of 30 days.",
     {{"next run, of the longest in 30 days", "%", 110, 110}},
     {{0, "1:1 minutes, ten times, every other day; steps 5 to 10 % quicker and shorter.",
       "a brisk 30-minute walk hurts 2 of 10 at most and the next first step is no worse"},
      {2, "2:1 minutes, ten times, every other day.",
       "three runs in a row without a worse next morning"},
      {4,
       "Running through, every other day; no run more than 10 % longer than the longest of 30 "
       "days.",
       "three runs in a row without a worse next morning"}},
     "The pain rule decides.",
     "frandsen-2025"},
    {HW_ACT_SURGERY,
     "Refer after 6 to 12 months of full treatment without surgery: partial release of the inner "
     "band, "
     "40 to 50 % of its width at most, or lengthening of the calf where it alone is short.",
     {{"months of treatment before", "months", 6, 12}, {"release at most", "%", 40, 50}},
     {{0, NULL, NULL}},
     "Arch drop, pain along the outer foot, nerve injury, infection, clot: the surgeon explains "
     "them.",
     "common-practice"},
};

const hw_dose_row *hw_dose_of(hw_act act)
{
    for (size_t i = 0; i < sizeof doses / sizeof *doses; i++)
        if (doses[i].act == act) return &doses[i];
    return NULL;
}

const hw_dose_number *hw_dose_number_of(const hw_dose_row *dose, const char *name)
{
    for (int i = 0; i < HW_DOSE_NUMBERS && dose->numbers[i].name; i++)
        if (strcmp(dose->numbers[i].name, name) == 0) return &dose->numbers[i];
    return NULL;
}
