// SPDX-License-Identifier: GPL-3.0-or-later
// A clinic's books as one caseload: who improved, what is missing, whom to call, tables to take away.
#ifndef HW_APP_CASELOAD_H
#define HW_APP_CASELOAD_H

#include "files/files.h"
#include "report/report.h"
#include "store/store.h"

/// One heel of one person, as the clinic's books have it.
typedef struct hw_app_heel {
    const char *person;      // id of the person's record
    const char *code, *name; // name: of the recall list alone
    hw_side side;
    const char *sex; // "" not said
    hw_maybe bmi;    // of the first visit that has mass and height
    hw_date first_rated, last_rated, last_seen;
    hw_date first_visit;
    int visits;
    int given, events; // acts on this heel, adverse events among them
} hw_app_heel;

/// One act that was given.
typedef struct hw_app_given {
    const char *person, *code, *act;
    hw_side side;      // unknown: the person as a whole, or not said
    bool is_of_person; // of a kind that is not given to one heel
    hw_date date;
    const char *event; // the adverse event as written; NULL: none written
    bool is_counted;   // on a rated heel
} hw_app_given;

/// Whether an act counts on a heel: of its side, or given to the person as a whole. One meant for a heel
/// that does not say which counts on neither.
bool hw_app_is_on(const hw_app_given *act, const hw_app_heel *heel);

/// Somebody to be called.
typedef struct hw_app_recall {
    const char *person, *code, *name;
    hw_side side; // unknown: the person as a whole
    hw_date last_seen;
    const char *why; // a sentence
    int urgency;     // 0 first
    int days;        // since they were last seen
} hw_app_recall;

enum { HW_APP_QUALITY_ROWS = 20 };

typedef struct hw_app_books {
    hw_date today;
    const char *clinic;
    bool is_invented;
    int people, visits;
    hw_app_heel *heels;      // by person and side
    hw_heel_course *courses; // of the same heels
    int heel_count;
    hw_app_given *given; // by date, those without one last
    hw_given_act *given_acts;
    int given_count;
    hw_report_count quality[HW_APP_QUALITY_ROWS];
    int quality_count;
    hw_app_recall *recalls; // by urgency, then the longest unseen
    int recall_count;
    hw_caseload caseload;
} hw_app_books;

/// Reads a store's people, visits, scores and treatments. A heel is counted under the first treatment it
/// was given on a known day: a fact, where the main one would be a judgement. Erased people are not there.
///
///   today   of the recalls
///   fails   as hw_store_list and hw_count_caseload
HW_MUST_USE hw_status hw_app_books_read(hw_job *job, hw_store *store, hw_date today, hw_arena *into,
                                        hw_app_books *out);

/// What the page shows of them. The recall list names people, also those who were never rated; nothing
/// else does.
HW_MUST_USE hw_status hw_app_books_json(hw_job *job, const hw_app_books *of, hw_arena *into,
                                        hw_bytes *out);

/// The same as tables for a spreadsheet: heels, scores, treatments, summary, control, harms, quality,
/// recalls as CSV (RFC 4180), and dictionary.csv, which says of each column what it is. People stand in
/// it by their code; the recall list by name. A text that a spreadsheet would take for a formula begins
/// with an apostrophe.
HW_MUST_USE hw_status hw_app_books_tables(hw_job *job, const hw_app_books *of, hw_arena *into,
                                          hw_file_set *out);

/// The same without people: docs/deidentified.md is the method. deid_heels.csv, deid_scores.csv,
/// deid_treatments.csv, deid_method.txt, dictionary.csv.
///
///   k   people that share what could be known of somebody elsewhere, 2 or more
HW_MUST_USE hw_status hw_app_books_deidentified(hw_job *job, const hw_app_books *of, int k,
                                                hw_arena *into, hw_file_set *out);

enum { HW_APP_K = 5 };

/// The audit report, A4 or US Letter: outcomes with denominators, treatments with what they began from,
/// harms, control chart, quality. Groups of fewer than five heels are not shown.
HW_MUST_USE hw_status hw_app_audit_pdf(hw_job *job, const hw_app_books *of, hw_paper paper,
                                       hw_arena *into, hw_bytes *out);

/// Whose treatment record.
typedef struct hw_app_course_ask {
    const char *person; // id
    hw_date today;
    hw_paper paper;
    hw_status (*who)(void *user, const char *id, const char **out); // a writer's name
    void *user;
} hw_app_course_ask;

/// The treatment record of a person as a PDF.
///
///   fails   HW_NOT_FOUND no such person, or erased
HW_MUST_USE hw_status hw_app_course_pdf(hw_job *job, hw_store *store, const hw_app_course_ask *ask,
                                        hw_arena *into, hw_bytes *out);

/// Writes into the store that somebody took something away: kind "export".
///
///   who    id of a user, or "shell"
///   what   "tables", "deidentified"; why: may be NULL
HW_MUST_USE hw_status hw_app_export_noted(hw_job *job, hw_store *store, const char *who,
                                          const char *what, const char *why, hw_arena *into);

#endif
