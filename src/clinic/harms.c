// SPDX-License-Identifier: GPL-3.0-or-later
#include "harms.h"

#define ACT(name) (1u << HW_ACT_##name)
#define SHOCKWAVE (ACT(SHOCKWAVE_RADIAL) | ACT(SHOCKWAVE_FOCUSED))
#define BLOCK (ACT(LOCAL_ANAESTHETIC) | ACT(LOCAL_ANAESTHETIC_ADRENALINE))

static const hw_harm harms[] = {
    {ACT(CORTICOSTEROID), "Tear of the band under the foot (plantar fascia)",
     "44 of the 51 people with a tear in one series had been injected; about 10 of 100 injected",
     "acevedo-1998"},
    {ACT(CORTICOSTEROID), "The same, another series",
     "2.4 of 100 (120 people, 2.67 injections each on average, more in heavy people)", "kim-2010"},
    {ACT(CORTICOSTEROID), "Infection", "roughly 1 of 10,000, or rarer", "common-practice"},
    {ACT(CORTICOSTEROID), "Thinner fat pad under the heel", NULL, "common-practice"},
    {ACT(CORTICOSTEROID), "Higher blood sugar for days, above all with diabetes",
     "seen in the group on the day after (51 people with type 2 diabetes); people not counted",
     "shin-2020"},
    {ACT(CORTICOSTEROID), "More pain for 2 to 3 days", NULL, "common-practice"},
    {ACT(CORTICOSTEROID), "Thin or pale skin, a red face, a changed period, a faint", NULL,
     "common-practice"},
    {ACT(PRP), "Infection, bruise, pain where blood is drawn and where it is injected", NULL,
     "common-practice"},
    {ACT(PRP), "No better or worse for up to four weeks", NULL, "prp-clinic-pages"},
    {BLOCK, "Numb foot for hours: a fall, no driving", NULL, "common-practice"},
    {BLOCK, "Injury of the nerve, bleeding", NULL, "common-practice"},
    {BLOCK, "Poisoning by the anaesthetic: ringing ears, numb lips, fits, the heart", NULL,
     "common-practice"},
    {SHOCKWAVE, "Pain during treatment", NULL, "common-practice"},
    {SHOCKWAVE, "Redness, swelling, bruises; they settle in 5 to 10 days", NULL,
     "clinic-page-shockwave"},
    {SHOCKWAVE, "Numbness", NULL, "common-practice"},
};

const hw_harm *hw_harm_rows(int *count)
{
    *count = (int)(sizeof harms / sizeof *harms);
    return harms;
}
