// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers stand in the dose table only: a text names them in braces.
#include "plain_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define AT_HOME true
#define AT_THE_CLINIC false
// clang-format off: braces of an empty list are no block
#define NO_PICTURES                                                                                \
    {                                                                                              \
        {                                                                                          \
            FIGURE_NONE, NULL, NULL, NULL                                                          \
        }                                                                                          \
    }
// clang-format on

static const plain_act acts[] = {
    {HW_ACT_ACTIVITY, AT_HOME, "Give the heel less to carry",
     "Take {steps cut}\xc2\xa0% fewer steps than usual for now. When you have to stand, sit down "
     "for a "
     "moment every half hour to an hour. When it stays calm, add {steps added per week}\xc2\xa0% a "
     "week.",
     NULL, NO_PICTURES},
    {HW_ACT_FOOTWEAR, AT_HOME, "Firm shoes from the first step",
     "Wear shoes with a firm heel cup and a heel {heel to ball drop} mm higher than the ball of "
     "the "
     "foot, from the first step of the day. Do not walk barefoot, indoors either.",
     NULL, NO_PICTURES},
    {HW_ACT_TAPE,
     AT_HOME,
     "Tape under the arch",
     NULL,
     "Take it off at once if the skin itches or blisters, or the toes turn cold or blue.",
     {{FIGURE_TAPE, "Tape under the arch", "The tape carries part of the load. Keep it dry.",
       "Changed every {days per tape} days, for {weeks} weeks."}}},
    {HW_ACT_INSOLE,
     AT_HOME,
     "Insole in every shoe",
     NULL,
     "A blister or a new ache: a day without it, then half the hours.",
     {{FIGURE_INSOLE, "Insole in every shoe", "It holds the arch from below.",
       "{hours on the first day} hours on the first day and {hours added per day} hours more each "
       "day, until all day."}}},
    {HW_ACT_ORTHOSIS,
     AT_HOME,
     "Your own insole",
     NULL,
     "A blister or a new ache: a day without it, then half the hours. No better in four weeks: "
     "have it seen.",
     {{FIGURE_INSOLE, "Your own insole", "Made to your foot.",
       "{hours on the first day} hours on the first day and {hours added per day} hours more each "
       "day, until all day."}}},
    {HW_ACT_HEEL_RAISE, AT_HOME, "Heel raise in the shoes",
     "{height} mm under both heels, in the shoe.", NULL, NO_PICTURES},
    {HW_ACT_CALF_STRETCH,
     AT_HOME,
     "Calf stretch",
     NULL,
     "A pull, not a pain.",
     {{FIGURE_CALF_STRETCH, "Calf stretch, knee straight",
       "Hands on the wall, the painful leg behind. Knee straight, heel on the floor, toes forward. "
       "Lean in until the calf pulls.",
       "Hold {hold>} seconds, {times a day>} times a day; or {hold<} seconds, 5 times over, {times "
       "a "
       "day<} times a day."},
      {FIGURE_CALF_STRETCH_BENT, "Calf stretch, knee bent",
       "Step closer to the wall. Bend the knee of the leg behind, its heel stays on the floor. Now "
       "it "
       "pulls lower, near the heel.",
       "Each time after the one with the knee straight, just as long."}}},
    {HW_ACT_WEIGHT, AT_HOME, "Less weight on the heel",
     "Losing weight takes load off the heel. Ask us and your family doctor for help with it.", NULL,
     NO_PICTURES},
    {HW_ACT_BOOT, AT_HOME, "Walking boot",
     "For all walking, {weeks} weeks, then {weeks of weaning} weeks of leaving it off little by "
     "little.",
     "Pain or swelling in the calf: see a doctor the same day.", NO_PICTURES},
    {HW_ACT_NIGHT_SPLINT, AT_HOME, "Night splint", "Every night for {months} months.",
     "Numb toes: loosen it or leave it off.", NO_PICTURES},
    {HW_ACT_NSAID, AT_HOME, "Anti-inflammatory tablets",
     "Only what you and we agreed on: the lowest dose that works, {weeks} weeks at most.",
     "Stop and ring us at stomach pain, black stools or swelling.", NO_PICTURES},
    {HW_ACT_FASCIA_STRETCH,
     AT_HOME,
     "Toes-back stretch",
     NULL,
     "A pull, not a pain. A snap or a sudden bruise: stop and ring us.",
     {{FIGURE_FASCIA_STRETCH, "Toes-back stretch",
       "Sit, and lay the painful foot on the other knee. Pull the toes back until the band under "
       "the "
       "foot is tight; feel it with your thumb.",
       "Hold {hold} seconds, {repetitions} times. Do this {sets a day} times a day, the first "
       "before "
       "your first step, for {weeks} weeks."}}},
    {HW_ACT_STRENGTH,
     AT_HOME,
     "Heel raise on a step",
     NULL,
     "Pain up to 5 of 10 is allowed if it has settled by next morning; above that, a step back.",
     {{FIGURE_HEEL_RAISE, "Heel raise on a step",
       "A rolled towel under the toes, the heel over the edge, one leg at a time, a hand on the "
       "rail.",
       "Up in 3 seconds, hold 2, down in 3. Every second day, for {weeks} weeks."},
      {FIGURE_SHORT_FOOT, "Short foot",
       "Foot flat on the floor. Draw the ball of the foot towards the heel, so that the arch "
       "rises. "
       "The toes stay long: do not claw them.",
       "Hold {short foot hold} seconds, {short foot repetitions} times, on the same days."}}},
    {HW_ACT_RETURN_TO_IMPACT, AT_HOME, "Running again",
     "Run 1 minute, walk 1 minute, ten times, every other day.", "The pain rule on page 1 decides.",
     NO_PICTURES},
    {HW_ACT_MANUAL_THERAPY, AT_THE_CLINIC, "Treatment of the joints by hand", NULL, NULL,
     NO_PICTURES},
    {HW_ACT_SURGERY, AT_THE_CLINIC, "A talk with a surgeon", NULL, NULL, NO_PICTURES},
    {HW_ACT_DRY_NEEDLING, AT_THE_CLINIC, "Needling", NULL, NULL, NO_PICTURES},
    {HW_ACT_CORTICOSTEROID, AT_THE_CLINIC, "Cortisone injection", NULL,
     "After the injection: rest a day or two, no running or jumping for 2 weeks. Fever or "
     "spreading redness: ring us the same day.",
     NO_PICTURES},
    {HW_ACT_LOCAL_ANAESTHETIC, AT_THE_CLINIC, "Local anaesthetic", NULL,
     "The foot is numb for hours: do not drive.", NO_PICTURES},
    {HW_ACT_LOCAL_ANAESTHETIC_ADRENALINE, AT_THE_CLINIC, "Local anaesthetic", NULL,
     "The foot is numb for hours: do not drive. A white, painful foot: ring us the same day.",
     NO_PICTURES},
    {HW_ACT_SHOCKWAVE_RADIAL, AT_THE_CLINIC, "Shockwave treatment", NULL,
     "After shockwave: no heavy load for two days. Redness and bruises fade in 5 to 10 days.",
     NO_PICTURES},
    {HW_ACT_SHOCKWAVE_FOCUSED, AT_THE_CLINIC, "Shockwave treatment", NULL,
     "After shockwave: no heavy load for two days. Redness and bruises fade in 5 to 10 days.",
     NO_PICTURES},
    {HW_ACT_PRP, AT_THE_CLINIC, "Injection of your own platelets", NULL,
     "After the injection: no weight on the foot for 3 days, no anti-inflammatory tablets for 2 "
     "weeks or more, no running for 10 days. Fever or spreading redness: ring us the same day.",
     NO_PICTURES},
};

const plain_act *plain_act_of(hw_act act)
{
    for (size_t i = 0; i < sizeof acts / sizeof *acts; i++)
        if (acts[i].act == act) return &acts[i];
    return NULL;
}

// "{hold<}" is the lower end, "{hold>}" the upper, "{hold}" both.
static void put_number(hw_writer *to, const hw_dose_number *number, char end)
{
    if (end == '<' || end == '>')
        hw_writer_print(to, "%g", end == '<' ? number->low : number->high);
    else if (fabs(number->high - number->low) > 1e-9) // table values: equal or apart
        hw_writer_print(to, "%g to %g", number->low, number->high);
    else
        hw_writer_print(to, "%g", number->low);
}

hw_status plain_text(hw_job *job, const plain_act *of, const char *text, hw_arena *into,
                     const char **out)
{
    const hw_dose_row *dose = hw_dose_of(of->act);
    hw_writer to = hw_writer_begin(into);
    hw_bytes filled = {0};
    for (const char *at = text ? text : ""; *at; at++) {
        const char *end = *at == '{' ? strchr(at, '}') : NULL;
        char name[48];
        if (!end) {
            hw_writer_bytes(&to, at, 1);
            continue;
        }
        snprintf(name, sizeof name, "%.*s", (int)(end - at - 1), at + 1);
        char which = name[strlen(name) - 1];
        if (which == '<' || which == '>') name[strlen(name) - 1] = 0;
        const hw_dose_number *number = dose ? hw_dose_number_of(dose, name) : NULL;
        HW_ASSERT(number != NULL); // a text names only what its dose row has: every row is tested
        put_number(&to, number, which);
        at = end;
    }
    HW_TRY(hw_writer_end(job, &to, &filled));
    *out = (const char *)filled.at;
    return HW_OK;
}

// A breathless person is sent to the emergency number, though the row that asks about it says
// "today".
static const plain_sign signs[] = {
    {HW_FINDING_BREATHLESSNESS, PLAIN_EMERGENCY, "you are suddenly short of breath"},
    {HW_FINDING_SADDLE_NUMBNESS, PLAIN_EMERGENCY, "you are numb between the legs"},
    {HW_FINDING_BLADDER_BOWEL_CHANGE, PLAIN_EMERGENCY,
     "you cannot hold or pass urine or stools as usual"},
    {HW_FINDING_LEG_WEAKNESS, PLAIN_EMERGENCY, "a leg grows weak"},
    {HW_FINDING_CALF_SWELLING, PLAIN_RING_TODAY, "a calf becomes painful or swollen"},
    {HW_FINDING_FEVER, PLAIN_RING_TODAY, "you have a fever, or feel ill with the heel pain"},
    {HW_FINDING_SPREADING_REDNESS, PLAIN_RING_TODAY, "redness spreads"},
    {HW_FINDING_HOT_SWOLLEN_FOOT, PLAIN_RING_TODAY, "the foot is hot and swollen: keep off it"},
    {HW_FINDING_WOUND, PLAIN_RING_TODAY, "you have a wound or blister that does not heal"},
    {HW_FINDING_SUDDEN_POP, PLAIN_RING_TODAY, "something snaps, or the sole is suddenly bruised"},
    {HW_FINDING_CANNOT_BEAR_WEIGHT, PLAIN_RING_TODAY, "you cannot put weight on the foot"},
    {HW_FINDING_NIGHT_PAIN, PLAIN_RING_TODAY, "pain wakes you at night, or hurts at rest"},
};

const plain_sign *plain_signs(int *count)
{
    *count = (int)(sizeof signs / sizeof *signs);
    return signs;
}

const char *plain_date(hw_date date, char text[static 40])
{
    static const char *const weekdays[7] = {"Thursday", "Friday",  "Saturday", "Sunday",
                                            "Monday",   "Tuesday", "Wednesday"}; // day 0: Thursday
    static const char *const months[12] = {"January",   "February", "March",    "April",
                                           "May",       "June",     "July",     "August",
                                           "September", "October",  "November", "December"};
    char iso[HW_DATE_TEXT];
    hw_date_text(date, iso);
    if (!date.known) {
        snprintf(text, 40, "%s", iso);
        return text;
    }
    int month = 10 * (iso[5] - '0') + (iso[6] - '0'), day = 10 * (iso[8] - '0') + (iso[9] - '0');
    snprintf(text, 40, "%s %d %s %.4s", weekdays[(date.days % 7 + 7) % 7], day, months[month - 1],
             iso);
    return text;
}
