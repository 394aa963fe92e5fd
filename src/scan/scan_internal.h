// SPDX-License-Identifier: GPL-3.0-or-later
// The steps of hw_scan_foot, in the order they are taken. Lengths are in file units until the unit
// is known; what is compared with them is a share of the foot's length.
#ifndef HW_SCAN_INTERNAL_H
#define HW_SCAN_INTERNAL_H

#include "scan/scan.h"

enum { SAMPLES = 6000, PROFILE_BINS = 20 };

/// Places of equal shares of a surface's area, with the way it faces.
typedef struct samples {
    hw_vec3 *places;
    hw_vec3 *normals; // unit
    int count;
    double area; // of the whole surface, file units squared
} samples;

HW_MUST_USE hw_status sample_surface(hw_job *job, const hw_mesh *mesh, hw_arena *into,
                                     samples *out);

/// A quarter of the places, for what looks at all of them many times.
HW_MUST_USE hw_status thin_samples(hw_job *job, const samples *from, hw_arena *into, samples *out);

/// Takes away a floor or foam rim that hangs together with the foot: a plane with a good part of
/// the area that reaches beyond the outline of the rest, which lies on one side of it.
HW_MUST_USE hw_status drop_joined_floor(hw_job *job, hw_mesh *mesh, hw_scan_removed *removed);

/// The two large surfaces of a file, strays and floors left out; `count` 0 where there are not two.
HW_MUST_USE hw_status split_surfaces(hw_job *job, const hw_mesh *raw, hw_arena *into,
                                     hw_mesh parts[2], int *count);

/// One surface: welded, turned outward, without floor and strays.
///
///   fails   HW_BAD_INPUT nothing left, or two large pieces
///
///   keeps_all  nothing but triangles without area is dropped
HW_MUST_USE hw_status clean_surface(hw_job *job, const hw_mesh *raw, bool keeps_all, hw_arena *into,
                                    hw_mesh *out, hw_scan_removed *removed);

/// Axes of a foot in file coordinates. `x` to the toes, `z` up, y = z x x.
typedef struct axes {
    hw_vec3 x, y, z;
} axes;

/// A foot as posed so far.
typedef struct stance {
    axes axes;
    hw_vec3 origin; // file coordinates of the foot frame's origin, so that axes turn about it
    double length;  // file units
    double penalty; // how unlike a foot it is; about 0 to 1 for feet
    bool is_sole_only;
    double up_confidence, toes_confidence, extent_confidence;
} stance;

/// A place in foot coordinates, as shares of the length.
static inline hw_vec3 share_of(const stance *s, hw_vec3 p)
{
    hw_vec3 arm = hw_vec3_scale(hw_vec3_sub(p, s->origin), 1.0 / s->length);
    return (hw_vec3){hw_vec3_dot(arm, s->axes.x), hw_vec3_dot(arm, s->axes.y),
                     hw_vec3_dot(arm, s->axes.z)};
}

/// Moves the origin along an axis, by a share of the length.
static inline void move_origin(stance *s, hw_vec3 axis, double share)
{
    s->origin = hw_vec3_add(s->origin, hw_vec3_scale(axis, share * s->length));
}

/// The direction of an axis; the axis nearest to a direction.
hw_vec3 axis_direction(hw_scan_axis axis);
hw_scan_axis nearest_axis(hw_vec3 direction);

/// Finds sole and toes: the stance that looks most like a foot, to a few degrees, among those in
/// which up, toes and extent are as stated.
///
///   fails   HW_BAD_INPUT nothing looks like a foot
HW_MUST_USE hw_status find_stance(hw_job *job, const samples *from, const hw_scan_ask *ask,
                                  stance *out);

/// Sets support plane, axis and length on the given points, starting from a stance that is right to
/// some twenty degrees.
///
///   medial   +1 where the medial side lies at +y, -1 at -y; 0 unknown: axis to the ball's middle
///   returns  how far the axes still turned in the last round, rad: 0 where they stood still
double refine_stance(const hw_vec3 *points, int count, double medial, stance *s);

/// Where the medial side lies: > 0 at +y, < 0 at -y; the size is the confidence, up to 1.
double judge_side(const samples *from, const stance *s);

/// Unit given or inferred from the foot's length in file units; fills the unit fields of `out`.
///
///   fails   HW_NO_ANSWER several units fit; HW_BAD_INPUT none does, or the given one does not
HW_MUST_USE hw_status settle_unit(hw_job *job, double length, hw_scan_unit given,
                                  hw_scan_result *out);

/// Landmarks on a surface already in the foot frame, m.
///
///   hand  those a person has placed; may be NULL. A sole alone has no toes and no instep to place
void find_landmarks(const hw_mesh *surface, double length, bool is_sole_only,
                    const hw_landmarks_by_hand *hand, hw_landmarks *out);

/// A surface in the foot frame, m.
typedef struct posed {
    hw_mesh seen;   // as it was scanned
    hw_mesh smooth; // without noise: what is measured; the same where it shows none
    hw_mesh whole;  // that with its small holes closed
    double length;
} posed;

/// Closes small holes, finds landmarks and measures; measures that rest on a filling become
/// unknown, but for those from landmarks placed by hand. Fills `whole`.
///
///   fails   HW_BAD_INPUT a landmark placed by hand lies off the skin, or they are out of order
HW_MUST_USE hw_status fill_and_measure(hw_job *job, posed *of, const hw_scan_ask *ask,
                                       hw_arena *into, hw_scan_result *out);

/// Whether landmarks placed by hand lie on the skin, and how many there are.
///
///   fails   HW_BAD_INPUT one lies off it, or on a part that was not scanned
HW_MUST_USE hw_status check_by_hand(hw_job *job, const hw_mesh *surface,
                                    const hw_landmarks_by_hand *hand, bool is_sole_only,
                                    int *count);

/// Whether landmarks stand in the order of a foot's, so that no length comes out negative.
///
///   fails   HW_BAD_INPUT they do not
HW_MUST_USE hw_status check_order(hw_job *job, const hw_landmarks *at);

/// Noise across a surface (sd), in its own unit.
HW_MUST_USE hw_status find_noise(hw_job *job, const hw_mesh *mesh, double *out);

/// Of a sample of the triangles, in the surface's unit.
double mean_edge(const hw_mesh *mesh);

/// Each cell's points become their middle, so that about twelve thousand stay; fewer are left as
/// they are.
///
///   edge  mean_edge of the surface
HW_MUST_USE hw_status thin_surface(hw_job *job, const hw_mesh *surface, double edge, hw_arena *into,
                                   hw_mesh *out);

/// The surface to measure on: smoothed where it shows noise, else the same. A landmark is where a
/// surface reaches furthest, and noise reaches further the more points there are.
///
///   noise   find_noise of it
///   length  of the foot, in the surface's unit
HW_MUST_USE hw_status without_noise(hw_job *job, const hw_mesh *mesh, double noise, double length,
                                    hw_arena *into, hw_mesh *out);

/// Repeats the measures of a finished result and fills its `spread`.
///
///   surface  what they were taken on, without noise
///   fails   HW_NO_MEMORY, HW_CANCELLED
///   cost    32 repetitions on at most 12,000 points each, on all cores
HW_MUST_USE hw_status find_spread(hw_job *job, const hw_mesh *surface, const hw_foot_load *load,
                                  hw_scan_result *scan);

#endif
