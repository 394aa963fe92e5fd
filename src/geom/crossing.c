// SPDX-License-Identifier: GPL-3.0-or-later
// Whether a surface goes through itself, decided exactly: corners are whole numbers of 10 nm, and
// the signs of volumes of four of them are computed in whole numbers of 128 bits.
#include "geom_internal.h"

#include <stdlib.h>

__extension__ typedef __int128 wide;

static const double grain = 1e-8; // m: the last digit of a 3MF file of ours
static const double reach = 10.0; // m: differences of coordinates stay below 2^31 grains

typedef struct spot {
    int64_t x, y, z;
} spot;

// A triangle's box in grains, small for the sweep: 10 m are 10^9 of them.
typedef struct swept {
    int32_t low[3], high[3];
    int index;
} swept;

static int sign_of(wide value)
{
    return (value > 0) - (value < 0);
}

// Sign of the volume a, b, c, d: + with d on the side from which a, b, c run clockwise.
static int side_of(const spot *a, const spot *b, const spot *c, const spot *d)
{
    int64_t ax = a->x - d->x, ay = a->y - d->y, az = a->z - d->z;
    int64_t bx = b->x - d->x, by = b->y - d->y, bz = b->z - d->z;
    int64_t cx = c->x - d->x, cy = c->y - d->y, cz = c->z - d->z;
    wide x = (wide)by * cz - (wide)bz * cy;
    wide y = (wide)bz * cx - (wide)bx * cz;
    wide z = (wide)bx * cy - (wide)by * cx;
    return sign_of(ax * x + ay * y + az * z);
}

// Whether the segment p, q meets the triangle, touching counted; not for one in its plane.
static bool pierces(const spot *p, const spot *q, const spot *const t[3])
{
    int from = side_of(t[0], t[1], t[2], p), to = side_of(t[0], t[1], t[2], q);
    if (from * to > 0 || (from == 0 && to == 0)) return false;
    int turn[3];
    for (int k = 0; k < 3; k++) turn[k] = side_of(p, q, t[k], t[(k + 1) % 3]);
    return (turn[0] >= 0 && turn[1] >= 0 && turn[2] >= 0) ||
           (turn[0] <= 0 && turn[1] <= 0 && turn[2] <= 0);
}

static bool is_in_plane(const spot *const a[3], const spot *const b[3])
{
    for (int k = 0; k < 3; k++)
        if (side_of(a[0], a[1], a[2], b[k]) != 0) return false;
    return true;
}

// Coordinate of a spot along one of the two axes that remain when `dropped` is left out.
static int64_t along(const spot *p, int dropped, int which)
{
    const int64_t all[3] = {p->x, p->y, p->z};
    return all[(dropped + 1 + which) % 3];
}

// Sign of the area a, b, c seen along the dropped axis.
static int turn_of(const spot *a, const spot *b, const spot *c, int dropped)
{
    int64_t ux = along(b, dropped, 0) - along(a, dropped, 0);
    int64_t uy = along(b, dropped, 1) - along(a, dropped, 1);
    int64_t vx = along(c, dropped, 0) - along(a, dropped, 0);
    int64_t vy = along(c, dropped, 1) - along(a, dropped, 1);
    return sign_of((wide)ux * vy - (wide)uy * vx);
}

static bool is_inside(const spot *p, const spot *const t[3], int dropped)
{
    int a = turn_of(t[0], t[1], p, dropped), b = turn_of(t[1], t[2], p, dropped);
    int c = turn_of(t[2], t[0], p, dropped);
    return a != 0 && a == b && b == c;
}

// Two triangles of one plane: whether their insides overlap.
static bool overlaps_flat(const spot *const a[3], const spot *const b[3])
{
    int dropped = 0;
    while (dropped < 2 && turn_of(a[0], a[1], a[2], dropped) == 0) dropped++;
    for (int k = 0; k < 3; k++) {
        if (is_inside(a[k], b, dropped) || is_inside(b[k], a, dropped)) return true;
        for (int m = 0; m < 3; m++) {
            const spot *p = a[k], *q = a[(k + 1) % 3], *r = b[m], *s = b[(m + 1) % 3];
            if (turn_of(p, q, r, dropped) * turn_of(p, q, s, dropped) < 0 &&
                turn_of(r, s, p, dropped) * turn_of(r, s, q, dropped) < 0)
                return true;
        }
    }
    return false;
}

// Two triangles without a common corner.
static bool crosses_apart(const spot *const a[3], const spot *const b[3])
{
    for (int k = 0; k < 3; k++)
        if (pierces(a[k], a[(k + 1) % 3], b) || pierces(b[k], b[(k + 1) % 3], a)) return true;
    return is_in_plane(a, b) && overlaps_flat(a, b);
}

// Two triangles with one common corner, the k-th of a and the m-th of b: where they cross beyond
// it, the line of their planes leaves one of them through the edge that faces the corner.
static bool crosses_at_corner(const spot *const a[3], int k, const spot *const b[3], int m)
{
    if (is_in_plane(a, b)) return overlaps_flat(a, b);
    return pierces(a[(k + 1) % 3], a[(k + 2) % 3], b) || pierces(b[(m + 1) % 3], b[(m + 2) % 3], a);
}

static bool crosses(const spot *spots, const int *a, const int *b)
{
    const spot *const ta[3] = {&spots[a[0]], &spots[a[1]], &spots[a[2]]};
    const spot *const tb[3] = {&spots[b[0]], &spots[b[1]], &spots[b[2]]};
    int shared = 0, at_a = 0, at_b = 0;
    for (int k = 0; k < 3; k++)
        for (int m = 0; m < 3; m++)
            if (a[k] == b[m]) shared++, at_a = k, at_b = m;
    if (shared == 0) return crosses_apart(ta, tb);
    if (shared == 1) return crosses_at_corner(ta, at_a, tb, at_b);
    return is_in_plane(ta, tb) && overlaps_flat(ta, tb); // an edge in common: only folded flat
}

static int by_low_x(const void *a, const void *b)
{
    const swept *one = a, *other = b;
    if (one->low[0] != other->low[0]) return one->low[0] < other->low[0] ? -1 : 1;
    return (one->index > other->index) - (one->index < other->index);
}

static bool boxes_meet(const swept *a, const swept *b)
{
    return a->low[1] <= b->high[1] && b->low[1] <= a->high[1] && a->low[2] <= b->high[2] &&
           b->low[2] <= a->high[2];
}

static swept swept_of(const spot *spots, const int *t, int index)
{
    swept of = {.index = index};
    for (int axis = 0; axis < 3; axis++) {
        of.low[axis] = INT32_MAX, of.high[axis] = INT32_MIN;
        for (int k = 0; k < 3; k++) {
            const spot *p = &spots[t[k]];
            const int64_t all[3] = {p->x, p->y, p->z};
            if (all[axis] < of.low[axis]) of.low[axis] = (int32_t)all[axis];
            if (all[axis] > of.high[axis]) of.high[axis] = (int32_t)all[axis];
        }
    }
    return of;
}

// Sweeps along x; every pair whose boxes meet is looked at once.
static hw_status sweep(hw_job *job, const hw_mesh *mesh, const spot *spots, const swept *order,
                       hw_mesh_crossings *out)
{
    for (int i = 0; i < mesh->triangle_count; i++) {
        if (i % 4096 == 0) HW_TRY(hw_job_ask(job));
        for (int j = i + 1; j < mesh->triangle_count && order[j].low[0] <= order[i].high[0]; j++) {
            if (!boxes_meet(&order[i], &order[j])) continue;
            const int *a = mesh->triangles[order[i].index], *b = mesh->triangles[order[j].index];
            if (!crosses(spots, a, b)) continue;
            if (out->count++ == 0) out->where = mesh->points[a[0]];
        }
    }
    return HW_OK;
}

hw_status hw_mesh_cross(hw_job *job, const hw_mesh *mesh, hw_mesh_crossings *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_mesh_crossings found = {0};
    spot *spots = NULL;
    swept *order = NULL;
    HW_ALLOC(job, tmp.arena, spots, mesh->point_count + 1);
    HW_ALLOC(job, tmp.arena, order, mesh->triangle_count + 1);
    for (int i = 0; i < mesh->point_count; i++) {
        hw_vec3 p = mesh->points[i];
        if (!(fabs(p.x) <= reach && fabs(p.y) <= reach && fabs(p.z) <= reach))
            return hw_fail(job, HW_BAD_INPUT, "a point lies more than %g m out", reach);
        spots[i] = (spot){llround(p.x / grain), llround(p.y / grain), llround(p.z / grain)};
    }
    for (int t = 0; t < mesh->triangle_count; t++)
        order[t] = swept_of(spots, mesh->triangles[t], t);
    qsort(order, (size_t)mesh->triangle_count, sizeof *order, by_low_x);
    HW_TRY(sweep(job, mesh, spots, order, &found));
    hw_scratch_end(tmp);
    *out = found;
    return HW_OK;
}
