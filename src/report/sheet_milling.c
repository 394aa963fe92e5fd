// SPDX-License-Identifier: GPL-3.0-or-later
// The sheet for the person at the machine, a page a program: release, set-up with a drawing, tools,
// cautions, and what the check found as maps. Made of the program as it was read again, not as it
// was written.
#include "sheet.h"

#include <stdio.h>

static const double s_per_min = 60.0;
static const hw_pdf_ink thin = {0.0, false, 0.25, 0.28, 0.32, 0.25};
static const hw_pdf_ink bold = {0.0, false, 0.10, 0.12, 0.15, 0.5};
static const hw_pdf_ink soft = {0.0, false, 0.90, 0.91, 0.92, 0.0};
static const hw_pdf_ink clamp = {0.0, false, 0.72, 0.74, 0.77, 0.0};

static double pair(sheet *on, double y, const char *name, const char *text)
{
    hw_pdf_tag(on->pdf, "TR");
    sheet_text(on, &sheet_plain, "TD", (const double[3]){SHEET_MARGIN, y, 40.0}, name);
    y = sheet_text(on, &sheet_strong, "TD", (const double[3]){SHEET_MARGIN + 41.0, y, 62.0}, text);
    hw_pdf_untag(on->pdf);
    return y + 0.5;
}

static double tool_pair(sheet *on, double y, const char *name, const hw_mill_tool *of)
{
    char text[160];
    snprintf(text, sizeof text,
             "T%d, %s, diameter %.1f mm, reach %.0f mm, %.0f per min, %.0f mm/min", of->number,
             of->cutter == HW_CUTTER_BALL ? "ball-nose" : "flat", hw_mm_from_m(2.0 * of->radius_m),
             hw_mm_from_m(of->reach_m), of->spindle_per_min,
             hw_mm_from_m(of->feed_m_per_s) * s_per_min);
    return pair(on, y, name, text);
}

static double set_up(sheet *on, const hw_milled *of, double y)
{
    char text[200];
    const hw_mill *mill = on->report->milling->mill;
    const hw_mill_block *block = &mill->blocks[mill->block];
    hw_pdf_tag(on->pdf, "Table");
    y = pair(on, y, "Program", of->name);
    y = pair(on, y, "What is made", hw_mill_kind_word(mill->kind));
    y = pair(on, y, "Machine", mill->machine.name);
    snprintf(text, sizeof text, "%.60s, %.60s", block->name, block->material);
    y = pair(on, y, "Block", text);
    snprintf(text, sizeof text, "X %.1f, Y %.1f, Z %.1f mm: measure Z",
             hw_mm_from_m(block->length_m), hw_mm_from_m(block->width_m),
             hw_mm_from_m(block->height_m));
    y = pair(on, y, "Its size", text);
    y = pair(on, y, "Zero", "X Y middle of the left pin, Z top of the bed");
    y = tool_pair(on, y, "Roughing", &mill->tools[mill->rough]);
    y = tool_pair(on, y, "Finishing", &mill->tools[mill->finish]);
    snprintf(text, sizeof text, "%.0f to %.0f min, without the %d stops",
             of->program.time_low_s / s_per_min, of->program.time_high_s / s_per_min,
             of->program.stop_count);
    y = pair(on, y, "Time", text);
    hw_pdf_untag(on->pdf);
    return y;
}

// The block from above with pins, clamps and parts, first side up.
static double drawing(sheet *on, const hw_milled *of, double y)
{
    const hw_mill *mill = on->report->milling->mill;
    const hw_mill_block *block = &mill->blocks[mill->block];
    const double left = SHEET_MARGIN + 108.0, wide = SHEET_INNER - 108.0;
    double length = hw_mm_from_m(block->length_m), width = hw_mm_from_m(block->width_m);
    double scale = fmin(wide / length, 70.0 / width), inset = hw_mm_from_m(block->clamp_inset_m);
    double pin = hw_mm_from_m(block->pin_inset_m), middle = y + 0.5 * scale * width;
    hw_pdf_tag_figure(on->pdf, "Drawing: the block from above with its pins, its clamps, and where "
                               "each part lies, as its label says");
    hw_pdf_box(on->pdf, &soft, left, y, scale * length, scale * width, true);
    hw_pdf_box(on->pdf, &clamp, left, y, scale * inset, scale * width, true);
    hw_pdf_box(on->pdf, &clamp, left + scale * (length - inset), y, scale * inset, scale * width,
               true);
    hw_pdf_box(on->pdf, &bold, left, y, scale * length, scale * width, false);
    for (int k = 0; k < 2; k++) {
        double x = left + scale * (k ? length - pin : pin);
        const double cross[2][2][2] = {{{x - 2.0, middle}, {x + 2.0, middle}},
                                       {{x, middle - 2.0}, {x, middle + 2.0}}};
        for (int arm = 0; arm < 2; arm++) hw_pdf_path(on->pdf, &bold, cross[arm], 2, false);
    }
    for (int part = 0; part < of->part_count; part++) {
        const hw_gcode_map *map = &of->cut.maps[0][part];
        double x = left + scale * (pin + hw_mm_from_m(map->low_x));
        double top = middle - scale * hw_mm_from_m(map->low_y + map->rows * map->step);
        double box[2] = {scale * hw_mm_from_m(map->columns * map->step),
                         scale * hw_mm_from_m(map->rows * map->step)};
        hw_pdf_box(on->pdf, &thin, x, top, box[0], box[1], false);
        sheet_print(on, &sheet_small_strong, (const double[3]){x + 1.0, top + 1.0, box[0]},
                    "%s FOOT, toes to the right",
                    of->sides[part] == HW_SIDE_LEFT ? "LEFT" : "RIGHT");
    }
    hw_pdf_untag(on->pdf);
    return sheet_text(on, &sheet_small, "P", (const double[3]){left, y + scale * width + 1.0, wide},
                      "From above, first side up, X to the right. Crosses: pins; X0 Y0 is the left "
                      "one. Grey ends: clamps, not cut.");
}

// A colour that also reads in grey: met in light blue, darker with the ridge; stock that stays in
// ochre, tabs dark.
static void colour(const hw_gcode_map *map, size_t at, double ridge, unsigned char out[3])
{
    static const unsigned char fixed[][3] = {
        [HW_GCODE_NOTHING] = {255, 255, 255}, [HW_GCODE_UNREACHED] = {214, 150, 50},
        [HW_GCODE_HELD] = {70, 74, 82},       [HW_GCODE_LEFT] = {150, 50, 10},
        [HW_GCODE_GOUGED] = {0, 0, 0},        [HW_GCODE_MET] = {0, 0, 0}};
    int state = map->state[at];
    for (int k = 0; k < 3; k++) out[k] = fixed[state][k];
    if (state != HW_GCODE_MET) return;
    double share = fmin(1.0, fmax(0.0, (double)map->off_m[at] / ridge));
    static const double light[3] = {232, 240, 248}, dark[3] = {120, 160, 200};
    for (int k = 0; k < 3; k++)
        out[k] = (unsigned char)lround(light[k] + share * (dark[k] - light[k]));
}

static hw_status draw_map(sheet *on, const hw_gcode_map *map, double x, double y, double wide,
                          double *high)
{
    unsigned char(*pixels)[3] = NULL;
    double ridge = on->report->milling->mill->scallop_m;
    size_t count = (size_t)map->columns * (size_t)map->rows;
    *high = wide * map->rows / map->columns;
    HW_ALLOC(on->job, on->into, pixels, count);
    for (int j = 0; j < map->rows; j++) // Y up, pictures down
        for (int i = 0; i < map->columns; i++)
            colour(map, (size_t)(map->rows - 1 - j) * (size_t)map->columns + (size_t)i, ridge,
                   pixels[(size_t)j * (size_t)map->columns + (size_t)i]);
    return hw_pdf_picture(on->job, on->pdf, (const unsigned char(*)[3])pixels,
                          (const int[2]){map->columns, map->rows},
                          (const double[4]){x, y, wide, *high});
}

static hw_status maps(sheet *on, const hw_milled *of, double y)
{
    const double wide = 0.5 * SHEET_INNER - 4.0;
    y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                   "What the check found: the program read again and cut in memory");
    for (int part = 0; part < of->part_count; part++) {
        double lowest = y;
        for (int side = 0; side < of->rules.side_count; side++) {
            const hw_gcode_map *map = &of->cut.maps[side][part];
            double x = SHEET_MARGIN + side * (wide + 8.0), high = 0.0;
            double below = sheet_print(
                on, &sheet_small, (const double[3]){x, y + 0.5, wide},
                "%s FOOT, side %d up. Cut below the design by %.3f mm at most; ridges to %.3f mm; "
                "stock no ball reaches to %.2f mm over %.0f mm2; at tabs %.0f mm2; tabs cut by "
                "%.3f mm at most.",
                of->sides[part] == HW_SIDE_LEFT ? "LEFT" : "RIGHT", side + 1,
                hw_mm_from_m(map->gouge_m), hw_mm_from_m(map->ridge_m),
                hw_mm_from_m(map->unreached_m), hw_mm2_from_m2(map->unreached_m2),
                hw_mm2_from_m2(map->held_m2), hw_mm_from_m(map->tab_cut_m));
            const char *words = NULL;
            HW_TRY(hw_text_format(on->job, on->into, &words,
                                  "Map: what the check found on the part for the %s foot, side %d "
                                  "up; the numbers stand above it",
                                  hw_side_word(of->sides[part]), side + 1));
            hw_pdf_tag_figure(on->pdf, words);
            hw_status status = draw_map(on, map, x, below + 0.5, wide, &high);
            hw_pdf_untag(on->pdf);
            HW_TRY(status);
            lowest = fmax(lowest, below + 0.5 + high);
        }
        y = lowest + 1.0;
    }
    sheet_print(on, &sheet_small, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                "Light to dark blue: ridges from 0 to the scallop asked for, %.3f mm. Ochre: stock "
                "stays, the ball does not reach. Dark grey: at a tab.",
                hw_mm_from_m(on->report->milling->mill->scallop_m));
    return HW_OK;
}

static double cautions(sheet *on, double y)
{
    int count = 0;
    const char *const *all = hw_report_milling_cautions(&count);
    y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                   "Before the machine starts");
    for (int i = 0; i < count; i++)
        y = sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y + 0.3, SHEET_INNER},
                        "[  ]  %s", all[i]);
    return y;
}

static const char *sides_of(const hw_milled *of)
{
    if (of->part_count == 2) return "left and right foot";
    return of->sides[0] == HW_SIDE_LEFT ? "left foot" : "right foot";
}

static hw_status milling_page(sheet *on, const hw_milled *of)
{
    on->sides = sides_of(of);
    double y = sheet_page(on) + 0.5;
    if (!of->is_released)
        y = sheet_text(on, &sheet_alarm, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                       "NOT RELEASED: do not mill this") +
            0.5;
    double right = drawing(on, of, y + 1.0);
    y = fmax(set_up(on, of, y + 1.0), right) + 1.5;
    y = cautions(on, y) + 1.5;
    return maps(on, of, y);
}

hw_status sheet_milling_pages(sheet *on)
{
    const hw_milling *milling = on->report->milling;
    if (!milling) return hw_fail(on->job, HW_BAD_INPUT, "no milling program was made");
    for (int i = 0; i < milling->count; i++) HW_TRY(milling_page(on, &milling->programs[i]));
    return hw_job_ask(on->job);
}
