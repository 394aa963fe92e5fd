// SPDX-License-Identifier: GPL-3.0-or-later
// The fit of a device to its foot, a page each: its top seen from above in colours of the gap, with
// the scale they are read by, and the gaps of each part in figures.
#include "picture.h"
#include "sheet.h"

#include <stdio.h>
#include <string.h>

enum { STOPS = 5, BOXES = 40 };

// Blue where the device stands inside the skin, sand where they touch, red where there is air; both
// ends are dark, so that sizes read in grey, and the words at the scale say which is which.
static const double stops[STOPS][3] = {{0.10, 0.30, 0.62},
                                       {0.45, 0.66, 0.86},
                                       {0.93, 0.91, 0.85},
                                       {0.92, 0.60, 0.36},
                                       {0.62, 0.16, 0.10}};

static void colour_at(double share, double out[3])
{
    double at = fmin(1.0, fmax(0.0, share)) * (STOPS - 1);
    int from = at >= STOPS - 1 ? STOPS - 2 : (int)at;
    for (int k = 0; k < 3; k++)
        out[k] = stops[from][k] + (at - from) * (stops[from + 1][k] - stops[from][k]);
}

// A whole millimetre at or above the greatest gap: the scale's end on both sides.
static double scale_end(const hw_scan_fit *fit)
{
    return hw_m_from_mm(
        fmax(1.0, ceil(hw_mm_from_m(fmax(fit->all.most_air, fit->all.most_overlap)))));
}

// The top's grid as triangles with the colours of its gaps, in its own side's shape.
static hw_status coloured_top(hw_job *job, const hw_report_foot *foot, hw_arena *into, hw_mesh *out)
{
    const hw_orthosis *made = foot->orthosis;
    double end = scale_end(foot->fit), colour[3];
    hw_pose exit_pose = hw_foot_exit(made->side);
    hw_mesh mesh = {.point_count = made->nu * made->nv};
    HW_ALLOC(job, into, mesh.points, mesh.point_count);
    HW_ALLOC(job, into, mesh.colours, mesh.point_count);
    HW_ALLOC(job, into, mesh.triangles, 2 * mesh.point_count);
    for (int i = 0; i < mesh.point_count; i++) {
        mesh.points[i] = hw_pose_point(&exit_pose, made->top[i]);
        colour_at(0.5 + 0.5 * (double)foot->fit->gaps[i] / end, colour);
        for (int k = 0; k < 3; k++) mesh.colours[i][k] = (unsigned char)lround(255.0 * colour[k]);
    }
    for (int i = 0; i + 1 < made->nu; i++)
        for (int j = 0; j + 1 < made->nv; j++) {
            int a = i * made->nv + j, c = a + made->nv;
            const int two[2][3] = {{a, c, a + 1}, {a + 1, c, c + 1}};
            memcpy(mesh.triangles[mesh.triangle_count], two, sizeof two);
            mesh.triangle_count += 2;
        }
    *out = mesh;
    return HW_OK;
}

static void put_scale(sheet *on, double x, double y, double end)
{
    const double width = 80.0;
    for (int i = 0; i < BOXES; i++) {
        double colour[3];
        colour_at((i + 0.5) / BOXES, colour);
        const hw_pdf_ink ink = {0.0, false, colour[0], colour[1], colour[2], 0.0};
        hw_pdf_box(on->pdf, &ink, x + width * i / BOXES, y, width / BOXES + 0.1, 4.0, true);
    }
    for (int i = -2; i <= 2; i++)
        sheet_print(on, &sheet_small,
                    (const double[3]){x + width * (i + 2) / 4.0 - 4.0, y + 4.6, 20.0}, "%+.1f mm",
                    0.5 * i * hw_mm_from_m(end) + 0.0);
    sheet_print(on, &sheet_small, (const double[3]){x, y + 9.2, width},
                "-: the device stands inside the skin   0: they touch   +: air");
}

static hw_status put_top(sheet *on, const hw_report_foot *foot, bool is_right, double x, double y)
{
    hw_mesh top = {0};
    picture drawn = {0};
    // From above with the toes at the top, the person's left is at the left.
    const picture_view view = {{0, -1, 0}, {1, 0, 0}, {0, 0, 1}, 0.0004, 0.004, 0.0};
    HW_TRY(coloured_top(on->job, foot, on->into, &top));
    HW_TRY(picture_draw(on->job, &top, &view, on->into, &drawn));
    double height = 120.0, width = height * drawn.size[0] / drawn.size[1];
    const double at[4] = {x, y, width, height};
    hw_pdf_tag_figure(on->pdf,
                      is_right ? "Picture: the right device's top from above, toes up, each place "
                                 "coloured by its distance from the foot's skin"
                               : "Picture: the left device's top from above, toes up, each place "
                                 "coloured by its distance from the foot's skin");
    hw_status put =
        hw_pdf_picture(on->job, on->pdf, (const unsigned char(*)[3])drawn.pixels, drawn.size, at);
    hw_pdf_untag(on->pdf);
    return put;
}

static double put_figures(sheet *on, const hw_scan_fit *fit, double x, double y)
{
    const double width = 92.0;
    y = sheet_print(on, &sheet_plain, (const double[3]){x, y, width},
                    "Half of the places lie below a gap of %+.1f mm; %.0f of 100 are within 1 mm.",
                    hw_mm_from_m(fit->median) + 0.0, 100.0 * fit->within_1);
    y += 2.0;
    for (int i = 0; i < HW_FIT_REGIONS; i++) {
        const hw_fit_part *part = &fit->parts[i];
        if (part->count == 0) continue;
        y = sheet_print(on, &sheet_strong, (const double[3]){x, y, width}, "%s",
                        hw_fit_region_word((hw_fit_region)i));
        y = sheet_print(on, &sheet_plain, (const double[3]){x, y, width},
                        "mean gap %+.1f mm; air up to %.1f mm, inside the skin up to %.1f mm",
                        hw_mm_from_m(part->mean) + 0.0, hw_mm_from_m(part->most_air),
                        hw_mm_from_m(part->most_overlap));
        y += 1.5;
    }
    return y;
}

hw_status sheet_fit_pages(sheet *on)
{
    if (!on->report->feet[0].fit && !on->report->feet[1].fit)
        return hw_fail(on->job, HW_BAD_INPUT, "no device was made");
    for (int i = 0; i < 2; i++) {
        const hw_report_foot *foot = &on->report->feet[i];
        if (!foot->fit) continue;
        double y = sheet_page(on);
        y = sheet_text(on, &sheet_heading, "H2", (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                       i ? "RIGHT device against the right foot, from above, toes up"
                         : "LEFT device against the left foot, from above, toes up");
        HW_TRY(put_top(on, foot, i == 1, SHEET_MARGIN, y + 3.0));
        put_scale(on, SHEET_MARGIN + 92.0, y + 6.0, scale_end(foot->fit));
        put_figures(on, foot->fit, SHEET_MARGIN + 92.0, y + 26.0);
        sheet_print(
            on, &sheet_plain, (const double[3]){SHEET_MARGIN, y + 128.0, SHEET_INNER},
            "Shortest distance of each place of the device's top from the skin as scanned "
            "(foot held: %s), neither under load; ordered corrections such as arch fill and "
            "expansions are in it. How the foot changes its shape on the device is not.",
            hw_loading_word(foot->scan->foot.loading));
    }
    return HW_OK;
}
