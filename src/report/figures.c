// SPDX-License-Identifier: GPL-3.0-or-later
// Every figure is laid out on a board 100 wide and 76 high, y down. A limb is a thick line with round
// ends; limbs of one body are first drawn dark and a little wider, then light, so that only the
// outline of the whole stays dark. Lightness alone tells parts apart: it reads in grey.
#include "figures.h"

#include <math.h>

typedef struct pen {
    hw_pdf *pdf;
    double x, y, scale; // of the board on paper, mm
} pen;

enum { POINTS_MAX = 32 };

typedef struct limb {
    const double (*points)[2];
    int count;
    double width;
} limb;

#define COUNT(list) ((int)(sizeof(list) / sizeof *(list)))
#define LIMB(points, width)                                                                        \
    {                                                                                              \
        points, COUNT(points), width                                                               \
    }

static const double rim = 0.8; // of outlines, board units

// Shades of grey, 0 black.
static const double dark = 0.12, skin = 0.90, cloth = 0.72, thing = 0.82, ghost = 0.60;

static hw_pdf_ink ink_of(const pen *with, double shade, double thickness)
{
    return (hw_pdf_ink){
        .red = shade, .green = shade, .blue = shade, .thickness = thickness * with->scale};
}

static void place(const pen *with, const double (*points)[2], int count, double (*out)[2])
{
    HW_ASSERT(count <= POINTS_MAX);
    for (int i = 0; i < count; i++) {
        out[i][0] = with->x + with->scale * points[i][0];
        out[i][1] = with->y + with->scale * points[i][1];
    }
}

static void stroke(const pen *with, const double (*points)[2], int count, double width,
                   double shade)
{
    double placed[POINTS_MAX][2];
    hw_pdf_ink ink = ink_of(with, shade, width);
    place(with, points, count, placed);
    hw_pdf_curve(with->pdf, &ink, (const double(*)[2])placed, count, false);
}

// A closed smooth shape with a dark outline; the last point is the first.
static void shape(const pen *with, const double (*points)[2], int count, double shade)
{
    double placed[POINTS_MAX][2];
    hw_pdf_ink ink = ink_of(with, shade, 0.0);
    place(with, points, count, placed);
    hw_pdf_curve(with->pdf, &ink, (const double(*)[2])placed, count, true);
    stroke(with, points, count, rim, dark);
}

// A part that goes on beyond the picture: the line from its last point to the first is not drawn.
static void open_shape(const pen *with, const double (*points)[2], int count, double shade)
{
    double placed[POINTS_MAX][2];
    hw_pdf_ink ink = ink_of(with, shade, 0.0);
    place(with, points, count, placed);
    hw_pdf_curve(with->pdf, &ink, (const double(*)[2])placed, count, true);
    stroke(with, points, count, rim, dark);
}

// As `shape`, with corners.
static void block(const pen *with, const double (*points)[2], int count, double shade)
{
    double placed[POINTS_MAX][2];
    hw_pdf_ink fill = ink_of(with, shade, 0.0), edge = ink_of(with, dark, rim);
    place(with, points, count, placed);
    hw_pdf_path(with->pdf, &fill, (const double(*)[2])placed, count, true);
    hw_pdf_path(with->pdf, &edge, (const double(*)[2])placed, count, false);
}

static void body(const pen *with, const limb *limbs, int count, double shade)
{
    for (int i = 0; i < count; i++)
        stroke(with, limbs[i].points, limbs[i].count, limbs[i].width + 2.0 * rim, dark);
    for (int i = 0; i < count; i++)
        stroke(with, limbs[i].points, limbs[i].count, limbs[i].width, shade);
}

static void disc(const pen *with, double x, double y, double radius, double shade)
{
    double points[17][2];
    for (int i = 0; i < 17; i++) {
        double angle = (i % 16) * 3.14159265358979 / 8.0;
        points[i][0] = x + radius * cos(angle);
        points[i][1] = y + radius * sin(angle);
    }
    shape(with, (const double(*)[2])points, 17, shade);
}

// A bold arrow along a curve, its head at the last point.
static void arrow(const pen *with, const double (*points)[2], int count)
{
    const double *tip = points[count - 1], *before = points[count - 2];
    double along[2] = {tip[0] - before[0], tip[1] - before[1]};
    double length = hypot(along[0], along[1]);
    along[0] /= length, along[1] /= length;
    const double head = 4.2, half = 2.5;
    const double head_points[3][2] = {
        {tip[0] + along[0] * head, tip[1] + along[1] * head},
        {tip[0] - along[1] * half, tip[1] + along[0] * half},
        {tip[0] + along[1] * half, tip[1] - along[0] * half},
    };
    stroke(with, points, count, 1.5, dark);
    double placed[POINTS_MAX][2];
    hw_pdf_ink ink = ink_of(with, dark, 0.0);
    place(with, head_points, 3, placed);
    hw_pdf_path(with->pdf, &ink, (const double(*)[2])placed, 3, true);
}

static void floor_line(const pen *with, double from, double to, double y)
{
    const double line[2][2] = {{from, y}, {to, y}};
    stroke(with, line, 2, 1.0, dark);
}

// Seated to the right, ankle on the other knee; beside it the foot close up, its toes bent back.
static void fascia_stretch_person(const pen *with)
{
    static const double seat[5][2] = {{8, 50}, {33, 50}, {33, 53}, {8, 53}, {8, 50}};
    static const double back[5][2] = {{6, 24}, {9, 24}, {9, 53}, {6, 53}, {6, 24}};
    static const double leg_back[2][2] = {{9, 53}, {9, 71}}, leg_front[2][2] = {{31, 53}, {31, 71}};
    static const double torso[3][2] = {{17, 43}, {20, 32}, {24, 22}},
                        neck[2][2] = {{24, 20}, {28, 13}};
    static const double thigh[2][2] = {{18, 45}, {40, 45}};
    static const double shin[3][2] = {{40, 45}, {41, 55}, {40, 67}};
    static const double shoe[2][2] = {{40, 69}, {48, 69}};
    static const double crossed[3][2] = {{18, 44}, {28, 41}, {36, 38}};
    static const double sole[9][2] = {{35, 41}, {34, 37}, {37, 34}, {42, 33}, {48, 29},
                                      {51, 31}, {47, 37}, {40, 41}, {35, 41}};
    static const double arm[3][2] = {{24, 24}, {32, 33}, {47, 31}};
    const limb lower[] = {LIMB(thigh, 7), LIMB(shin, 5.5)};
    const limb trunk[] = {LIMB(torso, 10), LIMB(neck, 4)};
    const limb upper[] = {LIMB(crossed, 7)};
    const limb arms[] = {LIMB(arm, 3.6)};
    const limb feet[] = {LIMB(shoe, 4)};
    floor_line(with, 2, 54, 72);
    stroke(with, leg_back, 2, 1.6, dark);
    stroke(with, leg_front, 2, 1.6, dark);
    block(with, seat, 5, thing);
    block(with, back, 5, thing);
    body(with, feet, 1, thing);
    body(with, lower, 2, cloth);
    body(with, trunk, 2, skin);
    disc(with, 29, 11, 6, skin);
    body(with, upper, 1, cloth);
    shape(with, sole, 9, skin);
    body(with, arms, 1, skin);
}

static void fascia_stretch(const pen *with)
{
    static const double foot[][2] = {{60, 8},  {57, 26}, {54, 38}, {50, 46}, {52, 55}, {58, 58},
                                     {66, 53}, {74, 53}, {82, 58}, {88, 56}, {91, 48}, {95, 38},
                                     {92, 34}, {88, 41}, {83, 46}, {77, 39}, {73, 28}, {73, 8}};
    static const double band[][2] = {{57, 55}, {66, 50.5}, {74, 50.5}, {83, 55.5}};
    static const double fingers[][2] = {{100, 28}, {99, 37}, {95.5, 48}};
    static const double hand[][2] = {{101, 16}, {101, 24}, {100, 30}};
    static const double thumb[][2] = {{69, 59}, {70, 66}, {79, 73}};
    static const double pull[][2] = {{90, 27}, {88, 22}, {85, 19}, {81, 17}};
    fascia_stretch_person(with);
    open_shape(with, foot, COUNT(foot), skin);
    stroke(with, band, COUNT(band), 2.2, 0.25);
    const limb hands[] = {LIMB(fingers, 4.6), LIMB(hand, 5.6)};
    const limb thumbs[] = {LIMB(thumb, 5.0)};
    body(with, hands, 2, cloth);
    body(with, thumbs, 1, cloth);
    arrow(with, pull, COUNT(pull));
}

static void wall(const pen *with)
{
    static const double front[5][2] = {{92, 4}, {97, 4}, {97, 72}, {92, 72}, {92, 4}};
    block(with, front, 5, thing);
}

static void calf_stretch(const pen *with)
{
    static const double rear[3][2] = {{48, 40}, {34, 53}, {20, 66}};
    static const double rear_foot[2][2] = {{18, 69}, {28, 69.5}};
    static const double front_thigh[2][2] = {{49, 40}, {68, 47}};
    static const double front_shin[2][2] = {{68, 47}, {64, 66}};
    static const double front_foot[2][2] = {{64, 69}, {74, 69.5}};
    static const double torso[2][2] = {{49, 37}, {60, 21}}, neck[2][2] = {{60, 20}, {66, 12}};
    static const double upper_arm[2][2] = {{61, 21}, {74, 28}},
                        forearm[2][2] = {{74, 28}, {90, 20}};
    static const double press[2][2] = {{8, 50}, {8, 64}};
    wall(with);
    floor_line(with, 2, 98, 72);
    const limb far_leg[] = {LIMB(front_thigh, 7), LIMB(front_shin, 5.5)};
    const limb far_foot[] = {LIMB(front_foot, 4)}, near_foot[] = {LIMB(rear_foot, 4)};
    const limb near_leg[] = {LIMB(rear, 7)};
    const limb trunk[] = {LIMB(torso, 11), LIMB(neck, 4)};
    const limb arms[] = {LIMB(upper_arm, 4), LIMB(forearm, 3.6)};
    body(with, far_foot, 1, thing);
    body(with, far_leg, 2, cloth);
    body(with, near_foot, 1, thing);
    body(with, near_leg, 1, cloth);
    body(with, trunk, 2, skin);
    disc(with, 68, 9, 6, skin);
    body(with, arms, 2, skin);
    arrow(with, press, 2);
}

static void heel_raise_person(const pen *with)
{
    static const double step[5][2] = {{20, 63}, {44, 63}, {44, 72}, {20, 72}, {20, 63}};
    static const double leg[3][2] = {{22, 36}, {22, 47}, {21, 56}};
    static const double foot[2][2] = {{20, 57}, {27, 61}};
    static const double other_thigh[2][2] = {{22, 36}, {25, 47}};
    static const double other_shin[2][2] = {{25, 47}, {12, 51}};
    static const double torso[2][2] = {{22, 34}, {23, 20}}, neck[2][2] = {{23, 18}, {25, 11}};
    static const double arm[3][2] = {{23, 20}, {31, 27}, {40, 22}};
    static const double pack[9][2] = {{17, 17}, {12, 16}, {9, 20},  {9, 30}, {12, 33},
                                      {17, 32}, {18, 25}, {18, 19}, {17, 17}};
    static const double rail[5][2] = {{41, 6}, {44, 6}, {44, 63}, {41, 63}, {41, 6}};
    floor_line(with, 2, 48, 72);
    block(with, step, 5, thing);
    block(with, rail, 5, thing);
    const limb far_leg[] = {LIMB(other_thigh, 6), LIMB(other_shin, 5)};
    const limb feet[] = {LIMB(foot, 3.6)}, near_leg[] = {LIMB(leg, 6)};
    const limb trunk[] = {LIMB(torso, 10), LIMB(neck, 4)}, arms[] = {LIMB(arm, 3.4)};
    shape(with, pack, 9, ghost);
    body(with, far_leg, 2, cloth);
    body(with, feet, 1, thing);
    body(with, near_leg, 1, cloth);
    body(with, trunk, 2, skin);
    disc(with, 25, 8, 5.4, skin);
    body(with, arms, 1, skin);
}

static void heel_raise(const pen *with)
{
    static const double step[][2] = {{72, 62}, {99, 62}, {99, 72}, {72, 72}, {72, 62}};
    static const double foot[][2] = {{56, 8},  {56, 20}, {56, 28}, {53, 34}, {55, 41}, {61, 44},
                                     {66, 48}, {71, 56}, {77, 61}, {83, 57}, {90, 52}, {94, 48},
                                     {91, 46}, {84, 48}, {77, 44}, {71, 28}, {70, 8}};
    static const double low[][2] = {{57, 46}, {54, 57}, {54, 66}, {59, 71}, {66, 68}, {74, 62}};
    static const double rise[][2] = {{48, 50}, {48, 35}}, sink[][2] = {{48, 56}, {48, 66}};
    heel_raise_person(with);
    block(with, step, COUNT(step), thing);
    stroke(with, low, COUNT(low), 0.9, ghost); // where the heel goes on the way down
    disc(with, 90, 57.2, 4.4, 1.0);
    disc(with, 90, 57.2, 2.4, 1.0);
    open_shape(with, foot, COUNT(foot), skin);
    arrow(with, rise, 2);
    arrow(with, sink, 2);
}

// A foot standing, seen from the inner side, heel at the left.
static const double standing[20][2] = {{29, 4},  {28, 24}, {25, 38}, {17, 48}, {15, 58},
                                       {19, 65}, {27, 67}, {36, 64}, {46, 61}, {57, 61},
                                       {66, 65}, {74, 67}, {84, 67}, {92, 64}, {91, 58},
                                       {82, 54}, {72, 49}, {60, 38}, {53, 24}, {52, 4}};

static void standing_foot(const pen *with, double shade)
{
    open_shape(with, standing, COUNT(standing), shade);
}

static void tape(const pen *with)
{
    static const double strips[4][4][2] = {{{33, 65}, {34, 58}, {36, 51}, {39, 44}},
                                           {{41, 62}, {42, 55}, {45, 48}, {49, 41}},
                                           {{49, 60.5}, {51, 54}, {54, 48}, {58, 42}},
                                           {{57, 61}, {59, 56}, {63, 51}, {67, 46}}};
    static const double anchor[5][2] = {{16.5, 54}, {30, 55}, {46, 54}, {62, 54}, {76, 57}};
    floor_line(with, 6, 98, 70);
    standing_foot(with, skin);
    for (int i = 0; i < 4; i++) {
        stroke(with, strips[i], 4, 6.0, dark);
        stroke(with, strips[i], 4, 4.6, 1.0);
    }
    stroke(with, anchor, 5, 5.6, dark);
    stroke(with, anchor, 5, 4.2, 1.0);
}

static void insole(const pen *with)
{
    static const double sole_of_shoe[9][2] = {{9, 72},  {9, 68},  {38, 69}, {70, 71}, {97, 68},
                                              {98, 71}, {92, 75}, {20, 75}, {9, 72}};
    static const double support[9][2] = {{13, 59},   {15, 66},   {24, 69}, {56, 69}, {72, 69},
                                         {65, 65.5}, {50, 61.5}, {30, 67}, {13, 59}};
    static const double upper[9][2] = {{11, 68}, {11, 52}, {14, 41}, {24, 39}, {50, 40},
                                       {62, 40}, {78, 49}, {95, 56}, {97, 68}};
    block(with, sole_of_shoe, 9, thing);
    standing_foot(with, skin);
    shape(with, support, 9, 0.30);
    stroke(with, upper, 9, 1.4, ghost);
}

void figure_draw(hw_pdf *pdf, figure_kind which, double x, double y, double width)
{
    static void (*const drawings[])(const pen *with) = {
        [FIGURE_FASCIA_STRETCH] = fascia_stretch,
        [FIGURE_CALF_STRETCH] = calf_stretch,
        [FIGURE_HEEL_RAISE] = heel_raise,
        [FIGURE_TAPE] = tape,
        [FIGURE_INSOLE] = insole,
    };
    const pen with = {pdf, x, y, width / 100.0};
    if (which == FIGURE_NONE) return;
    hw_pdf_tag(pdf, "Figure");
    drawings[which](&with);
    hw_pdf_untag(pdf);
}
