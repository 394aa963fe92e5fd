// SPDX-License-Identifier: GPL-3.0-or-later
#include "person.h"

int main(void)
{
    return test_clinic_rules() + test_clinic_dose() + test_clinic_plan() + test_clinic_dates() +
           test_clinic_vocabulary() + test_clinic_judge() + test_clinic_trials() +
           test_clinic_follow() + test_clinic_caseload() + test_clinic_differential() +
           test_clinic_cases() + test_clinic_scores() + test_clinic_orders() + test_clinic_risk() +
           test_clinic_contraindications();
}
