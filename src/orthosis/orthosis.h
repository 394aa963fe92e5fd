// SPDX-License-Identifier: GPL-3.0-or-later
//
// orthosis: a foot and an order in, a closed solid out.
//
//     hw_orthosis_order order = hw_orthosis_order_default(foot.loading);
//     order.heel_cup_depth_m = 0.014;
//     HW_TRY(hw_orthosis_build(job, &foot, &order, into, &device));
//     HW_TRY(hw_orthosis_exit(job, &device, into, &solid));          // its own side's shape
//
// The shell's top is the foot's own sole, smoothed below the noise of a scanner, plus the ordered
// corrections as displacements; its bottom lies one thickness further out. All of it is computed in
// the foot frame as a left foot's. It knows no prices, no machines and no mechanics: see mech.
#ifndef HW_ORTHOSIS_H
#define HW_ORTHOSIS_H

#include "against.h" // IWYU pragma: export
#include "fit.h"     // IWYU pragma: export
#include "foot/foot.h"
#include "order.h" // IWYU pragma: export
#include "press.h" // IWYU pragma: export

/// Everything that is wrong with the order for this foot: ranges and contradictions, by name.
///
///   fails   HW_BAD_INPUT with the first fault and their count; the sole does not cover the device
HW_MUST_USE hw_status hw_orthosis_check(hw_job *job, const hw_foot *foot,
                                        const hw_orthosis_order *order);

/// One thing that was done to the surface, for the order sheet.
typedef struct hw_orthosis_step {
    const char *name; // static
    double value;
    const char *unit; // static: "m", "rad", "m2"
} hw_orthosis_step;

/// The device, foot frame, as a left foot's. Lives in the `into` of its build.
typedef struct hw_orthosis {
    hw_side side;
    hw_shell_material material;
    bool is_cup, is_long;   // ends behind the arch; goes under heads and toes
    hw_mesh solid;          // closed; its first triangles are the top
    int top_triangle_count; // so many
    int nu, nv;             // grid: i = 0 heel rim .. nu - 1 distal rim; j = 0 medial .. nv - 1
    hw_vec3 *top;           // [i * nv + j], m: what the foot touches
    hw_vec3 *bottom;        // [i * nv + j], m: post included
    hw_vec3 *sole;          // [i * nv + j], m: the foot there, smoothed, before any correction
    hw_vec3 *outline;       // edge of the top, closed, anticlockwise seen from above
    int outline_count;
    double volume_m3, mass_kg;
    double balance_rad;            // by which the cup was turned to balance the heel, varus +
    double rounding_radius_m;      // of the rim: half the thickness
    double cup_depth_m;            // measured: lowest point of the heel to the crest behind it
    double heel_stack_m;           // measured: what lies under that point
    hw_maybe post_rad;             // measured: the flat base under the heel, varus +; none: unknown
    double thickness_min_m;        // measured: top grid to bottom surface
    double deviation_max_m;        // top grid to the foot's surface as scanned, corrections
    double deviation_mean_m;       // included; where the scan shows the surface
    double distal_gap_min_m;       // rim of the distal edge behind the line between the first
    double distal_gap_max_m;       // and fifth metatarsal heads
    double filled_area_m2;         // of the sole that the scan does not show
    double lift_m;                 // how far the device must rise for its lowest point to
                                   // stand on z = 0; `solid` is not lifted: it fits the foot
    const hw_orthosis_step *steps; // what was done, in order
    int step_count;
    const char *mark;     // what hw_orthosis_emboss raised on the underside; NULL: nothing
    double mark_height_m; // of its letters
    double mark_raised_m; // out of the bottom
    hw_mesh marked;       // `solid` with it
} hw_orthosis;

/// Builds it; a pure function of foot and order.
///
///   fails   as hw_orthosis_check; HW_NO_ANSWER where the sole is bent too sharply for a shell of
///           this thickness; HW_NO_MEMORY; HW_CANCELLED
///   cost    O(triangles); figures in bench/
///   source  trade facts beside the fields: common practice
HW_MUST_USE hw_status hw_orthosis_build(hw_job *job, const hw_foot *foot,
                                        const hw_orthosis_order *order, hw_arena *into,
                                        hw_orthosis *out);

/// Raises side and code on the underside, "L HB-0042", in capitals, under the arch and clear of the
/// floor: into `marked`. Volume and mass are of that; all else stays as of the plain solid.
///
///   device  of hw_orthosis_build on `foot`; gets its mark
///   fails   HW_BAD_INPUT a character without a letter, no room for letters of 4 mm; HW_NO_ANSWER the
///           device finds no stand; HW_NO_MEMORY; HW_CANCELLED
///   source  letters of 4 to 6 mm, lines of 0.9 mm raised by 0.6 mm: common practice of printing
HW_MUST_USE hw_status hw_orthosis_emboss(hw_job *job, const hw_foot *foot, const char *code,
                                         hw_arena *into, hw_orthosis *device);

/// The device against the order's shoe; rows of what is over, never a refusal.
void hw_orthosis_shoe_fit(const hw_foot *foot, const hw_orthosis *device,
                          const hw_orthosis_order *order, hw_shoe_fit_row out[HW_SHOE_FITS]);

/// The device's top against an earlier one's, along the shortest way, both where they lie on their foot.
///
///   previous  its closed solid, foot frame, as a left foot's, m
///   fails     HW_BAD_INPUT it lies elsewhere or is no device's size; HW_NO_ANSWER nothing of it lies under
///             the device; HW_NO_MEMORY
HW_MUST_USE hw_status hw_orthosis_lay_on(hw_job *job, const hw_orthosis *device,
                                         const hw_mesh *previous, hw_arena *into,
                                         hw_orthosis_against *out);

/// Presses the foot on the device: pressures, sink, stress, stiffness.
///
///   device  of hw_orthosis_build on `foot`
///   fails   HW_BAD_INPUT mass or modulus out of range; foot length unknown; HW_NO_ANSWER the shell
///           did not settle; HW_NO_MEMORY; HW_CANCELLED
///   cost    figures in bench/
///   source  docs/press.md
HW_MUST_USE hw_status hw_orthosis_press(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                                        const hw_press_ask *ask, hw_arena *into, hw_press *out);

/// The solid, marked where it is, in its own side's shape: what goes into a file.
HW_MUST_USE hw_status hw_orthosis_exit(hw_job *job, const hw_orthosis *device, hw_arena *into,
                                       hw_mesh *out);

#endif
