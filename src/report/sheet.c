// SPDX-License-Identifier: GPL-3.0-or-later
#include "sheet.h"

#include <stdarg.h>
#include <stdio.h>

// Own palette: ink blue for text, ochre for what needs a look; lightness differs, so it reads in
// grey.
const hw_pdf_ink sheet_title = {16.0, true, 0.10, 0.16, 0.24, 0.0};
const hw_pdf_ink sheet_heading = {10.0, true, 0.10, 0.16, 0.24, 0.0};
const hw_pdf_ink sheet_strong = {8.5, true, 0.10, 0.12, 0.15, 0.0};
const hw_pdf_ink sheet_plain = {8.5, false, 0.10, 0.12, 0.15, 0.0};
const hw_pdf_ink sheet_small = {6.6, false, 0.16, 0.18, 0.22, 0.0};
const hw_pdf_ink sheet_small_strong = {6.6, true, 0.10, 0.12, 0.15, 0.0};
const hw_pdf_ink sheet_rule = {0.0, false, 0.55, 0.60, 0.66, 0.25};
const hw_pdf_ink sheet_alarm = {11.0, true, 0.55, 0.20, 0.02, 0.8};
const hw_pdf_ink sheet_wash = {0.0, false, 0.94, 0.95, 0.965, 0.0};

double sheet_text(sheet *on, const hw_pdf_ink *ink, const char *tag, const double place[3],
                  const char *text)
{
    hw_pdf_tag(on->pdf, tag);
    double height = hw_pdf_text(on->pdf, ink, place[0], place[1], place[2], text);
    hw_pdf_untag(on->pdf);
    return place[1] + height;
}

double sheet_head(sheet *on, double y, const char *text)
{
    const double place[3] = {SHEET_MARGIN, y + 2.5, SHEET_INNER};
    return sheet_text(on, &sheet_heading, "H2", place, text) + 0.8;
}

double sheet_line(sheet *on, double y, const char *text)
{
    const double place[3] = {SHEET_MARGIN, y, SHEET_INNER};
    return sheet_text(on, &sheet_plain, "P", place, text) + 0.6;
}

double sheet_print(sheet *on, const hw_pdf_ink *ink, const double place[3], const char *format, ...)
{
    char text[600];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    return sheet_text(on, ink, "P", place, text);
}

double sheet_signature(sheet *on, double y, const char *who)
{
    if (y > SHEET_FLOOR - 6.0) y = sheet_page(on);
    return sheet_print(on, &sheet_small, (const double[3]){SHEET_MARGIN, y + 1.6, SHEET_INNER},
                       "%s: ______________________________   Signature: "
                       "____________________________   Date: ______________",
                       who);
}

// Whole per cent without a minus before nothing.
static double whole_percent(double fraction)
{
    return round(100.0 * fraction) + 0.0;
}

const char *sheet_change(hw_band band, char text[static 64])
{
    if (!band.known)
        snprintf(text, 64, "not known");
    else
        snprintf(text, 64, "%+.0f %% (%+.0f to %+.0f)", whole_percent(band.median),
                 whole_percent(band.p05), whole_percent(band.p95));
    return text;
}

static void foot_of_page(sheet *on)
{
    char date[HW_DATE_TEXT];
    double y = SHEET_HEIGHT - 21.0;
    const double line[2][2] = {{SHEET_MARGIN, y}, {SHEET_WIDTH - SHEET_MARGIN, y}};
    hw_pdf_path(on->pdf, &sheet_rule, line, 2, false);
    y = sheet_text(on, &sheet_small, "P", (const double[3]){SHEET_MARGIN, y + 1.0, SHEET_INNER},
                   "For a registered podiatrist. The program computes and warns; the clinician "
                   "decides. Not a certified device, not for emergencies. Local rules and the "
                   "product's own leaflet go before any dose here. Change of load is a change in a "
                   "model, shown with the range that tissue uncertainty leaves; load is not pain.");
    sheet_print(on, &sheet_small_strong, (const double[3]){SHEET_MARGIN, y + 0.8, SHEET_INNER},
                "%s  |  %s  |  %s %s  |  page %d of %d  |  heelwright %s%s%s%s", on->subject,
                on->sides, on->dated, hw_date_text(on->date, date), on->page, on->pages, HW_VERSION,
                on->rules_version ? ", rules " : "", on->rules_version ? on->rules_version : "",
                on->is_invented ? "  |  INVENTED DATA" : "");
}

double sheet_page(sheet *on)
{
    char date[HW_DATE_TEXT], title[260];
    hw_pdf_page(on->pdf);
    on->page++;
    foot_of_page(on);
    double y = 11.0;
    if (on->is_invented)
        y = sheet_print(on, &sheet_small_strong, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                        on->audit ? "INVENTED CLINIC, for demonstration only"
                                  : "INVENTED PERSON, for demonstration only");
    snprintf(title, sizeof title, "%s %.160s, %s", on->what, on->subject, on->sides);
    y = sheet_text(on, &sheet_title, on->page == 1 ? "H1" : "P",
                   (const double[3]){SHEET_MARGIN, y, SHEET_INNER}, title);
    return sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER}, "%s %s",
                       on->dated, hw_date_text(on->date, date)) +
           2.0;
}

double sheet_row(sheet *on, const hw_pdf_ink *ink, const char *tag, const double *left, int columns,
                 double right, double y, const char *const *cells)
{
    double low = y;
    hw_pdf_tag(on->pdf, "TR");
    for (int i = 0; i < columns; i++) {
        double end = i + 1 < columns ? left[i + 1] - 2.0 : right;
        const double place[3] = {left[i], y, end - left[i]};
        low = fmax(low, sheet_text(on, ink, tag, place, cells[i]));
    }
    hw_pdf_untag(on->pdf);
    return low + 0.8;
}
