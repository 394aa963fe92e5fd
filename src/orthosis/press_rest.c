// SPDX-License-Identifier: GPL-3.0-or-later
// How the device stands by itself: the facet of its lower hull under the middle of the load.
#include "press_internal.h"

static const double touching = 1e-9; // m; a point this little below the plane is on it

static bool plane_through(const hw_vec3 *const corners[3], press_plane *out)
{
    double a[9], b[3];
    for (int k = 0; k < 3; k++) {
        a[3 * k] = 1.0, a[3 * k + 1] = corners[k]->x, a[3 * k + 2] = corners[k]->y;
        b[k] = corners[k]->z;
    }
    if (!hw_solve_small(3, a, b)) return false;
    *out = (press_plane){b[0], b[1], b[2]};
    return true;
}

static double twice_area(hw_vec3 a, hw_vec3 b, hw_vec3 c)
{
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

static bool surrounds(const hw_vec3 *const corners[3], hw_vec3 centre)
{
    double a = twice_area(*corners[0], *corners[1], centre);
    double b = twice_area(*corners[1], *corners[2], centre);
    double c = twice_area(*corners[2], *corners[0], centre);
    return (a >= 0.0 && b >= 0.0 && c >= 0.0 && a + b + c > 0.0) ||
           (a <= 0.0 && b <= 0.0 && c <= 0.0 && a + b + c < 0.0);
}

static const hw_vec3 *lowest_below(const hw_vec3 *points, int count, const press_plane *plane)
{
    const hw_vec3 *lowest = NULL;
    double depth = touching;
    for (int k = 0; k < count; k++) {
        const hw_vec3 *p = &points[k];
        double below = plane->at + plane->along_x * p->x + plane->along_y * p->y - p->z;
        if (below > depth) depth = below, lowest = p;
    }
    return lowest;
}

// Each exchange lowers the plane at the centre, so that no three corners come back.
hw_status press_rest(hw_job *job, const hw_vec3 *points, int count, hw_vec3 centre,
                     press_plane *out)
{
    const hw_vec3 *corners[3] = {points, points, points};
    press_plane plane = {0};
    for (int k = 0; k < count; k++) { // a wide first triangle: hindmost, and foremost on each side
        const hw_vec3 *p = &points[k];
        if (p->x < corners[0]->x) corners[0] = p;
        if (p->x + 0.3 * p->y > corners[1]->x + 0.3 * corners[1]->y) corners[1] = p;
        if (p->x - p->y > corners[2]->x - corners[2]->y) corners[2] = p;
    }
    for (int round = 0; round < 1000; round++) {
        if (!surrounds(corners, centre) || !plane_through(corners, &plane)) break;
        const hw_vec3 *lower = lowest_below(points, count, &plane);
        if (!lower) {
            *out = plane;
            return HW_OK;
        }
        for (int k = 0; k < 3; k++) {
            const hw_vec3 *leaves = corners[k];
            corners[k] = lower;
            if (surrounds(corners, centre)) break;
            corners[k] = leaves;
        }
    }
    return hw_fail(job, HW_NO_ANSWER, "the shell finds no stand on a floor");
}

double press_foot_length(const hw_foot *foot)
{
    return (foot->landmarks.mth1.x - foot->landmarks.heel_back.x) / 0.73;
}

hw_status press_ground(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                       press_plane *out)
{
    hw_vec3 centre = {foot->landmarks.heel_back.x + 0.22 * press_foot_length(foot), 0.0, 0.0};
    return press_rest(job, device->bottom, device->nu * device->nv, centre, out);
}
