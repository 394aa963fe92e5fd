// SPDX-License-Identifier: GPL-3.0-or-later
// The scales and their arithmetic. Change that matters and error: Landorf 2010 J Foot Ankle Res 3:7
// (ratings), Landorf 2008 Foot (foot function index, from memory), Martin 2005 Foot Ankle Int
// 26:968, Binkley 1999 Phys Ther 79:371, Stratford 1995 Physiother Can (from memory).
#include "scores.h"
#include <math.h>
#include <string.h>

#define NUMBER(x)                                                                                  \
    {                                                                                              \
        .known = true, .value = x                                                                  \
    }
#define UNKNOWN                                                                                    \
    {                                                                                              \
        .known = false                                                                             \
    }

static const char landorf_2008[] = "from memory: Landorf 2008 Foot";
static const char no_value[] = "no published value was found";

// clang-format off
#define FFI(key, name, high)                                                                       \
    {key, name, 23, 23, 0.0, high, false,                                                          \
     {{"pain", HW_SCORING_PERCENT, 0, 9, 5, NUMBER(12.3), UNKNOWN, landorf_2008},                  \
      {"disability", HW_SCORING_PERCENT, 9, 9, 5, NUMBER(6.7), UNKNOWN, landorf_2008},             \
      {"activity limitation", HW_SCORING_PERCENT, 18, 5, 3, NUMBER(0.5), UNKNOWN, landorf_2008},   \
      {"total: sum over its maximum", HW_SCORING_PERCENT, 0, 23, 12, NUMBER(7.0), UNKNOWN,         \
       landorf_2008},                                                                              \
      {"total: mean of the three parts", HW_SCORING_MEAN_OF_PARTS, 0, 23, 12, NUMBER(7.0),         \
       UNKNOWN, landorf_2008}},                                                                    \
     HW_WORDING_CLINICS, NULL,                                                                     \
     "the two totals differ: say which one is meant; permission is needed to print its items"}

static const hw_scale scales[] = {
    {"first-step-pain", "pain at the first steps of the morning", 1, 1, 0.0, 10.0, false,
     {{"rating", HW_SCORING_SUM, 0, 1, 1, NUMBER(1.9), NUMBER(2.0),
       "Landorf 2010 J Foot Ankle Res 3:7; error from memory: Childs 2005 Spine"}},
     HW_WORDING_COMMON, "Pain at the first steps of the morning, last week: 0 none, 10 worst", NULL},
    {"average-pain", "pain on average", 1, 1, 0.0, 10.0, false,
     {{"rating", HW_SCORING_SUM, 0, 1, 1, NUMBER(0.8), NUMBER(2.0),
       "Landorf 2010 J Foot Ankle Res 3:7; error from memory: Childs 2005 Spine"}},
     HW_WORDING_COMMON, "Pain on average, last week: 0 none, 10 worst", NULL},
    {"activity-pain", "pain during activity", 1, 1, 0.0, 10.0, false,
     {{"rating", HW_SCORING_SUM, 0, 1, 1, UNKNOWN, NUMBER(2.0),
       "error from memory: Childs 2005 Spine"}},
     HW_WORDING_COMMON, "Pain during activity, last week: 0 none, 10 worst", NULL},
    FFI("ffi", "foot function index, answers 0 to 10", 10.0),
    FFI("ffi-original", "foot function index, answers coded 0 to 9", 9.0),
    {"faam-adl", "foot and ankle ability measure, daily living", 21, 21, 0.0, 4.0, true,
     {{"daily living", HW_SCORING_PERCENT, 0, 21, 19, NUMBER(8.0), NUMBER(5.7),
       "Martin 2005 Foot Ankle Int 26:968"}},
     HW_WORDING_CLINICS, NULL, "said to be free to use; ask its authors before printing it"},
    {"faam-sport", "foot and ankle ability measure, sport", 8, 8, 0.0, 4.0, true,
     {{"sport", HW_SCORING_PERCENT, 0, 8, 7, NUMBER(9.0), NUMBER(12.3),
       "Martin 2005 Foot Ankle Int 26:968"}},
     HW_WORDING_CLINICS, NULL, "said to be free to use; ask its authors before printing it"},
    {"lefs", "lower extremity functional scale", 20, 20, 0.0, 4.0, true,
     {{"sum of 80", HW_SCORING_SUM, 0, 20, 18, NUMBER(9.0), NUMBER(9.0),
       "Binkley 1999 Phys Ther 79:371 (error at 90 %)"}},
     HW_WORDING_CLINICS, NULL, "copyright of its journal and authors; more than 10 % missing: no "
     "score (common practice)"},
    {"roles-maudsley", "grade of pain and ability (Roles and Maudsley)", 1, 1, 1.0, 4.0, false,
     {{"grade", HW_SCORING_SUM, 0, 1, 1, UNKNOWN, UNKNOWN, no_value}},
     HW_WORDING_COMMON,
     "The heel now: 1 no pain, all I want to do; 2 little pain, nearly all; 3 some pain, less than "
     "before only in part; 4 pain as before or worse",
     "success is grade 1 or 2; some papers count from 4 as the best, so the direction is stored"},
    {"patient-specific", "own activities", 5, 3, 0.0, 10.0, true,
     {{"mean", HW_SCORING_MEAN, 0, 5, 3, NUMBER(2.0), NUMBER(2.0),
       "from memory: Stratford 1995 Physiother Can"}},
     HW_WORDING_COMMON, "An activity that matters to me: 0 cannot do it, 10 as before", NULL},
    {"global-change", "change since the start", 1, 1, 1.0, 7.0, false,
     {{"grade", HW_SCORING_SUM, 0, 1, 1, UNKNOWN, UNKNOWN, no_value}},
     HW_WORDING_COMMON,
     "Since the start the heel is: 1 very much better, 2 much better, 3 a little better, 4 the same, "
     "5 a little worse, 6 much worse, 7 very much worse",
     "grades 1 and 2 count as better (common practice)"},
};
// clang-format on

const hw_scale *hw_scale_rows(int *count)
{
    *count = (int)(sizeof scales / sizeof *scales);
    return scales;
}

const hw_scale *hw_scale_by_key(const char *key)
{
    for (size_t i = 0; i < sizeof scales / sizeof *scales; i++)
        if (hw_text_same(scales[i].key, key)) return &scales[i];
    return NULL;
}

static hw_status check_items(hw_job *job, const hw_scale *scale, const hw_item *items, int count)
{
    if (count < scale->least_items || count > scale->item_count)
        return hw_fail(job, HW_BAD_INPUT, "%s has %d%s%.0d items; %d were given", scale->name,
                       scale->least_items, scale->least_items < scale->item_count ? " to " : "",
                       scale->least_items < scale->item_count ? scale->item_count : 0, count);
    for (int i = 0; i < count; i++) {
        const double number = items[i].number;
        if (items[i].kind != HW_ITEM_ANSWERED) continue;
        if (!(number >= scale->item_low && number <= scale->item_high))
            return hw_fail(job, HW_BAD_INPUT, "item %d of %s is %g; answers go from %g to %g",
                           i + 1, scale->name, number, scale->item_low, scale->item_high);
    }
    return HW_OK;
}

typedef struct tally {
    int answered;
    double sum; // above the lowest answer
} tally;

static tally count_items(const hw_scale *scale, const hw_item *items, int from, int count)
{
    tally out = {0};
    for (int i = from; i < from + count; i++) {
        if (items[i].kind != HW_ITEM_ANSWERED) continue;
        out.answered++;
        out.sum += items[i].number - scale->item_low;
    }
    return out;
}

static double percent_of(const hw_scale *scale, const tally *of)
{
    return 100.0 * of->sum / (of->answered * (scale->item_high - scale->item_low));
}

static double mean_of(const hw_maybe *values, int count)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++) sum += values[i].value;
    return sum / count;
}

// A total stands on its parts: where one of them cannot be scored, neither can the total.
static bool have_all(const hw_maybe *values, int count)
{
    for (int i = 0; i < count; i++)
        if (!values[i].known) return false;
    return true;
}

static bool is_total(const hw_scale_value *value, int index)
{
    return index > 0 && value->from == 0;
}

enum { PARTS = 3 }; // the foot function index is the only scale with totals

static hw_maybe value_of(const hw_scale *scale, const hw_scale_value *value, const hw_item *items,
                         int count, const hw_maybe *parts)
{
    const tally of = count_items(scale, items, value->from, count);
    switch (value->scoring) {
    case HW_SCORING_PERCENT:
        return hw_known(percent_of(scale, &of));
    case HW_SCORING_SUM: // scaled up for what is missing
        return hw_known(count * (scale->item_low + of.sum / of.answered));
    case HW_SCORING_MEAN:
        return hw_known(scale->item_low + of.sum / of.answered);
    case HW_SCORING_MEAN_OF_PARTS:
        return hw_known(mean_of(parts, PARTS));
    }
    return (hw_maybe){0};
}

hw_status hw_score_items(hw_job *job, const hw_scale *scale, const hw_item *items, int count,
                         hw_scored *out)
{
    HW_TRY(check_items(job, scale, items, count));
    hw_scored scored = {0};
    for (int i = 0; i < count; i++) {
        scored.answered += items[i].kind == HW_ITEM_ANSWERED;
        scored.missing += items[i].kind == HW_ITEM_MISSING;
        scored.not_applicable += items[i].kind == HW_ITEM_NOT_APPLICABLE;
    }
    for (int i = 0; i < HW_SCALE_VALUES && scale->values[i].name; i++) {
        const hw_scale_value *value = &scale->values[i];
        const int most = count - value->from < value->count ? count - value->from : value->count;
        scored.value_count++;
        if (count_items(scale, items, value->from, most).answered < value->least_answered)
            scored.why[i] = "too few items are answered";
        else if (is_total(value, i) && !have_all(scored.values, PARTS))
            scored.why[i] = "a part of it cannot be scored";
        else
            scored.values[i] = value_of(scale, value, items, most, scored.values);
    }
    *out = scored;
    return HW_OK;
}

double hw_grade_from_best(const hw_scale *scale, double grade, bool highest_is_best)
{
    return highest_is_best ? scale->item_low + scale->item_high - grade : grade;
}

const char *hw_change_word(hw_change change)
{
    static const char *const words[] = {"what matters is not known",
                                        "no change that matters",
                                        "better by what matters, not shown to be beyond the error",
                                        "better by what matters, beyond the error",
                                        "worse by what matters, not shown to be beyond the error",
                                        "worse by what matters, beyond the error"};
    return words[change];
}

hw_change hw_change_of(const hw_scale *scale, int value, double from, double to)
{
    const hw_scale_value *of = &scale->values[value];
    const double better = scale->higher_is_better ? to - from : from - to;
    if (!of->matters.known) return HW_CHANGE_NOT_KNOWN;
    if (!hw_compare(fabs(better), HW_AT_LEAST, of->matters.value)) return HW_CHANGE_NONE;
    // Where the error was never published no change is beyond it.
    const bool surely = of->error.known && hw_compare(fabs(better), HW_AT_LEAST, of->error.value);
    if (better > 0.0) return surely ? HW_CHANGE_BETTER_SURELY : HW_CHANGE_BETTER;
    return surely ? HW_CHANGE_WORSE_SURELY : HW_CHANGE_WORSE;
}
