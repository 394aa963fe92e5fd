// SPDX-License-Identifier: GPL-3.0-or-later
// What the figures are drawn with: outlined shapes in greys, and a jointed person. Internal to
// report.
#ifndef HW_REPORT_FIGURE_PEN_H
#define HW_REPORT_FIGURE_PEN_H

#include "pdf/pdf.h"

/// Every figure is laid out on a board 100 wide and 76 high, y down.
typedef struct pen {
    hw_pdf *pdf;
    double x, y, scale; // of the board on paper, mm
} pen;

enum { PEN_POINTS = 64 };

// Shades of grey, 0 black: lightness alone tells parts apart, so it reads in grey.
#define PEN_DARK 0.12
#define PEN_SKIN 0.92
#define PEN_CLOTH 0.70
#define PEN_SHIRT 0.84
#define PEN_THING 0.80
#define PEN_GHOST 0.58
#define PEN_RIM 0.8 // of outlines, board units

/// A smooth line, or with corners.
void pen_curve(const pen *with, const double (*points)[2], int count, double width, double shade);
void pen_line(const pen *with, const double (*points)[2], int count, double width, double shade);

/// A smooth area with a dark outline. It closes where the last point is the first; else it goes on
/// beyond the picture and the line from its last point to the first is not drawn.
void pen_shape(const pen *with, const double (*points)[2], int count, double shade);

/// Only the area, no outline; with corners.
void pen_area(const pen *with, const double (*points)[2], int count, double shade);

/// As pen_shape, with corners.
void pen_block(const pen *with, const double (*points)[2], int count, double shade);

void pen_disc(const pen *with, double x, double y, double radius, double shade);

/// A bold arrow along a curve, its head at the last point.
void pen_arrow(const pen *with, const double (*points)[2], int count);

void pen_floor(const pen *with, double from, double to, double y);

/// How a limb of two bones is held. Directions are degrees from straight down, forward (to the
/// right) +.
typedef struct limb_pose {
    double upper, lower;
    double end; // of the foot: where its toes point, 90 flat forward; of a hand not used
} limb_pose;

/// A person seen from the side, looking to the right.
typedef struct body_pose {
    double hip[2];     // where the hips are on the board
    double trunk;      // degrees the trunk leans forward
    double head;       // degrees the neck leans forward
    limb_pose legs[2]; // far, near
    limb_pose arms[2];
    double height;        // standing, board units
    bool has_load;        // a rucksack
    bool has_crossed_leg; // the near leg is left to the caller
} body_pose;

/// Where the joints are: bone lengths are fixed fractions of the height (Drillis and Contini's as
/// far as remembered; from memory: Winter, Biomechanics, 1979), so that every pose is of one and
/// the same person.
typedef struct skeleton {
    double hip[2], shoulder[2], neck[2], head[2];
    double knee[2][2], ankle[2][2], toe[2][2]; // far, near
    double elbow[2][2], hand[2][2];
} skeleton;

skeleton body_bones(const body_pose *pose);

/// Draws it: far limbs, trunk, head, near limbs.
void body_draw(const pen *with, const body_pose *pose);

/// The near arm alone, for what must lie before a leg that the caller drew.
void body_arm(const pen *with, const body_pose *pose, int which);

#endif
