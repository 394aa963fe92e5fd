// SPDX-License-Identifier: GPL-3.0-or-later
// Each term of a prescription, read from the triangles of the written file. What has no shape of its own is
// read against the file of the same prescription without it. Places and shares are those of
// docs/orthosis.md 1, not the program's.
#include "written.h"

typedef struct measuring {
    hw_job *job;
    hw_arena *into;
    const hw_foot *foot;
    const hw_orthosis_order *order;
    const written *file;
    written bare;   // without what is laid on or cut: groove, recess, pad, flanges, cut-out
    written wide;   // without groove and recess where there is one: expansions are read from it
    written narrow; // the same without expansions
    written level;  // without what moves heel and arch: fill, skive, built-in rearfoot post
    written flat;   // without a built-in forefoot post
    written low;    // of a block: without its raise
    double x, y;    // the heel's middle
    double reach;   // heel back to first head along
    double ball_x, ball_y, ball; // middle between the heads, and their breadth
    bool reads_defaults;
    written_tally *tally;
} measuring;

static void compare(measuring *of, const char *what, double got, double want, double tolerance)
{
    of->tally->measured++;
    if (fabs(got - want) <= tolerance) return; // false for NaN
    snprintf(of->tally->missed, WRITTEN_MISSED, "%s: %.6g, ordered %.6g +- %.2g (%s, %s)", what,
             got, want, tolerance, hw_shell_material_word(of->order->material),
             hw_orthosis_length_word(of->order->length));
}

// The file of another order for the same foot.
static hw_status file_of(const measuring *of, const hw_orthosis_order *order, written *out)
{
    hw_orthosis device = {0};
    HW_TRY(hw_orthosis_build(of->job, of->foot, order, of->into, &device));
    return written_of(of->job, of->foot, &device, false, of->into, out);
}

// Whether any of the terms is ordered; all of them are taken from `order`.
static bool take_away(hw_orthosis_order *order, const hw_order_term *terms, int count)
{
    bool was_any = false;
    for (int i = 0; i < count; i++) {
        was_any |= hw_order_value(order, terms[i]) != 0.0; // as drawn: zero is none
        hw_order_set(order, terms[i], 0.0);
    }
    return was_any;
}

// Whether any of the terms is other than in every order, or defaults are read too.
static bool reads(const measuring *of, const hw_order_term *terms, int count)
{
    hw_orthosis_order usual = hw_orthosis_order_default(of->order->loading);
    bool is_other = of->reads_defaults;
    for (int i = 0; i < count; i++)
        is_other |=
            fabs(hw_order_value(of->order, terms[i]) - hw_order_value(&usual, terms[i])) > 1e-9;
    return is_other;
}

static bool has_built_in_heel(const hw_orthosis_order *order)
{
    return order->balances_heel || (order->rearfoot_intrinsic && order->rearfoot_post_rad != 0.0);
}

// The files that this order is read against, of those that differ from it.
static hw_status make_others(measuring *of)
{
    static const hw_order_term laid[] = {HW_TERM_GROOVE_DEPTH,   HW_TERM_RECESS_DEPTH,
                                         HW_TERM_MET_HEIGHT,     HW_TERM_MEDIAL_FLANGE,
                                         HW_TERM_LATERAL_FLANGE, HW_TERM_RAY_CUT};
    static const hw_order_term wider[] = {HW_TERM_HEEL_EXPANSION, HW_TERM_BORDER_EXPANSION};
    static const hw_order_term moved[] = {HW_TERM_ARCH_FILL, HW_TERM_SKIVE};
    static const hw_order_term rear[] = {HW_TERM_REARFOOT_POST}, fore[] = {HW_TERM_FOREFOOT_POST};
    static const hw_order_term raise[] = {HW_TERM_HEEL_RAISE};
    hw_orthosis_order bare = *of->order, narrow = bare, level = bare, flat = bare, low = bare;
    bare.met_pad = HW_MET_NONE;
    if (take_away(&bare, laid, sizeof laid / sizeof *laid)) HW_TRY(file_of(of, &bare, &of->bare));
    of->wide = *of->file;
    if (reads(of, wider, 2)) {
        if (take_away(&narrow, laid, 2)) HW_TRY(file_of(of, &narrow, &of->wide));
        if (take_away(&narrow, wider, 2)) HW_TRY(file_of(of, &narrow, &of->narrow));
    }
    bool is_moved = take_away(&level, moved, 2) | level.balances_heel;
    level.balances_heel = false;
    if (level.rearfoot_intrinsic) is_moved |= take_away(&level, rear, 1);
    bool is_default =
        !(of->order->skive_depth_m > 0.0) && !has_built_in_heel(of->order) && !reads(of, moved, 1);
    if (is_moved && !is_default) HW_TRY(file_of(of, &level, &of->level));
    if (flat.forefoot_intrinsic && take_away(&flat, fore, 1)) HW_TRY(file_of(of, &flat, &of->flat));
    if (hw_shell_row_of(low.material)->is_block && take_away(&low, raise, 1))
        HW_TRY(file_of(of, &low, &of->low));
    return HW_OK;
}

// -- heel

// Greatest rise of the top against another file, on a lattice over the medial heel.
static double greatest_rise(const measuring *of, const written *without)
{
    double most = 0.0;
    for (int i = -6; i <= 6; i++)
        for (int j = 0; j <= 12; j++) {
            double x = of->x + 0.0025 * i, y = of->y - 0.0025 * j;
            double rise =
                written_height(of->file, x, y, true) - written_height(without, x, y, true);
            if (rise > most) most = rise;
        }
    return most;
}

static double lowest_top(const measuring *of, const written *file)
{
    double low = 1.0;
    for (int i = -8; i <= 8; i++)
        for (int j = -8; j <= 8; j++)
            low = fmin(low, written_height(file, of->x + 0.002 * i, of->y + 0.002 * j, true));
    return low;
}

static void measure_cup(measuring *of)
{
    double crest = -1.0, back = of->foot->landmarks.heel_back.x + 0.015;
    for (int k = 0; k < of->file->mesh.point_count; k++)
        if (of->file->mesh.points[k].x < back) crest = fmax(crest, of->file->mesh.points[k].z);
    compare(of, "cup depth", crest - lowest_top(of, of->file), of->order->heel_cup_depth_m, 0.0003);
}

// Whether the wall under a place of the top, one thickness out along its normal, lies over the base.
static bool is_on_base(const measuring *of, double x, double y)
{
    const double h = 0.001, wall = of->order->shell_thickness_m;
    double length = 0.6 * of->x, width = 0.1 * of->reach;
    double sx =
        (written_height(of->file, x + h, y, true) - written_height(of->file, x - h, y, true)) /
        (2.0 * h);
    double sy =
        (written_height(of->file, x, y + h, true) - written_height(of->file, x, y - h, true)) /
        (2.0 * h);
    double size = sqrt(1.0 + sx * sx + sy * sy);
    double u = (x + wall * sx / size - of->x) / length, v = (y + wall * sy / size - of->y) / width;
    return pow(u, 4.0) + pow(v, 4.0) <= 0.95; // a third of a millimetre within its border
}

// Shortest way between top and base: the base touches the wall and lies a raise below it.
static void measure_base(measuring *of)
{
    const hw_orthosis_order *order = of->order;
    double middle = written_height(of->file, of->x, of->y, false);
    double across = written_tilt(of->file, of->x, of->y, 0.006, false);
    double along = (written_height(of->file, of->x + 0.006, of->y, false) -
                    written_height(of->file, of->x - 0.006, of->y, false)) /
                   0.012;
    double slope = tan(across), least = 1.0;
    for (int i = -30; i <= 30; i++)
        for (int j = -30; j <= 30; j++) { // over the base and a little more
            double x = of->x + 0.022 * of->x * i, y = of->y + 0.0037 * of->reach * j;
            double above = written_height(of->file, x, y, true) - middle - along * (x - of->x) -
                           slope * (y - of->y);
            above /= sqrt(1.0 + along * along + slope * slope);
            if (above < least && is_on_base(of, x, y)) least = above;
        }
    compare(of, "rearfoot post", across, order->rearfoot_intrinsic ? 0.0 : order->rearfoot_post_rad,
            hw_rad_from_deg(0.2));
    bool is_hollow = order->recess_depth_m > 0.0 || order->groove_depth_m > 0.0;
    if (!hw_shell_row_of(order->material)->is_block && !is_hollow)
        compare(of, "thickness and raise", least, order->shell_thickness_m + order->heel_raise_m,
                0.0001);
    if (of->low.list) {
        double lower = written_height(&of->low, of->x, of->y, false) - middle;
        compare(of, "raise of a block", lower / sqrt(1.0 + along * along + slope * slope),
                order->heel_raise_m, 0.0001);
    }
}

// Thickness along the outward normal in front of the heel, where no base, pad or hollow is.
static void measure_wall(measuring *of)
{
    double x = 0.48 * of->reach, h = 0.002;
    double y = of->y + 0.004, z = written_height(of->file, x, y, true), best = 1.0;
    hw_vec3 normal = hw_vec3_unit((hw_vec3){
        -(written_height(of->file, x + h, y, true) - written_height(of->file, x - h, y, true)) /
            (2 * h),
        -(written_height(of->file, x, y + h, true) - written_height(of->file, x, y - h, true)) /
            (2 * h),
        1.0});
    for (double depth = 0.0; depth < 0.02; depth += 2e-5) {
        hw_vec3 p = hw_vec3_sub((hw_vec3){x, y, z}, hw_vec3_scale(normal, depth));
        double away = p.z - written_height(of->file, p.x, p.y, false);
        if (away <= 0.0) {
            best = depth;
            break;
        }
    }
    compare(of, "thickness", best, of->order->shell_thickness_m, 0.0001);
}

// How far the walls at x stand further out than without expansions, inner and outer side: 1.5 mm under the
// crest, for an expansion moves walls level; a wall not steep there yet takes most of it, so 0.5 mm. NAN where the edge is flatter than 45 degrees: no wall goes out.
static void widened(const measuring *of, double x, double out[2])
{
    const double under = 0.0015, lower = 0.0045; // m
    written_section edge = written_section_at(&of->narrow, x);
    double with[2], without[2], foot[2], crests[2] = {edge.medial_crest, edge.lateral_crest};
    for (int side = 0; side < 2; side++) {
        written_sides(&of->wide, x, crests[side] - under, with);
        written_sides(&of->narrow, x, crests[side] - under, without);
        written_sides(&of->narrow, x, crests[side] - lower, foot);
        out[side] = side ? with[1] - without[1] : without[0] - with[0];
        if (fabs(without[side] - foot[side]) > lower - under) out[side] = NAN;
    }
}

static void compare_wall(measuring *of, const char *what, double got, double want)
{
    if (!isnan(got)) compare(of, what, got, want, 0.0005);
}

static void measure_heel_expansion(measuring *of)
{
    double out[2], asked = of->order->heel_expansion_m;
    widened(of, of->x, out);
    compare_wall(of, "heel expansion, inner side", out[0], asked);
    compare_wall(of, "heel expansion, outer side", out[1], asked);
    compare(of, "heel expansion, behind",
            hw_mesh_box(&of->narrow.mesh).low.x - hw_mesh_box(&of->wide.mesh).low.x, asked, 0.0003);
}

// -- what is turned

// How far the file's top is from another's section at x when that is turned by `angle` about (y, z), inner
// side up: sum of squares over 24 mm, m2.
static double misfit(const measuring *of, const written *other, double x, const double about[2],
                     double angle)
{
    double sum = 0.0;
    for (int i = -6; i <= 6; i++) {
        double y = about[0] + 0.002 * i, z = written_height(other, x, y, true);
        double dy = y - about[0], dz = z - about[1];
        double turned_y = about[0] + dy * cos(angle) + dz * sin(angle);
        double turned_z = about[1] - dy * sin(angle) + dz * cos(angle);
        double away = written_height(of->file, x, turned_y, true) - turned_z;
        sum += away * away;
    }
    return sum;
}

// The angle by which the section is turned: the one that fits best, by thirds.
static double turned_by(const measuring *of, const written *other, double x, const double about[2])
{
    double low = -0.35, high = 0.35; // rad
    for (int round = 0; round < 40; round++) {
        double a = low + (high - low) / 3.0, b = high - (high - low) / 3.0;
        if (misfit(of, other, x, about, a) < misfit(of, other, x, about, b))
            high = b;
        else
            low = a;
    }
    return 0.5 * (low + high);
}

// -- what is laid on, against the bare file

// From a place, the way along (dx, dy) at which the drop has fallen to half of `depth`, m.
static double half_way(const measuring *of, const double from[2], double dx, double dy,
                       double depth)
{
    const double step = 0.001, most = 0.030; // m
    double low = 0.0, high = step;
    while (high < most &&
           written_drop(of->file, &of->bare, from[0] + high * dx, from[1] + high * dy) / depth >
               0.5)
        low = high, high += step;
    for (int round = 0; round < 20; round++) {
        double way = 0.5 * (low + high);
        if (written_drop(of->file, &of->bare, from[0] + way * dx, from[1] + way * dy) / depth > 0.5)
            low = way;
        else
            high = way;
    }
    return low;
}

// From the heel's tubercle, a tenth of its breadth inward, to the first head; read a quarter of the way.
static void measure_groove(measuring *of)
{
    const hw_landmarks *at = &of->foot->landmarks;
    double from[2] = {at->heel_back.x + 0.22 * of->reach,
                      of->y - 0.10 * (at->heel_lateral.y - at->heel_medial.y)};
    double to[2] = {at->mth1.x, at->mth1.y + 0.20 * of->ball};
    double length = hypot(to[0] - from[0], to[1] - from[1]);
    double ux = (to[0] - from[0]) / length, uy = (to[1] - from[1]) / length;
    double here[2] = {from[0] + 0.25 * (to[0] - from[0]), from[1] + 0.25 * (to[1] - from[1])};
    double depth = written_drop(of->file, &of->bare, here[0], here[1]);
    double inward = half_way(of, here, uy, -ux, depth),
           outward = half_way(of, here, -uy, ux, depth);
    compare(of, "fascia groove depth", depth, of->order->groove_depth_m, 0.0002);
    compare(of, "fascia groove width", inward + outward, of->order->groove_width_m, 0.0005);
    compare(of, "fascia groove's middle", 0.5 * (outward - inward), 0.0, 0.0005);
}

static void measure_recess(measuring *of)
{
    const hw_orthosis_order *order = of->order;
    double at[2] = {of->foot->landmarks.heel_back.x + order->tender_x_m, of->y + order->tender_y_m};
    double depth = written_drop(of->file, &of->bare, at[0], at[1]);
    double way[4] = {half_way(of, at, 1, 0, depth), half_way(of, at, -1, 0, depth),
                     half_way(of, at, 0, 1, depth), half_way(of, at, 0, -1, depth)};
    compare(of, "heel recess depth", depth, order->recess_depth_m, 0.0002);
    compare(of, "heel recess width along", way[0] + way[1], order->recess_width_m, 0.0005);
    compare(of, "heel recess width across", way[2] + way[3], order->recess_width_m, 0.0005);
    compare(of, "heel recess along", 0.5 * (way[0] - way[1]), 0.0, 0.0005);
    compare(of, "heel recess across", 0.5 * (way[2] - way[3]), 0.0, 0.0005);
}

// Dome and bar stand 24 mm behind the heads' line and are 15 mm long at half their height.
static void measure_pad(measuring *of)
{
    const hw_landmarks *at = &of->foot->landmarks;
    double here[2] = {at->mth1.x + 0.47 * (at->mth5.x - at->mth1.x) - 0.024,
                      at->mth1.y + 0.47 * of->ball};
    double drop = written_drop(of->file, &of->bare, here[0], here[1]);
    double ahead = half_way(of, here, 1, 0, drop), behind = half_way(of, here, -1, 0, drop);
    compare(of, "metatarsal pad height", -drop, of->order->met_height_m, 0.0002);
    compare(of, "metatarsal pad length", ahead + behind, 0.015, 0.0005);
    compare(of, "metatarsal pad's middle", 0.5 * (ahead - behind), 0.0, 0.0005);
}

// -- edges

// Half the thickness there: a block is feathered to 3 mm (docs/orthosis.md 1).
static double rim_radius(const hw_orthosis_order *order)
{
    return 0.5 * (hw_shell_row_of(order->material)->is_block ? 0.003 : order->shell_thickness_m);
}

// The crest of the edge at the flange's middle against that of the plain edge. A full-round rim turns with the
// wall it stands on: its crest is up to its radius higher on a steep wall than on a flat one, so 0.5 mm and that.
static void measure_flange(measuring *of, bool is_medial)
{
    const hw_landmarks *at = &of->foot->landmarks;
    double asked = is_medial ? of->order->medial_flange_m : of->order->lateral_flange_m;
    double end = is_medial ? at->mth1.x : at->mth5.x, x = of->x + 0.48 * (end - of->x);
    written_section with = written_section_at(of->file, x);
    written_section without = written_section_at(&of->bare, x);
    double higher = is_medial ? with.medial_crest - without.medial_crest
                              : with.lateral_crest - without.lateral_crest;
    compare(of, is_medial ? "medial flange" : "lateral flange", higher, asked,
            0.0005 + rim_radius(of->order));
}

// Under the first head, a quarter of the way across. The corner beside it is rounded on a side edge of another
// slope than the plain device's: 1.5 mm.
static void measure_ray_cut(measuring *of)
{
    double y = of->foot->landmarks.mth1.y + 0.26 * of->ball;
    compare(of, "first-ray cut-out", written_front(&of->bare, y) - written_front(of->file, y),
            of->order->ray_cut_m, 0.0015);
}

static void measure_border_expansion(measuring *of)
{
    double out[2], asked = of->order->border_expansion_m;
    widened(of, of->x + 0.45 * (of->ball_x - of->x), out);
    compare_wall(of, "border expansion, outer side", out[1], asked);
    compare_wall(of, "border expansion, inner side", out[0], 0.5 * asked);
}

// Where it ends, its full-round rim included: behind the arch, so far behind the heads' line, or beyond the
// toes' tips.
static void measure_length(measuring *of)
{
    const hw_landmarks *at = &of->foot->landmarks;
    const hw_shell_row *shell = hw_shell_row_of(of->order->material);
    double y = at->mth1.y + 0.6 * of->ball, front = written_front(of->file, y);
    double line = at->mth1.x + 0.6 * (at->mth5.x - at->mth1.x);
    double rim = rim_radius(of->order);
    bool is_short = of->order->length == HW_ORTHOSIS_THREE_QUARTER || !shell->is_soft;
    if (of->order->length == HW_ORTHOSIS_HEEL_CUP)
        compare(of, "length of a heel cup", front - at->heel_back.x, 0.42 * of->reach + rim, 0.001);
    else if (is_short)
        compare(of, "distal gap", line - front, of->order->distal_gap_m, 0.0005);
    else if (of->order->length == HW_ORTHOSIS_SULCUS)
        compare(of, "length to the sulcus", front - line, 0.11 * of->reach, 0.0005);
    else
        compare(of, "length to the tips", hw_mesh_box(&of->file->mesh).high.x,
                at->toe_tip.x + 0.003 + rim, 0.0005);
}

// -- all of it

// Lower along the inner half of the arch, straight down.
static void measure_fill(measuring *of)
{
    double x = of->x + 0.50 * (of->ball_x - of->x);
    double y = of->y + 0.50 * (of->ball_y - of->y) - 0.012;
    compare(of, "arch fill",
            written_height(&of->level, x, y, true) - written_height(of->file, x, y, true),
            of->order->arch_fill_m, 0.0002);
}

static void measure_moved(measuring *of)
{
    const hw_orthosis_order *order = of->order;
    bool is_hollow = order->groove_depth_m > 0.0 || order->recess_depth_m > 0.0;
    bool tilts = order->rearfoot_intrinsic && order->rearfoot_post_rad != 0.0;
    if (order->arch_fill_m > 0.0 && order->length != HW_ORTHOSIS_HEEL_CUP && of->level.list)
        measure_fill(of);
    if (order->skive_depth_m > 0.0 && !tilts && !order->balances_heel)
        compare(of, "medial heel skive", greatest_rise(of, &of->level), order->skive_depth_m,
                0.0002);
    if ((tilts || order->balances_heel) && !(order->skive_depth_m > 0.0) && !is_hollow) {
        const double about[2] = {of->y, lowest_top(of, &of->level)};
        double want =
            tilts ? order->rearfoot_post_rad : of->foot->measures.heel_bisection_rad.value;
        compare(of, tilts ? "built-in rearfoot post" : "balance of the heel",
                turned_by(of, &of->level, of->x, about), want, hw_rad_from_deg(0.2));
    }
    if (order->forefoot_intrinsic && order->forefoot_post_rad != 0.0 && !(order->ray_cut_m > 0.0)) {
        const double about[2] = {of->ball_y, 0.0};
        compare(of, "built-in forefoot post",
                turned_by(of, &of->flat, of->x + 0.88 * (of->ball_x - of->x), about),
                order->forefoot_post_rad, hw_rad_from_deg(0.2));
    }
}

static void measure_laid_on(measuring *of)
{
    const hw_orthosis_order *order = of->order;
    bool is_cup = order->length == HW_ORTHOSIS_HEEL_CUP;
    const double walled = 0.012; // m: a lower cup has no wall that could go out
    bool has_flange = order->medial_flange_m > 0.0 || order->lateral_flange_m > 0.0;
    if (order->groove_depth_m > 0.0 && !(order->recess_depth_m > 0.0)) measure_groove(of);
    if (order->recess_depth_m > 0.0 && !(order->groove_depth_m > 0.0)) measure_recess(of);
    if (order->met_pad != HW_MET_NONE) measure_pad(of);
    if (order->medial_flange_m > 0.0) measure_flange(of, true);
    if (order->lateral_flange_m > 0.0) measure_flange(of, false);
    if (order->ray_cut_m > 0.0) measure_ray_cut(of);
    // A groove or recess keeps its place in plan while the wall above it goes out, and takes another part of it:
    // expansions are read without it.
    if (!of->narrow.list) return;
    if (order->heel_expansion_m > 0.0 && order->heel_cup_depth_m >= walled)
        measure_heel_expansion(of);
    if (order->border_expansion_m > 0.0 && !has_flange && !is_cup) measure_border_expansion(of);
}

static void measure_forefoot(measuring *of)
{
    double y = of->ball_y + 0.004, front = written_front(of->file, y);
    compare(of, "forefoot post", written_tilt(of->file, front - 0.015, y, 0.005, false),
            of->order->forefoot_post_rad, hw_rad_from_deg(0.2));
}

static void measure_itself(measuring *of)
{
    const hw_orthosis_order *order = of->order;
    bool has_groove = order->groove_depth_m > 0.0;
    bool tilts =
        order->balances_heel || (order->rearfoot_intrinsic && order->rearfoot_post_rad != 0.0);
    bool is_plain_heel =
        !tilts && !has_groove && !(order->skive_depth_m > 0.0) && !(order->recess_depth_m > 0.0);
    bool has_base = order->heel_raise_m > 0.0 ||
                    (!order->rearfoot_intrinsic && order->rearfoot_post_rad != 0.0);
    bool is_shell = !hw_shell_row_of(order->material)->is_block;
    if (is_plain_heel) measure_cup(of);
    if (has_base) measure_base(of);
    if (is_shell && order->length != HW_ORTHOSIS_HEEL_CUP && !has_groove) measure_wall(of);
    if (!order->forefoot_intrinsic && order->forefoot_post_rad != 0.0 && !(order->ray_cut_m > 0.0))
        measure_forefoot(of);
    measure_length(of);
}

hw_status written_measure(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                          bool reads_defaults, const written *file, hw_arena *into,
                          written_tally *out)
{
    const hw_landmarks *at = &foot->landmarks;
    measuring of = {.job = job, .into = into, .foot = foot, .order = order, .file = file};
    of.tally = out, of.reads_defaults = reads_defaults;
    of.x = 0.5 * (at->heel_medial.x + at->heel_lateral.x);
    of.y = 0.5 * (at->heel_medial.y + at->heel_lateral.y);
    of.reach = at->mth1.x - at->heel_back.x;
    of.ball_x = 0.5 * (at->mth1.x + at->mth5.x);
    of.ball_y = 0.5 * (at->mth1.y + at->mth5.y);
    of.ball = at->mth5.y - at->mth1.y;
    HW_TRY(make_others(&of));
    measure_itself(&of);
    measure_laid_on(&of);
    measure_moved(&of);
    return HW_OK;
}
