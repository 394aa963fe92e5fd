// SPDX-License-Identifier: GPL-3.0-or-later
// The jointed person of the figures: bones from angles, flesh as tapered limbs round them.
#include "figure_pen.h"

#include <string.h>

// Fractions of the standing height; from memory: Winter, Biomechanics, 1979.
static const double thigh = 0.245, shank = 0.246, trunk = 0.288, neck = 0.055, skull = 0.065,
                    upper_arm = 0.186, forearm = 0.19, foot = 0.152;

enum { ROUND = 9 };

static const double degree = 3.14159265358979 / 180.0;

// From `start`, `length` along a direction of degrees from straight down, forward +.
static void step(const double start[2], double degrees, double length, double out[2])
{
    out[0] = start[0] + length * sin(degrees * degree);
    out[1] = start[1] + length * cos(degrees * degree);
}

skeleton body_bones(const body_pose *pose)
{
    const double tall = pose->height;
    skeleton bones;
    memcpy(bones.hip, pose->hip, sizeof bones.hip);
    step(bones.hip, 180.0 - pose->trunk, trunk * tall, bones.shoulder);
    step(bones.shoulder, 180.0 - pose->head, neck * tall, bones.neck);
    step(bones.neck, 180.0 - pose->head, skull * tall, bones.head);
    for (int i = 0; i < 2; i++) {
        const limb_pose *leg = &pose->legs[i], *arm = &pose->arms[i];
        step(bones.hip, leg->upper, thigh * tall, bones.knee[i]);
        step(bones.knee[i], leg->lower, shank * tall, bones.ankle[i]);
        step(bones.ankle[i], leg->end, 0.72 * foot * tall, bones.toe[i]);
        step(bones.shoulder, arm->upper, upper_arm * tall, bones.elbow[i]);
        step(bones.elbow[i], arm->lower, forearm * tall, bones.hand[i]);
    }
    return bones;
}

// The outline of a limb that tapers from one round end to another.
static int taper(const double from[2], const double to[2], double r_from, double r_to,
                 double (*out)[2])
{
    double along = atan2(to[1] - from[1], to[0] - from[0]);
    double length = hypot(to[0] - from[0], to[1] - from[1]);
    double lean = length > fabs(r_from - r_to) ? acos((r_from - r_to) / length) : 1.5707963267949;
    int count = 0;
    for (int i = 0; i < ROUND; i++) { // round the far end, then round the near one
        double angle = along - lean + 2.0 * lean * i / (ROUND - 1);
        out[count][0] = to[0] + r_to * cos(angle);
        out[count++][1] = to[1] + r_to * sin(angle);
    }
    for (int i = 0; i < ROUND; i++) {
        double angle = along + lean + (6.2831853071796 - 2.0 * lean) * i / (ROUND - 1);
        out[count][0] = from[0] + r_from * cos(angle);
        out[count++][1] = from[1] + r_from * sin(angle);
    }
    memcpy(out[count], out[0], sizeof out[0]);
    return count + 1;
}

typedef struct part {
    const double *from, *to;
    double r_from, r_to, shade;
} part;

// Parts of one limb: first all rims, then all flesh, so that no line crosses a joint.
static void draw_rims(const pen *with, const part *parts, int count)
{
    double points[2 * ROUND + 1][2];
    for (int i = 0; i < count; i++) {
        int n = taper(parts[i].from, parts[i].to, parts[i].r_from, parts[i].r_to, points);
        pen_line(with, (const double(*)[2])points, n, 2.0 * PEN_RIM, PEN_DARK);
    }
}

static void draw_flesh(const pen *with, const part *parts, int count)
{
    double points[2 * ROUND + 1][2];
    for (int i = 0; i < count; i++) {
        int n = taper(parts[i].from, parts[i].to, parts[i].r_from, parts[i].r_to, points);
        pen_area(with, (const double(*)[2])points, n, parts[i].shade);
    }
}

static void draw_limb(const pen *with, const part *parts, int count)
{
    draw_rims(with, parts, count);
    draw_flesh(with, parts, count);
}

// A bare foot from the side, {towards the toes, towards the sole}, in lengths of the foot from the
// ankle.
static void draw_foot(const pen *with, const double ankle[2], double toes, double length)
{
    static const double outline[][2] = {{-0.13, -0.12}, {-0.22, 0.08}, {-0.24, 0.20}, {-0.17, 0.26},
                                        {0.05, 0.25},   {0.35, 0.25},  {0.60, 0.26},  {0.72, 0.25},
                                        {0.74, 0.19},   {0.62, 0.13},  {0.42, 0.07},  {0.22, -0.04},
                                        {0.13, -0.14},  {-0.13, -0.12}};
    double points[14][2];
    double x[2] = {sin(toes * degree), cos(toes * degree)}; // towards the toes
    double y[2] = {-x[1], x[0]};                            // towards the sole
    for (int i = 0; i < 14; i++)
        for (int k = 0; k < 2; k++)
            points[i][k] = ankle[k] + length * (outline[i][0] * x[k] + outline[i][1] * y[k]);
    pen_shape(with, (const double(*)[2])points, 14, PEN_SKIN);
}

static void draw_leg(const pen *with, const body_pose *pose, int which)
{
    const skeleton bones = body_bones(pose);
    const double tall = pose->height;
    double hem[2];
    for (int k = 0; k < 2; k++) // trousers end below the knee
        hem[k] = bones.knee[which][k] + 0.42 * (bones.ankle[which][k] - bones.knee[which][k]);
    const part parts[] = {
        {hem, bones.ankle[which], 0.036 * tall, 0.022 * tall, PEN_SKIN},
        {bones.hip, bones.knee[which], 0.066 * tall, 0.044 * tall, PEN_CLOTH},
        {bones.knee[which], hem, 0.044 * tall, 0.042 * tall, PEN_CLOTH},
    };
    draw_rims(with, parts, 3);
    draw_foot(with, bones.ankle[which], pose->legs[which].end, foot * tall);
    draw_flesh(with, parts, 3); // the shin runs into the foot: no line between them
}

void body_arm(const pen *with, const body_pose *pose, int which)
{
    const skeleton bones = body_bones(pose);
    const double tall = pose->height;
    double cuff[2];
    for (int k = 0; k < 2; k++)
        cuff[k] = bones.shoulder[k] + 0.75 * (bones.elbow[which][k] - bones.shoulder[k]);
    const part parts[] = {
        {bones.elbow[which], bones.hand[which], 0.026 * tall, 0.019 * tall, PEN_SKIN},
        {cuff, bones.elbow[which], 0.028 * tall, 0.026 * tall, PEN_SKIN},
        {bones.shoulder, cuff, 0.042 * tall, 0.034 * tall, PEN_SHIRT},
    };
    draw_limb(with, parts, 3);
}

static void draw_head(const pen *with, const skeleton *bones, double tall)
{
    const part parts[] = {{bones->shoulder, bones->neck, 0.034 * tall, 0.03 * tall, PEN_SKIN}};
    double up[2] = {bones->head[0] - bones->neck[0], bones->head[1] - bones->neck[1]};
    double length = hypot(up[0], up[1]), radius = skull * tall * 1.02;
    up[0] /= length, up[1] /= length;
    const double ahead[2] = {-up[1], up[0]}; // to the face
    draw_limb(with, parts, 1);
    pen_disc(with, bones->head[0], bones->head[1], radius, PEN_SKIN);
    // Hair: over the crown and down the back of the head.
    static const double hair[][2] = {{0.62, 0.72}, {0.20, 0.55},  {-0.15, 0.25}, {-0.35, -0.35},
                                     {-0.8, -0.6}, {-1.02, 0.05}, {-0.75, 0.75}, {0.0, 1.06},
                                     {0.55, 0.88}, {0.62, 0.72}};
    double points[10][2];
    for (int i = 0; i < 10; i++)
        for (int k = 0; k < 2; k++)
            points[i][k] = bones->head[k] + radius * (hair[i][0] * ahead[k] + hair[i][1] * up[k]);
    pen_shape(with, (const double(*)[2])points, 10, 0.35);
}

static void draw_load(const pen *with, const body_pose *pose, const skeleton *bones)
{
    double places[2][2];
    const double back[2] = {-cos(pose->trunk * degree), -sin(pose->trunk * degree)};
    for (int i = 0; i < 2; i++)
        for (int k = 0; k < 2; k++)
            places[i][k] = bones->hip[k] +
                           (i ? 0.88 : 0.35) * (bones->shoulder[k] - bones->hip[k]) +
                           0.105 * pose->height * back[k];
    const part parts[] = {
        {places[0], places[1], 0.062 * pose->height, 0.055 * pose->height, PEN_GHOST}};
    draw_limb(with, parts, 1);
}

void body_draw(const pen *with, const body_pose *pose)
{
    const skeleton bones = body_bones(pose);
    const double tall = pose->height;
    const part parts[] = {{bones.hip, bones.shoulder, 0.070 * tall, 0.064 * tall, PEN_SHIRT}};
    body_arm(with, pose, 0);
    draw_leg(with, pose, 0);
    if (pose->has_load) draw_load(with, pose, &bones);
    draw_head(with, &bones, tall);
    draw_limb(with, parts, 1);
    if (!pose->has_crossed_leg) draw_leg(with, pose, 1);
    body_arm(with, pose, 1);
}
