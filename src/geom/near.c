// SPDX-License-Identifier: GPL-3.0-or-later
// Closest points over a tree of boxes, split at the median of the longest side.
#include "geom_internal.h"

#include <float.h>

enum { LEAF_TRIANGLES = 4, DEPTH_MAX = 64 };

typedef struct corners {
    hw_vec3 a, b, c;
} corners;

// A node is a leaf when count > 0: `first` is its first triangle. Else its children are the next
// node and node `first`.
typedef struct node {
    hw_box box;
    int first;
    int count;
} node;

struct hw_near {
    corners *triangles; // in the order of the leaves
    node *nodes;
};

typedef struct builder {
    corners *triangles;
    node *nodes;
    int node_count;
} builder;

static void widen(hw_box *box, hw_vec3 p)
{
    box->low = (hw_vec3){fmin(box->low.x, p.x), fmin(box->low.y, p.y), fmin(box->low.z, p.z)};
    box->high = (hw_vec3){fmax(box->high.x, p.x), fmax(box->high.y, p.y), fmax(box->high.z, p.z)};
}

static hw_box box_of(const corners *triangles, int count)
{
    hw_box box = {{DBL_MAX, DBL_MAX, DBL_MAX}, {-DBL_MAX, -DBL_MAX, -DBL_MAX}};
    for (int i = 0; i < count; i++) {
        widen(&box, triangles[i].a);
        widen(&box, triangles[i].b);
        widen(&box, triangles[i].c);
    }
    return box;
}

static double centre_along(const corners *t, int axis)
{
    if (axis == 0) return t->a.x + t->b.x + t->c.x;
    return axis == 1 ? t->a.y + t->b.y + t->c.y : t->a.z + t->b.z + t->c.z;
}

static void swap(corners *a, corners *b)
{
    corners kept = *a;
    *a = *b;
    *b = kept;
}

// Hoare's selection: afterwards nothing before `middle` lies beyond anything after it.
static void split_at(corners *t, int count, int middle, int axis)
{
    int low = 0, high = count - 1;
    while (low < high) {
        double pivot = centre_along(&t[low + (high - low) / 2], axis);
        int i = low, j = high;
        while (i <= j) {
            while (centre_along(&t[i], axis) < pivot) i++;
            while (centre_along(&t[j], axis) > pivot) j--;
            if (i <= j) swap(&t[i++], &t[j--]);
        }
        if (middle <= j)
            high = j;
        else if (middle >= i)
            low = i;
        else
            return;
    }
}

static int longest_side(const hw_box *box)
{
    hw_vec3 size = hw_vec3_sub(box->high, box->low);
    if (size.x >= size.y && size.x >= size.z) return 0;
    return size.y >= size.z ? 1 : 2;
}

// Halving the count bounds the depth at 31 for any int.
static void build_node(builder *b, int first, int count)
{
    node *here = &b->nodes[b->node_count++];
    here->box = box_of(b->triangles + first, count);
    if (count <= LEAF_TRIANGLES) {
        here->first = first;
        here->count = count;
        return;
    }
    int half = count / 2;
    split_at(b->triangles + first, count, half, longest_side(&here->box));
    build_node(b, first, half);
    here->first = b->node_count;
    build_node(b, first + half, count - half);
}

hw_status hw_near_build(hw_job *job, const hw_mesh *mesh, hw_arena *into, const hw_near **out)
{
    if (mesh->triangle_count < 1)
        return hw_fail(job, HW_BAD_INPUT, "a surface without triangles is near to nothing");
    hw_near *near = NULL;
    HW_ALLOC(job, into, near, 1);
    HW_ALLOC(job, into, near->triangles, mesh->triangle_count);
    HW_ALLOC(job, into, near->nodes, mesh->triangle_count); // leaves hold at least two
    for (int i = 0; i < mesh->triangle_count; i++) {
        const int *corner = mesh->triangles[i];
        near->triangles[i] =
            (corners){mesh->points[corner[0]], mesh->points[corner[1]], mesh->points[corner[2]]};
    }
    builder b = {near->triangles, near->nodes, 0};
    build_node(&b, 0, mesh->triangle_count);
    *out = near;
    return HW_OK;
}

// Closest point of a triangle by the regions of its corners, sides and face.
// source  from memory: Ericson 2005, Real-Time Collision Detection, 5.1.5
static hw_vec3 closest_on_triangle(const corners *t, hw_vec3 p)
{
    hw_vec3 ab = hw_vec3_sub(t->b, t->a), ac = hw_vec3_sub(t->c, t->a), ap = hw_vec3_sub(p, t->a);
    double d1 = hw_vec3_dot(ab, ap), d2 = hw_vec3_dot(ac, ap);
    if (d1 <= 0.0 && d2 <= 0.0) return t->a;
    hw_vec3 bp = hw_vec3_sub(p, t->b);
    double d3 = hw_vec3_dot(ab, bp), d4 = hw_vec3_dot(ac, bp);
    if (d3 >= 0.0 && d4 <= d3) return t->b;
    double vc = d1 * d4 - d3 * d2;
    if (vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0) return hw_vec3_mix(t->a, t->b, d1 / (d1 - d3));
    hw_vec3 cp = hw_vec3_sub(p, t->c);
    double d5 = hw_vec3_dot(ab, cp), d6 = hw_vec3_dot(ac, cp);
    if (d6 >= 0.0 && d5 <= d6) return t->c;
    double vb = d5 * d2 - d1 * d6;
    if (vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0) return hw_vec3_mix(t->a, t->c, d2 / (d2 - d6));
    double va = d3 * d6 - d5 * d4, along_bc = d4 - d3, back_bc = d5 - d6;
    if (va <= 0.0 && along_bc >= 0.0 && back_bc >= 0.0)
        return hw_vec3_mix(t->b, t->c, along_bc / (along_bc + back_bc));
    double share = 1.0 / (va + vb + vc);
    return hw_vec3_add(t->a,
                       hw_vec3_add(hw_vec3_scale(ab, vb * share), hw_vec3_scale(ac, vc * share)));
}

static double outside_by(double low, double x, double high)
{
    return x < low ? low - x : x > high ? x - high : 0.0;
}

static double squared_to_box(const hw_box *box, hw_vec3 p)
{
    double x = outside_by(box->low.x, p.x, box->high.x);
    double y = outside_by(box->low.y, p.y, box->high.y);
    double z = outside_by(box->low.z, p.z, box->high.z);
    return x * x + y * y + z * z;
}

static double search_leaf(const hw_near *near, const node *leaf, hw_vec3 p, double best,
                          hw_vec3 *closest)
{
    for (int i = leaf->first; i < leaf->first + leaf->count; i++) {
        hw_vec3 q = closest_on_triangle(&near->triangles[i], p);
        hw_vec3 gap = hw_vec3_sub(p, q);
        double squared = hw_vec3_dot(gap, gap);
        if (squared < best) {
            best = squared;
            *closest = q;
        }
    }
    return best;
}

double hw_near_distance(const hw_near *near, hw_vec3 point, hw_vec3 *closest)
{
    struct {
        int node;
        double squared;
    } stack[DEPTH_MAX];
    int depth = 0;
    double best = DBL_MAX;
    hw_vec3 found = near->triangles[0].a;
    stack[depth++].node = 0;
    stack[0].squared = 0.0;
    while (depth > 0) {
        depth--;
        if (stack[depth].squared >= best) continue;
        int at = stack[depth].node;
        const node *here = &near->nodes[at];
        if (here->count) {
            best = search_leaf(near, here, point, best, &found);
            continue;
        }
        // The nearer child goes on top, so that it shrinks `best` before the other is looked at.
        int near_child = at + 1, far_child = here->first;
        double near_squared = squared_to_box(&near->nodes[near_child].box, point);
        double far_squared = squared_to_box(&near->nodes[far_child].box, point);
        bool swapped = far_squared < near_squared;
        stack[depth].node = swapped ? near_child : far_child;
        stack[depth++].squared = swapped ? near_squared : far_squared;
        stack[depth].node = swapped ? far_child : near_child;
        stack[depth++].squared = swapped ? far_squared : near_squared;
    }
    if (closest) *closest = found;
    return sqrt(best);
}
