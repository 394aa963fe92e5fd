// SPDX-License-Identifier: GPL-3.0-or-later
// Points in a plane's worth of space: neighbours by cells, and which way each faces. Internal.
#ifndef HW_GEOM_CLOUD_H
#define HW_GEOM_CLOUD_H

#include "geom/geom.h"

/// Points sorted into cubic cells as wide as the radius they are searched by.
typedef struct cloud {
    const hw_vec3 *points;
    hw_vec3 *normals; // unit; zero where too few neighbours tell
    int count;
    hw_vec3 low;
    double radius;
    int cells[3];
    int *starts; // per cell and one more: where its points begin in `order`
    int *order;
} cloud;

/// Sorts the points. The cells are made wider where there would be more than some millions.
HW_MUST_USE hw_status cloud_sort(hw_job *job, const hw_vec3 *points, int count, double radius,
                                 hw_arena *into, cloud *out);

/// Points within the radius of `at`, at most `most`, `at` itself included where it is a point.
int cloud_near(const cloud *of, hw_vec3 at, int *found, int most);

/// Normals by the plane through each point's neighbours, then turned alike from point to point
/// along the flattest ways, outward at the point furthest from the middle.
///
///   source  from memory: Hoppe 1992, surface reconstruction from unorganized points
HW_MUST_USE hw_status cloud_face(hw_job *job, cloud *of, hw_arena *into);

#endif
