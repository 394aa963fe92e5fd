// SPDX-License-Identifier: GPL-3.0-or-later
// A floor, table or foam rim that hangs together with the foot: one plane that reaches beyond it.
#include "scan_internal.h"

#include <float.h>
#include <string.h>

enum { TRIES = 400, DIRECTIONS = 72 };

static const double plane_share = 0.003;   // thickness that counts as the plane, of the scale
static const double facing_least = 0.94;   // cosine, twenty degrees
static const double area_least = 0.12;     // of the surface, to be worth a look
static const double beyond_least = 0.25;   // of the plane's places outside the rest's outline
static const double one_side_least = 0.97; // of the rest on one side of the plane

typedef struct plane {
    hw_vec3 normal;
    double height;
    int count; // samples in it
} plane;

static bool is_in(const plane *p, hw_vec3 place, hw_vec3 normal, double thick)
{
    return fabs(hw_vec3_dot(place, p->normal) - p->height) < thick &&
           fabs(hw_vec3_dot(normal, p->normal)) > facing_least;
}

static int count_in(const samples *from, const plane *p, double thick)
{
    int count = 0;
    for (int i = 0; i < from->count; i++)
        count += is_in(p, from->places[i], from->normals[i], thick);
    return count;
}

// The plane through one sample, across its normal, that most others share; then laid evenly through
// those.
static plane best_plane(const samples *from, double thick)
{
    plane best = {0};
    int step = from->count / TRIES + 1;
    for (int i = 0; i < from->count; i += step) {
        plane p = {from->normals[i], hw_vec3_dot(from->places[i], from->normals[i]), 0};
        p.count = count_in(from, &p, thick);
        if (p.count > best.count) best = p;
    }
    for (int round = 0; round < 3 && best.count > 10; round++) {
        hw_vec3 mean = {0};
        double spread[9] = {0}, values[3], v[9];
        int count = 0;
        for (int pass = 0; pass < 2; pass++)
            for (int i = 0; i < from->count; i++) {
                if (!is_in(&best, from->places[i], from->normals[i], thick)) continue;
                if (pass == 0) {
                    mean = hw_vec3_add(mean, from->places[i]);
                    count++;
                    continue;
                }
                hw_vec3 d = hw_vec3_sub(from->places[i], hw_vec3_scale(mean, 1.0 / count));
                const double arm[3] = {d.x, d.y, d.z};
                for (int k = 0; k < 9; k++) spread[k] += arm[k / 3] * arm[k % 3];
            }
        if (count < 10) break;
        hw_eigen3(spread, values, v);
        best.normal = hw_vec3_unit((hw_vec3){v[0], v[3], v[6]});
        best.height = hw_vec3_dot(hw_vec3_scale(mean, 1.0 / count), best.normal);
        best.count = count_in(from, &best, thick);
    }
    return best;
}

// How far the rest reaches in each direction of the plane, from its middle: its outline.
typedef struct outline {
    hw_vec3 u, v;
    double middle[2], reach[DIRECTIONS];
    int count;
} outline;

static outline outline_of_rest(const samples *from, const plane *p, double thick)
{
    outline o = {0};
    hw_vec3 aside = fabs(p->normal.x) < 0.7 ? (hw_vec3){1, 0, 0} : (hw_vec3){0, 1, 0};
    o.u = hw_vec3_unit(hw_vec3_cross(aside, p->normal));
    o.v = hw_vec3_cross(p->normal, o.u);
    for (int k = 0; k < DIRECTIONS; k++) o.reach[k] = -DBL_MAX;
    for (int i = 0; i < from->count; i++) {
        if (is_in(p, from->places[i], from->normals[i], thick)) continue;
        double u = hw_vec3_dot(from->places[i], o.u), v = hw_vec3_dot(from->places[i], o.v);
        o.count++;
        for (int k = 0; k < DIRECTIONS; k++) {
            double turn = 2.0 * HW_PI * k / DIRECTIONS;
            o.reach[k] = fmax(o.reach[k], u * cos(turn) + v * sin(turn));
        }
    }
    return o;
}

static double share_beyond(const samples *from, const plane *p, const outline *o, double thick)
{
    int beyond = 0;
    for (int i = 0; i < from->count; i++) {
        if (!is_in(p, from->places[i], from->normals[i], thick)) continue;
        double u = hw_vec3_dot(from->places[i], o->u), v = hw_vec3_dot(from->places[i], o->v);
        bool is_beyond = false;
        for (int k = 0; k < DIRECTIONS && !is_beyond; k++) {
            double turn = 2.0 * HW_PI * k / DIRECTIONS;
            is_beyond = u * cos(turn) + v * sin(turn) > o->reach[k] + thick;
        }
        beyond += is_beyond;
    }
    return p->count ? (double)beyond / p->count : 0.0;
}

static bool lies_on_one_side(const samples *from, const plane *p, double thick)
{
    int above = 0, below = 0;
    for (int i = 0; i < from->count; i++) {
        double h = hw_vec3_dot(from->places[i], p->normal) - p->height;
        above += h > thick;
        below += h < -thick;
    }
    double most = above > below ? above : below;
    return above + below > 0 && most >= one_side_least * (above + below);
}

static void drop_plane(hw_mesh *mesh, const plane *p, double thick, hw_scan_removed *removed)
{
    int kept = 0;
    double area = hw_mesh_area(mesh);
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *t = mesh->triangles[i];
        hw_vec3 a = mesh->points[t[0]], b = mesh->points[t[1]], c = mesh->points[t[2]];
        hw_vec3 n = hw_vec3_unit(hw_vec3_cross(hw_vec3_sub(b, a), hw_vec3_sub(c, a)));
        if (is_in(p, a, n, thick) && is_in(p, b, n, thick) && is_in(p, c, n, thick)) continue;
        memmove(mesh->triangles[kept++], t, sizeof mesh->triangles[0]);
    }
    removed->floor_triangles += mesh->triangle_count - kept;
    mesh->triangle_count = kept;
    removed->area_m2 += area - hw_mesh_area(mesh); // file units until the unit is known
}

hw_status drop_joined_floor(hw_job *job, hw_mesh *mesh, hw_scan_removed *removed)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    samples all = {0}, few = {0};
    HW_TRY(sample_surface(job, mesh, tmp.arena, &all));
    HW_TRY(thin_samples(job, &all, tmp.arena, &few));
    double thick = plane_share * sqrt(few.area);
    plane found = best_plane(&few, thick);
    if (found.count > area_least * few.count && lies_on_one_side(&few, &found, thick)) {
        outline rest = outline_of_rest(&few, &found, thick);
        if (rest.count > 0 && share_beyond(&few, &found, &rest, thick) > beyond_least)
            drop_plane(mesh, &found, thick, removed);
    }
    hw_scratch_end(tmp);
    return HW_OK;
}
