// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of press: the foot's pieces and tissue, the model of shell, floor and foot.
#ifndef HW_ORTHOSIS_PRESS_INTERNAL_H
#define HW_ORTHOSIS_PRESS_INTERNAL_H

#include "fem/fem.h"
#include "orthosis/orthosis.h"

/// What lies above a place of the device's top.
typedef struct press_tissue {
    double thickness, modulus, exponent; // of the soft tissue: m, Pa
    double shares[HW_PRESS_REGIONS];     // of the four pieces in the bone's sink; they sum to 1
} press_tissue;

/// along: x in foot lengths from the back of the heel; u, v: 0..1 over the grid from heel to distal
/// edge and from medial to lateral.
press_tissue press_tissue_at(double along, double u, double v);

/// The piece with the greatest share.
hw_press_region press_region_of(const press_tissue *tissue);

/// Load of each piece, N, for what is asked.
void press_loads(hw_press_moment moment, const hw_press_ask *ask, double loads[HW_PRESS_REGIONS]);

/// A plane z = at + along_x x + along_y y.
typedef struct press_plane {
    double at, along_x, along_y;
} press_plane;

/// The floor as the device stands on it by itself: under all points, touching three of them around
/// `centre`.
///
///   fails   HW_NO_ANSWER the points do not surround it
HW_MUST_USE hw_status press_rest(hw_job *job, const hw_vec3 *points, int count, hw_vec3 centre,
                                 press_plane *out);

/// The floor under a device.
HW_MUST_USE hw_status press_ground(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                                   press_plane *out);

/// From the heel's back to the toes' tips, m, by the first metatarsal head, which lies at 0.73 of it:
/// facts of docs/press.md.
double press_foot_length(const hw_foot *foot);

/// What is solved, and how its parts belong to the device's grid.
typedef struct press_model {
    const hw_orthosis *device;
    double foot_length;
    int nu, nv; // bricks
    hw_fem_mesh mesh;
    hw_fem_sheet_nodes faces;
    hw_fem_bed *beds; // the floor's, then the foot's
    hw_fem_spring *springs;
    hw_fem_model fem;
    hw_vec3 *down;        // grid: unit, out of the foot
    double *gaps;         // grid, m: from the foot to the top
    press_tissue *tissue; // grid
    hw_vec3 up;           // the floor's normal
} press_model;

/// How many bricks along and across: what divides the device's grid.
typedef struct press_fineness {
    int nu, nv;
} press_fineness;

HW_MUST_USE hw_status press_model_make(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                                       press_fineness fineness, hw_arena *into, press_model *out);

/// Moves of a finer model's nodes, read off a coarser one's answer: where to begin.
HW_MUST_USE hw_status press_carry_over(hw_job *job, const press_model *coarse,
                                       const hw_fem_answer *solved, const press_model *fine,
                                       hw_arena *into, hw_vec3 **out);

/// Moves of the top and the greatest nearby stress at all grid points, from an answer.
HW_MUST_USE hw_status press_fill(hw_job *job, const press_model *model, const hw_fem_answer *solved,
                                 hw_arena *into, hw_press_answer *out);

/// Area of the top that belongs to each grid point, m2.
HW_MUST_USE hw_status press_areas(hw_job *job, const hw_orthosis *device, hw_arena *into,
                                  double **out);

/// How much of a point at this distance a disc of this radius holds: 1 inside, falling to 0 over 3 mm
/// around the radius, so that what is read off does not jump with the grid.
double press_disc_share(double distance, double radius);

/// The mean pressure over the 1 cm2 around each grid point, Pa: what a probe of that size feels.
///
///   areas       of the top that belong to the grid points, m2
///   pressures   at them, Pa
HW_MUST_USE hw_status press_probe(hw_job *job, const hw_orthosis *device, const double *areas,
                                  const double *pressures, hw_arena *into, double **out);

/// The greatest of press_probe's means within each region, its border included, into peak_Pa.
void press_peaks(const press_model *model, const double *means, hw_press_answer *answer);

#endif
