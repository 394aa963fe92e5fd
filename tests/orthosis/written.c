// SPDX-License-Identifier: GPL-3.0-or-later
#include "written.h"

#include "meshfile/meshfile.h"

static int bin_of(double x)
{
    int bin = (int)floor(1e3 * x) + 100;
    return bin < 0 ? 0 : bin >= WRITTEN_BINS ? WRITTEN_BINS - 1 : bin;
}

static void span(const hw_mesh *mesh, int t, int *from, int *to)
{
    const int *c = mesh->triangles[t];
    double a = mesh->points[c[0]].x, b = mesh->points[c[1]].x, d = mesh->points[c[2]].x;
    *from = bin_of(fmin(a, fmin(b, d))), *to = bin_of(fmax(a, fmax(b, d)));
}

static hw_status sort_into_bins(hw_job *job, hw_arena *into, written *out)
{
    int from = 0, to = 0, counts[WRITTEN_BINS + 1] = {0};
    for (int t = 0; t < out->mesh.triangle_count; t++) {
        span(&out->mesh, t, &from, &to);
        for (int k = from; k <= to; k++) counts[k + 1]++;
    }
    for (int k = 0; k < WRITTEN_BINS; k++) counts[k + 1] += counts[k];
    memcpy(out->start, counts, sizeof counts);
    HW_ALLOC(job, into, out->list, counts[WRITTEN_BINS] + 1);
    for (int t = 0; t < out->mesh.triangle_count; t++) {
        span(&out->mesh, t, &from, &to);
        for (int k = from; k <= to; k++) out->list[counts[k]++] = t;
    }
    return HW_OK;
}

hw_status written_of(hw_job *job, const hw_foot *foot, const hw_orthosis *device, bool is_3mf,
                     hw_arena *into, written *out)
{
    hw_mesh solid = {0}, back = {0};
    hw_bytes file = {0};
    hw_pose to_metres = hw_pose_identity(), mirror = hw_foot_exit(foot->side);
    to_metres.scale = 1e-3;
    HW_TRY(hw_orthosis_exit(job, device, into, &solid));
    if (is_3mf)
        HW_TRY(hw_meshfile_3mf(job, &solid, "test", into, &file));
    else
        HW_TRY(hw_meshfile_stl(job, &solid, "test", into, &file));
    HW_TRY(hw_meshfile_read(job, file, into, &back, NULL));
    if (is_3mf) { // its build item moves it into the positive octant
        hw_vec3 moved =
            hw_vec3_sub(hw_mesh_box(&back).low, hw_vec3_scale(hw_mesh_box(&solid).low, 1e3));
        for (int k = 0; k < back.point_count; k++)
            back.points[k] = hw_vec3_sub(back.points[k], moved);
    }
    hw_pose whole = hw_pose_chain(&to_metres, &mirror);
    HW_TRY(hw_mesh_place(job, &back, &whole, into, &out->mesh));
    return sort_into_bins(job, into, out);
}

hw_status written_turned(hw_job *job, const written *file, const hw_pose *pose, hw_arena *into,
                         written *out)
{
    HW_TRY(hw_mesh_place(job, &file->mesh, pose, into, &out->mesh));
    return sort_into_bins(job, into, out);
}

double written_height(const written *file, double x, double y, bool is_top)
{
    double best = NAN;
    const hw_mesh *mesh = &file->mesh;
    for (int m = file->start[bin_of(x)]; m < file->start[bin_of(x) + 1]; m++) {
        const int *c = mesh->triangles[file->list[m]];
        hw_vec3 p[3] = {mesh->points[c[0]], mesh->points[c[1]], mesh->points[c[2]]};
        double share[3], whole = 0.0;
        if (fmin(p[0].x, fmin(p[1].x, p[2].x)) > x || fmax(p[0].x, fmax(p[1].x, p[2].x)) < x)
            continue;
        for (int k = 0; k < 3; k++) {
            hw_vec3 a = p[(k + 1) % 3], b = p[(k + 2) % 3];
            share[k] = (a.x - x) * (b.y - y) - (b.x - x) * (a.y - y);
            whole += share[k];
        }
        if (fabs(whole) < 1e-16) continue;
        if (share[0] / whole < 0.0 || share[1] / whole < 0.0 || share[2] / whole < 0.0) continue;
        double z = (share[0] * p[0].z + share[1] * p[1].z + share[2] * p[2].z) / whole;
        if (isnan(best) || (is_top ? z > best : z < best)) best = z;
    }
    return best;
}

double written_tilt(const written *file, double x, double y, double half, bool is_top)
{
    double medial = written_height(file, x, y - half, is_top);
    double lateral = written_height(file, x, y + half, is_top);
    double rise = is_top ? medial - lateral : lateral - medial;
    return atan(rise / (2.0 * half));
}

double written_drop(const written *file, const written *other, double x, double y)
{
    const double h = 0.001, most = 0.012; // m
    double z = written_height(other, x, y, true);
    hw_vec3 up = hw_vec3_unit((hw_vec3){
        -(written_height(other, x + h, y, true) - written_height(other, x - h, y, true)) / (2 * h),
        -(written_height(other, x, y + h, true) - written_height(other, x, y - h, true)) / (2 * h),
        1.0});
    double low = -most, high = most; // the file's top is crossed once between them
    for (int round = 0; round < 30; round++) {
        double middle = 0.5 * (low + high);
        hw_vec3 p = hw_vec3_sub((hw_vec3){x, y, z}, hw_vec3_scale(up, middle));
        if (p.z > written_height(file, p.x, p.y, true))
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

// The point at which an edge crosses the plane x; false where it does not.
static bool cross_section(hw_vec3 a, hw_vec3 b, double x, hw_vec3 *out)
{
    if ((a.x - x) * (b.x - x) > 0.0 || !(fabs(a.x - b.x) > 0.0)) return false;
    *out = hw_vec3_mix(a, b, (x - a.x) / (b.x - a.x));
    return true;
}

written_section written_section_at(const written *file, double x)
{
    written_section out = {1.0, -1.0, -1.0, -1.0};
    const hw_mesh *mesh = &file->mesh;
    double middle = 0.0;
    for (int pass = 0; pass < 2; pass++) {
        for (int m = file->start[bin_of(x)]; m < file->start[bin_of(x) + 1]; m++)
            for (int k = 0; k < 3; k++) {
                const int *c = mesh->triangles[file->list[m]];
                hw_vec3 p;
                if (!cross_section(mesh->points[c[k]], mesh->points[c[(k + 1) % 3]], x, &p))
                    continue;
                out.medial = fmin(out.medial, p.y), out.lateral = fmax(out.lateral, p.y);
                double *crest = p.y < middle ? &out.medial_crest : &out.lateral_crest;
                if (pass == 1) *crest = fmax(*crest, p.z);
            }
        middle = 0.5 * (out.medial + out.lateral);
    }
    return out;
}

void written_sides(const written *file, double x, double z, double out[2])
{
    const hw_mesh *mesh = &file->mesh;
    out[0] = 1.0, out[1] = -1.0;
    for (int m = file->start[bin_of(x)]; m < file->start[bin_of(x) + 1]; m++) {
        const int *c = mesh->triangles[file->list[m]];
        hw_vec3 end[3];
        int count = 0;
        for (int k = 0; k < 3; k++)
            count +=
                cross_section(mesh->points[c[k]], mesh->points[c[(k + 1) % 3]], x, &end[count]);
        if (count < 2 || (end[0].z - z) * (end[1].z - z) > 0.0) continue;
        if (!(fabs(end[0].z - end[1].z) > 0.0)) continue;
        double y = end[0].y + (end[1].y - end[0].y) * (z - end[0].z) / (end[1].z - end[0].z);
        out[0] = fmin(out[0], y), out[1] = fmax(out[1], y);
    }
}

double written_front(const written *file, double y)
{
    double front = -1.0;
    const hw_mesh *mesh = &file->mesh;
    for (int t = 0; t < mesh->triangle_count; t++)
        for (int k = 0; k < 3; k++) { // each edge that crosses y
            hw_vec3 a = mesh->points[mesh->triangles[t][k]];
            hw_vec3 b = mesh->points[mesh->triangles[t][(k + 1) % 3]];
            if ((a.y - y) * (b.y - y) > 0.0 || !(fabs(a.y - b.y) > 0.0)) continue;
            front = fmax(front, a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
        }
    return front;
}
