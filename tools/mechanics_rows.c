// SPDX-License-Identifier: GPL-3.0-or-later
// Cadaver tests have no muscles and no walk; loads are those of the papers. Sources as in
// docs/mechanics.md 9.
#include "mechanics_rows.h"

static bool stand(row_probe *probe, const hw_mech_tissue *tissue, hw_mech_still still,
                  const hw_mech_change *change, hw_mech_still_result *out)
{
    return hw_mech_stand(probe->job, &probe->subject, tissue, &still, change, out) == HW_OK;
}

static bool walk(row_probe *probe, const hw_mech_tissue *tissue, const hw_mech_change *change,
                 hw_mech_run *out)
{
    return hw_mech_stance(probe->job, &probe->subject, tissue, change, out) == HW_OK;
}

static bool peak(row_probe *probe, double *out)
{
    *out = probe->walk.peak_bw;
    return true;
}

static bool peak_time(row_probe *probe, double *out)
{
    *out = probe->walk.peak_percent;
    return true;
}

static bool flattening(row_probe *probe, double *out)
{
    double most = 0.0;
    for (int i = 0; i < HW_MECH_SOLVED; i++) most = fmax(most, probe->walk.flattening_rad[i]);
    *out = hw_deg_from_rad(most);
    return true;
}

static bool flattest_time(row_probe *probe, double *out)
{
    int at = 0;
    const double *q = probe->walk.flattening_rad;
    for (int i = 1; i < HW_MECH_SOLVED; i++)
        if (q[i] > q[at]) at = i;
    *out = 2.5 * (HW_MECH_FIRST + at);
    return true;
}

// Correlation with the measured arch angle, 20 to 90 % of stance by 10.
static bool arch_curve(row_probe *probe, double *out)
{
    static const double measured[8] = {5.7, 4.7, 4.1, 4.3, 4.0, 3.7, 1.9, -3.0};
    double mx = 0, my = 0, xx = 0, yy = 0, xy = 0;
    for (int i = 0; i < 8; i++) {
        mx += measured[i] / 8.0;
        my += probe->walk.flattening_rad[3 + 4 * i] / 8.0; // 20 % is the fourth instant
    }
    for (int i = 0; i < 8; i++) {
        double x = measured[i] - mx, y = probe->walk.flattening_rad[3 + 4 * i] - my;
        xx += x * x;
        yy += y * y;
        xy += x * y;
    }
    *out = xy / sqrt(xx * yy);
    return true;
}

static bool early_over_rest(row_probe *probe, double *out)
{
    hw_mech_still_result still;
    // A foot that carries next to nothing: its fascia's rest.
    if (!stand(probe, &probe->tissue, (hw_mech_still){.load_N = 5.0}, NULL, &still)) return false;
    double weight = probe->subject.mass_kg * HW_STANDARD_GRAVITY;
    *out = probe->walk.tension_bw[1] - still.tension_N / weight; // at 15 %
    return true;
}

static bool stiffness(row_probe *probe, const hw_mech_tissue *tissue, double *out)
{
    hw_mech_still_result low, high;
    if (!stand(probe, tissue, (hw_mech_still){.load_N = 230.0}, NULL, &low) ||
        !stand(probe, tissue, (hw_mech_still){.load_N = 690.0}, NULL, &high))
        return false;
    *out = 460.0 / (high.flattening_rad[0] - low.flattening_rad[0]);
    return true;
}

static bool cut_stiffness(row_probe *probe, double *out)
{
    double whole, without;
    hw_mech_tissue cut = probe->tissue;
    cut.fascia_N_per_m = 0.0;
    if (!stiffness(probe, &probe->tissue, &whole) || !stiffness(probe, &cut, &without))
        return false;
    *out = without / whole;
    return true;
}

static bool achilles_ratio(row_probe *probe, double *out)
{
    hw_mech_still base = {.load_N = 350.0, .achilles_N = 262.0}, more = base, pulled = base;
    hw_mech_still_result a, b, c;
    more.load_N += 50.0;
    pulled.achilles_N += 50.0;
    if (!stand(probe, &probe->tissue, base, NULL, &a) ||
        !stand(probe, &probe->tissue, more, NULL, &b) ||
        !stand(probe, &probe->tissue, pulled, NULL, &c))
        return false;
    *out = (c.tension_N - a.tension_N) / (b.tension_N - a.tension_N);
    return true;
}

static bool standing_tension(row_probe *probe, double *out)
{
    hw_mech_still_result at;
    if (!stand(probe, &probe->tissue, hw_mech_standing(350.0), NULL, &at)) return false;
    *out = at.tension_N / 350.0;
    return true;
}

static bool heel_share(row_probe *probe, double *out)
{
    hw_mech_still_result at;
    if (!stand(probe, &probe->tissue, hw_mech_standing(350.0), NULL, &at)) return false;
    *out = 100.0 * at.heel_load_N / 350.0;
    return true;
}

// Drop of the first hinge, which carries the instep, from sitting with the shank's and foot's weight on
// the floor (6 % of the body, common practice) to standing on both feet.
static bool sit_to_stand(row_probe *probe, double *out)
{
    hw_mech_still_result sitting, standing;
    double weight = probe->subject.mass_kg * HW_STANDARD_GRAVITY;
    hw_mech_still rest = {.load_N = 0.06 * weight};
    if (!stand(probe, &probe->tissue, rest, NULL, &sitting) ||
        !stand(probe, &probe->tissue, hw_mech_standing(0.5 * weight), NULL, &standing))
        return false;
    *out = hw_mm_from_m(sitting.hinge_height_m - standing.hinge_height_m);
    return true;
}

// Height of the arch's top over the line from the heel's pad to under the first head, by flattening.
static double arch_over_chord(const hw_mech_tissue *tissue, double length, double flattening)
{
    double hinge_x = 0.27 * length, hinge_z = 0.165 * length * tissue->hinge; // from the pad
    double bone_x = 0.315 * length, bone_z = 0.085 * length - hinge_z;        // to the head
    double s = sin(flattening), c = cos(flattening);
    double end_x = hinge_x + c * bone_x - s * bone_z;
    double end_z = hinge_z + s * bone_x + c * bone_z - 0.085 * length;
    return (hinge_z * end_x - hinge_x * end_z) / sqrt(end_x * end_x + end_z * end_z);
}

static bool running_compression(row_probe *probe, double *out)
{
    hw_mech_still_result at;
    double length = probe->subject.measures.foot_length_m.value;
    hw_mech_still still = {.load_N = 1900.0, .achilles_N = 4500.0};
    if (!stand(probe, &probe->tissue, still, NULL, &at)) return false;
    *out = hw_mm_from_m(arch_over_chord(&probe->tissue, length, 0.0) -
                        arch_over_chord(&probe->tissue, length, at.flattening_rad[0]));
    return true;
}

// Change of tension in a still foot under `change`, %.
static bool still_change(row_probe *probe, hw_mech_still still, const hw_mech_change *change,
                         double *out)
{
    hw_mech_still_result bare, with;
    if (!stand(probe, &probe->tissue, still, NULL, &bare) ||
        !stand(probe, &probe->tissue, still, change, &with))
        return false;
    *out = 100.0 * (with.tension_N / bare.tension_N - 1.0);
    return true;
}

static bool block(row_probe *probe, double *out)
{
    hw_mech_change change = hw_mech_change_none("block");
    change.heel_raise_m = 0.020;
    return still_change(probe, (hw_mech_still){.load_N = 450.0, .achilles_N = 337.0}, &change, out);
}

static bool contoured(row_probe *probe, double *out)
{
    hw_mech_change change = hw_mech_change_none("contoured");
    change.heel_raise_m = 0.020;
    change.has_orthosis = true;
    return still_change(probe, (hw_mech_still){.load_N = 450.0, .achilles_N = 337.0}, &change, out);
}

static bool shell_of(row_probe *probe, double fill, double *out)
{
    hw_mech_change change = hw_mech_change_none("shell");
    change.has_orthosis = true;
    change.arch_fill_m = fill;
    return still_change(probe, (hw_mech_still){.load_N = 900.0}, &change, out);
}

static bool total_contact(row_probe *probe, double *out)
{
    return shell_of(probe, 0.0, out);
}

static bool filled_shell(row_probe *probe, double *out)
{
    return shell_of(probe, -0.003, out);
}

static bool wedge(row_probe *probe, double degrees, double *out)
{
    hw_mech_change change = hw_mech_change_none("wedge");
    change.forefoot_wedge_rad = hw_rad_from_deg(degrees);
    return still_change(probe, (hw_mech_still){.load_N = 450.0, .achilles_N = 337.0}, &change, out);
}

static bool lateral_wedge(row_probe *probe, double *out)
{
    return wedge(probe, 6.0, out);
}

static bool medial_wedge(row_probe *probe, double *out)
{
    return wedge(probe, -6.0, out);
}

// How much more the arch gives when the fascia is cut, at 683 N, %.
static bool cut_drop(row_probe *probe, double hinge, double *out)
{
    hw_mech_tissue whole = probe->tissue;
    whole.hinge *= hinge;
    hw_mech_tissue cut = whole;
    cut.fascia_N_per_m = 0.0;
    hw_mech_still_result a, b;
    if (!stand(probe, &whole, (hw_mech_still){.load_N = 683.0}, NULL, &a) ||
        !stand(probe, &cut, (hw_mech_still){.load_N = 683.0}, NULL, &b))
        return false;
    *out = 100.0 * (b.flattening_rad[0] / a.flattening_rad[0] - 1.0);
    return true;
}

static bool low_arch_cut(row_probe *probe, double *out)
{
    return cut_drop(probe, 0.75, out);
}

static bool high_arch_cut(row_probe *probe, double *out)
{
    return cut_drop(probe, 1.25, out);
}

static bool release_drop(row_probe *probe, double *out)
{
    hw_mech_tissue cut = probe->tissue;
    cut.fascia_N_per_m = 0.0;
    hw_mech_still_result a, b;
    if (!stand(probe, &probe->tissue, hw_mech_standing(350.0), NULL, &a) ||
        !stand(probe, &cut, hw_mech_standing(350.0), NULL, &b))
        return false;
    *out = hw_mm_from_m(a.hinge_height_m - b.hinge_height_m);
    return true;
}

// Change of a number of the walk under a change, %.
static bool walk_change(row_probe *probe, const hw_mech_change *change, size_t offset, double *out)
{
    hw_mech_run with;
    if (!walk(probe, &probe->tissue, change, &with)) return false;
    double before = *(const double *)(const void *)((const char *)&probe->walk + offset);
    double after = *(const double *)(const void *)((const char *)&with + offset);
    *out = 100.0 * (after / before - 1.0);
    return true;
}

static bool tight_calf(row_probe *probe, double *out)
{
    hw_mech_change change = hw_mech_change_none("calf at 0");
    change.calf_gain_rad = hw_rad_from_deg(-15.0);
    return walk_change(probe, &change, offsetof(hw_mech_run, impulse), out);
}

static bool stiff_forefoot(row_probe *probe, double *out)
{
    hw_mech_change change = hw_mech_change_none("stiff forefoot");
    change.toe_factor = 0.6;
    return walk_change(probe, &change, offsetof(hw_mech_run, peak_bw), out);
}

static bool tape(row_probe *probe, double *out)
{
    hw_mech_change change = hw_mech_change_none("tape");
    change.is_taped = true;
    return walk_change(probe, &change, offsetof(hw_mech_run, impulse), out);
}

static bool higher_shoe(row_probe *probe, double *out)
{
    row_probe low = *probe, high = *probe;
    low.subject.shoe_pitch_m = 0.020;
    high.subject.shoe_pitch_m = 0.030;
    double a, b;
    if (!heel_share(&low, &a) || !heel_share(&high, &b)) return false;
    *out = b - a;
    return true;
}

// From a slow to a fast walk, 1.0 to 1.6 m/s: change of a number, %.
static bool speed_change(row_probe *probe, double (*number)(const hw_mech_run *), double *out)
{
    hw_mech_run slow, fast;
    row_probe at = *probe;
    at.subject.speed_m_s = hw_known(1.0);
    if (!walk(&at, &at.tissue, NULL, &slow)) return false;
    at.subject.speed_m_s = hw_known(1.6);
    if (!walk(&at, &at.tissue, NULL, &fast)) return false;
    *out = 100.0 * (number(&fast) / number(&slow) - 1.0);
    return true;
}

static double early_tension(const hw_mech_run *run)
{
    return run->tension_bw[1]; // 15 %
}

static double peak_tension(const hw_mech_run *run)
{
    return run->peak_bw;
}

static bool speed_early(row_probe *probe, double *out)
{
    return speed_change(probe, early_tension, out);
}

static bool speed_peak(row_probe *probe, double *out)
{
    return speed_change(probe, peak_tension, out);
}

static bool heel_wedge(row_probe *probe, double degrees, double *out)
{
    hw_mech_change change = hw_mech_change_none("heel wedge");
    change.heel_wedge_rad = hw_rad_from_deg(degrees);
    return still_change(probe, (hw_mech_still){.load_N = 450.0, .achilles_N = 337.0}, &change, out);
}

static bool lateral_heel_wedge(row_probe *probe, double *out)
{
    return heel_wedge(probe, 6.0, out);
}

static bool medial_heel_wedge(row_probe *probe, double *out)
{
    return heel_wedge(probe, -6.0, out);
}

#define LESS (-1e9), 0.0
#define MORE 0.0, 1e9

static const published_row rows[] = {
    {"V1 V2", "peak tension in walking", "0.96 ± 0.36 BW (Erdemir 2004), 1.5 BW (Caravaggi 2009)",
     "BW", ROW_FIT, 1.05, 0.20, 0.60, 1.50, peak},
    {"V1", "when it peaks", "late in stance (Erdemir 2004)", "%", ROW_FIT, 83.0, 5.0, 75.0, 92.5,
     peak_time},
    {"V2", "tension at 15 % above rest", "above rest (Caravaggi 2009)", "BW", ROW_QUOTE, 0, 0, MORE,
     early_over_rest},
    {"V4", "arch stiffness with the fascia cut, over whole", "0.75 (Huang 1993)", "", ROW_FIT, 0.75,
     0.06, 0.63, 0.87, cut_stiffness},
    {"V5", "Achilles against weight, straining effect", "2 (Cheung 2006)", "", ROW_FIT, 2.2, 0.88,
     1.32, 3.08, achilles_ratio},
    {"5.6", "standing tension over the foot's load", "own reading of the papers, 0.40 ± 0.15", "",
     ROW_FIT, 0.40, 0.15, 0.25, 0.55, standing_tension},
    {"5.6", "most flattening in walking", "own reading, 6 ± 2 degrees", "deg", ROW_FIT, 6.0, 2.0,
     4.0, 8.0, flattening},
    {"V8", "arch compression at a running load", "about 10 mm (from memory: Ker 1987)", "mm",
     ROW_FIT, 9.5, 2.0, 7.5, 11.5, running_compression},
    {"V12", "20 mm block under the heel", "no significant change (Kogler, heel elevation)", "%",
     ROW_FIT, 0.0, 15.0, -15.0, 15.0, block},
    {"V7", "cut fascia, low arch: extra flattening", "more (Arangio 1998: +14 %)", "%", ROW_SELECT,
     0, 0, MORE, low_arch_cut},
    {"V7", "cut fascia, high arch: extra flattening", "more, and more than low (Arangio: +36 %)",
     "%", ROW_SELECT, 0, 0, MORE, high_arch_cut},
    {"V10", "total-contact shell, 900 N", "lower (Kogler 1996)", "%", ROW_SELECT, 0, 0, LESS,
     total_contact},
    {"V10", "shell filled by 3 mm, 900 N", "lower or no change (Kogler 1996)", "%", ROW_SELECT, 0,
     0, LESS, filled_shell},
    {"V25", "heel's share of standing", "60 % (from memory: Cavanagh 1987); wanted 54-61", "%",
     ROW_SELECT, 0, 0, 54.0, 61.0, heel_share},
    {"V28", "heel's share, shoe pitch 20 to 30 mm", "falls (2018)", "points", ROW_SELECT, 0, 0,
     LESS, higher_shoe},
    {"5.7", "instep's drop, sitting to standing", "10 mm (McPoil 2008, mean of 275 adults)", "mm",
     ROW_SELECT, 0, 0, 8.0, 12.0, sit_to_stand},
    {"V11", "lateral forefoot wedge 6°", "lower (Kogler 1999)", "%", ROW_HELD, 0, 0, LESS,
     lateral_wedge},
    {"V11", "medial forefoot wedge 6°", "higher (Kogler 1999)", "%", ROW_HELD, 0, 0, MORE,
     medial_wedge},
    {"V11", "lateral heel wedge 6°", "minor (from memory: Kogler 1999)", "%", ROW_HELD, 0, 0, -15.0,
     15.0, lateral_heel_wedge},
    {"V11", "medial heel wedge 6°", "minor (from memory: Kogler 1999)", "%", ROW_HELD, 0, 0, -15.0,
     15.0, medial_heel_wedge},
    {"V3", "walking 1.0 to 1.6 m/s: tension at 15 %", "rises (Caravaggi 2010)", "%", ROW_HELD, 0, 0,
     MORE, speed_early},
    {"V3", "walking 1.0 to 1.6 m/s: peak", "hardly changes (Caravaggi 2010); within 15 %", "%",
     ROW_HELD, 0, 0, -15.0, 15.0, speed_peak},
    {"V12", "20 mm raise contoured to the arch", "lower (Kogler, heel elevation)", "%", ROW_HELD, 0,
     0, LESS, contoured},
    {"V15", "when the arch is flattest", "early in push-off (Welte 2018 and others)", "%", ROW_HELD,
     0, 0, 60.0, 85.0, flattest_time},
    {"V16", "arch-angle curve, correlation 20-90 %", "1 (open recordings, ten walks)", "", ROW_HELD,
     0, 0, 0.5, 1.0, arch_curve},
    {"V18", "toes to 60 %: peak", "not significantly different (Greve 2019)", "%", ROW_HELD, 0, 0,
     -10.0, 10.0, stiff_forefoot},
    {"V22", "calf limit 15 to 0°: impulse", "less range, more heel pain (Riddle 2003)", "%",
     ROW_HELD, 0, 0, MORE, tight_calf},
    {"V24", "fresh tape: impulse", "supports the arch for minutes (J Athl Train 2015)", "%",
     ROW_HELD, 0, 0, LESS, tape},
    {"V9", "full release, standing: extra drop", "> 2.5 mm (Gefen 2002)", "mm", ROW_QUOTE, 0, 0,
     2.5, 1e9, release_drop},
};

const published_row *published_rows(int *count)
{
    *count = sizeof rows / sizeof rows[0];
    return rows;
}
