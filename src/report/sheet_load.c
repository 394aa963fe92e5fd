// SPDX-License-Identifier: GPL-3.0-or-later
// The picture of the load: this foot from its side at five solved instants, its fascia drawn by
// tension, today and with the treatment that helps most; the curve; what the load is due to; what
// would bring it down.
#include "sheet.h"

#include <stdio.h>
#include <string.h>

enum { INSTANTS = 5, SLICES = 48 };

static const double shown_percent[INSTANTS] = {20.0, 40.0, 60.0, 80.0, 90.0};
static const hw_pdf_ink skin_ink = {0.0, false, 0.87, 0.88, 0.90, 0.3};
static const hw_pdf_ink edge_ink = {0.0, false, 0.45, 0.49, 0.55, 0.25};
static const hw_pdf_ink floor_ink = {0.0, false, 0.25, 0.28, 0.32, 0.3};
static const hw_pdf_ink band_ink = {0.0, false, 0.80, 0.85, 0.90, 0.0};
static const hw_pdf_ink today_ink = {0.0, false, 0.10, 0.35, 0.52, 0.7};
static const hw_pdf_ink change_ink = {0.0, false, 0.72, 0.31, 0.03, 0.7};
static const hw_pdf_ink more_ink = {0.0, false, 0.10, 0.35, 0.52, 0.0};
static const hw_pdf_ink less_ink = {0.0, false, 0.62, 0.72, 0.80, 0.0};

// Highest and lowest skin by slices of foot length: the outline from the side, scan pose, m.
typedef struct outline {
    double x[SLICES], low[SLICES], high[SLICES];
    bool is_seen[SLICES];
} outline;

static outline outline_of(const hw_report_foot *foot)
{
    outline out = {0};
    double length = foot->measures->foot_length_m.value;
    double ceiling = 0.36 * length; // the leg above is no part of the picture
    for (int i = 0; i < SLICES; i++) {
        out.x[i] = length * (i + 0.5) / SLICES;
        out.low[i] = 1.0;
    }
    const hw_mesh *surface = &foot->scan->foot.surface;
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        int slice = (int)floor(p.x / length * SLICES);
        if (slice < 0 || slice >= SLICES || p.z > ceiling) continue;
        out.low[slice] = fmin(out.low[slice], p.z);
        out.high[slice] = fmax(out.high[slice], p.z);
        out.is_seen[slice] = true;
    }
    return out;
}

// Where the solved pose carries a point of the side view.
typedef struct mover {
    const hw_mech_skeleton *bones;
    const hw_mech_pose *pose;
    double toes_from; // x of the first head, scan pose
} mover;

static void hindfoot(const mover *m, double x, double z, double out[2])
{
    double s = sin(m->pose->pitch_rad), c = cos(m->pose->pitch_rad);
    double dx = x - m->bones->heel_x;
    out[0] = m->bones->heel_x + c * dx - s * z;
    out[1] = m->pose->heel_height_m + s * dx + c * z;
}

static void turned(const double about[2], double angle, double dx, double dz, double out[2])
{
    out[0] = about[0] + cos(angle) * dx - sin(angle) * dz;
    out[1] = about[1] + sin(angle) * dx + cos(angle) * dz;
}

// With the first ray, which is what the medial side shows.
static void forefoot(const mover *m, double x, double z, double out[2])
{
    hw_vec3 hinge = m->bones->hinge[0];
    double about[2], turn = m->pose->pitch_rad + m->pose->flattening_rad[0];
    hindfoot(m, hinge.x, hinge.z - m->pose->hinge_drop_m[0], about);
    turned(about, turn, x - hinge.x, z - hinge.z, out);
}

static void toes(const mover *m, double x, double z, double out[2])
{
    hw_vec3 head = m->bones->head[0];
    double about[2];
    forefoot(m, head.x, head.z, about);
    turned(about, m->pose->toes_rad, x - head.x, z - head.z, out);
}

static double blend(double x, double from, double to)
{
    double part = fmin(1.0, fmax(0.0, (x - from) / (to - from)));
    return part * part * (3.0 - 2.0 * part);
}

// Skin bends over a stretch where bones turn about a point.
static void move(const mover *m, double x, double z, double out[2])
{
    const double stretch = 0.025; // m, to both sides
    double back[2], middle[2], front[2];
    hindfoot(m, x, z, back);
    forefoot(m, x, z, middle);
    toes(m, x, z, front);
    double hinge = m->bones->hinge[0].x;
    double b = blend(x, hinge - stretch, hinge + stretch);
    double t = blend(x, m->toes_from - 0.3 * stretch, m->toes_from + stretch);
    for (int i = 0; i < 2; i++)
        out[i] = (1.0 - b) * back[i] + b * ((1.0 - t) * middle[i] + t * front[i]);
}

// A drawing's place: paper millimetres per metre, and where the heel's back on the floor lies.
typedef struct stand {
    double x, floor, scale;
} stand;

static void on_paper(const stand *at, const double point[2], double out[2])
{
    out[0] = at->x + at->scale * point[0];
    out[1] = at->floor - at->scale * point[1];
}

static void draw_skin(sheet *on, const outline *skin, const mover *m, const stand *at)
{
    double points[2 * SLICES][2];
    int count = 0;
    for (int i = 0; i < 2 * SLICES; i++) {
        int slice = i < SLICES ? i : 2 * SLICES - 1 - i;
        double moved[2];
        if (!skin->is_seen[slice]) continue;
        move(m, skin->x[slice], i < SLICES ? skin->low[slice] : skin->high[slice], moved);
        on_paper(at, moved, points[count++]);
    }
    if (count < 3) return;
    hw_pdf_path(on->pdf, &skin_ink, (const double(*)[2])points, count, true);
    hw_pdf_path(on->pdf, &edge_ink, (const double(*)[2])points, count, false);
}

static double tension_of(const hw_mech_pose *pose)
{
    double sum = 0.0;
    for (int i = 0; i < HW_MECH_RAYS; i++) sum += pose->slip_bw[i];
    return sum;
}

// Thick and dark is tight: read in grey as well.
static hw_pdf_ink fascia_ink(double tension_bw)
{
    double part = fmin(1.0, tension_bw / 1.2);
    return (hw_pdf_ink){.red = 0.95 - 0.35 * part,
                        .green = 0.74 - 0.60 * part,
                        .blue = 0.45 - 0.43 * part,
                        .thickness = 0.5 + 2.1 * part};
}

static void draw_fascia(sheet *on, const mover *m, const stand *at)
{
    hw_vec3 head = m->bones->head[0];
    double radius = m->bones->windlass_radius_m[0], moved[2], points[3][2];
    hindfoot(m, m->bones->origin.x, m->bones->origin.z, moved);
    on_paper(at, moved, points[0]);
    forefoot(m, head.x, head.z - radius, moved);
    on_paper(at, moved, points[1]);
    toes(m, head.x + 0.035, head.z - radius, moved);
    on_paper(at, moved, points[2]);
    hw_pdf_ink ink = fascia_ink(tension_of(m->pose));
    hw_pdf_path(on->pdf, &ink, (const double(*)[2])points, 3, false);
}

static void draw_instant(sheet *on, const outline *skin, const mover *m, const stand *at,
                         double width)
{
    const double line[2][2] = {{at->x - 1.0, at->floor}, {at->x + width - 3.0, at->floor}};
    if (skin) draw_skin(on, skin, m, at);
    draw_fascia(on, m, at);
    hw_pdf_path(on->pdf, &floor_ink, line, 2, false);
}

static const hw_mech_pose *pose_at(const hw_mech_walk *walk, double percent)
{
    int i = (int)lround(percent / 2.5) - HW_MECH_FIRST;
    return walk->pose[i].is_settled ? &walk->pose[i] : NULL;
}

static double draw_row(sheet *on, const hw_report_foot *foot, const hw_mech_walk *walk,
                       const char *title, double y)
{
    const double height = 33.0, width = SHEET_INNER / INSTANTS;
    outline skin;
    if (foot->scan) skin = outline_of(foot);
    y = sheet_text(on, &sheet_strong, "P", (const double[3]){SHEET_MARGIN, y, SHEET_INNER}, title);
    hw_pdf_tag_figure(on->pdf, "Picture: the foot at instants of one step, its fascia the darker "
                               "the more it is stretched");
    for (int i = 0; i < INSTANTS; i++) {
        const hw_mech_pose *pose = pose_at(walk, shown_percent[i]);
        double length = foot->measures->foot_length_m.value;
        stand at = {SHEET_MARGIN + i * width, y + height - 4.0, (width - 4.0) / length};
        if (!pose) continue;
        mover m = {&foot->load->skeleton, pose, foot->load->skeleton.head[0].x};
        draw_instant(on, foot->scan ? &skin : NULL, &m, &at, width);
    }
    hw_pdf_untag(on->pdf);
    for (int i = 0; i < INSTANTS; i++) {
        const hw_mech_pose *pose = pose_at(walk, shown_percent[i]);
        double x = SHEET_MARGIN + i * width;
        if (pose)
            sheet_print(on, &sheet_small, (const double[3]){x, y + height - 3.2, width},
                        "%.0f %% of the step: %.2f BW", shown_percent[i], tension_of(pose));
        else
            sheet_print(on, &sheet_small, (const double[3]){x, y + height - 3.2, width},
                        "%.0f %%: did not settle", shown_percent[i]);
    }
    return y + height + 2.0;
}

static double draw_scale(sheet *on, double y)
{
    static const double tensions[4] = {0.1, 0.4, 0.8, 1.2};
    for (int i = 0; i < 4; i++) {
        double x = SHEET_MARGIN + 40.0 + 28.0 * i;
        const double line[2][2] = {{x, y + 1.4}, {x + 9.0, y + 1.4}};
        hw_pdf_ink ink = fascia_ink(tensions[i]);
        hw_pdf_path(on->pdf, &ink, line, 2, false);
        sheet_print(on, &sheet_small, (const double[3]){x + 10.5, y, 18.0}, "%.1f", tensions[i]);
    }
    return sheet_text(on, &sheet_small, "P", (const double[3]){SHEET_MARGIN, y, 40.0},
                      "Fascia, BW (body weights):") +
           1.5;
}

// The change whose mid-stance relief is best known to be large; NULL where none relieves.
static const hw_mech_effect *most_helpful(const hw_mech_result *load)
{
    const hw_mech_effect *best = NULL;
    for (int i = 0; i < load->effect_count; i++) {
        const hw_mech_effect *effect = &load->effects[i];
        hw_band change = effect->midstance.change;
        if (change.known && change.median < -0.005 &&
            (!best || change.median < best->midstance.change.median))
            best = effect;
    }
    return best;
}

typedef struct plot {
    double x, y, width, height;
} plot;

static void plot_point(const plot *in, double percent, double tension, double out[2])
{
    const double highest = 1.8;
    out[0] = in->x + in->width * percent / 100.0;
    out[1] = in->y + in->height * (1.0 - fmin(tension, highest) / highest);
}

static void plot_axes(sheet *on, const plot *in)
{
    const double corner[3][2] = {
        {in->x, in->y}, {in->x, in->y + in->height}, {in->x + in->width, in->y + in->height}};
    hw_pdf_path(on->pdf, &floor_ink, corner, 3, false);
    for (int i = 0; i <= 4; i++) {
        double at[2];
        plot_point(in, 25.0 * i, 0.0, at);
        sheet_print(on, &sheet_small, (const double[3]){at[0] - 2.0, at[1] + 0.5, 14.0}, "%d%s",
                    25 * i, i == 4 ? " %" : "");
    }
    for (int i = 1; i <= 3; i++) {
        double at[2];
        plot_point(in, 0.0, 0.5 * i, at);
        sheet_print(on, &sheet_small, (const double[3]){at[0] - 5.5, at[1] - 1.4, 8.0}, "%.1f",
                    0.5 * i);
    }
}

// Solid, or in dashes of one instant and gaps of another: told apart without colour.
static void plot_curve(sheet *on, const plot *in, const hw_mech_result *load, const hw_band *curve,
                       double until, const hw_pdf_ink *ink)
{
    bool is_dashed = curve != load->tension_bw;
    double points[HW_MECH_POINTS][2];
    int count = 0;
    for (int i = 0; i < HW_MECH_POINTS; i++)
        if (load->percent[i] <= until && curve[i].known)
            plot_point(in, load->percent[i], curve[i].median, points[count++]);
    for (int i = 0; is_dashed && i + 1 < count; i += 2)
        hw_pdf_path(on->pdf, ink, (const double(*)[2])points + i, 2, false);
    if (!is_dashed && count > 1)
        hw_pdf_path(on->pdf, ink, (const double(*)[2])points, count, false);
}

static double draw_curves(sheet *on, const hw_mech_result *load, const hw_mech_effect *with,
                          double y)
{
    double area[2 * HW_MECH_POINTS][2];
    plot in = {SHEET_MARGIN + 7.0, y + 4.5, 0.52 * SHEET_INNER - 12.0, 62.0};
    sheet_text(on, &sheet_strong, "P", (const double[3]){SHEET_MARGIN, y, 0.52 * SHEET_INNER},
               "Tension through one step, body weights");
    hw_pdf_tag_figure(on->pdf, "Curve: tension in the fascia through one step with its band; the "
                               "numbers stand in the text");
    for (int i = 0; i < HW_MECH_POINTS; i++) {
        plot_point(&in, load->percent[i], load->tension_bw[i].p95, area[i]);
        plot_point(&in, load->percent[i], load->tension_bw[i].p05,
                   area[2 * HW_MECH_POINTS - 1 - i]);
    }
    hw_pdf_path(on->pdf, &band_ink, (const double(*)[2])area, 2 * HW_MECH_POINTS, true);
    plot_curve(on, &in, load, load->tension_bw, 100.0, &today_ink);
    // A shell that ends behind the heads leaves push-off open: drawn as far as it is known.
    if (with)
        plot_curve(on, &in, load, with->tension_bw, with->peak.change.known ? 100.0 : 60.0,
                   &change_ink);
    plot_axes(on, &in);
    hw_pdf_untag(on->pdf);
    y = in.y + in.height + 4.0;
    return sheet_print(
        on, &sheet_small, (const double[3]){SHEET_MARGIN, y, 0.52 * SHEET_INNER},
        "Blue, solid: today, band 5 to 95 %% over %d tissue sets. Ochre, dashed: %s%s.",
        load->member_count, with ? with->name : "no change that helps",
        with && !with->peak.change.known ? ", as far as it is known" : "");
}

static void draw_bar(sheet *on, double x, double y, double share, double scale)
{
    double width = fabs(share) * scale;
    hw_pdf_box(on->pdf, share > 0.0 ? &more_ink : &less_ink, share > 0.0 ? x : x - width, y + 0.3,
               width, 2.6, true);
}

// Whole per cent, without a minus before nothing.
static double percent_of(double share)
{
    return round(100.0 * share) + 0.0;
}

static double cause_row(sheet *on, const char *name, const hw_mech_part *part, const double at[3],
                        double scale)
{
    double middle = at[0] + 0.56 * at[2];
    sheet_text(on, &sheet_small, "TD", (const double[3]){at[0], at[1], 0.4 * at[2]}, name);
    draw_bar(on, middle, at[1], part->mean, scale);
    return sheet_print(on, &sheet_small,
                       (const double[3]){at[0] + 0.73 * at[2], at[1], 0.30 * at[2]},
                       "%+.0f %% (%+.0f to %+.0f)", percent_of(part->mean),
                       percent_of(part->band.p05), percent_of(part->band.p95)) +
           0.8;
}

static double draw_causes(sheet *on, const hw_report_foot *foot, const double at[3])
{
    const hw_mech_causes *causes = foot->causes;
    double y = sheet_text(on, &sheet_strong, "P", at,
                          "What the mid-stance load is due to, against a reference foot");
    if (!causes)
        return sheet_print(on, &sheet_small, (const double[3]){at[0], y, at[2]}, "Not computed: %s",
                           foot->causes_why ? foot->causes_why : "it was not asked for");
    double most = 0.05, scale;
    char unknown[200] = ""; // room for all their words
    size_t used = 0;
    for (int i = 0; i < HW_MECH_CAUSE_COUNT; i++)
        if (causes->is_known[i]) most = fmax(most, fabs(causes->part[i][HW_MECH_MIDSTANCE].mean));
    most = fmax(most, fabs(causes->total[HW_MECH_MIDSTANCE].mean));
    scale = 0.16 * at[2] / most;
    y += 1.0;
    for (int i = 0; i < HW_MECH_CAUSE_COUNT; i++) {
        const char *name = hw_mech_cause_word((hw_mech_cause)i);
        const double row[3] = {at[0], y, at[2]};
        if (causes->is_known[i])
            y = cause_row(on, name, &causes->part[i][HW_MECH_MIDSTANCE], row, scale);
        else
            used += (size_t)snprintf(unknown + used, sizeof unknown - used, "%s%s",
                                     used ? ", " : "", name);
    }
    y = cause_row(on, "together", &causes->total[HW_MECH_MIDSTANCE],
                  (const double[3]){at[0], y, at[2]}, scale);
    if (!used) return y;
    return sheet_print(on, &sheet_small, (const double[3]){at[0], y, at[2]},
                       "Not measured, taken as the reference's: %s.", unknown) +
           0.8;
}

static const char *const lever_words[HW_MECH_LEVER_COUNT] = {
    "Calf range, degrees gained", "Body mass, per cent lost",
    "Shell's arch, mm above the unloaded arch"};
static const double lever_factors[HW_MECH_LEVER_COUNT] = {180.0 / HW_PI, 100.0, 1e3};

// Where a lever brings the load down to the reference, and where more of it gives little.
static double say_lever(sheet *on, const char *name, const hw_mech_lever_curve *curve,
                        double factor, const double at[3])
{
    char reaches[40] = "does not do it alone", flattens[60] = "";
    if (!curve->midstance[0].known)
        return sheet_print(on, &sheet_small, at, "%s: %s", name, curve->midstance[0].why);
    if (curve->reaches_reference.known)
        snprintf(reaches, sizeof reaches, "%.0f", round(curve->reaches_reference.value * factor));
    if (curve->flattens_at.known)
        snprintf(flattens, sizeof flattens, "; nine tenths of the gain at %.0f",
                 round(curve->flattens_at.value * factor));
    return sheet_print(on, &sheet_small, at, "%s: %s%s", name, reaches, flattens);
}

static double draw_levers(sheet *on, const hw_report_foot *foot, const double at[3])
{
    double y = at[1];
    if (!foot->levers) return y;
    y = sheet_text(on, &sheet_strong, "P", (const double[3]){at[0], y, at[2]},
                   "What alone would bring it down to the reference, and where more gives little");
    for (int i = 0; i < HW_MECH_LEVER_COUNT; i++) {
        const double row[3] = {at[0], y, at[2]};
        y = say_lever(on, lever_words[i], &foot->levers[i], lever_factors[i], row);
    }
    if (foot->day)
        y = sheet_print(on, &sheet_small, (const double[3]){at[0], y + 1.0, at[2]},
                        "The day: walking %.1f, standing %.1f body weights of tension times hours.",
                        foot->day->walking.median, foot->day->standing.median);
    return y;
}

void sheet_load_page(sheet *on, const hw_report_foot *foot, const char *side)
{
    char title[96];
    double y = sheet_page(on);
    if (!foot->load) {
        sheet_print(on, &sheet_plain, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                    "%s foot: load not computed, %s", side,
                    foot->load_why ? foot->load_why : "nothing was measured");
        return;
    }
    const hw_mech_effect *with = most_helpful(foot->load);
    snprintf(title, sizeof title, "%s foot, today", side);
    y = draw_row(on, foot, &foot->load->walk, title, y);
    if (with) {
        snprintf(title, sizeof title, "%s foot, with: %s", side, with->name);
        y = draw_row(on, foot, &with->walk, title, y);
    }
    y = draw_scale(on, y);
    double right = SHEET_MARGIN + 0.54 * SHEET_INNER, width = 0.46 * SHEET_INNER;
    double low = draw_causes(on, foot, (const double[3]){right, y, width}) + 2.5;
    low = draw_levers(on, foot, (const double[3]){right, low, width});
    y = fmax(low, draw_curves(on, foot->load, with, y)) + 3.0;
    sheet_print(on, &sheet_small, (const double[3]){SHEET_MARGIN, y, SHEET_INNER},
                "Every picture is a solved instant of one tissue set, the one nearest to the "
                "median. The toes after the first head move as the model's. %s",
                with && !with->peak.change.known
                    ? "With a shell the pictures after 60 % show the model's shell, which stays on "
                      "the floor: not what a shoe does."
                    : "");
}
