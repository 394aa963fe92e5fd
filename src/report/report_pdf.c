// SPDX-License-Identifier: GPL-3.0-or-later
#include "sheet.h"

static const char *sides_of(const hw_report *report)
{
    bool left = report->feet[0].is_given, right = report->feet[1].is_given;
    if (left && right) return "left and right foot";
    return left ? "left foot" : "right foot";
}

static hw_status plan_pages(sheet *on)
{
    HW_TRY(sheet_findings_page(on));
    return sheet_plan_page(on);
}

static hw_status load_pages(sheet *on)
{
    static const char *const words[2] = {"Left", "Right"};
    for (int i = 0; i < 2; i++)
        if (on->report->feet[i].is_given) sheet_load_page(on, &on->report->feet[i], words[i]);
    return HW_OK;
}

static hw_status letter_pages(sheet *on)
{
    sheet_letter_page(on);
    return HW_OK;
}

double sheet_height(const sheet *on)
{
    return on->flows && on->paper == HW_PAPER_LETTER ? SHEET_LETTER_HEIGHT : SHEET_HEIGHT;
}

// Draws all pages; how many they are is counted in on->page.
static hw_status draw(sheet *on, const hw_pdf_about *about, sheet_pages *pages, hw_arena *into,
                      hw_bytes *out)
{
    on->page = 0;
    HW_TRY(hw_pdf_begin(on->job, about, &on->pdf));
    hw_status drawn = pages(on);
    hw_status ended = hw_pdf_end(on->job, on->pdf, into, out); // frees it on every path
    HW_TRY(drawn);
    return ended;
}

hw_status sheet_print_all(sheet *on, hw_pdf_about about, sheet_pages *pages, hw_arena *into,
                          hw_bytes *out)
{
    hw_bytes file = {0};
    about.language = "en-GB";
    about.width = SHEET_WIDTH;
    about.height = sheet_height(on);
    if (on->paper == HW_PAPER_LETTER) {
        about.paper_width = SHEET_LETTER_WIDTH;
        about.paper_height = SHEET_LETTER_HEIGHT;
    }
    HW_TRY(draw(on, &about, pages, on->into, &file)); // once to count the pages
    on->pages = on->page;
    HW_TRY(draw(on, &about, pages, into, &file));
    *out = file;
    return HW_OK;
}

static hw_status print(hw_job *job, const hw_report *report, const char *what, sheet_pages *pages,
                       hw_arena *into, hw_bytes *out)
{
    HW_ASSERT(report->plan != NULL);
    char date[HW_DATE_TEXT];
    const char *title = NULL;
    hw_scratch tmp = hw_scratch_begin(job, into);
    sheet on = {.job = job,
                .into = tmp.arena,
                .report = report,
                .subject = report->visit->code,
                .dated = "Visit",
                .date = report->visit->findings.visit_date,
                .is_invented = report->visit->is_invented,
                .rules_version = report->plan->rules_version,
                .paper = report->paper,
                .flows = pages == sheet_patient_pages,
                .what = what,
                .sides = sides_of(report)};
    HW_TRY(hw_text_format(job, tmp.arena, &title, "%s %s, %s", what, report->visit->code,
                          sides_of(report)));
    hw_date_text(report->visit->findings.visit_date, date);
    HW_TRY(sheet_print_all(&on, (hw_pdf_about){.title = title, .date = date}, pages, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_report_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Plan for", plan_pages, into, out);
}

hw_status hw_report_letter_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Letter about", letter_pages, into, out);
}

hw_status hw_report_load_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Load for", load_pages, into, out);
}

hw_status hw_report_patient_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "What to do, for", sheet_patient_pages, into, out);
}

hw_status hw_report_order_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Order for", sheet_order_pages, into, out);
}

hw_status hw_report_fit_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Fit for", sheet_fit_pages, into, out);
}

hw_status hw_report_consent_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Consent record of", sheet_consent_pages, into, out);
}

hw_status hw_report_milling_pdf(hw_job *job, const hw_report *report, hw_arena *into, hw_bytes *out)
{
    return print(job, report, "Milling for", sheet_milling_pages, into, out);
}

// A paper that is not of one visit.
static hw_status print_other(sheet *on, const char *title, sheet_pages *pages, hw_arena *into,
                             hw_bytes *out)
{
    char date[HW_DATE_TEXT];
    hw_scratch tmp = hw_scratch_begin(on->job, into);
    on->into = tmp.arena;
    on->dated = "As of";
    hw_date_text(on->date, date);
    HW_TRY(sheet_print_all(on, (hw_pdf_about){.title = title, .date = date}, pages, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_report_audit_pdf(hw_job *job, const hw_report_audit *of, hw_paper paper,
                              hw_arena *into, hw_bytes *out)
{
    sheet on = {.job = job,
                .audit = of,
                .subject = of->clinic,
                .date = of->today,
                .is_invented = of->is_invented,
                .paper = paper,
                .what = "Audit of",
                .sides = "all heels"};
    return print_other(&on, "Audit report", sheet_audit_pages, into, out);
}

hw_status hw_report_course_pdf(hw_job *job, const hw_report_course *of, hw_paper paper,
                               hw_arena *into, hw_bytes *out)
{
    sheet on = {.job = job,
                .course = of,
                .subject = of->code,
                .date = of->today,
                .is_invented = of->is_invented,
                .paper = paper,
                .what = "Treatment record of",
                .sides = "left and right foot"};
    return print_other(&on, "Treatment record", sheet_course_pages, into, out);
}
