// SPDX-License-Identifier: GPL-3.0-or-later
// The contact print: soft tissue of a rigid skeleton pressed onto a flat floor, and its indices.
#include "foot_internal.h"

#include <stdlib.h>
#include <string.h>

static const double cell_size = 0.002; // m
static const double sole_below = 0.16; // of foot length: above it lies no sole
static const double load_at = 0.37;    // of foot length: centre of pressure, standing
static const double heel_part = 0.3;   // of foot length, for the heel's share
static const double balanced = 1e-6;   // of the force; of the force times foot length
enum { STEPS_MAX = 60, HALVINGS_MAX = 30, SHAPE_ROUNDS = 4 };

static void set_grid(const hw_mesh *surface, double length, hw_foot_print *out)
{
    hw_vec3 low = {INFINITY, INFINITY, 0}, high = {-INFINITY, -INFINITY, 0};
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        if (p.z > sole_below * length || p.x < -0.05 * length) continue;
        low = (hw_vec3){hw_least(low.x, p.x), hw_least(low.y, p.y), 0};
        high = (hw_vec3){hw_most(high.x, p.x), hw_most(high.y, p.y), 0};
    }
    out->cell = cell_size;
    out->low[0] = low.x;
    out->low[1] = low.y;
    out->size[0] = high.x > low.x ? (int)ceil((high.x - low.x) / cell_size) : 0;
    out->size[1] = high.y > low.y ? (int)ceil((high.y - low.y) / cell_size) : 0;
}

static double cell_x(const hw_foot_print *of, int i)
{
    return of->low[0] + (i + 0.5) * of->cell;
}

static double cell_y(const hw_foot_print *of, int k)
{
    return of->low[1] + (k + 0.5) * of->cell;
}

static int clamp(double x, int most)
{
    return x < 0.0 ? 0 : x > most ? most : (int)x;
}

// The cells whose middles lie under a triangle, from its lowest corner's side.
static void cover(const hw_vec3 c[3], hw_foot_print *out)
{
    double whole = (c[1].x - c[0].x) * (c[2].y - c[0].y) - (c[2].x - c[0].x) * (c[1].y - c[0].y);
    if (whole == 0.0) return; // stands upright
    double x0 = hw_least(c[0].x, hw_least(c[1].x, c[2].x)),
           x1 = hw_most(c[0].x, hw_most(c[1].x, c[2].x));
    double y0 = hw_least(c[0].y, hw_least(c[1].y, c[2].y)),
           y1 = hw_most(c[0].y, hw_most(c[1].y, c[2].y));
    int i1 = clamp((x1 - out->low[0]) / out->cell, out->size[0] - 1);
    int k1 = clamp((y1 - out->low[1]) / out->cell, out->size[1] - 1);
    for (int i = clamp((x0 - out->low[0]) / out->cell, out->size[0] - 1); i <= i1; i++)
        for (int k = clamp((y0 - out->low[1]) / out->cell, out->size[1] - 1); k <= k1; k++) {
            double x = cell_x(out, i) - c[0].x, y = cell_y(out, k) - c[0].y;
            double u = (x * (c[2].y - c[0].y) - y * (c[2].x - c[0].x)) / whole;
            double v = (y * (c[1].x - c[0].x) - x * (c[1].y - c[0].y)) / whole;
            if (u < 0.0 || v < 0.0 || u + v > 1.0) continue;
            float z = (float)(c[0].z + u * (c[1].z - c[0].z) + v * (c[2].z - c[0].z));
            float *at = &out->height[i * out->size[1] + k];
            if (z < *at) *at = z;
        }
}

hw_status sole_heights(hw_job *job, const hw_mesh *surface, double length, hw_arena *into,
                       hw_foot_print *out)
{
    set_grid(surface, length, out);
    int count = out->size[0] * out->size[1];
    HW_ALLOC(job, into, out->height, count + 1);
    for (int i = 0; i < count; i++) out->height[i] = INFINITY;
    double below = sole_below * length;
    for (int i = 0; count > 0 && i < surface->triangle_count; i++) {
        hw_vec3 c[3];
        for (int k = 0; k < 3; k++) c[k] = surface->points[surface->triangles[i][k]];
        if (c[0].z <= below && c[1].z <= below && c[2].z <= below) cover(c, out);
    }
    return HW_OK;
}

// Tissue at a place: thickness t (m), first modulus (Pa), stiffening.
typedef struct tissue {
    double thickness, modulus, stiffening;
} tissue;

static double blend(double x, double from, double to)
{
    double part = fmin(1.0, fmax(0.0, (x - from) / (to - from)));
    return part * part * (3.0 - 2.0 * part);
}

static tissue mix(tissue a, tissue b, double share_of_b)
{
    double s = share_of_b;
    return (tissue){a.thickness + s * (b.thickness - a.thickness),
                    a.modulus + s * (b.modulus - a.modulus),
                    a.stiffening + s * (b.stiffening - a.stiffening)};
}

// source  facts of mechanics 6.1: heel 16-18 mm at 100 kPa, first head 12 and fifth 10 mm at 150,
//         arch 20-28 mm at 30-60, lateral border 12-15 mm at 80, toes 10 mm at 150 kPa
static tissue tissue_at(double x, double across)
{
    const tissue heel = {0.017, 100e3, 6.0}, toes = {0.010, 150e3, 6.0};
    const tissue first_head = {0.012, 150e3, 6.0}, fifth_head = {0.010, 150e3, 6.0};
    const tissue arch = {0.024, 45e3, 5.0}, border = {0.0135, 80e3, 6.0};
    tissue ball = mix(first_head, fifth_head, fmin(1.0, fmax(0.0, across)));
    tissue middle = mix(arch, border, blend(across, 0.35, 0.75));
    tissue at = mix(heel, middle, blend(x, 0.22, 0.36));
    at = mix(at, ball, blend(x, 0.56, 0.66));
    return mix(at, toes, blend(x, 0.80, 0.86));
}

// How far the skeleton's arch comes down at a place before the tissue is pressed: a tent over the
// midfoot, half as much on the lateral side. Assumed: it cannot be seen on a hanging foot.
// source  8 mm: navicular drop, mean of 7.3-9.0 mm by modified methods, facts of clinical 3.3; in
//         proportion to the force around that of HW_FOOT_PRINT_FORCE, the lateral half ours
static double arch_lowering(double x, double across, double at_navicular, double force)
{
    const double heel = 0.13, top = 0.41, ball = 0.70; // of foot length
    double share = x < top ? (x - heel) / (top - heel) : (ball - x) / (ball - top);
    double side = 1.0 - 0.5 * blend(across, 0.2, 0.9);
    double load = fmin(1.5, force / HW_FOOT_PRINT_FORCE);
    return at_navicular * load * side * fmax(0.0, share);
}

// A cell that has a sole.
typedef struct spring {
    tissue tissue;
    double arm; // x from the centre of pressure, m
    double height;
    double shape; // factor on the modulus
    int cell;
} spring;

typedef struct bed {
    spring *springs;
    int count;
    double area, force; // of a cell, m2; N
} bed;

static double pressure_of(const tissue *t, double pressed)
{
    if (pressed <= 0.0) return 0.0;
    return t->modulus / t->stiffening * (exp(t->stiffening * pressed / t->thickness) - 1.0);
}

// Thin, wide pads that cannot escape sideways are stiffer: S = 1 + 2 (a / 2t)^2, at most 3, with a
// half of the width that touches. The width is that of the print itself, so it is found in a few
// rounds.
// source  facts of mechanics 6.1 [proposal; bonded-pad theory]
static void stiffen_by_width(bed *of, const hw_foot_print *print, double sink, double pitch,
                             int *row_cells)
{
    const double most = 3.0;
    memset(row_cells, 0, (size_t)print->size[0] * sizeof *row_cells);
    for (int i = 0; i < of->count; i++) {
        const spring *s = &of->springs[i];
        row_cells[s->cell / print->size[1]] += sink - pitch * s->arm > s->height;
    }
    for (int i = 0; i < of->count; i++) {
        spring *s = &of->springs[i];
        double half = 0.5 * print->cell * row_cells[s->cell / print->size[1]];
        double slender = half / (2.0 * s->tissue.thickness);
        s->shape = fmin(most, 1.0 + 2.0 * slender * slender);
    }
}

// The energy, its slopes and its curvatures by sink and pitch.
typedef struct balance {
    double energy, slope[2], curve[3];
} balance;

static balance weigh(const bed *of, double sink, double pitch)
{
    balance b = {.energy = -of->force * sink, .slope = {-of->force, 0.0}};
    for (int i = 0; i < of->count; i++) {
        const spring *s = &of->springs[i];
        double pressed = sink - pitch * s->arm - s->height;
        if (pressed <= 0.0) continue;
        const tissue *t = &s->tissue;
        double grown = exp(t->stiffening * pressed / t->thickness);
        double modulus = s->shape * t->modulus;
        double p = modulus / t->stiffening * (grown - 1.0) * of->area;
        double stiff = modulus / t->thickness * grown * of->area;
        b.energy += (p * t->thickness - modulus * pressed * of->area) / t->stiffening;
        b.slope[0] += p;
        b.slope[1] -= p * s->arm;
        b.curve[0] += stiff;
        b.curve[1] -= stiff * s->arm;
        b.curve[2] += stiff * s->arm * s->arm;
    }
    return b;
}

// Newton's method on a convex energy; a step is halved until the energy falls.
static bool settle(const bed *of, double length, double *sink, double *pitch)
{
    balance now = weigh(of, *sink, *pitch);
    for (int step = 0; step < STEPS_MAX; step++) {
        if (fabs(now.slope[0]) < balanced * of->force &&
            fabs(now.slope[1]) < balanced * of->force * length)
            return true;
        double a[4] = {now.curve[0], now.curve[1], now.curve[1], now.curve[2]};
        double move[2] = {-now.slope[0], -now.slope[1]};
        if (!hw_solve_small(2, a, move)) return false;
        double share = 1.0;
        balance then = now;
        for (int k = 0; k < HALVINGS_MAX; k++, share *= 0.5) {
            then = weigh(of, *sink + share * move[0], *pitch + share * move[1]);
            if (then.energy < now.energy) break;
        }
        if (!(then.energy < now.energy)) return false;
        *sink += share * move[0];
        *pitch += share * move[1];
        now = then;
    }
    return false;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// Toes begin at the crease between ball and toes: the line of the metatarsal heads moved forward to
// where the sole, in the middle of all columns, is highest.
static void find_toes(const hw_landmarks *at, double length, hw_foot_print *out)
{
    enum { COLUMNS_MAX = 256 };
    double ahead[COLUMNS_MAX], slope = (at->mth5.x - at->mth1.x) / (at->mth5.y - at->mth1.y);
    int count = 0;
    for (int k = 0; k < out->size[1] && count < COLUMNS_MAX; k++) {
        double y = cell_y(out, k), line = at->mth1.x + slope * (y - at->mth1.y), top = -1.0;
        if (y < at->mth1.y || y > at->mth5.y) continue;
        for (int i = 0; i < out->size[0]; i++) {
            double x = cell_x(out, i) - line, z = (double)out->height[i * out->size[1] + k];
            if (x < 0.05 * length || x > 0.13 * length || !isfinite(z) || z <= top) continue;
            top = z;
            ahead[count] = x;
        }
        count += top >= 0.0;
    }
    double middle = 0.09 * length; // where toes hide the crease
    if (count) {
        qsort(ahead, (size_t)count, sizeof *ahead, by_value);
        middle = ahead[count / 2];
    }
    out->toes_from[1] = slope;
    out->toes_from[0] = at->mth1.x - slope * at->mth1.y + middle;
}

static hw_status make_bed(hw_job *job, const hw_landmarks *at, double length,
                          const hw_foot_print *print, hw_arena *into, bed *out)
{
    out->area = print->cell * print->cell;
    out->force = print->force;
    HW_ALLOC(job, into, out->springs, print->size[0] * print->size[1] + 1);
    for (int i = 0; i < print->size[0]; i++)
        for (int k = 0; k < print->size[1]; k++) {
            int cell = i * print->size[1] + k;
            if (!isfinite(print->height[cell])) continue;
            double x = cell_x(print, i);
            double across = (cell_y(print, k) - at->mth1.y) / (at->mth5.y - at->mth1.y);
            double along = x - at->heel_back.x, height = (double)print->height[cell];
            height -= arch_lowering(along / length, across, print->lowering_m, print->force);
            out->springs[out->count++] = (spring){tissue_at(along / length, across),
                                                  along - load_at * length, height, 1.0, cell};
        }
    return HW_OK;
}

static void fill_pressures(const bed *of, double sink, double pitch, double length,
                           hw_foot_print *out)
{
    double heel = 0.0, all = 0.0;
    for (int i = 0; i < of->count; i++) {
        const spring *s = &of->springs[i];
        double p = s->shape * pressure_of(&s->tissue, sink - pitch * s->arm - s->height);
        out->touched[s->cell] = (float)p;
        out->peak_pressure = fmax(out->peak_pressure, p);
        all += p;
        if (s->arm < (heel_part - load_at) * length) heel += p;
    }
    out->heel_share = all > 0.0 ? heel / all : 0.0;
    out->sink = sink + pitch * load_at * length; // at the heel's back
}

hw_status hw_foot_print_press(hw_job *job, const hw_mesh *surface, const hw_landmarks *at,
                              double length, const hw_foot_load *load, hw_arena *into,
                              hw_foot_print *out)
{
    hw_maybe mass = load->mass_kg, lowering = load->arch_lowering_m;
    hw_foot_print print = {.mass_is_known = mass.known};
    print.lowering_m = lowering.known ? lowering.value : HW_FOOT_ARCH_LOWERING;
    print.force = mass.known ? 0.5 * mass.value * HW_STANDARD_GRAVITY : HW_FOOT_PRINT_FORCE;
    HW_TRY(sole_heights(job, surface, length, into, &print));
    HW_ALLOC(job, into, print.touched, print.size[0] * print.size[1] + 1);
    hw_scratch tmp = hw_scratch_begin(job, into);
    bed under = {0};
    HW_TRY(make_bed(job, at, length, &print, tmp.arena, &under));
    double sink = 0.006, pitch = 0.0; // to start from: a heel pad's usual yielding
    int *row_cells = NULL;
    HW_ALLOC(job, tmp.arena, row_cells, print.size[0] + 1);
    for (int round = 0; round < SHAPE_ROUNDS; round++) {
        if (!settle(&under, length, &sink, &pitch))
            return hw_fail(job, HW_NO_ANSWER, "the sole finds no rest on a flat floor under %.0f N",
                           print.force);
        if (round + 1 < SHAPE_ROUNDS) stiffen_by_width(&under, &print, sink, pitch, row_cells);
    }
    fill_pressures(&under, sink, pitch, length, &print);
    find_toes(at, length, &print);
    hw_scratch_end(tmp);
    *out = print;
    return HW_OK;
}

// Contact of each row across the axis without toes, in cells.
static int row_width(const hw_foot_print *of, int i)
{
    int width = 0;
    for (int k = 0; k < of->size[1]; k++) {
        bool is_toe = cell_x(of, i) > of->toes_from[0] + of->toes_from[1] * cell_y(of, k);
        width += !is_toe && of->touched[i * of->size[1] + k] > 0.0F;
    }
    return width;
}

static hw_maybe ratio(double a, double b)
{
    return b > 0.0 ? hw_known(a / b) : (hw_maybe){0};
}

hw_print_indices hw_foot_print_indices(const hw_foot_print *of)
{
    hw_print_indices out = {0};
    int first = -1, last = -1;
    for (int i = 0; i < of->size[0]; i++) {
        if (row_width(of, i) == 0) continue;
        if (first < 0) first = i;
        last = i;
    }
    if (last - first < 3) return out;
    double area[3] = {0}, most[3] = {0}, least = of->size[1];
    for (int i = first; i <= last; i++) {
        // Thirds of the length from the first to the last row; a row astride belongs by its middle.
        int third = (int)(3.0 * (i - first + 0.5) / (last - first + 1));
        double width = row_width(of, i);
        area[third] += width;
        most[third] = fmax(most[third], width);
        if (third == 1) least = fmin(least, width);
    }
    double whole = area[0] + area[1] + area[2];
    out.arch_index = ratio(area[1], whole);
    out.staheli = ratio(least, most[0]);
    out.chippaux_smirak = ratio(least, most[2]);
    out.contact_area = whole * of->cell * of->cell;
    return out;
}
