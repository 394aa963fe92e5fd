// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of orthosis: the chart of the sole, the outline, the grid.
//
// The chart unrolls the sole into a plane. A centre line runs inside the foot, from the middle of the
// heel (x = heel.x) to the ball. In front of its start, a point belongs to the cross section x = a
// and to the angle b / CHART_RADIUS from straight down, lateral +. Behind its start, sections fan
// out around the heel: (a - heel.x, b) are polar coordinates, direction seen from above and angle
// from straight down times CHART_RADIUS. The two join smoothly, without a pole, and steep walls of
// the cup get as many samples as the flat of the sole.
#ifndef HW_ORTHOSIS_INTERNAL_H
#define HW_ORTHOSIS_INTERNAL_H

#include "orthosis/orthosis.h"

#define CHART_RADIUS 0.040 // m; chart lengths are about surface lengths for a sole that far away
#define CHART_STEP 0.001   // m in the chart
#define ANGLE_MAX 2.0      // rad from straight down: 115 degrees

/// 0 below 0, 1 above 1, with two smooth derivatives.
static inline double smooth_step(double t)
{
    t = fmin(1.0, fmax(0.0, t));
    return t * t * t * (10.0 - 15.0 * t + 6.0 * t * t);
}

/// 1 within [from, to], smoothly 0 a `rim` outside of it.
static inline double plateau(double t, double from, double to, double rim)
{
    return smooth_step((t - from + rim) / rim) * (1.0 - smooth_step((t - to) / rim));
}

/// The centre line and what it was made from, m.
typedef struct sole_axis {
    hw_vec3 heel, ball; // ends of the centre line
    double arch_x, arch_rise;
    double reach; // heel back to first metatarsal head along x: the foot's unit of length
} sole_axis;

/// What the scan shows at a place.
typedef enum sole_sight {
    SOLE_HIDDEN = 0, // nothing: filled
    SOLE_SHOWN,
    SOLE_FLAT, // by design: the flat under heads and toes
} sole_sight;

typedef struct sole_chart {
    sole_axis axis;
    int na, nb;
    double a_first, b_first; // chart coordinates of sample (0, 0)
    double *distance;        // [ia * nb + ib], m from the centre line; 0 where nothing was seen
    unsigned char *seen;     // sole_sight
    hw_vec3 *points;         // filled, smoothed, without undercut; foot frame
    double heel_low;         // lowest point of the heel, z
} sole_chart;

typedef struct chart_place {
    double a, b;
} chart_place;

sole_axis sole_axis_of(const hw_foot *foot);
hw_vec3 sole_centre(const sole_axis *axis, double x);

/// Direction from the centre line for a place; the centre it starts from goes to `centre`.
hw_vec3 sole_ray(const sole_axis *axis, chart_place place, hw_vec3 *centre);

/// Angle from straight down, rad, and the place of a point.
double sole_angle(const sole_axis *axis, chart_place place);
chart_place sole_place_of(const sole_axis *axis, hw_vec3 point);

/// The solid itself goes under heads and toes; a hard shell leaves that to its cover.
static inline bool order_is_long(const hw_orthosis_order *order)
{
    return (order->length == HW_ORTHOSIS_SULCUS || order->length == HW_ORTHOSIS_FULL) &&
           hw_shell_row_of(order->material)->is_soft;
}

/// Thickness at the rim, m: a block's is feathered, so that it does not end in a step.
static inline double order_rim(const hw_orthosis_order *order)
{
    const double feathered = 0.003;
    bool is_block = hw_shell_row_of(order->material)->is_block;
    return is_block ? feathered : order->shell_thickness_m;
}

/// What the scan shows: distances along all rays.
HW_MUST_USE hw_status sole_cast(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                                hw_arena *into, sole_chart *out);

/// Holes closed, noise smoothed, points made.
HW_MUST_USE hw_status sole_finish(hw_job *job, sole_chart *chart);

/// The finished surface, cubic between samples.
hw_vec3 sole_point(const sole_chart *chart, chart_place place);
sole_sight sole_seen(const sole_chart *chart, chart_place place);

enum { GRID_U = 121, GRID_V = 61 }; // heel to distal, medial to lateral; divisible for elements

static inline int grid_index(int i, int j)
{
    return i * GRID_V + j;
}

/// How far along the device a place lies: 0 at the middle of the heel and behind, 1 at the heads.
static inline double along_device(const sole_chart *chart, chart_place place)
{
    return (place.a - chart->axis.heel.x) / (chart->axis.ball.x - chart->axis.heel.x);
}

/// Places of the device's grid in the chart, GRID_U * GRID_V: the heel's rim at i = 0 around the back,
/// the distal edge behind the heads at the last i, edges from the cup to the first metatarsal's
/// bisection medially and along the border laterally.
///
///   fails   HW_NO_ANSWER the cup is deeper than the scan's heel
HW_MUST_USE hw_status trim_grid(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order,
                                const sole_chart *chart, chart_place *out);

enum { GRID_LOOP = 2 * (GRID_U - 1) + 2 * (GRID_V - 1) }; // points around the grid

/// Grid index of the k-th point around, anticlockwise seen from above, from the medial heel corner.
int grid_loop(int k);

/// Triangles of a grid, facing up; diagonals keep away from the grid's blunt corners.
enum { GRID_TRIANGLES = 2 * (GRID_U - 1) * (GRID_V - 1) };
void grid_triangles(int (*out)[3]);

/// Unit normals at grid points, pointing out of the foot.
HW_MUST_USE hw_status grid_normals(hw_job *job, const hw_vec3 *points, hw_arena *into,
                                   hw_vec3 **out);

/// Where the corrections of one device lie.
typedef struct shape_plan {
    const hw_foot *foot;
    const hw_orthosis_order *order;
    const sole_chart *chart;
    const chart_place *places; // grid
} shape_plan;

/// Raises the arch of a sole that does not show it to the height given by hand; nothing where none is.
///
///   fails   HW_BAD_INPUT the scan shows it higher
HW_MUST_USE hw_status shape_raise_arch(hw_job *job, const shape_plan *of, hw_vec3 *top);

/// What moves the whole wall: expansions, fill, skive, tilts. The bottom follows.
void shape_correct(const shape_plan *of, hw_vec3 *top);

/// How far a place sinks by groove and recess (+) or rises by dome and bar (-), m along the outward
/// normal; `wider`: how much further out hollows reach, so that the bottom keeps the wall.
double shape_hollow(const shape_plan *of, hw_vec3 at, double wider);
double shape_pad(const shape_plan *of, hw_vec3 at, int column);

/// The lower surface: one thickness out, hollows followed, with its bases; then hollows and pads on
/// the top.
HW_MUST_USE hw_status shape_finish(hw_job *job, const shape_plan *of, hw_vec3 *top, hw_arena *into,
                                   hw_vec3 **bottom);

/// Top, bottom and a full-round rim as one closed mesh.
HW_MUST_USE hw_status solid_close(hw_job *job, const hw_vec3 *top, const hw_vec3 *bottom,
                                  hw_arena *into, hw_mesh *out);

/// Ranges and contradictions that show without the surface.
///
///   fails   HW_BAD_INPUT
HW_MUST_USE hw_status order_check(hw_job *job, const hw_foot *foot, const hw_orthosis_order *order);

/// Fills in volume, mass, walls, deviations, gaps and outline of a device whose shape is made.
///
///   shown   grid: sole_sight
HW_MUST_USE hw_status measure_device(hw_job *job, const hw_foot *foot,
                                     const hw_orthosis_order *order, const unsigned char *shown,
                                     hw_orthosis *device);

/// Every cell of the grid is a brick whose Jacobian is positive at all points it is integrated at.
///
///   fails   HW_NO_ANSWER, with where
HW_MUST_USE hw_status grid_check(hw_job *job, const hw_vec3 *top, const hw_vec3 *bottom);

#endif
