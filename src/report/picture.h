// SPDX-License-Identifier: GPL-3.0-or-later
// Surfaces as pixels: an orthographic view with shade, height tint and contour lines. Internal to
// report.
#ifndef HW_REPORT_PICTURE_H
#define HW_REPORT_PICTURE_H

#include "geom/geom.h"

/// How a surface is looked at. The three directions are unit vectors at right angles.
typedef struct picture_view {
    hw_vec3 right;          // on the picture
    hw_vec3 up;             // on the picture
    hw_vec3 towards;        // from the surface to the eye
    double metre_per_pixel; // the same in both directions
    double margin;          // white rim around the surface, m
    double contour_step;    // m along `towards`; 0: no contour lines
} picture_view;

typedef struct picture {
    unsigned char (*pixels)[3]; // red, green, blue; top row first
    int size[2];                // columns, rows
    hw_vec3 corner;             // the world point (in the picture's plane) of the top left corner
    picture_view view;
} picture;

/// The plantar view (from below, toes up) or the medial view (toes away from the heel, as the
/// foot's side demands) of a foot in its own side's frame.
picture_view picture_from_below(double metre_per_pixel);
picture_view picture_from_medial(hw_side side, double metre_per_pixel);

/// Draws `surface`, in its colours where it has any. White where there is none.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status picture_draw(hw_job *job, const hw_mesh *surface, const picture_view *view,
                                   hw_arena *into, picture *out);

/// Where a world point lies on the picture: columns and rows, fractions of the whole size, 0..1.
void picture_place(const picture *picture, hw_vec3 point, double place[2]);

#endif
