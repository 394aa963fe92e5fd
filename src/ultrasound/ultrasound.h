// SPDX-License-Identifier: GPL-3.0-or-later
//
// ultrasound: lengths on an ultrasound picture, and an assistant that traces the two edges of the
// plantar fascia. Metres wherever a picture's scale can be trusted, a refusal wherever not.
//
//     hw_us_ask ask = {.frame = 0};                                  // or with a ruler
//     HW_TRY(hw_us_measure(job, &image, &ask, ends, &caliper));      // caliper.length_m
//     HW_TRY(hw_us_trace(job, &image, &ask, &box, into, &trace));    // both edges, thickness
//     HW_TRY(hw_us_accept(job, &trace, (const bool[2]){true, true}, &reading)); // after looking
//
// The assistant is not validated on plantar fascia: no open picture of one was found. It was tried
// on made-up pictures and on two of calf muscle (docs/ultrasound.md). It proposes; a person accepts
// both edges or corrects them, and only then is there a reading.
#ifndef HW_ULTRASOUND_H
#define HW_ULTRASOUND_H

#include "imagefile/imagefile.h"
#include "num/num.h"

/// A place on the picture, pixels from the top left pixel's centre.
typedef struct hw_us_point {
    double x, y;
} hw_us_point;

/// Where the scale comes from.
typedef enum hw_us_scale_from {
    HW_US_SCALE_REGION,  // the file's ultrasound region
    HW_US_SCALE_SPACING, // the file's pixel spacing
    HW_US_SCALE_RULER,   // two marks a person set on the picture's depth scale
} hw_us_scale_from;

/// "region of the file", "pixel spacing of the file", "depth scale marked by hand".
const char *hw_us_scale_word(hw_us_scale_from from);

/// How a picture is to be measured.
typedef struct hw_us_ask {
    int frame; // 0 is the first
    bool has_ruler;
    hw_us_point ruler[2];      // two marks of the depth scale
    double ruler_m;            // what it says lies between them
    bool is_spacing_confirmed; // a person says that the file's pixel spacing is meant for this
} hw_us_ask;

typedef struct hw_us_scale {
    hw_us_scale_from from;
    double x_m, y_m;     // of one pixel
    int region;          // of the file, or -1
    double relative_sd;  // of a ruler marked by hand; 0 where the file states the scale
    const char *warning; // static text, or NULL
} hw_us_scale;

/// The scale that holds at all of these places.
///
///   fails   HW_BAD_INPUT a place outside the picture, in no region or in another one than the first,
///           in two with different scales; no scale; a ruler that contradicts the file, or shorter than 40
///           pixels. HW_BAD_FORMAT a region that does not fit the picture or its units
///   source  DICOM PS3.3 C.8.5.5; order of sources: docs/ultrasound.md
HW_MUST_USE hw_status hw_us_scale_at(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                                     const hw_us_point *places, int count, hw_us_scale *out);

typedef struct hw_us_caliper {
    hw_us_point ends[2];
    double length_m;
    double sd_m; // half a pixel at each end, and the ruler's
    hw_us_scale scale;
} hw_us_caliper;

/// Distance of two places.
///
///   fails   as hw_us_scale_at
HW_MUST_USE hw_status hw_us_measure(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                                    const hw_us_point ends[2], hw_us_caliper *out);

/// What an edge of the band is taken to look like.
typedef enum hw_us_edge {
    HW_US_EDGE_STEP, // brightness changes from one side to the other
    HW_US_EDGE_LINE, // a bright line
} hw_us_edge;

enum { HW_US_ANCHORS = 16, HW_US_COLUMNS_MAX = 400 };

/// A correction: this edge runs through this place.
typedef struct hw_us_anchor {
    int edge; // 0 superficial (upper), 1 deep (lower)
    hw_us_point at;
} hw_us_anchor;

/// Where to look: a box around the band, drawn by a person, and the place of the reading in it.
typedef struct hw_us_box {
    double left, top, right, bottom; // pixels
    double site_x;                   // where the thickness counts, pixels
    hw_us_edge edge;
    double least_m, most_m; // thickness looked for
    hw_us_anchor anchors[HW_US_ANCHORS];
    int anchor_count;
} hw_us_box;

/// A box's other fields: steps, 1 to 12 mm, the site in the middle.
hw_us_box hw_us_box_default(double left, double top, double right, double bottom);

/// Both edges from left to right.
typedef struct hw_us_traced {
    int column_count;
    double x[HW_US_COLUMNS_MAX];    // pixels
    double y[2][HW_US_COLUMNS_MAX]; // pixels: superficial, deep
    hw_band thickness_m;            // at the site, across the band: over the repeated traces
    double sd_m;                    // of the repeats, with the pixel's and the ruler's share
    double least_m, most_m, mean_m; // along the trace
    double echo_ratio; // brightness between the edges over that of the 2 mm above; unknown: < 0
    double dark_share; // of the area between the edges, darker than half of that; unknown: < 0
    double strength;   // of the edges, in units of the box's own grain: speckle alone gives 1.5
    int repeat_count;
    hw_us_edge edge;
    bool brighter_inside[2]; // at each edge, of steps
    hw_us_scale scale;
    hw_us_box box;
} hw_us_traced;

/// Traces both edges: the pair of paths through the box with the strongest edges and the least
/// bending, found exactly by dynamic programming; then again from boxes and windows a little
/// changed.
///
///   fails   as hw_us_scale_at; HW_BAD_INPUT a box too small for the thickness looked for, anchors
///           outside it or contradicting one another; HW_NO_ANSWER no two edges stand out there
///   cost    about 0.3 core-s; same input, same result
HW_MUST_USE hw_status hw_us_trace(hw_job *job, const hw_image *image, const hw_us_ask *ask,
                                  const hw_us_box *box, hw_arena *into, hw_us_traced **out);

/// The usual place and the usual plane of the fascia's thickness, and others that are told apart.
typedef enum hw_us_site {
    HW_US_SITE_UNKNOWN,
    HW_US_SITE_ORIGIN,  // where the fascia passes the front edge of the heel bone's underside
    HW_US_SITE_MIDFOOT, // half way to the heads
    HW_US_SITE_OTHER,
} hw_us_site;

typedef enum hw_us_plane {
    HW_US_PLANE_UNKNOWN,
    HW_US_PLANE_LONG, // along the fascia
    HW_US_PLANE_SHORT,
} hw_us_plane;

const char *hw_us_site_word(hw_us_site site);    // "heel bone's front edge", "midfoot", "other"
const char *hw_us_plane_word(hw_us_plane plane); // "longitudinal", "transverse"

/// A thickness a person stands for.
typedef struct hw_us_reading {
    hw_side side;
    hw_us_site site;
    hw_us_plane plane;
    double thickness_m, sd_m;
    bool is_accepted; // both edges
} hw_us_reading;

/// The trace as a reading, side, site and plane still to be filled in.
///
///   accepted   superficial edge, deep edge: a person has looked at each
///   fails      HW_BAD_INPUT one of them is not accepted
HW_MUST_USE hw_status hw_us_accept(hw_job *job, const hw_us_traced *trace, const bool accepted[2],
                                   hw_us_reading *out);

typedef struct hw_us_change {
    double change_m;        // later less earlier
    double half_width_95_m; // of tracing, pixel, scale and blur: probe and hand are not in it
    bool is_beyond_tracing;
} hw_us_change;

/// What became of the thickness between two visits.
///
///   fails   HW_BAD_INPUT another side, site or plane, one of them unknown, or one not accepted
HW_MUST_USE hw_status hw_us_compare(hw_job *job, const hw_us_reading *earlier,
                                    const hw_us_reading *later, hw_us_change *out);

/// Pixels of a frame with the trace drawn into a copy: edges in two colours, the site, the box.
HW_MUST_USE hw_status hw_us_draw(hw_job *job, const hw_image *image, int frame,
                                 const hw_us_traced *trace, hw_arena *into, unsigned char **out);

#endif
