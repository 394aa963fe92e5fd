// SPDX-License-Identifier: GPL-3.0-or-later
// The scenes: people as poses of one skeleton (figure_body.c), feet close up as outlines.
#include "figures.h"
#include "figure_pen.h"

#define COUNT(list) ((int)(sizeof(list) / sizeof *(list)))

static const double floor_y = 72.0;

// A hand close up: thick lines, first all rims, then all flesh, so that no line crosses a joint.
typedef struct finger {
    const double (*points)[2];
    int count;
    double width;
} finger;

static void hand(const pen *with, const finger *parts, int count)
{
    for (int i = 0; i < count; i++)
        pen_curve(with, parts[i].points, parts[i].count, parts[i].width + 2.0 * PEN_RIM, PEN_DARK);
    for (int i = 0; i < count; i++)
        pen_curve(with, parts[i].points, parts[i].count, parts[i].width, PEN_SHIRT);
}

// Seated, the painful leg laid across the other knee, a hand at its toes.
static void fascia_stretch_person(const pen *with)
{
    static const double seat[5][2] = {{6, 51}, {30, 51}, {30, 54}, {6, 54}, {6, 51}};
    static const double back[5][2] = {{4, 26}, {7, 26}, {7, 54}, {4, 54}, {4, 26}};
    static const double legs[2][2][2] = {{{8, 54}, {8, 71.5}}, {{28, 54}, {28, 71.5}}};
    static const double crossed[4][2] = {{18, 46}, {25, 43.5}, {31, 42}, {36, 41}};
    static const double sole[9][2] = {{34, 44}, {33, 39.5}, {36, 36.5}, {41, 35}, {46, 30},
                                      {49, 31}, {46.5, 37}, {41, 42},   {34, 44}};
    static const body_pose pose = {.hip = {16, 47},
                                   .trunk = 16,
                                   .head = 28,
                                   .height = 62,
                                   .legs = {{88, 2, 90}, {0, 0, 90}},
                                   .arms = {{42, 62, 0}, {40, 98, 0}},
                                   .has_crossed_leg = true};
    pen_floor(with, 2, 52, floor_y);
    for (int i = 0; i < 2; i++) pen_line(with, legs[i], 2, 1.6, PEN_DARK);
    pen_block(with, seat, 5, PEN_THING);
    pen_block(with, back, 5, PEN_THING);
    body_draw(with, &pose);
    pen_curve(with, crossed, 4, 8.0 + 2.0 * PEN_RIM, PEN_DARK);
    pen_curve(with, crossed, 4, 8.0, PEN_CLOTH);
    pen_shape(with, sole, 9, PEN_SKIN);
    body_arm(with, &pose, 1);
}

static void fascia_stretch(const pen *with)
{
    static const double foot[][2] = {{60, 8},  {57, 26}, {54, 38}, {50, 46}, {52, 55}, {58, 58},
                                     {66, 53}, {74, 53}, {82, 58}, {88, 56}, {91, 48}, {95, 38},
                                     {92, 34}, {88, 41}, {83, 46}, {77, 39}, {73, 28}, {73, 8}};
    static const double band[][2] = {{57, 55}, {66, 50.5}, {74, 50.5}, {83, 55.5}};
    static const double wrist[][2] = {{97, 6}, {96, 20}}, palm[][2] = {{96, 20}, {97, 30}};
    static const double nails[][2] = {{97, 30}, {98, 38}, {95, 47}, {92, 50}};
    static const double thumb[][2] = {{69, 59}, {71, 66}, {78, 73}};
    static const double pull[][2] = {{88, 29}, {86, 24}, {83, 21}, {79, 19}};
    fascia_stretch_person(with);
    pen_shape(with, foot, COUNT(foot), PEN_SKIN);
    pen_curve(with, band, COUNT(band), 2.2, 0.25);
    const finger pulling[] = {{wrist, 2, 6.0}, {palm, 2, 7.0}, {nails, 4, 4.4}};
    const finger feeling[] = {{thumb, 3, 5.0}};
    hand(with, pulling, 3);
    hand(with, feeling, 1);
    pen_arrow(with, pull, COUNT(pull));
}

static void calf_scene(const pen *with, const body_pose *pose, double wall_x)
{
    const double wall[5][2] = {
        {wall_x, 4}, {wall_x + 5, 4}, {wall_x + 5, 72}, {wall_x, 72}, {wall_x, 4}};
    static const double press[2][2] = {{22, 52}, {22, 64}};
    pen_block(with, wall, 5, PEN_THING);
    pen_floor(with, 8, 94, floor_y);
    body_draw(with, pose);
    pen_arrow(with, press, 2);
}

static void calf_stretch(const pen *with)
{
    static const body_pose pose = {.hip = {48, 44},
                                   .trunk = 30,
                                   .head = 24,
                                   .height = 62,
                                   .legs = {{48, -8, 90}, {-33, -33, 90}},
                                   .arms = {{72, 100, 0}, {76, 107, 0}}};
    calf_scene(with, &pose, 81);
}

static void calf_stretch_bent(const pen *with)
{
    static const body_pose pose = {.hip = {49, 43.2},
                                   .trunk = 14,
                                   .head = 10,
                                   .height = 62,
                                   .legs = {{44, -10, 90}, {-6, -42, 90}},
                                   .arms = {{74, 112, 0}, {80, 118, 0}}};
    calf_scene(with, &pose, 76.5);
}

static void heel_raise_person(const pen *with)
{
    static const double step[5][2] = {{20, 62}, {45, 62}, {45, 72}, {20, 72}, {20, 62}};
    static const double rail[5][2] = {{39, 14}, {41, 14}, {41, 62}, {39, 62}, {39, 14}};
    static const body_pose pose = {.hip = {20, 30.5},
                                   .trunk = 3,
                                   .head = 6,
                                   .height = 54,
                                   .has_load = true,
                                   .legs = {{22, -80, 20}, {0, -2, 50}},
                                   .arms = {{50, 80, 0}, {52, 108, 0}}};
    pen_floor(with, 2, 48, floor_y);
    pen_block(with, step, 5, PEN_THING);
    pen_disc(with, 26.6, 60.6, 1.6, 1.0);
    pen_block(with, rail, 5, PEN_THING);
    body_draw(with, &pose);
}

static void heel_raise(const pen *with)
{
    static const double step[][2] = {{72, 62}, {99, 62}, {99, 72}, {72, 72}, {72, 62}};
    static const double foot[][2] = {{56, 8},  {56, 20}, {56, 28}, {53, 34}, {55, 41}, {61, 44},
                                     {66, 48}, {71, 56}, {77, 61}, {83, 57}, {90, 52}, {94, 48},
                                     {91, 46}, {84, 48}, {77, 44}, {71, 28}, {70, 8}};
    static const double low[][2] = {{57, 46}, {54, 57}, {54, 66}, {59, 71}, {66, 68}, {74, 62}};
    static const double rise[][2] = {{50, 48}, {50, 36}}, sink[][2] = {{50, 55}, {50, 66}};
    heel_raise_person(with);
    pen_block(with, step, COUNT(step), PEN_THING);
    pen_curve(with, low, COUNT(low), 0.9, PEN_GHOST); // where the heel goes on the way down
    pen_disc(with, 90, 57.2, 4.4, 1.0);
    pen_disc(with, 90, 57.2, 2.4, 1.0);
    pen_shape(with, foot, COUNT(foot), PEN_SKIN);
    pen_arrow(with, rise, 2);
    pen_arrow(with, sink, 2);
}

// A foot standing, seen from the inner side, heel at the left.
static const double standing[20][2] = {{29, 4},  {28, 24}, {25, 38}, {17, 48}, {15, 58},
                                       {19, 65}, {27, 67}, {36, 64}, {46, 61}, {57, 61},
                                       {66, 65}, {74, 67}, {84, 67}, {92, 64}, {91, 58},
                                       {82, 54}, {72, 49}, {60, 38}, {53, 24}, {52, 4}};

static void tape(const pen *with)
{
    static const double strips[4][4][2] = {{{33, 65}, {34, 58}, {36, 51}, {39, 44}},
                                           {{41, 62}, {42, 55}, {45, 48}, {49, 41}},
                                           {{49, 60.5}, {51, 54}, {54, 48}, {58, 42}},
                                           {{57, 61}, {59, 56}, {63, 51}, {67, 46}}};
    static const double anchor[5][2] = {{16.5, 54}, {30, 55}, {46, 54}, {62, 54}, {76, 57}};
    pen_floor(with, 6, 98, 70);
    pen_shape(with, standing, COUNT(standing), PEN_SKIN);
    for (int i = 0; i < 4; i++) {
        pen_curve(with, strips[i], 4, 6.0, PEN_DARK);
        pen_curve(with, strips[i], 4, 4.6, 1.0);
    }
    pen_curve(with, anchor, 5, 5.6, PEN_DARK);
    pen_curve(with, anchor, 5, 4.2, 1.0);
}

static void insole(const pen *with)
{
    static const double sole_of_shoe[9][2] = {{9, 72},  {9, 68},  {38, 69}, {70, 71}, {97, 68},
                                              {98, 71}, {92, 75}, {20, 75}, {9, 72}};
    static const double support[9][2] = {{13, 59},   {15, 66},   {24, 69}, {56, 69}, {72, 69},
                                         {65, 65.5}, {50, 61.5}, {30, 67}, {13, 59}};
    static const double upper[9][2] = {{11, 68}, {11, 52}, {14, 41}, {24, 39}, {50, 40},
                                       {62, 40}, {78, 49}, {95, 56}, {97, 68}};
    pen_block(with, sole_of_shoe, 9, PEN_THING);
    pen_shape(with, standing, COUNT(standing), PEN_SKIN);
    pen_shape(with, support, 9, 0.30);
    pen_curve(with, upper, 9, 1.4, PEN_GHOST);
}

// The ball drawn towards the heel: the arch rises, the toes stay long on the floor.
static void short_foot(const pen *with)
{
    static const double domed[20][2] = {{29, 4},  {28, 24}, {25, 38}, {17, 48}, {15, 58},
                                        {19, 65}, {27, 67}, {35, 61}, {45, 54}, {56, 55},
                                        {65, 64}, {72, 67}, {82, 67}, {90, 64}, {89, 58},
                                        {80, 54}, {71, 47}, {60, 37}, {53, 24}, {52, 4}};
    static const double relaxed[5][2] = {{27, 67}, {36, 64.5}, {47, 62.5}, {58, 63}, {68, 66.5}};
    static const double draw[2][2] = {{78, 74}, {64, 74}}, rise[2][2] = {{50, 73}, {50, 62}};
    pen_floor(with, 6, 98, 69);
    pen_shape(with, domed, COUNT(domed), PEN_SKIN);
    pen_curve(with, relaxed, 5, 0.9, PEN_GHOST);
    pen_arrow(with, draw, 2);
    pen_arrow(with, rise, 2);
}

static const struct {
    void (*draw)(const pen *with);
    const char *words;
} figures[FIGURE_COUNT] = {
    [FIGURE_FASCIA_STRETCH] =
        {fascia_stretch,
         "Drawing: a person sits with the painful leg laid across the other knee and "
         "pulls the toes back with one hand. Close up: a hand bends the toes towards "
         "the shin, the band under the foot is tight, a thumb feels it."},
    [FIGURE_CALF_STRETCH] =
        {calf_stretch,
         "Drawing: a person leans with both hands on a wall. The painful leg is behind, "
         "its knee straight; an arrow presses its heel to the floor."},
    [FIGURE_CALF_STRETCH_BENT] =
        {calf_stretch_bent,
         "Drawing: a person stands close to a wall with both hands on it. The "
         "painful leg is behind, its knee bent; an arrow presses its heel to the "
         "floor."},
    [FIGURE_HEEL_RAISE] =
        {heel_raise,
         "Drawing: a person with a rucksack stands on one leg at the edge of a step and "
         "holds the rail. Close up: a rolled towel lies under the toes; the heel rises "
         "and sinks below the step."},
    [FIGURE_SHORT_FOOT] =
        {short_foot,
         "Drawing: a foot on the floor. The ball is drawn towards the heel, so that the "
         "arch rises; the toes stay long and flat."},
    [FIGURE_TAPE] = {tape, "Drawing: a foot from its inner side, strips of tape run under the arch "
                           "and a strip round the heel holds them."},
    [FIGURE_INSOLE] = {insole, "Drawing: a foot in a shoe, an insole under its heel and arch."},
};

const char *figure_words(figure_kind which)
{
    return figures[which].words;
}

void figure_draw(hw_pdf *pdf, figure_kind which, double x, double y, double width)
{
    const pen with = {pdf, x, y, width / 100.0};
    if (which == FIGURE_NONE) return;
    hw_pdf_tag_figure(pdf, figures[which].words);
    figures[which].draw(&with);
    hw_pdf_untag(pdf);
}
