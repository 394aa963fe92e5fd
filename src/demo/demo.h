// SPDX-License-Identifier: GPL-3.0-or-later
//
// demo: invented feet from a parametric surface, as a scanner might have seen them.
//
//     hw_demo_foot_order order = hw_demo_foot_order_default();
//     order.side = HW_SIDE_RIGHT, order.noise_m = 0.0003, order.turned = true;
//     HW_TRY(hw_demo_foot(job, &order, into, &scan, &truth));
//
// The surface is swept through cross sections; lengths, breadths and heights are exact by
// construction, so a reader of scans can be tested against `truth`. It is invented: it says nothing
// of how feet are, and never serves as a reference for a clinical value.
#ifndef HW_DEMO_H
#define HW_DEMO_H

#include "foot/foot.h"
#include "imagefile/imagefile.h"

typedef enum hw_demo_toes {
    HW_DEMO_TOES_FIRST_LONGEST = 0,
    HW_DEMO_TOES_SECOND_LONGEST,
    HW_DEMO_TOES_SQUARE, // first three about alike
} hw_demo_toes;

/// The foot, then what the scanner did to it.
typedef struct hw_demo_foot_order {
    hw_side side; // left or right
    hw_loading loading;
    double foot_length_m;      // 0.15..0.35
    double ball_breadth_m;     // 0.30..0.50 of the length
    double heel_breadth_m;     // 0.45..0.95 of the ball breadth
    double arch_apex_height_m; // 0.001..0.04; along the line drawn at HW_DEMO_ARCH_LINE
    double dorsum_height_m;    // 0.15..0.38 of the length; at half foot length
    hw_demo_toes toes;
    uint64_t seed;
    double noise_m; // sd of each coordinate, 0..0.005
    int holes;      // round ones of 3 to 8 mm radius, 0..100
    bool open_top;  // cut open at the ankle instead of closed
    bool floor;     // a piece of the floor it stands on
    int strays;     // loose bits around it, 0..200
    int triangles;  // aimed at, of the foot alone: 2000..400000
    bool turned;    // anywhere, in any direction, instead of in its own side's foot frame
    double m_per_unit;
} hw_demo_foot_order;

/// A left foot of 260 mm, hanging, 30000 triangles, no noise, metres.
hw_demo_foot_order hw_demo_foot_order_default(void);

/// Where the second metatarsal head lies across the ball, from medial (0) to lateral (1); and how
/// far from the middle line to the medial edge the arch is measured.
#define HW_DEMO_SECOND_HEAD 0.42
#define HW_DEMO_ARCH_LINE 0.4

/// What holds of the foot by construction, in the foot frame.
typedef struct hw_demo_truth {
    hw_side side;
    hw_landmarks landmarks;
    hw_foot_measures measures;
    hw_pose from_scan; // scan coordinates -> foot frame; mirrors for a right foot
} hw_demo_truth;

/// A scan of it: points shared between triangles, in units of `m_per_unit`.
///
///   fails   HW_BAD_INPUT a value outside its range, side unknown; HW_NO_MEMORY
///   cost    O(triangles); about 30 ms for 90 000
HW_MUST_USE hw_status hw_demo_foot(hw_job *job, const hw_demo_foot_order *order, hw_arena *into,
                                   hw_mesh *scan, hw_demo_truth *truth);

/// The same foot already posed, without floor and strays; noise and holes stay.
///
///   out     from_scan leads from the scan that hw_demo_foot makes of the same order
///   fails   as hw_demo_foot
HW_MUST_USE hw_status hw_demo_posed(hw_job *job, const hw_demo_foot_order *order, hw_arena *into,
                                    hw_foot *out);

/// An invented B-mode picture of a band between two layers, as a linear probe shows a fascia
/// between the heel's fat pad and the muscle: fully developed speckle, compressed as machines do.
typedef struct hw_demo_band_order {
    double width_m, height_m, pixel_m;
    double depth_m;              // of the upper edge at the left
    double thickness_m;          // across the band, everywhere
    double slope;                // of the band, rising to the right: negative
    double sag_m;                // of its middle, downwards
    double above, inside, below; // mean brightness, dB, 0 the brightest, -60 black
    double line;                 // of a bright line along each edge, dB; -60: none
    uint64_t seed;
} hw_demo_band_order;

/// 25 x 20 mm, a band of 4 mm brighter than both layers, level, no lines.
hw_demo_band_order hw_demo_band_order_default(void);

/// Paints it; grey, one frame, without scale, as a screen grab is.
HW_MUST_USE hw_status hw_demo_band(hw_job *job, const hw_demo_band_order *order, hw_arena *into,
                                   hw_image *out);

/// Depth of an edge (0 upper, 1 lower) at a distance from the left, m.
double hw_demo_band_edge(const hw_demo_band_order *order, int edge, double x_m);

#endif
