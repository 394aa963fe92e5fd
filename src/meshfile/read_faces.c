// SPDX-License-Identifier: GPL-3.0-or-later
// Faces of any number of corners cut into triangles.
#include "read_internal.h"

#include <limits.h>
#include <string.h>

// Cutting ears looks at every corner for every ear. Files may not buy more than this of it; what
// is left is fanned.
static const long long looks_max = 200000000;
enum { CORNERS_TO_CUT = 2048 };

typedef struct splitter {
    const hw_vec3 *points;
    hw_mesh *mesh;
    int *ring;     // corners of the face at hand
    double *u, *v; // the same in its plane
    long long looks;
} splitter;

static void put(hw_mesh *mesh, int a, int b, int c)
{
    if (a == b || b == c || c == a) return;
    int *row = mesh->triangles[mesh->triangle_count++];
    row[0] = a, row[1] = b, row[2] = c;
}

// Corners without repeats of the one before.
static int make_ring(splitter *s, const int *corners, int count)
{
    int kept = 0;
    for (int i = 0; i < count; i++)
        if (kept == 0 || corners[i] != s->ring[kept - 1]) s->ring[kept++] = corners[i];
    while (kept > 1 && s->ring[kept - 1] == s->ring[0]) kept--;
    return kept;
}

// Into the coordinate plane the face is least tilted against; anticlockwise there.
static void flatten(splitter *s, int count)
{
    hw_vec3 normal = {0};
    hw_vec3 start = s->points[s->ring[0]];
    for (int i = 1; i + 1 < count; i++) {
        hw_vec3 a = hw_vec3_sub(s->points[s->ring[i]], start);
        hw_vec3 b = hw_vec3_sub(s->points[s->ring[i + 1]], start);
        normal = hw_vec3_add(normal, hw_vec3_cross(a, b));
    }
    double x = fabs(normal.x), y = fabs(normal.y), z = fabs(normal.z);
    for (int i = 0; i < count; i++) {
        hw_vec3 p = hw_vec3_sub(s->points[s->ring[i]], start);
        if (z >= x && z >= y) {
            s->u[i] = normal.z < 0.0 ? -p.x : p.x;
            s->v[i] = p.y;
        } else if (x >= y) {
            s->u[i] = normal.x < 0.0 ? -p.y : p.y;
            s->v[i] = p.z;
        } else {
            s->u[i] = normal.y < 0.0 ? -p.z : p.z;
            s->v[i] = p.x;
        }
    }
}

static double turn_at(const splitter *s, int a, int b, int c)
{
    return (s->u[b] - s->u[a]) * (s->v[c] - s->v[a]) - (s->v[b] - s->v[a]) * (s->u[c] - s->u[a]);
}

static bool is_convex(const splitter *s, int count)
{
    for (int i = 0; i < count; i++)
        if (turn_at(s, i, (i + 1) % count, (i + 2) % count) < 0.0) return false;
    return true;
}

// The corner i is an ear when it turns left and no other corner lies in its triangle.
static bool is_ear(splitter *s, int count, int i)
{
    int a = (i + count - 1) % count, c = (i + 1) % count;
    s->looks++;
    if (turn_at(s, a, i, c) <= 0.0) return false;
    for (int p = 0; p < count; p++) {
        s->looks++;
        if (p == a || p == i || p == c) continue;
        if (s->ring[p] == s->ring[a] || s->ring[p] == s->ring[i] || s->ring[p] == s->ring[c])
            continue;
        if (turn_at(s, a, i, p) >= 0.0 && turn_at(s, i, c, p) >= 0.0 && turn_at(s, c, a, p) >= 0.0)
            return false;
    }
    return true;
}

static void drop_corner(splitter *s, int count, int i)
{
    size_t behind = (size_t)(count - i - 1);
    memmove(s->ring + i, s->ring + i + 1, behind * sizeof *s->ring);
    memmove(s->u + i, s->u + i + 1, behind * sizeof *s->u);
    memmove(s->v + i, s->v + i + 1, behind * sizeof *s->v);
}

static void fan(splitter *s, int count)
{
    for (int i = 1; i + 1 < count; i++) put(s->mesh, s->ring[0], s->ring[i], s->ring[i + 1]);
}

static void cut_ears(splitter *s, int count)
{
    while (count > 3 && s->looks < looks_max) {
        int ear = 0;
        while (ear < count && !is_ear(s, count, ear)) ear++;
        if (ear == count) break; // folded onto itself: no ear left to find
        put(s->mesh, s->ring[(ear + count - 1) % count], s->ring[ear], s->ring[(ear + 1) % count]);
        drop_corner(s, count--, ear);
    }
    fan(s, count);
}

static void split(splitter *s, const int *corners, int count, hw_meshfile_facts *facts)
{
    int kept = make_ring(s, corners, count), before = s->mesh->triangle_count;
    if (kept == 3) put(s->mesh, s->ring[0], s->ring[1], s->ring[2]);
    if (kept > 3) {
        flatten(s, kept);
        if (kept > CORNERS_TO_CUT || is_convex(s, kept))
            fan(s, kept);
        else
            cut_ears(s, kept);
        facts->polygons_split++;
    }
    facts->faces_dropped += s->mesh->triangle_count == before;
}

// Checks every index; returns the triangles at most needed and the widest face.
static hw_status survey(hw_job *job, const face_list *list, long long *triangles, int *widest)
{
    for (size_t at = 0; at < list->face_ints;) {
        int count = list->faces[at++];
        for (int k = 0; k < count; k++, at++)
            if (list->faces[at] < 0 || list->faces[at] >= list->point_count)
                return hw_fail(job, HW_BAD_FORMAT,
                               "a face of the scan names point %lld, but there are %d points",
                               list->faces[at] + 1LL, list->point_count);
        if (count > *widest) *widest = count;
        if (count > 2) *triangles += count - 2;
    }
    if (*triangles > HW_MESHFILE_TRIANGLES_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "the scan has %lld triangles; %d are the limit",
                       *triangles, HW_MESHFILE_TRIANGLES_MAX);
    return HW_OK;
}

hw_status refuse_points(hw_job *job, int count)
{
    return hw_fail(job, HW_BAD_FORMAT,
                   "the scan has %d points but no surface between them; export it as a surface of "
                   "triangles",
                   count);
}

hw_status split_faces(hw_job *job, const face_list *list, hw_arena *into, hw_mesh *out,
                      hw_meshfile_facts *facts)
{
    long long triangles = 0;
    int widest = 0;
    HW_TRY(survey(job, list, &triangles, &widest));
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh mesh = {
        .points = list->points, .point_count = list->point_count, .colours = list->colours};
    splitter s = {.points = list->points, .mesh = &mesh};
    HW_ALLOC(job, into, mesh.triangles, triangles);
    HW_ALLOC(job, tmp.arena, s.ring, widest);
    HW_ALLOC(job, tmp.arena, s.u, widest);
    HW_ALLOC(job, tmp.arena, s.v, widest);
    for (size_t at = 0; at < list->face_ints; at += (size_t)list->faces[at] + 1)
        split(&s, &list->faces[at + 1], list->faces[at], facts);
    bool is_cloud = list->face_ints == 0 && mesh.point_count >= CLOUD_POINTS_LEAST;
    if (mesh.triangle_count == 0 && mesh.point_count > 0 && !is_cloud)
        return refuse_points(job, mesh.point_count);
    if (mesh.triangle_count == 0 && !is_cloud)
        return hw_fail(job, HW_BAD_FORMAT, "the scan file holds neither points nor triangles");
    hw_scratch_end(tmp);
    *out = mesh;
    return HW_OK;
}
