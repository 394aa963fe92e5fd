// SPDX-License-Identifier: GPL-3.0-or-later
#include "risk.h"
#include "readings.h"
#include <math.h>

#define FINDING(id) HW_SUBJECT_FINDING, HW_FINDING_##id
#define RATIO(value, low, high)                                                                    \
    {value, true}, {low, true},                                                                    \
    {                                                                                              \
        high, true                                                                                 \
    }
#define ALONE(value)                                                                               \
    {value, true}, {0.0, false},                                                                   \
    {                                                                                              \
        0.0, false                                                                                 \
    }

static const char more_when_loaded[] = "With the knee bent and loaded people with heel pain had "
                                       "more range, not less (Irving 2007, 45.1 "
                                       "against 40.5 degrees): the two tests share no threshold.";
static const char pain[] = "odds ratio of heel pain";
static const char poor[] = "odds ratio of less than half the pain gone at 3 months";

// clang-format off
static const hw_risk_row rows[] = {
    {HW_RISK_OF_PAIN, FINDING(DORSIFLEXION_KNEE_EXTENDED_DEG), -INFINITY, 0.0,
     "ankle dorsiflexion of 0 degrees or less, knee straight", pain, RATIO(23.3, 4.3, 124.4),
     "riddle-2003", more_when_loaded},
    {HW_RISK_OF_PAIN, FINDING(DORSIFLEXION_KNEE_EXTENDED_DEG), 0.0, 5.0,
     "ankle dorsiflexion of 1 to 5 degrees, knee straight", pain, ALONE(8.2), "riddle-2003-memory",
     more_when_loaded},
    {HW_RISK_OF_PAIN, FINDING(DORSIFLEXION_KNEE_EXTENDED_DEG), 5.0, 10.0,
     "ankle dorsiflexion of 6 to 10 degrees, knee straight", pain, ALONE(2.9), "riddle-2003-memory",
     more_when_loaded},
    {HW_RISK_OF_PAIN, HW_SUBJECT_BODY_MASS_INDEX, 0, 30.0, INFINITY, "body mass index above 30", pain,
     RATIO(5.6, 1.9, 16.6), "riddle-2003", "A second study found 2.9 (1.4 to 6.1) from 30 on: the row below."},
    {HW_RISK_OF_PAIN, HW_SUBJECT_BODY_MASS_INDEX, 0, 29.999999, INFINITY, "body mass index of 30 or more", pain,
     RATIO(2.9, 1.4, 6.1), "irving-2007", "Strongest in people who do no sport; in athletes the link is weaker."},
    {HW_RISK_OF_PAIN, HW_SUBJECT_BODY_MASS_INDEX, 0, 25.0, 30.0, "body mass index above 25 to 30", pain,
     ALONE(2.0), "riddle-2003-memory", "Its interval includes 1."},
    {HW_RISK_OF_PAIN, FINDING(STANDING_HOURS_PER_DAY), 4.0, INFINITY,
     "on the feet most of the working day", pain, RATIO(3.6, 1.3, 10.1), "riddle-2003",
     "Irving 2007 found no difference in sitting, standing, squatting, climbing or lifting."},
    {HW_RISK_OF_PAIN, FINDING(FOOT_POSTURE_INDEX), 3.999999, INFINITY, "foot posture index of 4 or more",
     pain, RATIO(3.7, 1.6, 8.7), "irving-2007",
     "A review of 2006 (from memory) called pronation inconclusive; 0 to 5 count as normal."},
    {HW_RISK_OF_COURSE, FINDING(DORSIFLEXION_KNEE_EXTENDED_DEG), -INFINITY, -5.0,
     "no dorsiflexion beyond 5 degrees short of square", poor, ALONE(3.9), "wrobel-2016",
     "77 people in a trial of shoes, 69 followed; the whole model tells little (area 0.77)."},
    {HW_RISK_OF_COURSE, FINDING(FIRST_STEP_PAIN_0_10), -INFINITY, 7.0, "first-step pain of 7 or less",
     poor, ALONE(3.8), "wrobel-2016",
     "The milder pain has less to lose: a share of it is harder to reach, not the end."},
    {HW_RISK_OF_COURSE, FINDING(SEX), -0.5, 0.5, "female sex", "hazard ratio of being cured",
     RATIO(0.49, 0.30, 0.80), "hansen-2018", "174 people of one hospital, severe cases."},
    {HW_RISK_OF_COURSE, HW_SUBJECT_BOTH_HEELS, 0, 0.5, INFINITY, "both heels hurt",
     "worse (p < .01, no size printed)", {0.0, false}, {0.0, false}, {0.0, false}, "hansen-2018",
     "174 people of one hospital, severe cases."},
};
// clang-format on

const hw_risk_row *hw_risk_rows(int *count)
{
    *count = (int)(sizeof rows / sizeof *rows);
    return rows;
}

hw_verdict hw_risk_holds(const hw_risk_row *row, const hw_situation *one)
{
    const hw_test test = {row->subject, row->key, HW_IS, 0.0};
    const hw_reading reading = hw_read(&test, one);
    if (reading.given != HW_GIVEN_VALUE) return HW_VERDICT_UNKNOWN;
    const bool above = isinf(row->above) || hw_compare(reading.number, HW_ABOVE, row->above);
    const bool beyond = !isinf(row->up_to) && hw_compare(reading.number, HW_ABOVE, row->up_to);
    return above && !beyond ? HW_VERDICT_YES : HW_VERDICT_NO;
}

const hw_history_row *hw_history_rows(int *count)
{
    static const hw_history_row history[] = {{1, 80.5}, {5, 50.0}, {10, 45.6}, {15, 44.0}};
    *count = (int)(sizeof history / sizeof *history);
    return history;
}

const char *hw_history_against(void)
{
    return "Reviews quote 80 % well within 12 months; the hospital cohort is severe and counts "
           "only "
           "those with no pain at all.";
}
