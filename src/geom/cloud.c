// SPDX-License-Identifier: GPL-3.0-or-later
#include "cloud.h"

#include <float.h>
#include <stdlib.h>

enum { CELLS_MAX = 4000000, NEAR_MAX = 64, NEAR_LEAST = 5 };

static int cell_along(double x, double size, int count)
{
    int at = (int)floor(x / size);
    return at < 0 ? 0 : at >= count ? count - 1 : at;
}

static void cell_of(const cloud *of, hw_vec3 p, int cell[3])
{
    cell[0] = cell_along(p.x - of->low.x, of->radius, of->cells[0]);
    cell[1] = cell_along(p.y - of->low.y, of->radius, of->cells[1]);
    cell[2] = cell_along(p.z - of->low.z, of->radius, of->cells[2]);
}

static int flat_cell(const cloud *of, const int cell[3])
{
    return (cell[0] * of->cells[1] + cell[1]) * of->cells[2] + cell[2];
}

static void set_cells(cloud *of, double radius)
{
    const hw_mesh all = {.points = (hw_vec3 *)(uintptr_t)of->points, .point_count = of->count};
    hw_box box = hw_mesh_box(&all);
    const double extent[3] = {box.high.x - box.low.x, box.high.y - box.low.y,
                              box.high.z - box.low.z};
    of->low = box.low;
    for (of->radius = radius;; of->radius *= 1.5) {
        double cells = 1.0;
        for (int k = 0; k < 3; k++) cells *= floor(extent[k] / of->radius) + 1.0;
        if (cells <= CELLS_MAX) break;
    }
    for (int k = 0; k < 3; k++) of->cells[k] = (int)floor(extent[k] / of->radius) + 1;
}

hw_status cloud_sort(hw_job *job, const hw_vec3 *points, int count, double radius, hw_arena *into,
                     cloud *out)
{
    cloud of = {.points = points, .count = count};
    HW_ASSERT(radius > 0.0 && count > 0);
    set_cells(&of, radius);
    int cells = of.cells[0] * of.cells[1] * of.cells[2], at[3];
    HW_ALLOC(job, into, of.starts, cells + 1);
    HW_ALLOC(job, into, of.order, count);
    for (int i = 0; i < count; i++) {
        cell_of(&of, points[i], at);
        of.starts[flat_cell(&of, at) + 1]++;
    }
    for (int i = 0; i < cells; i++) of.starts[i + 1] += of.starts[i];
    for (int i = count - 1; i >= 0; i--) { // from the end: starts come to stand at their cells
        cell_of(&of, points[i], at);
        of.order[--of.starts[flat_cell(&of, at) + 1]] = i;
    }
    for (int i = 0; i < cells; i++) of.starts[i] = of.starts[i + 1];
    of.starts[cells] = count;
    *out = of;
    return HW_OK;
}

static int add_cell(const cloud *of, int cell, hw_vec3 at, int *found, int room)
{
    int count = 0;
    for (int i = of->starts[cell]; i < of->starts[cell + 1] && count < room; i++)
        if (hw_vec3_distance(of->points[of->order[i]], at) <= of->radius)
            found[count++] = of->order[i];
    return count;
}

int cloud_near(const cloud *of, hw_vec3 at, int *found, int most)
{
    int home[3], count = 0;
    cell_of(of, at, home);
    for (int i = 0; i < 27; i++) {
        const int cell[3] = {home[0] + i / 9 - 1, home[1] + i / 3 % 3 - 1, home[2] + i % 3 - 1};
        bool is_inside = true;
        for (int k = 0; k < 3; k++) is_inside = is_inside && cell[k] >= 0 && cell[k] < of->cells[k];
        if (is_inside) count += add_cell(of, flat_cell(of, cell), at, found + count, most - count);
    }
    return count;
}

static hw_vec3 plane_normal(const cloud *of, const int *near, int count)
{
    hw_vec3 mean = {0};
    for (int i = 0; i < count; i++) mean = hw_vec3_add(mean, of->points[near[i]]);
    mean = hw_vec3_scale(mean, 1.0 / count);
    double spread[9] = {0}, values[3], v[9];
    for (int i = 0; i < count; i++) {
        hw_vec3 d = hw_vec3_sub(of->points[near[i]], mean);
        const double arm[3] = {d.x, d.y, d.z};
        for (int k = 0; k < 9; k++) spread[k] += arm[k / 3] * arm[k % 3];
    }
    hw_eigen3(spread, values, v);
    return hw_vec3_unit((hw_vec3){v[0], v[3], v[6]});
}

// A heap of ways from a faced point to one that is not: the flattest first, ties by number.
typedef struct way {
    float bend;
    int from, to;
} way;

typedef struct heap {
    way *ways;
    int count, capacity;
} heap;

static bool is_before(const way *a, const way *b)
{
    if (a->bend != b->bend) return a->bend < b->bend;
    return a->to != b->to ? a->to < b->to : a->from < b->from;
}

static void push(heap *on, way w)
{
    if (on->count == on->capacity) return; // each point keeps other ways to it
    int at = on->count++;
    for (; at > 0 && is_before(&w, &on->ways[(at - 1) / 2]); at = (at - 1) / 2)
        on->ways[at] = on->ways[(at - 1) / 2];
    on->ways[at] = w;
}

static way pop(heap *on)
{
    way top = on->ways[0], last = on->ways[--on->count];
    int at = 0;
    for (;;) {
        int child = 2 * at + 1;
        if (child >= on->count) break;
        if (child + 1 < on->count && is_before(&on->ways[child + 1], &on->ways[child])) child++;
        if (!is_before(&on->ways[child], &last)) break;
        on->ways[at] = on->ways[child];
        at = child;
    }
    on->ways[at] = last;
    return top;
}

static bool has_normal(const cloud *of, int i)
{
    return hw_vec3_dot(of->normals[i], of->normals[i]) > 0.5;
}

static void push_ways(const cloud *of, int from, const bool *is_faced, heap *ways)
{
    int near[NEAR_MAX], count = cloud_near(of, of->points[from], near, NEAR_MAX);
    for (int i = 0; i < count; i++) {
        if (is_faced[near[i]] || !has_normal(of, near[i])) continue;
        double along = fabs(hw_vec3_dot(of->normals[from], of->normals[near[i]]));
        push(ways, (way){(float)(1.0 - along), from, near[i]});
    }
}

static void turn_alike(const cloud *of, int seed, bool *is_faced, heap *ways)
{
    is_faced[seed] = true;
    push_ways(of, seed, is_faced, ways);
    while (ways->count > 0) {
        way w = pop(ways);
        if (is_faced[w.to]) continue;
        if (hw_vec3_dot(of->normals[w.from], of->normals[w.to]) < 0.0)
            of->normals[w.to] = hw_vec3_scale(of->normals[w.to], -1.0);
        is_faced[w.to] = true;
        push_ways(of, w.to, is_faced, ways);
    }
}

typedef struct ranked {
    double distance;
    int point;
} ranked;

static int furthest_first(const void *a, const void *b)
{
    const ranked *p = a, *q = b;
    if (p->distance != q->distance) return p->distance > q->distance ? -1 : 1;
    return (p->point > q->point) - (p->point < q->point);
}

hw_status cloud_face(hw_job *job, cloud *of, hw_arena *into)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    bool *is_faced = NULL;
    ranked *ranks = NULL;
    heap ways = {.capacity = of->count * 24};
    HW_ALLOC(job, into, of->normals, of->count);
    HW_ALLOC(job, tmp.arena, is_faced, of->count);
    HW_ALLOC(job, tmp.arena, ranks, of->count);
    HW_ALLOC(job, tmp.arena, ways.ways, ways.capacity);
    hw_vec3 middle = {0};
    for (int i = 0; i < of->count; i++) {
        int near[NEAR_MAX], count = cloud_near(of, of->points[i], near, NEAR_MAX);
        if (count >= NEAR_LEAST) of->normals[i] = plane_normal(of, near, count);
        middle = hw_vec3_add(middle, hw_vec3_scale(of->points[i], 1.0 / of->count));
    }
    for (int i = 0; i < of->count; i++)
        ranks[i] = (ranked){hw_vec3_distance(of->points[i], middle), i};
    qsort(ranks, (size_t)of->count, sizeof *ranks, furthest_first);
    for (int i = 0; i < of->count; i++) { // the first of each connected patch faces outward
        int seed = ranks[i].point;
        if (is_faced[seed] || !has_normal(of, seed)) continue;
        hw_vec3 out = hw_vec3_sub(of->points[seed], middle);
        if (hw_vec3_dot(out, of->normals[seed]) < 0.0)
            of->normals[seed] = hw_vec3_scale(of->normals[seed], -1.0);
        HW_TRY(hw_job_ask(job));
        turn_alike(of, seed, is_faced, &ways);
    }
    hw_scratch_end(tmp);
    return HW_OK;
}
