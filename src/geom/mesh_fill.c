// SPDX-License-Identifier: GPL-3.0-or-later
// Holes: loops of open edges closed by a patch that follows the curvature around them.
#include "geom_internal.h"

#include <string.h>

enum { FILLING_GREY = 170 }; // of a byte: a colour no skin has

enum { LOOP_MAX = 4000, LOOP_LEAST = 3, RINGS_MAX = 12, HOLES_MAX = HW_MESH_HOLES_MAX, TERMS = 6 };

// Open edges as the patch will run along them: those that leave point a are to[from[a]] up to
// to[from[a + 1] - 1]; each is used once.
typedef struct open_edges {
    int *from, *to, *used; // point_count + 1, count, point_count: how many have been taken
    int *place;            // 1 + place of a point on the way being walked; 0 off it
} open_edges;

static hw_status find_open(hw_job *job, const hw_mesh *mesh, hw_arena *into, open_edges *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_edge_use *uses = NULL;
    int count = 0;
    HW_ALLOC(job, into, out->from, mesh->point_count + 2);
    HW_ALLOC(job, into, out->used, mesh->point_count + 1);
    HW_ALLOC(job, into, out->place, mesh->point_count + 1);
    HW_TRY(hw_mesh_edge_uses(job, mesh, tmp.arena, &uses, &count));
    for (int pass = 0; pass < 2; pass++) {
        if (pass == 1) {
            for (int i = 0; i < mesh->point_count; i++) out->from[i + 1] += out->from[i];
            HW_ALLOC(job, into, out->to, out->from[mesh->point_count] + 1);
        }
        for (int i = 0, run = 0; i < count; i += run) {
            run = hw_edge_use_run(uses, count, i);
            if (run != 1) continue;
            bool rises = hw_edge_use_rises(uses[i]);
            int a = rises ? uses[i].high : uses[i].low; // against the triangle's own way
            int b = rises ? uses[i].low : uses[i].high;
            if (pass == 0)
                out->from[a + 1]++;
            else
                out->to[out->from[a] + out->used[a]++] = b;
        }
    }
    memset(out->used, 0, (size_t)mesh->point_count * sizeof *out->used);
    hw_scratch_end(tmp);
    return HW_OK;
}

// Walks on from the way's last point until a point comes again: what lies between is a loop, which
// is cut off the way. 0 where the way ends; then it is over.
static int take_loop(open_edges *of, int *way, int *length, int loop[LOOP_MAX])
{
    while (*length > 0) {
        int at = way[*length - 1];
        if (of->used[at] == of->from[at + 1] - of->from[at]) { // a dead end, or all is taken
            of->place[at] = 0;
            --*length;
            continue;
        }
        int then = of->to[of->from[at] + of->used[at]++];
        if (of->place[then] == 0) {
            way[(*length)++] = then;
            of->place[then] = *length;
            continue;
        }
        int first = of->place[then] - 1, count = *length - first;
        for (int i = first; i < *length; i++) {
            if (count <= LOOP_MAX) loop[i - first] = way[i];
            if (i > first) of->place[way[i]] = 0;
        }
        *length = first + 1;
        return count;
    }
    return 0;
}

// A hole in its own plane.
typedef struct hole {
    int loop[LOOP_MAX];
    int count;
    hw_vec3 middle, u, v, n;
    double radius, edge; // furthest loop point; mean edge
    double shape[TERMS]; // height over the plane: 1, u, v, u2, uv, v2
} hole;

static hw_vec3 in_plane(const hole *h, hw_vec3 p)
{
    hw_vec3 d = hw_vec3_sub(p, h->middle);
    return (hw_vec3){hw_vec3_dot(d, h->u), hw_vec3_dot(d, h->v), hw_vec3_dot(d, h->n)};
}

static void set_plane(const hw_mesh *mesh, hole *h)
{
    hw_vec3 sum = {0}, normal = {0};
    double around = 0.0;
    for (int i = 0; i < h->count; i++) {
        hw_vec3 a = mesh->points[h->loop[i]], b = mesh->points[h->loop[(i + 1) % h->count]];
        sum = hw_vec3_add(sum, a);
        normal = hw_vec3_add(normal, hw_vec3_cross(a, b)); // Newell's sum, of a closed loop
        around += hw_vec3_distance(a, b);
    }
    h->middle = hw_vec3_scale(sum, 1.0 / h->count);
    h->edge = around / h->count;
    h->n = hw_vec3_unit(normal);
    hw_vec3 aside = fabs(h->n.x) < 0.7 ? (hw_vec3){1, 0, 0} : (hw_vec3){0, 1, 0};
    h->u = hw_vec3_unit(hw_vec3_cross(aside, h->n));
    h->v = hw_vec3_cross(h->n, h->u);
    h->radius = 0.0;
    for (int i = 0; i < h->count; i++)
        h->radius = fmax(h->radius, hw_vec3_distance(h->middle, mesh->points[h->loop[i]]));
}

// Whether the loop goes once around its middle without turning back: then rings cannot fold.
static bool is_star(const hw_mesh *mesh, const hole *h)
{
    double turned = 0.0;
    for (int i = 0; i < h->count; i++) {
        hw_vec3 a = in_plane(h, mesh->points[h->loop[i]]);
        hw_vec3 b = in_plane(h, mesh->points[h->loop[(i + 1) % h->count]]);
        double step = atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y);
        if (step < -1.2) return false; // a ragged edge may turn back a little
        turned += step;
    }
    return fabs(turned - 2.0 * HW_PI) < 0.1;
}

static void terms_of(const hole *h, hw_vec3 p, double out[TERMS])
{
    double u = p.x / h->radius, v = p.y / h->radius;
    const double terms[TERMS] = {1.0, u, v, u * u, u * v, v * v};
    memcpy(out, terms, sizeof terms);
}

static double height_of(const hole *h, hw_vec3 p)
{
    double terms[TERMS], sum = 0.0;
    terms_of(h, p, terms);
    for (int k = 0; k < TERMS; k++) sum += h->shape[k] * terms[k];
    return sum;
}

// The quadric that fits the surface around the hole best; a plane where it is not determined.
static void fit_shape(const hw_mesh *mesh, hole *h)
{
    double a[TERMS * TERMS] = {0}, b[TERMS] = {0}, terms[TERMS];
    double rim = 1.6 * h->radius + 2.0 * h->edge;
    for (int i = 0; i < mesh->point_count; i++) {
        hw_vec3 d = hw_vec3_sub(mesh->points[i], h->middle);
        if (hw_vec3_dot(d, d) > rim * rim) continue;
        hw_vec3 p = in_plane(h, mesh->points[i]);
        if (fabs(p.z) > 1.2 * h->radius) continue; // the other side of a toe
        terms_of(h, p, terms);
        for (int k = 0; k < TERMS * TERMS; k++) a[k] += terms[k / TERMS] * terms[k % TERMS];
        for (int k = 0; k < TERMS; k++) b[k] += terms[k] * p.z;
    }
    double trace = a[0];
    for (int k = 0; k < TERMS; k++) a[TERMS * k + k] += 1e-6 * trace; // ridge: few points
    if (!hw_solve_small(TERMS, a, b)) memset(b, 0, sizeof b);
    memcpy(h->shape, b, sizeof b);
    for (int k = 0; k < TERMS; k++) // wilder than the hole is wide: no curvature of skin
        if (!(fabs(h->shape[k]) < 1.5 * h->radius)) memset(h->shape, 0, sizeof h->shape);
}

static hw_vec3 patch_point(const hw_mesh *mesh, const hole *h, int i, double share)
{
    hw_vec3 p = in_plane(h, mesh->points[h->loop[i]]);
    hw_vec3 q = {share * p.x, share * p.y, 0.0};
    double height = height_of(h, q) + share * (p.z - height_of(h, p));
    hw_vec3 flat = hw_vec3_add(hw_vec3_scale(h->u, q.x), hw_vec3_scale(h->v, q.y));
    return hw_vec3_add(h->middle, hw_vec3_add(flat, hw_vec3_scale(h->n, height)));
}

static int ring_count(const hole *h)
{
    int rings = (int)lround(h->radius / h->edge);
    return rings < 1 ? 1 : rings > RINGS_MAX ? RINGS_MAX : rings;
}

static void add_triangle(hw_mesh *mesh, int a, int b, int c)
{
    int *t = mesh->triangles[mesh->triangle_count++];
    t[0] = a, t[1] = b, t[2] = c;
}

// Rings of the loop's own number of points, and a point in the middle.
static void patch(hole *h, hw_mesh *out)
{
    int n = h->count, rings = ring_count(h), first = out->point_count;
    for (int r = 1; r < rings; r++)
        for (int i = 0; i < n; i++)
            out->points[out->point_count++] = patch_point(out, h, i, 1.0 - (double)r / rings);
    out->points[out->point_count++] = hw_vec3_add(h->middle, hw_vec3_scale(h->n, h->shape[0]));
    for (int r = 0; r < rings; r++)
        for (int i = 0; i < n; i++) {
            int j = (i + 1) % n;
            int a = r ? first + (r - 1) * n + i : h->loop[i];
            int b = r ? first + (r - 1) * n + j : h->loop[j];
            if (r == rings - 1) {
                add_triangle(out, a, b, out->point_count - 1);
                continue;
            }
            int c = first + r * n + i, d = first + r * n + j;
            add_triangle(out, a, b, d);
            add_triangle(out, a, d, c);
        }
}

// Room for a copy with as many patches as may come.
static hw_status make_room(hw_job *job, const hw_mesh *mesh, const hole *holes, int count,
                           hw_arena *into, hw_mesh *out)
{
    hw_mesh copy = {.point_count = mesh->point_count, .triangle_count = mesh->triangle_count};
    int points = mesh->point_count, triangles = mesh->triangle_count;
    for (int i = 0; i < count; i++) {
        points += holes[i].count * ring_count(&holes[i]) + 1;
        triangles += 2 * holes[i].count * ring_count(&holes[i]);
    }
    HW_ALLOC(job, into, copy.points, points);
    HW_ALLOC(job, into, copy.triangles, triangles);
    memcpy(copy.points, mesh->points, (size_t)mesh->point_count * sizeof *copy.points);
    memcpy(copy.triangles, mesh->triangles, (size_t)mesh->triangle_count * sizeof *copy.triangles);
    if (mesh->colours) {
        HW_ALLOC(job, into, copy.colours, points);
        memset(copy.colours, FILLING_GREY, (size_t)points * sizeof *copy.colours);
        memcpy(copy.colours, mesh->colours, (size_t)mesh->point_count * sizeof *copy.colours);
    }
    *out = copy;
    return HW_OK;
}

hw_status hw_mesh_fill(hw_job *job, const hw_mesh *mesh, double widest, hw_arena *into,
                       hw_mesh *out, hw_mesh_filled *facts)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh_filled found = {.first_triangle = mesh->triangle_count};

    hole *holes = NULL;
    open_edges open = {0};
    int *way = NULL, count = 0;
    HW_TRY(find_open(job, mesh, tmp.arena, &open));
    found.open_edges = open.from[mesh->point_count];
    HW_ALLOC(job, tmp.arena, holes, HOLES_MAX + 1);
    HW_ALLOC(job, tmp.arena, way, mesh->point_count + 1);
    for (int i = 0; i < mesh->point_count; i++) {
        if (open.used[i] == open.from[i + 1] - open.from[i]) continue;
        int length = 1, found_points = 0;
        way[0] = i;
        open.place[i] = 1;
        while ((found_points = take_loop(&open, way, &length, holes[count].loop)) > 0) {
            hole *h = &holes[count];
            h->count = found_points;
            bool is_hole =
                found_points >= LOOP_LEAST && found_points <= LOOP_MAX && count < HOLES_MAX;
            if (is_hole) set_plane(mesh, h);
            if (is_hole && 2.0 * h->radius <= widest && is_star(mesh, h))
                count++;
            else
                found.left_open++;
        }
    }
    if (count == 0) {
        *out = *mesh;
    } else {
        HW_TRY(make_room(job, mesh, holes, count, into, out));
        for (int i = 0; i < count; i++) {
            found.middles[i] = holes[i].middle;
            found.radii[i] = holes[i].radius;
            fit_shape(mesh, &holes[i]);
            patch(&holes[i], out);
        }
    }
    found.filled = count;
    const hw_mesh added = {.points = out->points,
                           .point_count = out->point_count,
                           .triangles = out->triangles + found.first_triangle,
                           .triangle_count = out->triangle_count - found.first_triangle};
    found.area_m2 = hw_mesh_area(&added);
    hw_scratch_end(tmp);
    *facts = found;
    return HW_OK;
}
