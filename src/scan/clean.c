// SPDX-License-Identifier: GPL-3.0-or-later
// From the file's triangles to one surface.
#include "scan_internal.h"

#include <string.h>

static const double weld_share = 1e-6;       // of the box's diagonal: below any scanner's noise
static const double second_foot_share = 0.3; // of the largest piece's area
static const double fragment_share = 0.05;   // smaller pieces are strays
static const double flat_share = 0.05;       // thickness over breadth of a floor or table
static const double floor_area_share = 0.1;  // of all area: smaller flat pieces are plain strays
enum { TRIANGLES_MIN = 200 };

typedef struct piece {
    double area;
    int triangle_count;
    hw_vec3 mean;     // area-weighted
    double spread[9]; // second moments about the mean
    bool is_floor, is_large, is_kept;
} piece;

static hw_vec3 middle_of(const hw_mesh *mesh, int triangle, double *area)
{
    const int *corner = mesh->triangles[triangle];
    hw_vec3 a = mesh->points[corner[0]], b = mesh->points[corner[1]], c = mesh->points[corner[2]];
    *area = 0.5 * hw_vec3_norm(hw_vec3_cross(hw_vec3_sub(b, a), hw_vec3_sub(c, a)));
    return hw_vec3_scale(hw_vec3_add(hw_vec3_add(a, b), c), 1.0 / 3.0);
}

static void weigh_pieces(const hw_mesh *mesh, const int *piece_of, piece *pieces, int count)
{
    for (int i = 0; i < mesh->triangle_count; i++) {
        double area = 0.0;
        hw_vec3 middle = middle_of(mesh, i, &area);
        piece *p = &pieces[piece_of[i]];
        p->area += area;
        p->triangle_count++;
        p->mean = hw_vec3_add(p->mean, hw_vec3_scale(middle, area));
    }
    for (int i = 0; i < count; i++)
        if (pieces[i].area > 0.0)
            pieces[i].mean = hw_vec3_scale(pieces[i].mean, 1.0 / pieces[i].area);
    for (int i = 0; i < mesh->triangle_count; i++) {
        double area = 0.0;
        hw_vec3 d = hw_vec3_sub(middle_of(mesh, i, &area), pieces[piece_of[i]].mean);
        double arm[3] = {d.x, d.y, d.z};
        for (int k = 0; k < 9; k++) pieces[piece_of[i]].spread[k] += area * arm[k / 3] * arm[k % 3];
    }
}

static bool is_flat(const piece *p)
{
    double values[3], vectors[9];
    hw_eigen3(p->spread, values, vectors);
    return values[1] > 0.0 && values[0] < flat_share * flat_share * values[1];
}

static hw_status refuse_several(hw_job *job, int large)
{
    if (large == 2)
        return hw_fail(job, HW_BAD_INPUT,
                       "the scan shows two large separate surfaces, such as two feet or two legs; "
                       "state a side, or cut out one foot and try again");
    return hw_fail(job, HW_BAD_INPUT,
                   "the scan shows %d large separate surfaces, such as a whole body or several "
                   "objects; cut out one foot and try again",
                   large);
}

// Pieces come largest first. Floors go; of the rest the largest stays, with its larger fragments.
// Returns how many large ones there are.
static int sort_pieces(piece *pieces, int count, double area)
{
    double largest = 0.0;
    int large = 0;
    for (int i = 0; i < count; i++) {
        piece *p = &pieces[i];
        p->is_floor = p->area > floor_area_share * area && is_flat(p);
        if (p->is_floor) continue;
        if (largest == 0.0) largest = p->area;
        large += p->area > second_foot_share * largest;
        p->is_large = p->area > second_foot_share * largest;
        p->is_kept = p->area >= fragment_share * largest;
    }
    return large;
}

static hw_status choose_pieces(hw_job *job, piece *pieces, int count, double area)
{
    int large = sort_pieces(pieces, count, area);
    if (large == 0) return hw_fail(job, HW_BAD_INPUT, "the scan shows only a flat plate, no foot");
    return large == 1 ? HW_OK : refuse_several(job, large);
}

static void keep_triangles(const hw_mesh *mesh, const int *piece_of, const piece *pieces,
                           hw_mesh *kept)
{
    for (int i = 0; i < mesh->triangle_count; i++)
        if (pieces[piece_of[i]].is_kept)
            memcpy(kept->triangles[kept->triangle_count++], mesh->triangles[i], sizeof(int[3]));
}

// The points of what went go too; those that stay keep their order.
static hw_status leave_out_unused(hw_job *job, const hw_mesh *mesh, hw_arena *into, hw_mesh *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh kept = {.triangle_count = mesh->triangle_count};
    int *place = NULL; // 1 + where a used point goes
    HW_ALLOC(job, tmp.arena, place, mesh->point_count + 1);
    for (int i = 0; i < mesh->triangle_count; i++)
        for (int k = 0; k < 3; k++) place[mesh->triangles[i][k]] = 1;
    for (int i = 0; i < mesh->point_count; i++)
        if (place[i]) place[i] = ++kept.point_count;
    HW_ALLOC(job, into, kept.points, kept.point_count + 1);
    HW_ALLOC(job, into, kept.triangles, kept.triangle_count + 1);
    for (int i = 0; i < mesh->point_count; i++)
        if (place[i]) kept.points[place[i] - 1] = mesh->points[i];
    HW_TRY(hw_mesh_keep_colours(job, mesh, place, into, &kept));
    for (int i = 0; i < mesh->triangle_count; i++)
        for (int k = 0; k < 3; k++) kept.triangles[i][k] = place[mesh->triangles[i][k]] - 1;
    hw_scratch_end(tmp);
    *out = kept;
    return HW_OK;
}

static void count_removed(const piece *pieces, int count, hw_scan_removed *removed)
{
    for (int i = 0; i < count; i++) {
        const piece *p = &pieces[i];
        if (p->is_kept) continue;
        removed->area_m2 += p->area; // file units until the unit is known
        if (p->is_floor) {
            removed->floor_triangles += p->triangle_count;
            continue;
        }
        removed->stray_pieces++;
        removed->stray_triangles += p->triangle_count;
    }
}

static hw_status drop_pieces(hw_job *job, const hw_mesh *mesh, hw_arena *into, hw_mesh *out,
                             hw_scan_removed *removed)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    int *piece_of = NULL, count = 0;
    const bool is_first = removed->stray_pieces + removed->floor_triangles == 0;
    HW_TRY(hw_mesh_pieces(job, mesh, tmp.arena, &piece_of, &count));
    piece *pieces = NULL;
    HW_ALLOC(job, tmp.arena, pieces, count);
    weigh_pieces(mesh, piece_of, pieces, count);
    HW_TRY(choose_pieces(job, pieces, count, hw_mesh_area(mesh)));
    count_removed(pieces, count, removed);
    // As most scans are: welding has left no point without a triangle, and nothing goes.
    if (is_first && removed->stray_pieces + removed->floor_triangles == 0) {
        *out = *mesh;
        hw_scratch_end(tmp);
        return HW_OK;
    }
    hw_mesh kept = {
        .points = mesh->points, .point_count = mesh->point_count, .colours = mesh->colours};
    HW_ALLOC(job, tmp.arena, kept.triangles, mesh->triangle_count);
    keep_triangles(mesh, piece_of, pieces, &kept);
    HW_TRY(leave_out_unused(job, &kept, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}

// The same, and once more where a floor hung together with it.
static hw_status drop_what_is_no_foot(hw_job *job, const hw_mesh *whole, hw_arena *into,
                                      hw_mesh *out, hw_scan_removed *removed)
{
    hw_scan_removed before = *removed;
    hw_status status = drop_pieces(job, whole, into, out, removed);
    if (status == HW_BAD_INPUT) { // a wide rim makes a foam box's print look like a plate
        *removed = before;
        HW_ALLOC(job, into, out->triangles, whole->triangle_count);
        memcpy(out->triangles, whole->triangles,
               (size_t)whole->triangle_count * sizeof *out->triangles);
        out->points = whole->points;
        out->colours = whole->colours;
        out->point_count = whole->point_count;
        out->triangle_count = whole->triangle_count;
    } else if (status != HW_OK) {
        return status;
    }
    int floor_before = removed->floor_triangles;
    const hw_job sentence = *job;
    HW_TRY(drop_joined_floor(job, out, removed));
    if (removed->floor_triangles == floor_before) {
        if (status != HW_OK) *job = sentence;
        return status;
    }
    hw_mesh rest = *out;
    return drop_pieces(job, &rest, into, out, removed);
}

hw_status split_surfaces(hw_job *job, const hw_mesh *raw, hw_arena *into, hw_mesh parts[2],
                         int *count)
{
    *count = 0;
    if (raw->triangle_count < 2 * TRIANGLES_MIN) return HW_OK;
    hw_box box = hw_mesh_box(raw);
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_scan_removed ignored = {0};
    hw_mesh whole = {0};
    HW_TRY(hw_mesh_weld(job, raw, weld_share * hw_vec3_distance(box.low, box.high), tmp.arena,
                        &whole));
    int *piece_of = NULL, pieces_found = 0, large = 0;
    piece *pieces = NULL;
    for (int round = 0; round < 2 && large != 2 && whole.triangle_count > 0; round++) {
        if (round == 1) HW_TRY(drop_joined_floor(job, &whole, &ignored));
        HW_TRY(hw_mesh_pieces(job, &whole, tmp.arena, &piece_of, &pieces_found));
        HW_ALLOC(job, tmp.arena, pieces, pieces_found);
        weigh_pieces(&whole, piece_of, pieces, pieces_found);
        large = sort_pieces(pieces, pieces_found, hw_mesh_area(&whole));
    }
    for (int i = 0; i < pieces_found && large == 2; i++) {
        if (!pieces[i].is_large) continue;
        hw_mesh part = {
            .points = whole.points, .point_count = whole.point_count, .colours = whole.colours};
        HW_ALLOC(job, tmp.arena, part.triangles, pieces[i].triangle_count);
        for (int k = 0; k < pieces_found; k++) pieces[k].is_kept = k == i;
        keep_triangles(&whole, piece_of, pieces, &part);
        HW_TRY(leave_out_unused(job, &part, into, &parts[(*count)++]));
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status clean_surface(hw_job *job, const hw_mesh *raw, bool keeps_all, hw_arena *into,
                        hw_mesh *out, hw_scan_removed *removed)
{
    if (raw->triangle_count < TRIANGLES_MIN)
        return hw_fail(job, HW_BAD_INPUT,
                       "the scan has %d triangles; a foot cannot be told with fewer than %d",
                       raw->triangle_count, TRIANGLES_MIN);
    hw_box box = hw_mesh_box(raw);
    double diagonal = hw_vec3_distance(box.low, box.high);
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh whole = {0}, kept = {0};
    HW_TRY(hw_mesh_weld(job, raw, weld_share * diagonal, tmp.arena, &whole));
    if (whole.triangle_count == 0)
        return hw_fail(job, HW_BAD_INPUT, "all triangles of the scan are without area");
    removed->flat_triangles = raw->triangle_count - whole.triangle_count;
    removed->double_points = raw->point_count - whole.point_count;
    if (keeps_all)
        kept = whole;
    else
        HW_TRY(drop_what_is_no_foot(job, &whole, tmp.arena, &kept, removed));
    HW_TRY(hw_job_ask(job));
    HW_TRY(hw_mesh_turn(job, &kept, into, out, &removed->turned_triangles));
    hw_vec3 *points = NULL;
    HW_ALLOC(job, into, points, out->point_count);
    memcpy(points, kept.points, (size_t)kept.point_count * sizeof *points);
    out->points = points;
    HW_TRY(hw_mesh_keep_colours(job, &kept, NULL, into, out));
    hw_scratch_end(tmp);
    return HW_OK;
}
