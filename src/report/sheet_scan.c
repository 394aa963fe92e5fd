// SPDX-License-Identifier: GPL-3.0-or-later
// One page of a scan: the foot from below, from its medial side and from behind, with landmarks and
// measures. Person and side stand in words.
#include "picture.h"
#include "sheet.h"

#include <stdio.h>
#include <string.h>

static const hw_pdf_ink mark_ink = {0.0, false, 0.62, 0.20, 0.05, 0.4};

// A page being drawn.
typedef struct scan_page {
    hw_job *job;
    hw_arena *into; // scratch
    hw_pdf *pdf;
    const hw_scan_result *scan;
    hw_mesh surface; // in its own side's frame
    hw_pose exit;
} scan_page;

// A view's place on paper, mm, and what it shows.
typedef struct view_room {
    double x, y, width, height;
    const char *title;
} view_room;

static void put_mark(const scan_page *on, const picture *drawn, const double at[4], hw_vec3 point,
                     const char *text)
{
    double place[2];
    picture_place(drawn, hw_pose_point(&on->exit, point), place);
    double x = at[0] + place[0] * at[2], y = at[1] + place[1] * at[3];
    hw_pdf_box(on->pdf, &mark_ink, x - 0.6, y - 0.6, 1.2, 1.2, true);
    // Towards the middle, where the picture goes on; letters of this ink are about 1.2 mm wide.
    double beside = place[0] > 0.5 ? -1.5 - 1.2 * (double)strlen(text) : 1.4;
    hw_pdf_text(on->pdf, &sheet_small, x + beside, y - 1.3, 30.0, text);
}

static void put_marks(const scan_page *on, const picture *drawn, const double at[4],
                      bool from_below)
{
    const hw_landmarks *marks = &on->scan->foot.landmarks;
    put_mark(on, drawn, at, marks->heel_back, "back of the heel");
    put_mark(on, drawn, at, marks->mth1, "first head");
    if (from_below) put_mark(on, drawn, at, marks->mth5, "fifth head");
    if (marks->complete) put_mark(on, drawn, at, marks->toe_tip, "longest toe");
    if (marks->arch_apex_known) put_mark(on, drawn, at, marks->arch_apex, "top of the arch");
    if (marks->complete && !from_below) put_mark(on, drawn, at, marks->dorsum, "instep");
}

static hw_status put_view(const scan_page *on, const picture_view *view, view_room room,
                          double at[4], picture *drawn)
{
    HW_TRY(picture_draw(on->job, &on->surface, view, on->into, drawn));
    double scale = fmin(room.width / drawn->size[0], (room.height - 6.0) / drawn->size[1]);
    at[2] = drawn->size[0] * scale;
    at[3] = drawn->size[1] * scale;
    at[0] = room.x + 0.5 * (room.width - at[2]);
    at[1] = room.y + 6.0;
    hw_pdf_tag(on->pdf, "H2");
    hw_pdf_text(on->pdf, &sheet_heading, room.x, room.y, room.width, room.title);
    hw_pdf_untag(on->pdf);
    hw_pdf_tag_figure(on->pdf, "Picture: the scanned foot, as its heading says");
    hw_status put =
        hw_pdf_picture(on->job, on->pdf, (const unsigned char(*)[3])drawn->pixels, drawn->size, at);
    hw_pdf_untag(on->pdf);
    return put;
}

// From behind, looking to the toes: the person's left is at the left.
static picture_view view_from_behind(double metre_per_pixel)
{
    return (picture_view){{0, -1, 0}, {0, 0, 1}, {-1, 0, 0}, metre_per_pixel, 0.006, 0.0};
}

static hw_status put_views(const scan_page *on)
{
    const double fine = 0.0004; // m
    double at[4];
    picture drawn = {0};
    picture_view view = picture_from_below(fine);
    HW_TRY(put_view(on, &view, (view_room){SHEET_MARGIN, 34.0, 70.0, 118.0, "From below"}, at,
                    &drawn));
    put_marks(on, &drawn, at, true);
    view = picture_from_medial(on->scan->foot.side, fine);
    HW_TRY(put_view(on, &view, (view_room){90.0, 34.0, 107.0, 62.0, "From its medial side"}, at,
                    &drawn));
    put_marks(on, &drawn, at, false);
    view = view_from_behind(fine);
    return put_view(on, &view, (view_room){90.0, 98.0, 107.0, 54.0, "From behind"}, at, &drawn);
}

static void measure_text(hw_measure_kind kind, double si, int more, char text[static 40])
{
    static const struct {
        const char *unit;
        double factor;
        int decimals;
    } kinds[] = {{" mm", 1e3, 1},
                 {"", 1.0, 2},
                 {" degrees", 180.0 / HW_PI, 1},
                 {" cm2", 1e4, 0},
                 {" cm3", 1e6, 0}};
    snprintf(text, 40, "%.*f%s", kinds[kind].decimals + more, kinds[kind].factor * si,
             kinds[kind].unit);
}

static void put_measure(const scan_page *on, hw_measure which, double y)
{
    const hw_measure_row *row = &hw_measure_rows()[which];
    const hw_foot_measures *of = &on->scan->foot.measures;
    hw_maybe value = hw_foot_measure_of(of, which), half = on->scan->spread.half_width_95[which];
    hw_maybe men = hw_foot_percentile(of, which, HW_NORM_MEN);
    char text[160], number[40], wide[40] = "";
    hw_pdf_tag(on->pdf, "TR");
    snprintf(text, sizeof text, "%s%s", row->name, row->is_computed ? " (computed print)" : "");
    hw_pdf_text(on->pdf, &sheet_plain, SHEET_MARGIN, y, 62.0, text);
    measure_text(row->kind, value.value, 0, number);
    if (half.known) measure_text(row->kind, half.value, row->kind == HW_MEASURE_IS_INDEX, wide);
    bool is_by_hand = hw_scan_is_by_hand(on->scan, which);
    snprintf(text, sizeof text, "%s%s%s%s", number, half.known ? "  within " : "", wide,
             is_by_hand ? "  by hand" : "");
    if (value.known) hw_pdf_text(on->pdf, &sheet_strong, 76.0, y, 62.0, text);
    if (!value.known) {
        snprintf(text, sizeof text, "unknown: %s", of->why[which] ? of->why[which] : "not taken");
        hw_pdf_text(on->pdf, &sheet_plain, 76.0, y, 120.0, text);
    }
    if (men.known) {
        snprintf(text, sizeof text, "%.0f of 100 men, %.0f of 100 women", men.value,
                 hw_foot_percentile(of, which, HW_NORM_WOMEN).value);
        hw_pdf_text(on->pdf, &sheet_plain, 140.0, y, 57.0, text);
    }
    hw_pdf_untag(on->pdf);
}

static void put_measures(const scan_page *on)
{
    double y = 156.0;
    hw_pdf_tag(on->pdf, "H2");
    hw_pdf_text(on->pdf, &sheet_heading, SHEET_MARGIN, y, 60.0, "Measures");
    hw_pdf_text(on->pdf, &sheet_heading, 140.0, y, 57.0, "As large as or larger than in");
    hw_pdf_untag(on->pdf);
    y += 6.0;
    hw_pdf_tag(on->pdf, "Table");
    for (int i = 0; i < HW_MEASURES; i++, y += 4.6) put_measure(on, (hw_measure)i, y);
    hw_pdf_untag(on->pdf);
    const hw_foot_measures *of = &on->scan->foot.measures;
    if (!of->foot_length_m.known) return;
    hw_mondopoint size = hw_foot_mondopoint(of);
    hw_shoe_sizes about = hw_foot_shoe_sizes(of);
    char text[200];
    snprintf(
        text, sizeof text,
        "Size %d/%d (Mondopoint). Approximations, with an allowance of about 13 mm: EU %.1f, UK "
        "%.1f, US men %.1f, US women %.1f.",
        size.length, size.breadth, about.eu, about.uk, about.us_men, about.us_women);
    hw_pdf_tag(on->pdf, "P");
    hw_pdf_text(on->pdf, &sheet_plain, SHEET_MARGIN, y + 1.0, SHEET_INNER, text);
    hw_pdf_untag(on->pdf);
}

static void put_words(const scan_page *on, const char *person)
{
    const hw_scan_result *scan = on->scan;
    char text[900];
    snprintf(text, sizeof text, "Scan of the %s foot", hw_side_word(scan->foot.side));
    hw_pdf_tag(on->pdf, "H1");
    hw_pdf_text(on->pdf, &sheet_title, SHEET_MARGIN, 11.0, SHEET_INNER, text);
    hw_pdf_untag(on->pdf);
    snprintf(text, sizeof text,
             "Person: %.60s.  Side: %s, %s.  Unit of the file: %s, %s.  Held while scanned: %s.",
             person ? person : "not stated", hw_side_word(scan->foot.side),
             scan->side_given ? "as stated" : "inferred, to be confirmed",
             hw_scan_unit_word(scan->unit),
             scan->unit_given ? "as stated" : "inferred from its size",
             hw_loading_word(scan->foot.loading));
    hw_pdf_tag(on->pdf, "P");
    double y = 19.0 + hw_pdf_text(on->pdf, &sheet_plain, SHEET_MARGIN, 19.0, SHEET_INNER, text);
    int used = 0;
    text[0] = 0;
    for (int i = 0; i < scan->warning_count && used < 700; i++)
        used += snprintf(text + used, sizeof text - (size_t)used, "%.180s ", scan->warnings[i]);
    hw_pdf_text(on->pdf, &sheet_small, SHEET_MARGIN, y + 0.5, SHEET_INNER, text);
    snprintf(text, sizeof text,
             "%s Percentiles: %s For a registered podiatrist; the program measures and warns, the "
             "clinician decides. heelwright %s",
             scan->spread.is_known
                 ? "\"within\": half of a 95 % interval from repeated noise, sampling "
                   "and posing; not how the foot was held nor the scanner's scale."
                 : "Uncertainty was not asked for.",
             hw_foot_norm_population(), HW_VERSION);
    hw_pdf_text(on->pdf, &sheet_small, SHEET_MARGIN, SHEET_HEIGHT - 20.0, SHEET_INNER, text);
    hw_pdf_untag(on->pdf);
}

static hw_status draw(scan_page *on, const char *person)
{
    const hw_foot *foot = &on->scan->foot;
    on->exit = hw_foot_exit(foot->side);
    HW_TRY(hw_mesh_place(on->job, &foot->surface, &on->exit, on->into, &on->surface));
    on->surface.colours = NULL; // the form is what a letter needs
    hw_pdf_page(on->pdf);
    put_words(on, person);
    HW_TRY(put_views(on));
    put_measures(on);
    return HW_OK;
}

hw_status hw_report_scan_pdf(hw_job *job, const hw_scan_result *scan, const char *person,
                             hw_arena *into, hw_bytes *out)
{
    const char *title = NULL;
    HW_TRY(hw_text_format(job, into, &title, "Scan of the %s foot", hw_side_word(scan->foot.side)));
    // No visit, no date: the file's own would be the clock's.
    const hw_pdf_about about = {.title = title,
                                .language = "en-GB",
                                .date = "1970-01-01",
                                .width = SHEET_WIDTH,
                                .height = SHEET_HEIGHT};
    hw_scratch tmp = hw_scratch_begin(job, into);
    scan_page on = {.job = job, .into = tmp.arena, .scan = scan};
    HW_TRY(hw_pdf_begin(job, &about, &on.pdf));
    hw_status drawn = draw(&on, person);
    hw_bytes file = {0};
    hw_status ended = hw_pdf_end(job, on.pdf, into, &file); // frees it on every path
    HW_TRY(drawn);
    HW_TRY(ended);
    hw_scratch_end(tmp);
    *out = file;
    return HW_OK;
}
