// SPDX-License-Identifier: GPL-3.0-or-later
//
// pdf: pages with text, lines and pictures. It owns cairo, pango and qpdf.
//
//     hw_pdf *pdf = NULL;
//     HW_TRY(hw_pdf_begin(job, &about, &pdf));
//     hw_pdf_tag(pdf, "H1");
//     y += hw_pdf_text(pdf, &heading, 15, y, 180, "Plan for HB-0042, left foot");
//     hw_pdf_untag(pdf);
//     HW_TRY(hw_pdf_end(job, pdf, into, &bytes));   // on every path: frees it
//
// Lengths are millimetres on paper, y down from the top edge. The text is real, tagged and in
// embedded fonts; the same calls give the same bytes. It does not claim PDF/A or PDF/UA.
#ifndef HW_PDF_H
#define HW_PDF_H

#include "num/num.h"

typedef struct hw_pdf hw_pdf;

/// What the file says of itself.
typedef struct hw_pdf_about {
    const char *title;
    const char *language; // BCP 47: "en-GB"
    const char *date;     // YYYY-MM-DD: of the visit, not of the clock
    double width;         // the page things are laid out on, mm; 210 x 297 is A4
    double height;
    double
        paper_width; // the sheet it is printed on, mm: the page is fitted onto it; 0: as the page
    double paper_height;
} hw_pdf_about;

/// An empty file with no page yet.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_pdf_begin(hw_job *job, const hw_pdf_about *about, hw_pdf **out);

/// Starts a page. The first call starts the first one.
void hw_pdf_page(hw_pdf *pdf);

/// How text or a line looks.
typedef struct hw_pdf_ink {
    double size; // of letters, points
    bool is_bold;
    double red, green, blue; // 0..1
    double thickness;        // of lines, mm
} hw_pdf_ink;

/// Sets text wrapped to `width` and returns its height, mm. UTF-8; line feeds break.
double hw_pdf_text(hw_pdf *pdf, const hw_pdf_ink *ink, double x, double y, double width,
                   const char *text);

/// The height hw_pdf_text would take.
double hw_pdf_text_height(hw_pdf *pdf, const hw_pdf_ink *ink, double width, const char *text);

/// A line through `count` points {x, y}, or with `is_filled` the area inside it.
void hw_pdf_path(hw_pdf *pdf, const hw_pdf_ink *ink, const double (*points)[2], int count,
                 bool is_filled);

/// A smooth curve through `count` >= 2 points {x, y} with round ends (Catmull-Rom, as cubics);
/// where the last point is the first it closes without a corner. With `is_filled` the area inside
/// it.
void hw_pdf_curve(hw_pdf *pdf, const hw_pdf_ink *ink, const double (*points)[2], int count,
                  bool is_filled);

/// A rectangle, mm from the top left.
void hw_pdf_box(hw_pdf *pdf, const hw_pdf_ink *ink, double x, double y, double width, double height,
                bool is_filled);

/// A picture of `columns` x `rows` pixels, {red, green, blue} bytes each, top row first, stretched
/// over the given place.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_pdf_picture(hw_job *job, hw_pdf *pdf, const unsigned char (*pixels)[3],
                                     const int size[2], const double place[4]);

/// Structure for readers that cannot see: "H1", "P", "Table", "TR", "TD" ...
void hw_pdf_tag(hw_pdf *pdf, const char *tag);

/// A figure, with what it shows in words (they are kept until the end). Ended by hw_pdf_untag.
void hw_pdf_tag_figure(hw_pdf *pdf, const char *words);
/// Ends the innermost tag.
void hw_pdf_untag(hw_pdf *pdf);

/// The finished file in `into`; frees `pdf` whatever happens. The file's identifier comes from its
/// content.
///
///   fails   HW_BAD_INPUT (a text has a letter that no font here has: a box could be any name's),
///           HW_NO_ANSWER when the libraries report an error (why: theirs), HW_NO_MEMORY
HW_MUST_USE hw_status hw_pdf_end(hw_job *job, hw_pdf *pdf, hw_arena *into, hw_bytes *out);

#endif
