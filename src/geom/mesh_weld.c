// SPDX-License-Identifier: GPL-3.0-or-later
// Points that share a place become one, by hashing into cells a few tolerances wide.
#include "geom_internal.h"

#include <string.h>

// A cell this many tolerances wide keeps most searches in one or two cells.
static const double cell_in_tolerances = 4.0;

typedef struct welder {
    const hw_vec3 *points;
    double tolerance, cell; // cell 0: exact places only
    size_t mask;
    int *heads;  // per hash: 1 + newest kept point, 0 = none
    int *nexts;  // per point: 1 + the kept point before it
    int *target; // per point: the kept point it became
} welder;

static uint64_t mix(uint64_t hash, uint64_t value)
{
    hash = (hash ^ value) * 0xBF58476D1CE4E5B9u;
    return hash ^ hash >> 29;
}

static uint64_t bits_of(double x)
{
    double plain = x + 0.0; // -0 becomes 0
    uint64_t bits;
    memcpy(&bits, &plain, sizeof bits);
    return bits;
}

static size_t cell_slot(const welder *w, double x, double y, double z)
{
    uint64_t hash = mix(mix(mix(0x9E3779B97F4A7C15u, bits_of(x)), bits_of(y)), bits_of(z));
    return (size_t)hash & w->mask;
}

static int search_slot(const welder *w, size_t slot, hw_vec3 p, int best)
{
    for (int at = w->heads[slot]; at; at = w->nexts[at - 1]) {
        hw_vec3 q = w->points[at - 1];
        bool same = w->cell > 0.0 ? hw_vec3_distance(p, q) < w->tolerance
                                  : p.x == q.x && p.y == q.y && p.z == q.z;
        if (same && (best < 0 || at - 1 < best)) best = at - 1;
    }
    return best;
}

// The earliest kept point at the place of p, or -1; `home` gets the slot where p itself belongs.
static int find_kept(const welder *w, hw_vec3 p, size_t *home)
{
    if (w->cell == 0.0) {
        *home = cell_slot(w, p.x, p.y, p.z);
        return search_slot(w, *home, p, -1);
    }
    double low[3], xyz[3] = {p.x, p.y, p.z};
    int span[3]; // cells the ball of one tolerance reaches beyond the lowest: 0 or 1
    for (int k = 0; k < 3; k++) {
        low[k] = floor((xyz[k] - w->tolerance) / w->cell);
        span[k] = floor((xyz[k] + w->tolerance) / w->cell) > low[k];
        xyz[k] = floor(xyz[k] / w->cell);
    }
    *home = cell_slot(w, xyz[0], xyz[1], xyz[2]);
    int best = -1;
    for (int x = 0; x <= span[0]; x++)
        for (int y = 0; y <= span[1]; y++)
            for (int z = 0; z <= span[2]; z++)
                best = search_slot(w, cell_slot(w, low[0] + x, low[1] + y, low[2] + z), p, best);
    return best;
}

static hw_status join_points(hw_job *job, const hw_mesh *mesh, double tolerance, hw_arena *scratch,
                             int **target)
{
    size_t size = 16;
    while (size < 2 * (size_t)mesh->point_count) size *= 2;
    welder w = {.points = mesh->points, .tolerance = tolerance, .mask = size - 1};
    w.cell = cell_in_tolerances * tolerance;
    HW_ALLOC(job, scratch, w.heads, size);
    HW_ALLOC(job, scratch, w.nexts, mesh->point_count);
    HW_ALLOC(job, scratch, w.target, mesh->point_count);
    for (int i = 0; i < mesh->point_count; i++) {
        size_t home = 0;
        int kept = find_kept(&w, mesh->points[i], &home);
        w.target[i] = kept < 0 ? i : kept;
        if (kept >= 0) continue;
        w.nexts[i] = w.heads[home];
        w.heads[home] = i + 1;
    }
    *target = w.target;
    return HW_OK;
}

static int keep_triangles(const hw_mesh *mesh, const int *target, int (*triangles)[3])
{
    int kept = 0;
    for (int i = 0; i < mesh->triangle_count; i++) {
        if (!hw_triangle_is_inside(mesh, i)) continue;
        int a = target[mesh->triangles[i][0]], b = target[mesh->triangles[i][1]];
        int c = target[mesh->triangles[i][2]];
        if (a == b || b == c || c == a) continue;
        triangles[kept][0] = a, triangles[kept][1] = b, triangles[kept][2] = c;
        kept++;
    }
    return kept;
}

hw_status hw_mesh_weld(hw_job *job, const hw_mesh *mesh, double tolerance_m, hw_arena *into,
                       hw_mesh *out)
{
    HW_ASSERT(tolerance_m >= 0.0);
    hw_scratch tmp = hw_scratch_begin(job, into);
    int *target = NULL, *number = NULL; // number: 1 + place among the points kept
    HW_TRY(join_points(job, mesh, tolerance_m, tmp.arena, &target));
    HW_ALLOC(job, tmp.arena, number, mesh->point_count);
    hw_mesh clean = {0};
    HW_ALLOC(job, into, clean.triangles, mesh->triangle_count);
    clean.triangle_count = keep_triangles(mesh, target, clean.triangles);
    for (int i = 0; i < clean.triangle_count; i++)
        for (int k = 0; k < 3; k++) number[clean.triangles[i][k]] = 1;
    for (int i = 0; i < mesh->point_count; i++)
        if (number[i]) number[i] = ++clean.point_count;
    HW_ALLOC(job, into, clean.points, clean.point_count);
    for (int i = 0; i < mesh->point_count; i++)
        if (number[i]) clean.points[number[i] - 1] = mesh->points[i];
    HW_TRY(hw_mesh_keep_colours(job, mesh, number, into, &clean));
    for (int i = 0; i < clean.triangle_count; i++)
        for (int k = 0; k < 3; k++) clean.triangles[i][k] = number[clean.triangles[i][k]] - 1;
    hw_scratch_end(tmp);
    *out = clean;
    return HW_OK;
}
