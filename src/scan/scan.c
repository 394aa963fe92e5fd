// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan_internal.h"

#include <stdio.h>

// Below this the signs of left and right contradict each other and a person must say.
static const double side_confidence_least = 0.5;
static const double position_confidence_least = 0.3; // the same of up and toes
static const double stump_least = 0.002;             // m behind the heel that are worth a word
static const double settled =
    0.004; // rad, 1 mm at the toes: a stance that still turns so much is none
enum { COARSE_TRIANGLES = 4000, ROUGH_POINTS = 40000, FINE_POINTS = 120000 };

hw_scan_ask hw_scan_ask_default(void)
{
    return (hw_scan_ask){0}; // every zero is an unknown
}

static hw_status check_input(hw_job *job, const hw_mesh *raw)
{
    for (int i = 0; i < raw->point_count; i++) {
        hw_vec3 p = raw->points[i];
        if (!isfinite(p.x) || !isfinite(p.y) || !isfinite(p.z))
            return hw_fail(job, HW_BAD_INPUT, "point %d of the scan is not a number", i + 1);
    }
    for (int i = 0; i < raw->triangle_count; i++)
        for (int k = 0; k < 3; k++)
            if (raw->triangles[i][k] < 0 || raw->triangles[i][k] >= raw->point_count)
                return hw_fail(job, HW_BAD_INPUT, "triangle %d of the scan names no point", i + 1);
    return HW_OK;
}

static hw_status settle_side(hw_job *job, double medial, hw_side given, hw_scan_result *out)
{
    // In a right-handed frame with x to the toes and z up, +y is lateral on a left foot.
    out->inferred_side = medial < 0.0 ? HW_SIDE_LEFT : HW_SIDE_RIGHT;
    out->side_confidence = fabs(medial);
    out->side_given = given != HW_SIDE_UNKNOWN;
    out->foot.side = out->side_given ? given : out->inferred_side;
    if (out->side_given || out->side_confidence >= side_confidence_least) return HW_OK;
    return hw_fail(job, HW_NO_ANSWER,
                   "the scan does not tell a left from a right foot (%s with confidence %.2f; %.2f "
                   "is the least); the side must be given",
                   hw_side_word(out->inferred_side), out->side_confidence, side_confidence_least);
}

// On so many of the points at most, evenly taken. They come every millimetre then, which is finer
// than the layer that carries the foot and than any landmark.
static hw_status settle_stance(hw_job *job, const hw_mesh *clean, int most, double medial,
                               stance *s)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_vec3 *some = NULL;
    int step = clean->point_count / most + 1, count = 0;
    HW_ALLOC(job, tmp.arena, some, clean->point_count / step + 1);
    for (int i = 0; i < clean->point_count; i += step) some[count++] = clean->points[i];
    double turned = refine_stance(some, count, medial, s);
    hw_scratch_end(tmp);
    if (turned <= settled) return HW_OK;
    return hw_fail(job, HW_NO_ANSWER,
                   "the foot's position cannot be settled: heel and ball carry no steady plane (it "
                   "still turns by %.2g degrees)",
                   hw_deg_from_rad(turned));
}

// File coordinates to the foot frame; y is turned over for a right foot.
static hw_pose pose_of(const stance *s, hw_side side, double m_per_unit)
{
    double lateral = side == HW_SIDE_LEFT ? 1.0 : -1.0;
    hw_vec3 x = s->axes.x, y = hw_vec3_scale(s->axes.y, lateral), z = s->axes.z;
    hw_pose pose = {{x.x, x.y, x.z, y.x, y.y, y.z, z.x, z.y, z.z}, m_per_unit, {0, 0, 0}};
    pose.shift = hw_vec3_scale(hw_pose_point(&pose, s->origin), -1.0); // the origin comes to 0
    return pose;
}

static hw_status warn(hw_job *job, hw_arena *into, hw_scan_result *out, const char *sentence)
{
    if (out->warning_count == HW_SCAN_WARNINGS_MAX) return HW_OK;
    return hw_text_copy(job, into, sentence, &out->warnings[out->warning_count++]);
}

static hw_status warn_of_what_it_is(hw_job *job, hw_arena *into, hw_scan_result *out)
{
    char text[240];
    if (out->side_given && out->foot.side != out->inferred_side) {
        snprintf(text, sizeof text,
                 "The foot is said to be a %s one but looks like a %s one (confidence %.2f).",
                 hw_side_word(out->foot.side), hw_side_word(out->inferred_side),
                 out->side_confidence);
        HW_TRY(warn(job, into, out, text));
    }
    if (out->unit_given && out->inferred_unit != out->unit) {
        snprintf(text, sizeof text, "The unit is said to be %s; by its size it would be %s.",
                 hw_scan_unit_word(out->unit), hw_scan_unit_word(out->inferred_unit));
        HW_TRY(warn(job, into, out, text));
    }
    if (out->is_sole_only)
        HW_TRY(warn(job, into, out,
                    "Only the sole was scanned: foot length and instep height are unknown."));
    if (out->foot.measures.foot_length_m.known && out->foot.measures.foot_length_m.value < 0.2)
        HW_TRY(warn(job, into, out, "The foot is as short as a child's: check the unit."));
    return HW_OK;
}

const char *hw_scan_axis_word(hw_scan_axis axis)
{
    static const char *const words[] = {"unknown", "+x", "-x", "+y", "-y", "+z", "-z"};
    return words[axis];
}

hw_scan_axis hw_scan_axis_from_word(const char *word)
{
    for (int i = HW_SCAN_AXIS_X_UP; i <= HW_SCAN_AXIS_Z_DOWN; i++)
        if (hw_text_same(word, hw_scan_axis_word((hw_scan_axis)i))) return (hw_scan_axis)i;
    return HW_SCAN_AXIS_UNKNOWN;
}

const char *hw_scan_extent_word(hw_scan_extent extent)
{
    static const char *const words[] = {"unknown", "full", "sole"};
    return words[extent];
}

const char *hw_scan_cast_word(hw_scan_cast cast)
{
    static const char *const words[] = {"unknown", "foot", "negative"};
    return words[cast];
}

static hw_status warn_of_how_it_was_taken(hw_job *job, hw_arena *into, const hw_scan_ask *ask,
                                          hw_scan_result *out)
{
    char text[240];
    if (ask->cast == HW_SCAN_CAST_UNKNOWN && out->inferred_cast == HW_SCAN_CAST_NEGATIVE)
        HW_TRY(warn(job, into, out,
                    "The faces look to where the foot was, as in a foam box or a plaster negative: "
                    "confirm that it is one. Its shape was taken as the foot's."));
    if (ask->cloud_points > 0) {
        snprintf(text, sizeof text,
                 "The file has %d points without triangles; the surface was laid through them.",
                 ask->cloud_points);
        HW_TRY(warn(job, into, out, text));
    }
    if (out->by_hand.count > 0) {
        snprintf(text, sizeof text,
                 "%d landmark%s placed by hand; what is measured from %s is said to be by hand.",
                 out->by_hand.count, out->by_hand.count == 1 ? " was" : "s were",
                 out->by_hand.count == 1 ? "it" : "them");
        HW_TRY(warn(job, into, out, text));
    }
    if (out->holes_filled > 0) {
        snprintf(text, sizeof text,
                 "%d hole%s filled (%.0f mm2 in all); measures that rest on a filling are unknown.",
                 out->holes_filled, out->holes_filled == 1 ? " was" : "s were",
                 hw_mm2_from_m2(out->filled_m2));
        HW_TRY(warn(job, into, out, text));
    }
    return HW_OK;
}

static hw_status warn_of_loading(hw_job *job, hw_arena *into, hw_scan_result *out)
{
    if (!out->looks_loaded) return HW_OK;
    if (out->foot.loading != HW_LOADING_HANGING)
        return warn(job, into, out,
                    "The sole is flat: loaded, or closed by the scanner. Arch height is unknown.");
    return warn(job, into, out,
                "The foot is said to hang, but its sole is flat as that of a loaded foot, or was "
                "closed by the scanner. Arch height is unknown.");
}

static hw_status warn_of_its_state(hw_job *job, hw_arena *into, hw_scan_result *out)
{
    char text[240];
    double stump = -hw_mesh_box(&out->foot.surface).low.x;
    if (out->removed.floor_triangles)
        HW_TRY(
            warn(job, into, out,
                 "A floor was removed; where the sole touched it the surface may be incomplete."));
    if (stump > stump_least) {
        snprintf(text, sizeof text,
                 "The leg reaches %.0f mm behind the heel; foot length is taken from the heel.",
                 hw_mm_from_m(stump));
        HW_TRY(warn(job, into, out, text));
    }
    HW_TRY(warn_of_loading(job, into, out));
    if (out->foot.surface.triangle_count < COARSE_TRIANGLES)
        HW_TRY(
            warn(job, into, out, "The surface is coarse: landmarks may be some millimetres off."));
    return HW_OK;
}

// A sole whose file faces look to where the foot was.
static void judge_cast(const hw_mesh *clean, const hw_scan_ask *ask, hw_scan_result *out)
{
    double turned = (double)out->removed.turned_triangles / clean->triangle_count;
    bool looks_negative = out->is_sole_only && turned > 0.5;
    out->inferred_cast = looks_negative ? HW_SCAN_CAST_NEGATIVE : HW_SCAN_CAST_FOOT;
    // Winding tells only as far as it is of one mind, and a file's may be turned over as a whole.
    out->cast_confidence = 0.8 * fabs(2.0 * turned - 1.0);
    out->cast_given = ask->cast != HW_SCAN_CAST_UNKNOWN;
}

// Cleaned, file units.
typedef struct cleaned {
    hw_mesh seen, smooth;
} cleaned;

static hw_status place(hw_job *job, const cleaned *from, const hw_pose *pose, hw_arena *into,
                       posed *out)
{
    HW_TRY(hw_mesh_place(job, &from->seen, pose, into, &out->seen));
    out->smooth = out->seen;
    if (from->smooth.points == from->seen.points) return HW_OK;
    out->smooth.colours = NULL;
    HW_ALLOC(job, into, out->smooth.points, out->seen.point_count);
    for (int i = 0; i < out->seen.point_count; i++)
        out->smooth.points[i] = hw_pose_point(pose, from->smooth.points[i]);
    return HW_OK;
}

static hw_status fill_foot(hw_job *job, const cleaned *from, const stance *s,
                           const hw_scan_ask *ask, hw_arena *into, hw_scan_result *out)
{
    hw_foot *foot = &out->foot;
    double m = hw_scan_unit_m(out->unit);
    posed on = {.length = s->length * m};
    foot->from_scan = pose_of(s, foot->side, m);
    HW_TRY(place(job, from, &foot->from_scan, into, &on));
    HW_TRY(fill_and_measure(job, &on, ask, into, out));
    judge_cast(&from->seen, ask, out);
    out->removed.area_m2 *= m * m;
    const hw_foot_load load = {.loading = foot->loading, .mass_kg = ask->mass_kg};
    if (ask->wants_spread) HW_TRY(find_spread(job, &on.whole, &load, out));
    HW_TRY(warn_of_what_it_is(job, into, out));
    HW_TRY(warn_of_how_it_was_taken(job, into, ask, out));
    return warn_of_its_state(job, into, out);
}

// Which way up and round it lies, and how much of a foot it is.
static hw_status settle_position(hw_job *job, const stance *s, const hw_scan_ask *ask,
                                 hw_scan_result *out)
{
    out->up = nearest_axis(s->axes.z);
    out->toes = nearest_axis(s->axes.x);
    out->up_confidence = s->up_confidence;
    out->toes_confidence = s->toes_confidence;
    out->up_given = ask->up != HW_SCAN_AXIS_UNKNOWN;
    out->toes_given = ask->toes != HW_SCAN_AXIS_UNKNOWN;
    out->is_sole_only = s->is_sole_only;
    out->extent_confidence = s->extent_confidence;
    out->extent_given = ask->extent != HW_SCAN_EXTENT_UNKNOWN;
    if (!out->up_given && out->up_confidence < position_confidence_least)
        return hw_fail(job, HW_NO_ANSWER,
                       "the scan does not tell where up is (%s of the file with confidence %.2f; "
                       "%.2f is the least); it must be given",
                       hw_scan_axis_word(out->up), out->up_confidence, position_confidence_least);
    if (!out->toes_given && out->toes_confidence < position_confidence_least)
        return hw_fail(job, HW_NO_ANSWER,
                       "the scan does not tell where the toes are (%s of the file with confidence "
                       "%.2f; %.2f is the least); it must be given",
                       hw_scan_axis_word(out->toes), out->toes_confidence,
                       position_confidence_least);
    return HW_OK;
}

// Places and normals to find the foot by. Where noise is large beside the edges the triangles face
// anywhere: there the middles of many points stand for them.
static hw_status sample_foot(hw_job *job, const hw_mesh *seen, double noise, hw_arena *into,
                             samples *out)
{
    static const double faces_anywhere = 0.5; // noise (sd) over the length of an edge
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh even = *seen;
    const double edge = mean_edge(seen);
    if (noise > faces_anywhere * edge) HW_TRY(thin_surface(job, seen, edge, tmp.arena, &even));
    HW_TRY(sample_surface(job, &even, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_scan_foot(hw_job *job, const hw_mesh *raw, const hw_scan_ask *ask, hw_arena *into,
                       hw_scan_result *out)
{
    HW_TRY(check_input(job, raw));
    hw_scan_result found = {.triangle_count = raw->triangle_count};
    hw_scratch tmp = hw_scratch_begin(job, into);
    cleaned surface = {0};
    samples places = {0};
    stance s = {0};
    double noise = 0.0;
    HW_TRY(clean_surface(job, raw, ask->keeps_all, tmp.arena, &surface.seen, &found.removed));
    HW_TRY(find_noise(job, &surface.seen, &noise));
    HW_TRY(sample_foot(job, &surface.seen, noise, tmp.arena, &places));
    HW_TRY(find_stance(job, &places, ask, &s));
    HW_TRY(without_noise(job, &surface.seen, noise, s.length, tmp.arena, &surface.smooth));
    HW_TRY(
        settle_stance(job, &surface.smooth, ROUGH_POINTS, 0.0, &s)); // well enough to tell the side
    HW_TRY(settle_position(job, &s, ask, &found));
    found.foot.loading = ask->loading;
    HW_TRY(settle_side(job, judge_side(&places, &s), ask->side, &found));
    double medial_at = found.foot.side == HW_SIDE_LEFT ? -1.0 : 1.0;
    HW_TRY(settle_stance(job, &surface.smooth, FINE_POINTS, medial_at, &s));
    HW_TRY(settle_unit(job, s.length, ask->unit, &found));
    HW_TRY(hw_job_ask(job));
    HW_TRY(fill_foot(job, &surface, &s, ask, into, &found));
    hw_scratch_end(tmp);
    *out = found;
    return HW_OK;
}
