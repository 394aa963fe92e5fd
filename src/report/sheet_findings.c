// SPDX-License-Identifier: GPL-3.0-or-later
// The first page: what stands in the way, the person's own feet, their measures, the fascia's load.
#include "picture.h"
#include "sheet.h"

#include <stdio.h>

static const hw_pdf_ink fascia_ink = {0.0, false, 0.72, 0.31, 0.03, 1.1};
static const hw_pdf_ink shell_ink = {0.0, false, 0.10, 0.35, 0.52, 0.5};
static const hw_pdf_ink band_ink = {0.0, false, 0.80, 0.85, 0.90, 0.0};
static const hw_pdf_ink curve_ink = {0.0, false, 0.10, 0.35, 0.52, 0.6};
static const hw_pdf_ink device_ink = {0.0, false, 0.72, 0.31, 0.03, 0.6};
static const hw_pdf_ink axis_ink = {0.0, false, 0.25, 0.28, 0.32, 0.2};

static double red_flags(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    for (int i = 0; i < plan->red_flag_count && i < 6; i++)
        y = sheet_print(on, &sheet_strong, (const double[3]){SHEET_MARGIN + 3, y, SHEET_INNER - 6},
                        "%s (%s): %s", plan->red_flags[i].reading,
                        hw_urgency_word(plan->red_flags[i].rule->urgency),
                        plan->red_flags[i].rule->sentence);
    return y;
}

static double questions(sheet *on, double y)
{
    enum { SHOWN = 9 };
    const hw_plan *plan = on->report->plan;
    for (int i = 0; i < plan->blocking_count && i < SHOWN; i++)
        y = sheet_print(on, &sheet_small, (const double[3]){SHEET_MARGIN + 3, y, SHEET_INNER - 6},
                        "%s%s: %s", plan->questions[i].key,
                        plan->questions[i].not_asked ? " (not asked)" : "",
                        plan->questions[i].text);
    if (plan->blocking_count > SHOWN)
        y = sheet_print(on, &sheet_small_strong,
                        (const double[3]){SHEET_MARGIN + 3, y, SHEET_INNER - 6},
                        "and %d more in the visit file", plan->blocking_count - SHOWN);
    return y;
}

// Released or not, with all that must be answered first, in a frame.
static double verdict(sheet *on, double y)
{
    const hw_plan *plan = on->report->plan;
    double top = y;
    y = sheet_text(on, plan->released ? &sheet_heading : &sheet_alarm, "H2",
                   (const double[3]){SHEET_MARGIN + 3, y + 1.5, SHEET_INNER - 6}, plan->verdict);
    y = questions(on, red_flags(on, y)) + 1.5;
    hw_pdf_box(on->pdf, plan->released ? &sheet_rule : &sheet_alarm, SHEET_MARGIN, top, SHEET_INNER,
               y - top, false);
    return y + 3.0;
}

typedef struct frame {
    double x, y, width, height; // mm on paper
} frame;

// Draws the surface as large as fits, centred; returns where the picture came to lie.
static hw_status put_picture(sheet *on, const picture *drawn, frame room, frame *out)
{
    double scale = fmin(room.width / drawn->size[0], room.height / drawn->size[1]);
    frame at = {.width = drawn->size[0] * scale, .height = drawn->size[1] * scale};
    at.x = room.x + 0.5 * (room.width - at.width);
    at.y = room.y + 0.5 * (room.height - at.height);
    HW_TRY(hw_pdf_picture(on->job, on->pdf, (const unsigned char(*)[3])drawn->pixels, drawn->size,
                          (const double[4]){at.x, at.y, at.width, at.height}));
    *out = at;
    return HW_OK;
}

static void on_paper(const picture *drawn, frame at, hw_vec3 point, double out[2])
{
    double place[2];
    picture_place(drawn, point, place);
    out[0] = at.x + place[0] * at.width;
    out[1] = at.y + place[1] * at.height;
}

// A line through points of the foot frame, over the picture of the foot in its own side's frame.
static void trace(sheet *on, const picture *drawn, frame at, const hw_pdf_ink *ink,
                  const hw_vec3 *points, int count)
{
    enum { LONGEST = 600 };
    double line[LONGEST][2];
    if (count > LONGEST) count = LONGEST;
    for (int i = 0; i < count; i++) on_paper(drawn, at, points[i], line[i]);
    hw_pdf_path(on->pdf, ink, (const double(*)[2])line, count, false);
}

static void label(sheet *on, const picture *drawn, frame at, hw_vec3 point, const char *text)
{
    double place[2];
    on_paper(drawn, at, point, place);
    hw_pdf_box(on->pdf, &axis_ink, place[0] - 0.5, place[1] - 0.5, 1.0, 1.0, true);
    // Beside the point on the inner side, where nothing is drawn over it.
    bool is_right = place[0] > at.x + 0.5 * at.width;
    hw_pdf_text(on->pdf, &sheet_small, place[0] + (is_right ? -10.0 : 1.2), place[1] - 1.2, 30.0,
                text);
}

static hw_status plantar_picture(sheet *on, const hw_report_foot *foot, const hw_mesh *surface,
                                 frame room)
{
    const hw_landmarks *marks = &foot->scan->foot.landmarks;
    hw_pose exit_pose = hw_foot_exit(foot->scan->foot.side);
    picture_view view = picture_from_below(0.0006);
    picture drawn = {0};
    frame at = {0};
    HW_TRY(picture_draw(on->job, surface, &view, on->into, &drawn));
    HW_TRY(put_picture(on, &drawn, room, &at));
    if (foot->orthosis) {
        hw_vec3 *outline = NULL;
        int count = foot->orthosis->outline_count;
        HW_ALLOC(on->job, on->into, outline, count + 1);
        for (int i = 0; i <= count; i++)
            outline[i] = hw_pose_point(&exit_pose, foot->orthosis->outline[i % count]);
        trace(on, &drawn, at, &shell_ink, outline, count + 1);
    }
    label(on, &drawn, at, hw_pose_point(&exit_pose, marks->mth1), "head 1");
    label(on, &drawn, at, hw_pose_point(&exit_pose, marks->mth5), "head 5");
    label(on, &drawn, at, hw_pose_point(&exit_pose, marks->heel_back), "heel");
    return HW_OK;
}

// The central band of the fascia, from the heel bone to behind the first head, as a line on the
// skin's picture: origin 0.16 L from the back of the heel (facts of anatomy texts, from memory).
static void fascia_line(const hw_landmarks *marks, hw_vec3 line[2])
{
    double length = marks->toe_tip.x - marks->heel_back.x;
    line[0] = (hw_vec3){0.16 * length, 0.0, 0.016};
    line[1] = (hw_vec3){marks->mth1.x, marks->mth1.y, 0.010};
}

static hw_status medial_picture(sheet *on, const hw_report_foot *foot, const hw_mesh *surface,
                                frame room)
{
    const hw_landmarks *marks = &foot->scan->foot.landmarks;
    hw_pose exit_pose = hw_foot_exit(foot->scan->foot.side);
    picture_view view = picture_from_medial(foot->scan->foot.side, 0.0006);
    picture drawn = {0};
    frame at = {0};
    HW_TRY(picture_draw(on->job, surface, &view, on->into, &drawn));
    HW_TRY(put_picture(on, &drawn, room, &at));
    if (!marks->complete) return HW_OK;
    hw_vec3 line[2];
    fascia_line(marks, line);
    for (int i = 0; i < 2; i++) line[i] = hw_pose_point(&exit_pose, line[i]);
    trace(on, &drawn, at, &fascia_ink, line, 2);
    return HW_OK;
}

static hw_status foot_pictures(sheet *on, const hw_report_foot *foot, const char *side, frame room)
{
    hw_pdf_tag_figure(on->pdf, foot->scan
                                   ? "Picture: the scanned foot from below and from its inner side"
                                   : "Picture: no scan of this foot");
    if (foot->scan) {
        hw_mesh surface = {0};
        hw_pose exit_pose = hw_foot_exit(foot->scan->foot.side);
        HW_TRY(hw_mesh_place(on->job, &foot->scan->foot.surface, &exit_pose, on->into, &surface));
        surface.colours = NULL; // the form is what is shown
        HW_TRY(plantar_picture(on, foot, &surface,
                               (frame){room.x, room.y + 4, 0.42 * room.width, room.height - 4}));
        HW_TRY(medial_picture(
            on, foot, &surface,
            (frame){room.x + 0.44 * room.width, room.y + 8, 0.56 * room.width, room.height - 12}));
    }
    hw_pdf_untag(on->pdf);
    sheet_print(on, &sheet_strong, (const double[3]){room.x, room.y, room.width}, "%s foot%s", side,
                foot->scan ? " from below and from its medial side" : ": measures typed, no scan");
    return HW_OK;
}

typedef struct measure_row {
    const char *name;
    const char *definition;
    size_t offset;
} measure_row;

static const measure_row measure_rows[] = {
    {"Foot length", "ISO 7250-1", offsetof(hw_foot_measures, foot_length_m)},
    {"Truncated length", "heel to first head", offsetof(hw_foot_measures, truncated_length_m)},
    {"Ball breadth", "ISO 7250-1", offsetof(hw_foot_measures, ball_breadth_m)},
    {"Heel breadth", "widest of the heel", offsetof(hw_foot_measures, heel_breadth_m)},
    {"Dorsum height", "at half length", offsetof(hw_foot_measures, dorsum_height_m)},
    {"Arch apex height", "above the support plane", offsetof(hw_foot_measures, arch_apex_height_m)},
};

static const char *measure_text(const hw_foot_measures *measures, size_t offset, char text[24])
{
    const hw_maybe *value = measures ? (const hw_maybe *)((const char *)measures + offset) : NULL;
    if (!value) return "";
    if (!value->known) return "unknown";
    snprintf(text, 24, "%.0f mm", hw_mm_from_m(value->value));
    return text;
}

// Shares of a table's width: of measures, of changes (whose numbers must not break).
static const double measure_shares[4] = {0.34, 0.28, 0.19, 0.19};
static const double change_shares[4] = {0.25, 0.27, 0.24, 0.24};

// Four cells side by side; returns the y below the tallest.
static double table_row(sheet *on, const double place[3], const double shares[4],
                        const char *const cells[4], const hw_pdf_ink *ink)
{
    double x = place[0], low = place[1];
    hw_pdf_tag(on->pdf, "TR");
    for (int i = 0; i < 4; i++) {
        low = fmax(low, sheet_text(on, ink, "TD",
                                   (const double[3]){x, place[1], shares[i] * place[2] - 1.0},
                                   cells[i]));
        x += shares[i] * place[2];
    }
    hw_pdf_untag(on->pdf);
    return low;
}

static const char *mondopoint(const hw_foot_measures *measures, char text[24])
{
    if (!measures) return "";
    if (!measures->foot_length_m.known) return "unknown";
    hw_mondopoint size = hw_foot_mondopoint(measures);
    if (size.breadth)
        snprintf(text, 24, "%d/%d", size.length, size.breadth);
    else
        snprintf(text, 24, "%d", size.length);
    return text;
}

static double measures(sheet *on, const double place[3])
{
    const double line_height = 3.3;
    const hw_report_foot *left = &on->report->feet[0], *right = &on->report->feet[1];
    char one[24], two[24];
    double y = sheet_text(on, &sheet_heading, "H2", place, "Measures") + 0.5;
    hw_pdf_tag(on->pdf, "Table");
    table_row(on, (const double[3]){place[0], y, place[2]}, measure_shares,
              (const char *const[4]){"", "", "left", "right"}, &sheet_small_strong);
    y += line_height;
    for (size_t i = 0; i < sizeof measure_rows / sizeof *measure_rows; i++, y += line_height)
        table_row(
            on, (const double[3]){place[0], y, place[2]}, measure_shares,
            (const char *const[4]){measure_rows[i].name, measure_rows[i].definition,
                                   measure_text(left->measures, measure_rows[i].offset, one),
                                   measure_text(right->measures, measure_rows[i].offset, two)},
            &sheet_small);
    for (int i = 0; i < 2; i++) {
        const hw_foot_measures *of = on->report->feet[i].measures;
        char *text = i ? two : one;
        bool known = of && of->arch_height_index.known;
        snprintf(text, 24, "%s", of ? "unknown" : "");
        if (known) snprintf(text, 24, "%.2f", of->arch_height_index.value);
    }
    table_row(on, (const double[3]){place[0], y, place[2]}, measure_shares,
              (const char *const[4]){"Arch height index", "dorsum / truncated length", one, two},
              &sheet_small);
    y += line_height;
    table_row(on, (const double[3]){place[0], y, place[2]}, measure_shares,
              (const char *const[4]){"Shoe size", "Mondopoint, ISO 9407",
                                     mondopoint(left->measures, one),
                                     mondopoint(right->measures, two)},
              &sheet_small);
    hw_pdf_untag(on->pdf);
    return y + line_height;
}

// Tension in body weights, 0 to 1.6 upwards; stance from left to right.
static void chart_point(frame in, double percent, double tension, double out[2])
{
    const double highest = 1.6;
    out[0] = in.x + in.width * percent / 100.0;
    out[1] = in.y + in.height * (1.0 - fmin(tension, highest) / highest);
}

static void chart_axes(sheet *on, frame in)
{
    const double corner[3][2] = {
        {in.x, in.y}, {in.x, in.y + in.height}, {in.x + in.width, in.y + in.height}};
    hw_pdf_path(on->pdf, &axis_ink, corner, 3, false);
    for (int percent = 0; percent <= 100; percent += 25) {
        double at[2];
        char text[16];
        chart_point(in, percent, 0.0, at);
        snprintf(text, sizeof text, "%d", percent);
        hw_pdf_text(on->pdf, &sheet_small, at[0] - 2.0, at[1] + 0.4, 12.0, text);
    }
    for (int half = 1; half <= 3; half++) {
        double at[2];
        char text[16];
        chart_point(in, 0.0, 0.5 * half, at);
        snprintf(text, sizeof text, "%.1f", 0.5 * half);
        hw_pdf_text(on->pdf, &sheet_small, at[0] - 6.0, at[1] - 1.4, 12.0, text);
    }
}

static void chart(sheet *on, const hw_mech_result *load, frame in)
{
    double area[2 * HW_MECH_POINTS][2], middle[HW_MECH_POINTS][2], device[HW_MECH_POINTS][2];
    for (int i = 0; i < HW_MECH_POINTS; i++) {
        hw_band band = load->tension_bw[i];
        chart_point(in, load->percent[i], band.p95, area[i]);
        chart_point(in, load->percent[i], band.p05, area[2 * HW_MECH_POINTS - 1 - i]);
        chart_point(in, load->percent[i], band.median, middle[i]);
    }
    hw_pdf_path(on->pdf, &band_ink, (const double(*)[2])area, 2 * HW_MECH_POINTS, true);
    hw_pdf_path(on->pdf, &curve_ink, (const double(*)[2])middle, HW_MECH_POINTS, false);
    if (load->effect_count && load->effects[0].midstance.change.known) {
        // Shown as far as it is known: a shell that ends behind the heads leaves push-off open.
        int count = 0;
        for (int i = 0; i < HW_MECH_POINTS && load->percent[i] <= 60.0; i++)
            chart_point(in, load->percent[i], load->effects[0].tension_bw[i].median,
                        device[count++]);
        hw_pdf_path(on->pdf, &device_ink, (const double(*)[2])device, count, false);
    }
    chart_axes(on, in);
}

static double changes_table(sheet *on, const hw_report_foot *foot, const double place[3])
{
    char peak[64], midstance[64], impulse[64];
    const char *const heads[4] = {"If this changed", "mid-stance", "peak", "impulse"};
    double y = place[1];
    hw_pdf_tag(on->pdf, "Table");
    table_row(on, (const double[3]){place[0], y, place[2]}, change_shares, heads,
              &sheet_small_strong);
    y += 3.3;
    for (int i = 0; i < foot->load->effect_count && y < SHEET_FLOOR - 6.0; i++) {
        const hw_mech_effect *effect = &foot->load->effects[i];
        char graded[80];
        snprintf(graded, sizeof graded, "%s, %c", sheet_change(effect->midstance.change, midstance),
                 (char)effect->grade);
        const char *const cells[4] = {effect->name, graded, sheet_change(effect->peak.change, peak),
                                      sheet_change(effect->impulse.change, impulse)};
        y = table_row(on, (const double[3]){place[0], y, place[2]}, change_shares, cells,
                      &sheet_small) +
            0.4;
    }
    hw_pdf_untag(on->pdf);
    return y;
}

static void load_of_foot(sheet *on, const hw_report_foot *foot, const char *side, frame room)
{
    char text[64];
    if (!foot->load) {
        sheet_print(on, &sheet_plain, (const double[3]){room.x, room.y, room.width},
                    "%s foot: load not computed, %s", side,
                    foot->load_why ? foot->load_why : "nothing was measured");
        return;
    }
    hw_band peak = foot->load->peak_bw;
    snprintf(text, sizeof text, "%.1f (%.1f to %.1f)", peak.median, peak.p05, peak.p95);
    double y = sheet_print(on, &sheet_strong, (const double[3]){room.x, room.y, room.width},
                           "%s foot: tension of the fascia through one step, body weights", side);
    y = sheet_print(on, &sheet_small, (const double[3]){room.x, y, room.width},
                    "Peak %s at about %.0f %% of stance. Band: 5 to 95 %% over tissue. Lower line: "
                    "with the orthosis, as far as it is known.",
                    text, foot->load->peak_percent.median);
    chart(on, foot->load, (frame){room.x + 7.0, y + 1.5, room.width - 12.0, 26.0});
    changes_table(on, foot, (const double[3]){room.x, y + 33.0, room.width});
}

static hw_status feet(sheet *on, double y, double height)
{
    static const char *const words[2] = {"Left", "Right"};
    double half = 0.5 * SHEET_INNER;
    for (int i = 0; i < 2; i++)
        if (on->report->feet[i].is_given)
            HW_TRY(foot_pictures(on, &on->report->feet[i], words[i],
                                 (frame){SHEET_MARGIN + i * half, y, half - 3.0, height}));
    return HW_OK;
}

hw_status sheet_findings_page(sheet *on)
{
    const hw_report *report = on->report;
    double y = verdict(on, sheet_page(on));
    double picture_height = fmin(72.0, SHEET_FLOOR - y - 120.0);
    if (picture_height > 20.0) {
        HW_TRY(feet(on, y, picture_height));
        y += picture_height + 2.0;
    }
    y = measures(on, (const double[3]){SHEET_MARGIN, y, 120.0}) + 2.0;
    y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                   "Load on the plantar fascia") +
        0.5;
    double half = 0.5 * SHEET_INNER;
    bool both = report->feet[0].is_given && report->feet[1].is_given;
    static const char *const words[2] = {"Left", "Right"};
    for (int i = 0; i < 2; i++)
        if (report->feet[i].is_given)
            load_of_foot(on, &report->feet[i], words[i],
                         (frame){SHEET_MARGIN + (both ? i * half : 0.0), y,
                                 (both ? half : SHEET_INNER) - 4.0, SHEET_FLOOR - y});
    return HW_OK;
}
