// SPDX-License-Identifier: GPL-3.0-or-later
// The order sheet for the maker, a page a device: whose, which side in words, every parameter as
// ordered and as measured of the made solid, its outline and two sections, and the statement of a
// custom-made device with what the maker has to add.
#include "sheet.h"

#include <stdio.h>
#include <string.h>

static const hw_pdf_ink curve = {0.0, false, 0.06, 0.06, 0.06, 0.45};
static const hw_pdf_ink fill = {0.0, false, 0.82, 0.82, 0.82, 0.0};
static const hw_pdf_ink thin = {0.0, false, 0.35, 0.35, 0.35, 0.2};

enum { POINTS_MAX = 1024 };

bool hw_report_device_released(const hw_report *report, hw_side side)
{
    if (!report->plan->released) return false;
    for (int i = 0; i < report->plan->option_count; i++) {
        const hw_option *option = &report->plan->options[i];
        if (option->act == HW_ACT_ORTHOSIS && option->side == side && option->state != HW_AVAILABLE)
            return false;
    }
    return true;
}

static double row(sheet *on, double y, const char *name, const char *value)
{
    const double width = 108.0;
    hw_pdf_tag(on->pdf, "TR");
    double low = sheet_text(on, &sheet_plain, "TH", (const double[3]){SHEET_MARGIN, y, 68.0}, name);
    low = fmax(low, sheet_text(on, &sheet_strong, "TD",
                               (const double[3]){SHEET_MARGIN + 70.0, y, width - 70.0}, value));
    hw_pdf_untag(on->pdf);
    return low + 0.5;
}

static double length_row(sheet *on, double y, const char *name, double metres)
{
    char text[40];
    snprintf(text, sizeof text, "%.1f mm", hw_mm_from_m(metres));
    return row(on, y, name, text);
}

// "4.0 deg varus (inner side raised), flat base under the heel".
static const char *post_words(double rad, const char *how, char text[static 100])
{
    double degrees = hw_deg_from_rad(rad);
    if (fabs(degrees) < 0.05) return "none";
    snprintf(text, 100, "%.1f deg %s, %s", fabs(degrees),
             degrees > 0.0 ? "varus (inner side raised)" : "valgus (outer side raised)", how);
    return text;
}

// A term that was not asked for has no row, but what each device has.
static double term_row(sheet *on, double y, const hw_orthosis_order *of, hw_order_term term)
{
    const hw_order_row *row = &hw_order_rows()[term];
    char name[60];
    if (row->zero_is_none && hw_order_value(of, term) == 0.0) return y; // as typed
    if (row->is_angle) return y;
    bool is_groove = term == HW_TERM_GROOVE_WIDTH && !(of->groove_depth_m > 0.0);
    bool is_recess =
        (term == HW_TERM_RECESS_WIDTH || term == HW_TERM_TENDER_X) && !(of->recess_depth_m > 0.0);
    if (is_groove || is_recess) return y;
    snprintf(name, sizeof name, "%c%s", row->name[0] - 'a' + 'A', row->name + 1);
    return length_row(on, y, name, hw_order_value(of, term));
}

static double ordered(sheet *on, const hw_report_foot *foot, double y)
{
    char text[100];
    const hw_orthosis_order *of = foot->order;
    const hw_orthosis *made = foot->orthosis;
    hw_pdf_tag(on->pdf, "Table");
    y = row(on, y, "Side", made->side == HW_SIDE_LEFT ? "LEFT FOOT" : "RIGHT FOOT");
    y = row(on, y, "Shell material", hw_shell_material_word(of->material));
    y = row(on, y, "Length", hw_orthosis_length_word(of->length));
    y = row(on, y, "Foot when captured", hw_loading_word(of->loading));
    for (int i = 0; i < HW_TERMS; i++) y = term_row(on, y, of, (hw_order_term)i);
    y = row(on, y, "Rearfoot post",
            post_words(of->rearfoot_post_rad,
                       of->rearfoot_intrinsic ? "built into the cup" : "flat base", text));
    if (of->forefoot_post_rad != 0.0) // as typed
        y = row(on, y, "Forefoot post",
                post_words(of->forefoot_post_rad,
                           of->forefoot_intrinsic ? "balanced in the shell" : "flat base", text));
    if (of->balances_heel) y = row(on, y, "Heel", "balanced to the vertical");
    if (of->recess_is_plugged) y = row(on, y, "Heel recess", "filled with a soft plug");
    if (made->mark) {
        snprintf(text, sizeof text, "%s: letters of %.1f mm, raised by %.1f mm", made->mark,
                 hw_mm_from_m(made->mark_height_m), hw_mm_from_m(made->mark_raised_m));
        y = row(on, y, "On the underside", text);
    }
    if (of->met_pad != HW_MET_NONE) y = row(on, y, "Metatarsal pad", hw_met_pad_word(of->met_pad));
    if (of->cover != HW_COVER_NONE) y = row(on, y, "Top cover", hw_top_cover_word(of->cover));
    hw_pdf_untag(on->pdf);
    return y;
}

// What does not go into the shoe, one line each; nothing where all does.
static double misfits(sheet *on, const hw_report_foot *foot, double y)
{
    for (int i = 0; i < HW_SHOE_FITS; i++) {
        const hw_shoe_fit_row *of = &foot->shoe_fit[i];
        if (!of->is_over) continue;
        y = sheet_print(on, &sheet_strong, (const double[3]){SHEET_MARGIN, y, 108.0},
                        "Shoe: %s %.1f mm, it takes %.1f mm", of->name, hw_mm_from_m(of->value),
                        hw_mm_from_m(of->limit));
    }
    return y;
}

static double measured(sheet *on, const hw_orthosis *of, double y)
{
    char text[80];
    hw_pdf_tag(on->pdf, "Table");
    y = length_row(on, y, "Thinnest place", of->thickness_min_m);
    y = length_row(on, y, "Radius of the rim", of->rounding_radius_m);
    y = length_row(on, y, "Depth of the heel cup", of->cup_depth_m);
    y = length_row(on, y, "Under the heel", of->heel_stack_m);
    if (of->post_rad.known) {
        snprintf(text, sizeof text, "%.1f deg", hw_deg_from_rad(of->post_rad.value));
        y = row(on, y, "Base under the heel, varus +", text);
    }
    snprintf(text, sizeof text, "%.1f to %.1f mm", hw_mm_from_m(of->distal_gap_min_m),
             hw_mm_from_m(of->distal_gap_max_m));
    if (!of->is_long && !of->is_cup) y = row(on, y, "Distal edge behind heads", text);
    snprintf(text, sizeof text, "%.1f mm at most, %.1f on average",
             hw_mm_from_m(of->deviation_max_m), hw_mm_from_m(of->deviation_mean_m));
    y = row(on, y, "Top against the scanned sole", text);
    snprintf(text, sizeof text, "%.1f cm3, %.0f g", hw_cm3_from_m3(of->volume_m3),
             hw_g_from_kg(of->mass_kg));
    y = row(on, y, "Volume and mass", text);
    snprintf(text, sizeof text, "%.0f mm2", hw_mm2_from_m2(of->filled_area_m2));
    y = row(on, y, "Sole the scan did not show", text);
    hw_pdf_untag(on->pdf);
    return y;
}

// What was done to the surface, in order, one line.
static double steps(sheet *on, const hw_orthosis *of, double y)
{
    char text[600];
    int used = snprintf(text, sizeof text, "Done to the surface, in order: ");
    for (int i = 0; i < of->step_count && used < 500; i++) {
        const hw_orthosis_step *step = &of->steps[i];
        bool is_length = !strcmp(step->unit, "m"), is_angle = !strcmp(step->unit, "rad");
        double value = is_length  ? hw_mm_from_m(step->value)
                       : is_angle ? hw_deg_from_rad(step->value)
                                  : hw_mm2_from_m2(step->value);
        used += snprintf(text + used, sizeof text - (size_t)used, "%s%s %.1f %s", i ? ", " : "",
                         step->name, value,
                         is_length  ? "mm"
                         : is_angle ? "deg"
                                    : "mm2");
    }
    return sheet_text(on, &sheet_plain, "P", (const double[3]){SHEET_MARGIN, y, 108.0}, text) + 1.0;
}

typedef struct board {
    double x, y;  // of the origin on paper, mm
    double scale; // paper mm a device mm
} board;

static void put(const board *on, double across, double up, double out[2])
{
    out[0] = on->x + on->scale * hw_mm_from_m(across);
    out[1] = on->y - on->scale * hw_mm_from_m(up);
}

// Seen from above, toes up. The device is kept as a left foot's, whose outer side (+y) lies at the
// left.
static double outline(sheet *on, const hw_orthosis *of, double x, double y)
{
    const double widest = 62.0, tallest = 104.0; // paper mm of the right column

    double points[POINTS_MAX][2], low_x = 1.0, low_y = 1.0, high_x = -1.0, high_y = -1.0;
    int count = of->outline_count < POINTS_MAX ? of->outline_count : POINTS_MAX - 1;
    double mirror = of->side == HW_SIDE_LEFT ? -1.0 : 1.0;
    for (int i = 0; i < count; i++) {
        const hw_vec3 *p = &of->outline[(long)i * of->outline_count / count];
        low_x = fmin(low_x, mirror * p->y), high_x = fmax(high_x, mirror * p->y);
        low_y = fmin(low_y, p->x), high_y = fmax(high_y, p->x);
    }
    double scale = fmin(
        0.6, fmin(widest / hw_mm_from_m(high_x - low_x), tallest / hw_mm_from_m(high_y - low_y)));
    const board paper = {x - scale * hw_mm_from_m(low_x), y + scale * hw_mm_from_m(high_y), scale};
    for (int i = 0; i < count; i++) {
        const hw_vec3 *p = &of->outline[(long)i * of->outline_count / count];
        put(&paper, mirror * p->y, p->x, points[i]);
    }
    points[count][0] = points[0][0], points[count][1] = points[0][1];
    hw_pdf_path(on->pdf, &fill, (const double(*)[2])points, count + 1, true);
    hw_pdf_path(on->pdf, &curve, (const double(*)[2])points, count + 1, false);
    double below = y + scale * hw_mm_from_m(high_y - low_y) + 1.5;
    const char *sides = of->side == HW_SIDE_LEFT ? "outer side    |    inner side"
                                                 : "inner side    |    outer side";
    below = sheet_text(on, &sheet_small, "P", (const double[3]){x, below, 60.0}, sides);
    return sheet_print(on, &sheet_small, (const double[3]){x, below, 60.0},
                       "From above, toes up. %.1f x %.1f mm, drawn at %.0f %%",
                       hw_mm_from_m(high_y - low_y), hw_mm_from_m(high_x - low_x), 100.0 * scale);
}

// Length and height of a section on paper, mm at full size, and where it begins.
typedef struct extent {
    double low_s, low_z, high_s, high_z;
} extent;

static hw_vec3 section_point(const hw_orthosis *of, int fixed, bool is_lengthwise, int k)
{
    int count = is_lengthwise ? of->nu : of->nv, at = k < count ? k : 2 * count - 1 - k;
    int index = is_lengthwise ? at * of->nv + fixed : fixed * of->nv + at;
    hw_vec3 p = k < count ? of->top[index] : of->bottom[index];
    // Across, seen from behind: a left foot's outer side lies at the left.
    double mirror = of->side == HW_SIDE_RIGHT ? 1.0 : -1.0;
    return (hw_vec3){is_lengthwise ? p.x : mirror * p.y, 0.0, p.z};
}

static extent section_extent(const hw_orthosis *of, int fixed, bool is_lengthwise)
{
    extent e = {1.0, 1.0, -1.0, -1.0};
    for (int k = 0; k < 2 * (is_lengthwise ? of->nu : of->nv); k++) {
        hw_vec3 p = section_point(of, fixed, is_lengthwise, k);
        e.low_s = fmin(e.low_s, p.x), e.high_s = fmax(e.high_s, p.x);
        e.low_z = fmin(e.low_z, p.z), e.high_z = fmax(e.high_z, p.z);
    }
    return e;
}

// A section: top and bottom of one column (lengthwise) or row (across) of the grid, as wide as the
// column of the sheet; gives the y below it and its scale.
static double section(sheet *on, const hw_orthosis *of, int fixed, bool is_lengthwise,
                      double place[3])
{
    const double widest = 62.0, largest = 0.75;
    double points[POINTS_MAX][2];
    int count = 2 * (is_lengthwise ? of->nu : of->nv);
    if (count + 1 > POINTS_MAX) return place[1];
    extent e = section_extent(of, fixed, is_lengthwise);
    double scale = fmin(largest, widest / hw_mm_from_m(e.high_s - e.low_s));
    double floor = place[1] + scale * hw_mm_from_m(e.high_z - e.low_z);
    const board paper = {place[0] - scale * hw_mm_from_m(e.low_s),
                         floor + scale * hw_mm_from_m(e.low_z), scale};
    for (int k = 0; k < count; k++) {
        hw_vec3 p = section_point(of, fixed, is_lengthwise, k);
        put(&paper, p.x, p.z, points[k]);
    }
    points[count][0] = points[0][0], points[count][1] = points[0][1];
    hw_pdf_tag_figure(on->pdf, is_lengthwise
                                   ? "Drawing: section of the device along its middle"
                                   : "Drawing: section of the device across its heel cup");
    hw_pdf_path(on->pdf, &fill, (const double(*)[2])points, count + 1, true);
    hw_pdf_path(on->pdf, &curve, (const double(*)[2])points, count + 1, false);
    const double ground[2][2] = {{place[0] - 2.0, floor}, {place[0] + widest + 2.0, floor}};
    hw_pdf_path(on->pdf, &thin, ground, 2, false);
    hw_pdf_untag(on->pdf);
    place[2] = scale;
    return floor + 1.0;
}

static double sections(sheet *on, const hw_orthosis *of, double x, double y)
{
    double place[3] = {x, y, 1.0};
    y = section(on, of, of->nv / 2, true, place);
    y = sheet_print(on, &sheet_small, (const double[3]){x, y, 64.0},
                    "Section along the middle, heel at the left, drawn at %.0f %%",
                    100.0 * place[2]);
    place[1] = y + 2.0;
    y = section(on, of, of->nu / 5, false, place);
    return sheet_print(
        on, &sheet_small, (const double[3]){x, y, 64.0},
        "Section across the heel cup, %.0f mm from the heel's rim, seen from behind, %s, drawn at "
        "%.0f %%",
        hw_mm_from_m(of->top[of->nu / 5 * of->nv + of->nv / 2].x - of->top[of->nv / 2].x),
        of->side == HW_SIDE_LEFT ? "outer side at the left" : "inner side at the left",
        100.0 * place[2]);
}

// How to lay it on the machine, by material (docs/orthosis.md 5).
static const char *making_advice(hw_shell_material material)
{
    if (hw_shell_row_of(material)->is_block) return "Mill from a block, top and bottom.";
    if (material == HW_SHELL_CARBON) return "Laid up over a positive; trim and round the edges.";
    return "Printing: lay it flat, tilted 10 to 15 degrees along the foot and never over 30, so "
           "that "
           "the layers run along the arch; do not stand it on its front edge.";
}

// facts/standards.md 6.2: what goes with a custom-made device; what the program cannot know is left
// open.
static void statement(sheet *on, const hw_orthosis *of, double y)
{
    char date[HW_DATE_TEXT];
    const hw_visit *visit = on->report->visit;
    y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y + 1.5, SHEET_INNER},
                   "Custom-made device") +
        0.6;
    y = sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                    "Device %s-%s of %s, for the exclusive use of person %s, as prescribed above.",
                    visit->code, hw_side_word(of->side),
                    hw_date_text(visit->findings.visit_date, date), visit->code);
    static const char *const lines[] = {
        "Prescriber and clinic: ________________________________   Signature: ____________________",
        "Maker, name and address: _________________________________________   Lot: ______________",
        "Conforms to the general safety requirements of the law that applies; those not met, and "
        "why:",
        "______________________________________________   Maker's signature, date: "
        "_______________"};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        y = sheet_text(on, &sheet_plain, "P", (const double[3]){SHEET_MARGIN, y + 1.6, SHEET_INNER},
                       lines[i]);
}

static double release(sheet *on, const hw_orthosis *of, double y)
{
    if (hw_report_device_released(on->report, of->side))
        return sheet_text(on, &sheet_strong, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                          "Released by the rules; the prescriber signs below.") +
               1.0;
    y = sheet_text(on, &sheet_alarm, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                   "NOT RELEASED: do not make this device");
    return sheet_text(on, &sheet_plain, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                      on->report->plan->released
                          ? "A rule stands against a hard shell under this foot: see the plan."
                          : on->report->plan->verdict) +
           1.0;
}

static void order_page(sheet *on, const hw_report_foot *foot)
{
    const hw_orthosis *of = foot->orthosis;
    on->sides = of->side == HW_SIDE_LEFT ? "left foot" : "right foot";
    double y = release(on, of, sheet_page(on)), top = y;
    y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y, 108.0},
                   "As ordered");
    y = ordered(on, foot, y + 0.8);
    y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y + 1.5, 108.0},
                   "As measured of the computed solid");
    y = misfits(on, foot, steps(on, of, measured(on, of, y + 0.8)));
    y = sheet_text(on, &sheet_plain, "P", (const double[3]){SHEET_MARGIN, y, 108.0},
                   making_advice(of->material)) +
        1.0;
    hw_pdf_tag_figure(on->pdf, "Drawing: outline of the device from above with its measures");
    double right = outline(on, of, SHEET_MARGIN + 116.0, top + 2.0) + 3.0;
    hw_pdf_untag(on->pdf);
    y = fmax(y, sections(on, of, SHEET_MARGIN + 116.0, right));
    statement(on, of, y);
}

hw_status sheet_order_pages(sheet *on)
{
    if (!on->report->feet[0].orthosis && !on->report->feet[1].orthosis)
        return hw_fail(on->job, HW_BAD_INPUT, "no device was made: there is nothing to order");
    for (int i = 0; i < 2; i++)
        if (on->report->feet[i].orthosis) order_page(on, &on->report->feet[i]);
    return hw_job_ask(on->job);
}
