// SPDX-License-Identifier: GPL-3.0-or-later
// Which side is medial: five signs that do not depend on each other, none of them enough alone.
#include "scan_internal.h"

#include <float.h>

enum { STRIPS = 12 };

// Breadth of what lies low between two shares of the length.
typedef struct breadth {
    double low, high; // y
} breadth;

static const double low_part = 0.16; // height below which toes, ball and heel are widest

static breadth breadth_between(const samples *from, const stance *s, double x0, double x1)
{
    breadth b = {DBL_MAX, -DBL_MAX};
    for (int i = 0; i < from->count; i++) {
        hw_vec3 p = share_of(s, from->places[i]);
        if (p.x < x0 || p.x > x1 || p.z > low_part) continue;
        b.low = fmin(b.low, p.y);
        b.high = fmax(b.high, p.y);
    }
    return b;
}

// Slope of the toe line: the first toes reach further than the fifth, so x falls from medial to
// lateral. Positive where it falls towards -y, that is where medial is +y.
static double toe_line(const samples *from, const stance *s)
{
    breadth b = breadth_between(from, s, 0.6, 1.0);
    double front[STRIPS], sum = 0.0, arm = 0.0;
    for (int k = 0; k < STRIPS; k++) front[k] = 0.6;
    for (int i = 0; i < from->count; i++) {
        hw_vec3 p = share_of(s, from->places[i]);
        int k = (int)floor((p.y - b.low) / (b.high - b.low) * STRIPS);
        if (k >= 0 && k < STRIPS && p.x > front[k]) front[k] = p.x;
    }
    for (int k = 1; k < STRIPS - 1; k++) { // the outermost strips are the rounding of the edges
        double y = (k + 0.5) / STRIPS - 0.5;
        sum += y * front[k];
        arm += y * y;
    }
    return sum / arm;
}

// The ball is widest further forward on the medial side: first head before fifth.
static double ball_slant(const samples *from, const stance *s)
{
    breadth b = breadth_between(from, s, 0.5, 0.85);
    double edge = 0.04 * (b.high - b.low), x[2] = {0.0, 0.0};
    int count[2] = {0, 0};
    for (int i = 0; i < from->count; i++) {
        hw_vec3 p = share_of(s, from->places[i]);
        if (p.x < 0.5 || p.x > 0.85 || p.z > low_part) continue;
        if (p.y > b.low + edge && p.y < b.high - edge) continue;
        bool is_high = p.y >= b.high - edge;
        x[is_high] += p.x;
        count[is_high]++;
    }
    if (!count[0] || !count[1]) return 0.0;
    return x[1] / count[1] - x[0] / count[0];
}

// The instep's height over the forefoot lies medially: moment of height about the middle.
static double instep_ridge(const samples *from, const stance *s)
{
    breadth b = breadth_between(from, s, 0.55, 0.8);
    double middle = 0.5 * (b.low + b.high), width = b.high - b.low, sum = 0.0, weight = 0.0;
    for (int i = 0; i < from->count; i++) {
        hw_vec3 p = share_of(s, from->places[i]);
        double up = hw_vec3_dot(from->normals[i], s->axes.z);
        if (p.x < 0.55 || p.x > 0.8 || up < 0.3) continue;
        sum += p.z * (p.y - middle) / width * up;
        weight += p.z * up;
    }
    return weight > 0.0 ? sum / weight : 0.0;
}

// The sole is higher under the medial arch than under the lateral border.
static double arch_opening(const samples *from, const stance *s)
{
    breadth b = breadth_between(from, s, 0.35, 0.55);
    double middle = 0.5 * (b.low + b.high), width = b.high - b.low;
    double height[2] = {0.0, 0.0};
    int count[2] = {0, 0};
    for (int i = 0; i < from->count; i++) {
        hw_vec3 p = share_of(s, from->places[i]);
        double facing = hw_vec3_dot(from->normals[i], s->axes.z);
        double aside = (p.y - middle) / width;
        if (p.x < 0.35 || p.x > 0.55 || facing > -0.3 || fabs(aside) < 0.05) continue;
        height[aside > 0.0] += p.z;
        count[aside > 0.0]++;
    }
    if (!count[0] || !count[1]) return 0.0;
    return height[1] / count[1] - height[0] / count[0];
}

// Between heel and ball the medial border is hollow, the lateral one straight or bulging.
static double hollow_border(const samples *from, const stance *s)
{
    breadth heel = breadth_between(from, s, 0.1, 0.22), mid = breadth_between(from, s, 0.4, 0.48);
    breadth ball = breadth_between(from, s, 0.62, 0.78);
    double low = 0.5 * (heel.low + ball.low), high = 0.5 * (heel.high + ball.high);
    return (high - mid.high) - (mid.low - low);
}

double judge_side(const samples *from, const stance *s)
{
    // `usual`: about two thirds of what the shared open feet show; own prototype.
    const struct {
        double sign, usual;
    } cues[] = {
        {toe_line(from, s), 0.15},      {ball_slant(from, s), 0.06},
        {instep_ridge(from, s), 0.04},  {arch_opening(from, s), 0.02},
        {hollow_border(from, s), 0.03},
    };
    enum { CUES = sizeof cues / sizeof cues[0] };
    double sum = 0.0;
    for (int i = 0; i < CUES; i++) sum += tanh(cues[i].sign / cues[i].usual);
    return tanh(2.2 * sum / CUES); // four fifths of the signs agreeing give about 0.9
}
