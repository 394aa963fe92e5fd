// SPDX-License-Identifier: GPL-3.0-or-later
//
// geom: triangle surfaces and what can be asked of any of them.
//
//     hw_mesh clean = {0};
//     HW_TRY(hw_mesh_weld(job, &raw, 1e-7, into, &clean));
//     double volume_m3 = hw_mesh_volume(&clean);
//
// It does not know that feet exist, nor files. Points are metres unless a name says otherwise. But
// for hw_mesh_check and hw_mesh_weld, a mesh must have its indices inside its points.
#ifndef HW_GEOM_H
#define HW_GEOM_H

#include "num/num.h"

/// A surface of triangles. Corners run anticlockwise seen from outside.
typedef struct hw_mesh {
    hw_vec3 *points; // point_count, m
    int point_count;
    int (*triangles)[3]; // triangle_count rows of point indices
    int triangle_count;
    unsigned char (*colours)[3]; // point_count rows of red, green, blue, for showing; NULL: none
} hw_mesh;

/// Box of a point set; low > high when there are none.
typedef struct hw_box {
    hw_vec3 low, high;
} hw_box;

/// The smallest box along the axes that holds every vertex; without vertices its low is above its
/// high.
hw_box hw_mesh_box(const hw_mesh *mesh);

/// A copy of the points under `pose`, in `into`; triangles are copied and, where the pose mirrors,
/// turned over so that outside stays outside.
HW_MUST_USE hw_status hw_mesh_place(hw_job *job, const hw_mesh *mesh, const hw_pose *pose,
                                    hw_arena *into, hw_mesh *out);

/// The colours of `mesh`, where it has any, onto a mesh made of its points.
///
///   number  per point of `mesh`: 1 + its place in `out`, 0 where it is gone; NULL: all kept their place
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_mesh_keep_colours(hw_job *job, const hw_mesh *mesh, const int *number,
                                           hw_arena *into, hw_mesh *out);

double hw_mesh_volume(const hw_mesh *mesh); // m3, signed; meaningful for closed surfaces
double hw_mesh_area(const hw_mesh *mesh);   // m2

/// What is wrong with a surface as a solid; all zero for a closed, consistently turned manifold.
typedef struct hw_mesh_faults {
    int open_edges;     // used by one triangle
    int crowded_edges;  // used by more than two
    int clashing_edges; // used by two in the same direction
    int flat_triangles; // area < 1e-14 m2 or a repeated corner
    int double_points;  // points with the same coordinates
    int loose_points;   // used by no triangle
    int bad_indices;    // outside the points
} hw_mesh_faults;

/// Counts them. 3MF core 1.4.0 asks for all of it of a model.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_mesh_check(hw_job *job, const hw_mesh *mesh, hw_mesh_faults *out);

/// Pairs of triangles that go through or touch each other elsewhere than at their common corners.
typedef struct hw_mesh_crossings {
    int count;
    hw_vec3 where; // a corner of the first of them
} hw_mesh_crossings;

/// Counts them, exactly, for corners rounded to 10 nm: what a 3MF file of ours holds.
///
///   fails   HW_BAD_INPUT a point more than 10 m out; HW_NO_MEMORY; HW_CANCELLED
///   cost    a sweep along x: about 30 ms for 32,000 triangles of a device
HW_MUST_USE hw_status hw_mesh_cross(hw_job *job, const hw_mesh *mesh, hw_mesh_crossings *out);

/// One surface from triangles that only share positions: a point joins the earliest kept point
/// closer than `tolerance_m` (exact equality when 0), so that no two kept points are closer than
/// that; triangles that lose a corner so are dropped, unused points too.
///
///   mesh    finite points; triangles with indices beyond them are dropped
///   fails   HW_NO_MEMORY
///   cost    O(points), hashing
HW_MUST_USE hw_status hw_mesh_weld(hw_job *job, const hw_mesh *mesh, double tolerance_m,
                                   hw_arena *into, hw_mesh *out);

/// Connected pieces (triangles sharing a point): a number from 0, largest area first, for each
/// triangle, in `into`.
HW_MUST_USE hw_status hw_mesh_pieces(hw_job *job, const hw_mesh *mesh, hw_arena *into,
                                     int **piece_of_triangle, int *piece_count);

/// Triangles turned alike over shared edges, each patch then so that it faces away from the middle
/// of its piece: outward for a closed surface and for one that is open at the top.
///
///   out           shares the points of `mesh`; triangles in `into`
///   turned_count  how many were turned over; may be NULL
///   fails         HW_NO_MEMORY
HW_MUST_USE hw_status hw_mesh_turn(hw_job *job, const hw_mesh *mesh, hw_arena *into, hw_mesh *out,
                                   int *turned_count);

enum { HW_MESH_HOLES_MAX = 64 };

/// What was filled in.
typedef struct hw_mesh_filled {
    hw_vec3 middles[HW_MESH_HOLES_MAX]; // of the holes closed, m
    double radii[HW_MESH_HOLES_MAX];    // from there to the furthest point of the rim, m
    int open_edges;                     // of the mesh before: used by one triangle
    int filled;                         // holes closed
    int left_open;      // loops of open edges too wide, folded, or touching themselves
    int first_triangle; // triangles from here on are filling
    double area_m2;     // of the filling
} hw_mesh_filled;

/// Closes holes up to a width by patches that carry on the curvature around them.
///
///   mesh    turned alike (hw_mesh_turn); where it has colours, fillings are grey
///   widest  across, m; wider openings stay, as that at the top of a foot
///   out     shares nothing with `mesh` where something was filled, else all
///   fails   HW_NO_MEMORY
///   cost    O(points) a hole, of which 64 at most are filled
HW_MUST_USE hw_status hw_mesh_fill(hw_job *job, const hw_mesh *mesh, double widest, hw_arena *into,
                                   hw_mesh *out, hw_mesh_filled *facts);

/// Adds to each point's sum the values of its neighbours, each neighbour once a triangle.
///
///   of      per point
///   counts  how many values went into each sum; NULL: not asked for
void hw_mesh_add_neighbours(const hw_mesh *mesh, const hw_vec3 *of, hw_vec3 *sums, int *counts);

/// Twice the area of a triangle, as a vector along its normal, m2.
hw_vec3 hw_triangle_normal(const hw_mesh *mesh, int triangle);

/// Adds to each point twice the vector area of the triangles around it: its normal once it is made
/// unit.
void hw_mesh_add_normals(const hw_mesh *mesh, hw_vec3 *normals);

/// The sides that belong to one triangle only, as {from, to} in that triangle's direction, sorted
/// by their lower and then by their higher end.
///
///   fails   HW_BAD_INPUT the triangles are not turned alike, or more than two share a side;
///           HW_NO_MEMORY
HW_MUST_USE hw_status hw_mesh_open_sides(hw_job *job, const hw_mesh *mesh, hw_arena *into,
                                         int (**out)[2], int *count);

/// A copy whose points are freed of noise: waves shorter than a few edges go, longer ones stay, and
/// it does not shrink. Points at open edges stay where they are.
///
///   rounds  of two steps; five leave about a third of the noise of points
///   out     shares all but its points with `mesh`
///   fails   HW_NO_MEMORY, HW_CANCELLED
///   cost    about 15 ns a triangle and round
///   source  from memory: Taubin 1995
HW_MUST_USE hw_status hw_mesh_smooth(hw_job *job, const hw_mesh *mesh, int rounds, hw_arena *into,
                                     hw_mesh *out);

/// A straight piece of a section.
typedef struct hw_segment {
    hw_vec3 a, b;
} hw_segment;

typedef struct hw_section {
    hw_segment *segments; // count, in no order
    int count;
} hw_section;

/// Where a plane cuts the surface.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_mesh_section(hw_job *job, const hw_mesh *mesh, hw_vec3 through,
                                      hw_vec3 normal, hw_arena *into, hw_section *out);

/// Length of a tape drawn tight around points of a plane: the perimeter of their convex hull; twice
/// the distance for two points. `points` get sorted.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_hull_perimeter(hw_job *job, double (*points)[2], int count, double *out);

/// A surface through points without triangles, open where there are none. Points far from all
/// others are left out; noise is smoothed over about two spacings.
///
///   spacing  gets the distance between neighbouring points, in the points' unit
///   fails    HW_BAD_INPUT no surface can be laid through them; HW_NO_MEMORY; HW_CANCELLED
///   cost     about 0.4 s for 25,000 points; more than 120,000 are thinned
///   source   normals: from memory, Hoppe 1992; field: from memory, implicit moving least squares,
///            Shen 2004; triangles: marching tetrahedra
HW_MUST_USE hw_status hw_cloud_surface(hw_job *job, const hw_vec3 *points, int count,
                                       hw_arena *into, hw_mesh *out, double *spacing);

/// Closest points of a surface, over a tree of boxes built once.
typedef struct hw_near hw_near;

/// `out` keeps no reference to `mesh`.
///
///   fails   HW_BAD_INPUT no triangles; HW_NO_MEMORY
///   cost    O(n log n); a query about O(log n)
HW_MUST_USE hw_status hw_near_build(hw_job *job, const hw_mesh *mesh, hw_arena *into,
                                    const hw_near **out);

/// Distance from `point` to the surface, m, exact; `closest` may be NULL.
double hw_near_distance(const hw_near *near, hw_vec3 point, hw_vec3 *closest);

#endif
