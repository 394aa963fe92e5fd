// SPDX-License-Identifier: GPL-3.0-or-later
// What both pages of the plan share: inks, margins, heads and feet. Internal to report.
#ifndef HW_REPORT_SHEET_H
#define HW_REPORT_SHEET_H

#include "pdf/pdf.h"
#include "report/report.h"

// A4, mm.
#define SHEET_WIDTH 210.0
#define SHEET_HEIGHT 297.0
#define SHEET_MARGIN 13.0
#define SHEET_INNER (SHEET_WIDTH - 2.0 * SHEET_MARGIN)
#define SHEET_FLOOR (SHEET_HEIGHT - 24.0) // nothing but the foot of the page below

extern const hw_pdf_ink sheet_title, sheet_heading, sheet_strong, sheet_plain, sheet_small,
    sheet_small_strong, sheet_rule, sheet_alarm, sheet_wash;

typedef struct sheet {
    hw_job *job;
    hw_arena *into;
    hw_pdf *pdf;
    const hw_report *report;
    const hw_report_audit *audit; // one of these three
    const hw_report_course *course;
    const char *subject; // the person's code, or the clinic
    const char *dated;   // "Visit", "As of"
    hw_date date;
    bool is_invented;
    const char *rules_version; // NULL: no rules were asked
    hw_paper paper;
    bool flows; // its text takes the room the paper has; else an A4 page is fitted onto the paper
    const char *what;  // "Plan for", "Load for"
    const char *sides; // "left foot", "right foot", "left and right foot"
    int page, pages;
} sheet;

typedef hw_status sheet_pages(sheet *sheet);

// US Letter, mm.
#define SHEET_LETTER_WIDTH 215.9
#define SHEET_LETTER_HEIGHT 279.4

/// All pages of a paper as a file. `about` needs title and date only. It is drawn twice: a page
/// says how many there are.
HW_MUST_USE hw_status sheet_print_all(sheet *sheet, hw_pdf_about about, sheet_pages *pages,
                                      hw_arena *into, hw_bytes *out);

/// Height of the page that is laid out on, mm: of a paper that flows, that of its sheet.
double sheet_height(const sheet *sheet);

/// Starts a page: head with person, sides and date, foot with cautions. Returns the y to go on at.
double sheet_page(sheet *sheet);

/// A tagged paragraph; returns the y below it.
double sheet_text(sheet *sheet, const hw_pdf_ink *ink, const char *tag, const double place[3],
                  const char *text);

/// A heading and a paragraph as wide as the page, in the usual type; return the y below.
double sheet_head(sheet *sheet, double y, const char *text);
double sheet_line(sheet *sheet, double y, const char *text);

/// Where somebody signs, on a page of its own where there is no room left; the y below.
double sheet_signature(sheet *sheet, double y, const char *who);

/// Text from a format, at most 600 bytes.
double sheet_print(sheet *sheet, const hw_pdf_ink *ink, const double place[3], const char *format,
                   ...) __attribute__((format(printf, 4, 5)));

/// "-31 % (-44 to -17)", or "not known" with the reason left to a note.
const char *sheet_change(hw_band band, char text[static 64]);

/// The first page: verdict, feet, measures, load. The second: options, timeline, cautions.
HW_MUST_USE hw_status sheet_findings_page(sheet *sheet);
HW_MUST_USE hw_status sheet_plan_page(sheet *sheet);

/// The letter to the family doctor.
void sheet_letter_page(sheet *sheet);

/// For the person who has the pain.
HW_MUST_USE hw_status sheet_patient_pages(sheet *sheet);

/// For the maker; for the record of consent.
HW_MUST_USE hw_status sheet_order_pages(sheet *sheet);
HW_MUST_USE hw_status sheet_consent_pages(sheet *sheet);

/// The device against its foot, in colours.
HW_MUST_USE hw_status sheet_fit_pages(sheet *sheet);

/// For the person at the machine.
HW_MUST_USE hw_status sheet_milling_pages(sheet *sheet);

/// The clinic's outcomes; a person's treatments.
HW_MUST_USE hw_status sheet_audit_pages(sheet *sheet);
HW_MUST_USE hw_status sheet_course_pages(sheet *sheet);

/// A row of a table with its cells at `left`, `columns` of them, the last one ending at `right`;
/// tagged. Returns the y below its highest cell.
double sheet_row(sheet *sheet, const hw_pdf_ink *ink, const char *tag, const double *left,
                 int columns, double right, double y, const char *const *cells);

/// A page of its own for the load on one foot. `side` is "Left" or "Right".
void sheet_load_page(sheet *sheet, const hw_report_foot *foot, const char *side);

#endif
