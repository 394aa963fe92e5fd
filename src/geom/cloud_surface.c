// SPDX-License-Identifier: GPL-3.0-or-later
// A surface through points: the mean distance to the tangent planes of the points around, on a
// grid, and where it is zero. Beyond the points' reach there is no distance, so that holes stay
// holes.
#include "cloud.h"

#include <float.h>
#include <string.h>

enum { THINNED_TO = 120000, CORNERS_MAX = 12000000, PROBES = 500 };

static const double reach = 2.5; // of the spacing: points that speak for a place
static const double seen_within =
    1.4;                             // of the spacing: the nearest point, else there is no surface
static const double grid_step = 0.9; // of the spacing

// Distance between neighbours of evenly spread points, from the sixth nearest of some of them: n
// points on an area lie 1/sqrt(n) apart, and the sixth stands at sqrt(6/pi) of that.
static hw_status find_spacing(hw_job *job, const hw_vec3 *points, int count, double *out)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    double sixths[PROBES];
    int probes = count < PROBES ? count : PROBES;
    for (int i = 0; i < probes; i++) {
        hw_vec3 p = points[(long long)i * count / probes];
        double nearest[7]; // itself and six more, rising
        for (int k = 0; k < 7; k++) nearest[k] = DBL_MAX;
        for (int j = 0; j < count; j++) {
            hw_vec3 d = hw_vec3_sub(points[j], p);
            double distance = hw_vec3_dot(d, d);
            if (distance >= nearest[6]) continue;
            int k = 6;
            for (; k > 0 && nearest[k - 1] > distance; k--) nearest[k] = nearest[k - 1];
            nearest[k] = distance;
        }
        sixths[i] = sqrt(nearest[6]);
    }
    *out = hw_quantile(sixths, probes, 0.5) * sqrt(HW_PI / 6.0);
    hw_scratch_end(tmp);
    return hw_job_ask(job);
}

// Few enough points: the middles of what lies in the same cell.
static hw_status thin_points(hw_job *job, const hw_vec3 *points, int count, hw_arena *into,
                             hw_vec3 **out, int *out_count)
{
    hw_vec3 *few = NULL;
    HW_ALLOC(job, into, few, count);
    if (count <= THINNED_TO) {
        memcpy(few, points, (size_t)count * sizeof *few);
        *out = few;
        *out_count = count;
        return HW_OK;
    }
    hw_scratch tmp = hw_scratch_begin(job, into);
    // Every so many points give the area they spread over, and that the cell.
    int step = count / 20000 + 1, some = 0;
    for (int i = 0; i < count; i += step) few[some++] = points[i];
    double spacing = 0.0;
    HW_TRY(find_spacing(job, few, some, &spacing));
    cloud cells = {0};
    if (!(spacing > 0.0)) return hw_fail(job, HW_BAD_INPUT, "the points lie at few places only");
    double cell = spacing * sqrt((double)some / THINNED_TO) * 1.1;
    HW_TRY(cloud_sort(job, points, count, cell, tmp.arena, &cells));
    int kept = 0, all = cells.cells[0] * cells.cells[1] * cells.cells[2];
    for (int i = 0; i < all; i++) {
        int first = cells.starts[i], end = cells.starts[i + 1];
        if (first == end) continue;
        hw_vec3 sum = {0};
        for (int k = first; k < end; k++) sum = hw_vec3_add(sum, points[cells.order[k]]);
        few[kept++] = hw_vec3_scale(sum, 1.0 / (end - first));
    }
    hw_scratch_end(tmp);
    *out = few;
    *out_count = kept;
    return HW_OK;
}

// Distances at the corners of a grid.
typedef struct field {
    hw_vec3 low;
    double step;
    int size[3]; // corners
    float *sums, *weights, *nearest;
} field;

static int corner_at(const field *f, int i, int j, int k)
{
    return (i * f->size[1] + j) * f->size[2] + k;
}

static hw_vec3 corner_place(const field *f, int i, int j, int k)
{
    return hw_vec3_add(f->low, (hw_vec3){i * f->step, j * f->step, k * f->step});
}

static hw_status make_field(hw_job *job, const cloud *of, double spacing, hw_arena *into,
                            field *out)
{
    const hw_mesh all = {.points = (hw_vec3 *)(uintptr_t)of->points, .point_count = of->count};
    hw_box box = hw_mesh_box(&all);
    double rim = reach * spacing;
    const double extent[3] = {box.high.x - box.low.x + 2 * rim, box.high.y - box.low.y + 2 * rim,
                              box.high.z - box.low.z + 2 * rim};
    field f = {.low = hw_vec3_sub(box.low, (hw_vec3){rim, rim, rim})};
    double corners = DBL_MAX;
    for (f.step = grid_step * spacing; corners > CORNERS_MAX; f.step *= 1.1) {
        corners = 1.0;
        for (int k = 0; k < 3; k++) corners *= floor(extent[k] / f.step) + 2.0;
        if (corners <= CORNERS_MAX) break;
    }
    if (f.step > 2.0 * spacing)
        return hw_fail(job, HW_BAD_INPUT,
                       "the points lie too far apart for their extent to make a surface");
    for (int k = 0; k < 3; k++) f.size[k] = (int)floor(extent[k] / f.step) + 2;
    int count = f.size[0] * f.size[1] * f.size[2];
    HW_ALLOC(job, into, f.sums, count);
    HW_ALLOC(job, into, f.weights, count);
    HW_ALLOC(job, into, f.nearest, count);
    for (int i = 0; i < count; i++) f.nearest[i] = FLT_MAX;
    *out = f;
    return HW_OK;
}

static void splat(field *f, hw_vec3 p, hw_vec3 normal, double spacing)
{
    double radius = reach * spacing, at[3] = {p.x - f->low.x, p.y - f->low.y, p.z - f->low.z};
    int from[3], to[3];
    for (int k = 0; k < 3; k++) {
        from[k] = (int)fmax(0.0, ceil((at[k] - radius) / f->step));
        to[k] = (int)fmin(f->size[k] - 1.0, floor((at[k] + radius) / f->step));
    }
    for (int i = from[0]; i <= to[0]; i++)
        for (int j = from[1]; j <= to[1]; j++)
            for (int k = from[2]; k <= to[2]; k++) {
                hw_vec3 d = hw_vec3_sub(corner_place(f, i, j, k), p);
                double square = hw_vec3_dot(d, d) / (spacing * spacing);
                if (square > reach * reach) continue;
                double fade = 1.0 - square / (reach * reach), weight = fade * fade * fade * fade;
                int c = corner_at(f, i, j, k);
                f->sums[c] += (float)(weight * hw_vec3_dot(d, normal));
                f->weights[c] += (float)weight;
                f->nearest[c] = fminf(f->nearest[c], (float)square);
            }
}

// The triangles of the zero surface, corners not yet shared.
typedef struct soup {
    hw_vec3 *points; // NULL while counting
    int count;
} soup;

static hw_vec3 zero_between(const hw_vec3 place[8], const double value[8], int a, int b)
{
    if (b < a) { // the same place from every cube
        int c = a;
        a = b;
        b = c;
    }
    return hw_vec3_mix(place[a], place[b], value[a] / (value[a] - value[b]));
}

static void put(soup *on, hw_vec3 a, hw_vec3 b, hw_vec3 c, hw_vec3 outward)
{
    hw_vec3 normal = hw_vec3_cross(hw_vec3_sub(b, a), hw_vec3_sub(c, a));
    bool turned = hw_vec3_dot(normal, outward) < 0.0;
    on->points[on->count] = a;
    on->points[on->count + 1] = turned ? c : b;
    on->points[on->count + 2] = turned ? b : c;
}

// One tetrahedron: one corner apart from three gives a triangle, two from two a quadrangle.
static void cross_tetrahedron(const hw_vec3 place[8], const double value[8], const int t[4],
                              soup *on)
{
    int in[4], out[4], ins = 0, outs = 0;
    for (int k = 0; k < 4; k++) {
        if (value[t[k]] < 0.0)
            in[ins++] = t[k];
        else
            out[outs++] = t[k];
    }
    if (ins == 0 || outs == 0) return;
    int triangles = ins == 2 ? 2 : 1;
    if (on->points) {
        hw_vec3 outward = hw_vec3_sub(place[out[0]], place[in[0]]);
        hw_vec3 q[4];
        if (ins == 2) {
            q[0] = zero_between(place, value, in[0], out[0]);
            q[1] = zero_between(place, value, in[0], out[1]);
            q[2] = zero_between(place, value, in[1], out[1]);
            q[3] = zero_between(place, value, in[1], out[0]);
            outward = hw_vec3_add(outward, hw_vec3_sub(place[out[1]], place[in[1]]));
        } else {
            int one = ins == 1 ? in[0] : out[0];
            const int *three = ins == 1 ? out : in;
            for (int k = 0; k < 3; k++) q[k] = zero_between(place, value, one, three[k]);
            hw_vec3 middle =
                hw_vec3_add(place[three[0]], hw_vec3_add(place[three[1]], place[three[2]]));
            outward = hw_vec3_sub(hw_vec3_scale(middle, 1.0 / 3.0), place[one]);
            if (ins != 1) outward = hw_vec3_scale(outward, -1.0);
        }
        put(on, q[0], q[1], q[2], outward);
        if (ins == 2) {
            on->count += 3;
            put(on, q[0], q[2], q[3], outward);
            on->count -= 3;
        }
    }
    on->count += 3 * triangles;
}

static bool read_cube(const field *f, double screen, const int at[3], hw_vec3 place[8],
                      double value[8])
{
    bool is_near = false;
    for (int c = 0; c < 8; c++) {
        int i = at[0] + (c & 1), j = at[1] + (c >> 1 & 1), k = at[2] + (c >> 2 & 1);
        int corner = corner_at(f, i, j, k);
        if (f->weights[corner] <= 0.0F) return false;
        is_near = is_near || (double)f->nearest[corner] <= screen;
        place[c] = corner_place(f, i, j, k);
        value[c] = (double)f->sums[corner] / (double)f->weights[corner];
    }
    return is_near;
}

static void cross_cubes(const field *f, soup *on)
{
    // Six tetrahedra around the long diagonal 0-7; neighbouring cubes cut their faces alike.
    static const int tetrahedra[6][4] = {{0, 1, 3, 7}, {0, 3, 2, 7}, {0, 2, 6, 7},
                                         {0, 6, 4, 7}, {0, 4, 5, 7}, {0, 5, 1, 7}};
    hw_vec3 place[8];
    double value[8], screen = seen_within * seen_within;
    for (int i = 0; i + 1 < f->size[0]; i++)
        for (int j = 0; j + 1 < f->size[1]; j++)
            for (int k = 0; k + 1 < f->size[2]; k++) {
                if (f->weights[corner_at(f, i, j, k)] <= 0.0F) continue;
                const int at[3] = {i, j, k};
                if (!read_cube(f, screen, at, place, value)) continue;
                for (int t = 0; t < 6; t++) cross_tetrahedron(place, value, tetrahedra[t], on);
            }
}

static hw_status zero_surface(hw_job *job, const field *f, double spacing, hw_arena *into,
                              hw_mesh *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    soup triangles = {0};
    cross_cubes(f, &triangles);
    if (triangles.count == 0)
        return hw_fail(job, HW_BAD_INPUT, "no surface can be laid through the points");
    hw_mesh torn = {.point_count = triangles.count, .triangle_count = triangles.count / 3};
    HW_ALLOC(job, tmp.arena, torn.points, torn.point_count);
    HW_ALLOC(job, tmp.arena, torn.triangles, torn.triangle_count);
    triangles = (soup){.points = torn.points};
    cross_cubes(f, &triangles);
    for (int i = 0; i < torn.point_count; i++) torn.triangles[i / 3][i % 3] = i;
    HW_TRY(hw_mesh_weld(job, &torn, 0.05 * spacing, into, out)); // slivers go
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_cloud_surface(hw_job *job, const hw_vec3 *points, int count, hw_arena *into,
                           hw_mesh *out, double *spacing)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_vec3 *few = NULL;
    int few_count = 0;
    cloud of = {0};
    field f = {0};
    double apart = 0.0;
    HW_TRY(thin_points(job, points, count, tmp.arena, &few, &few_count));
    HW_TRY(find_spacing(job, few, few_count, &apart));
    if (!(apart > 0.0)) return hw_fail(job, HW_BAD_INPUT, "the points lie at few places only");
    HW_TRY(cloud_sort(job, few, few_count, reach * apart, tmp.arena, &of));
    HW_TRY(cloud_face(job, &of, tmp.arena));
    HW_TRY(make_field(job, &of, apart, tmp.arena, &f));
    for (int i = 0; i < few_count; i++)
        if (hw_vec3_dot(of.normals[i], of.normals[i]) > 0.5)
            splat(&f, few[i], of.normals[i], apart);
    HW_TRY(hw_job_ask(job));
    HW_TRY(zero_surface(job, &f, apart, into, out));
    hw_scratch_end(tmp);
    *spacing = apart;
    return HW_OK;
}
