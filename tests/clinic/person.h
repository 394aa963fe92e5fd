// SPDX-License-Identifier: GPL-3.0-or-later
// An invented person of whom everything was asked and nothing speaks against treatment.
#ifndef HW_TESTS_CLINIC_PERSON_H
#define HW_TESTS_CLINIC_PERSON_H

#include "clinic/clinic.h"

/// Both feet examined, the left heel hurts; visit 2026-03-02, 70 kg weighed that day.
hw_findings healthy_person(void);

hw_date day(const char *text);

/// The situation of `side` on the visit day with the findings' own past.
hw_situation case_of(const hw_findings *findings, hw_side side);

int test_clinic_rules(void);
int test_clinic_dose(void);
int test_clinic_plan(void);
int test_clinic_dates(void);
int test_clinic_vocabulary(void);
int test_clinic_judge(void);
int test_clinic_trials(void);
int test_clinic_follow(void);
int test_clinic_caseload(void);
int test_clinic_differential(void);
int test_clinic_cases(void);
int test_clinic_scores(void);
int test_clinic_orders(void);
int test_clinic_risk(void);
int test_clinic_contraindications(void);

#endif
