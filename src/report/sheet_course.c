// SPDX-License-Identifier: GPL-3.0-or-later
// The treatment record of a person: what was given when, on which foot, by whom; adverse events;
// ratings.
#include "sheet.h"

#include <stdio.h>

enum { COLUMNS = 6, RATING_COLUMNS = 3 };

static const double column[COLUMNS] = {13.0, 33.0, 72.0, 87.0, 141.0, 172.0};
static const double rating_column[RATING_COLUMNS] = {13.0, 40.0, 62.0};
static const char *const titles[COLUMNS] = {"Date",         "Act",           "Foot",
                                            "What exactly", "Adverse event", "Written by"};
static const char *const rating_titles[RATING_COLUMNS] = {"Date", "Foot",
                                                          "First-step pain, 0 to 10"};
static const double right = SHEET_WIDTH - SHEET_MARGIN;

// Where a row has no room: a new page that says what its columns are.
static double room(sheet *on, double y, const double *left, int columns, const char *const *names)
{
    if (y < SHEET_FLOOR - 12.0) return y;
    return sheet_row(on, &sheet_strong, "TH", left, columns, right, sheet_page(on), names);
}

static const char *foot_word(hw_side side)
{
    return side == HW_SIDE_UNKNOWN ? "not said" : hw_side_word(side);
}

static double given_table(sheet *on, double y)
{
    char date[HW_DATE_TEXT];
    const hw_report_course *of = on->course;
    if (of->given_count == 0)
        return sheet_text(on, &sheet_plain, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                          "Nothing is written down as given.");
    hw_pdf_tag(on->pdf, "Table");
    y = sheet_row(on, &sheet_strong, "TH", column, COLUMNS, right, y, titles);
    for (int i = 0; i < of->given_count; i++) {
        const hw_report_given *act = &of->given[i];
        const char *const cells[COLUMNS] = {hw_date_text(act->date, date),
                                            act->act,
                                            foot_word(act->side),
                                            act->details,
                                            act->event ? act->event : "none written",
                                            act->who};
        y = room(on, y, column, COLUMNS, titles);
        y = sheet_row(on, act->event ? &sheet_strong : &sheet_plain, "TD", column, COLUMNS, right,
                      y, cells);
    }
    hw_pdf_untag(on->pdf);
    return y;
}

static double ratings_table(sheet *on, double y)
{
    char date[HW_DATE_TEXT], score[16];
    const hw_report_course *of = on->course;
    if (of->rating_count == 0)
        return sheet_text(on, &sheet_plain, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                          "No rating.");
    hw_pdf_tag(on->pdf, "Table");
    y = sheet_row(on, &sheet_strong, "TH", rating_column, RATING_COLUMNS, right, y, rating_titles);
    for (int i = 0; i < of->rating_count; i++) {
        const hw_report_rating *one = &of->ratings[i];
        snprintf(score, sizeof score, "%g", one->first_step);
        const char *const cells[RATING_COLUMNS] = {hw_date_text(one->date, date),
                                                   foot_word(one->side), score};
        y = room(on, y, rating_column, RATING_COLUMNS, rating_titles);
        y = sheet_row(on, &sheet_plain, "TD", rating_column, RATING_COLUMNS, right, y, cells);
    }
    hw_pdf_untag(on->pdf);
    return y;
}

hw_status sheet_course_pages(sheet *on)
{
    double y = sheet_head(on, sheet_page(on), "What was given");
    y = given_table(on, y);
    if (y > SHEET_FLOOR - 40.0) y = sheet_page(on);
    y = ratings_table(on, sheet_head(on, y, "Ratings, lower is better"));
    sheet_signature(on, y + 3.0, "Seen and found right, clinician");
    return hw_job_ask(on->job);
}
