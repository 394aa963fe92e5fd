// SPDX-License-Identifier: GPL-3.0-or-later
#include "read_internal.h"

#include <string.h>

// The header promises it: beyond this a number is a fault, whatever the unit.
static const double coordinate_max = 1e6;

static span as_text(hw_bytes file)
{
    const char *at = (const char *)file.at;
    span text = {at, at + file.count};
    if (file.count >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0) text.at += 3; // byte order mark
    return text;
}

static bool is_wide_text(hw_bytes file)
{
    if (file.count < 4) return false;
    bool marked =
        (file.at[0] == 0xFE && file.at[1] == 0xFF) || (file.at[0] == 0xFF && file.at[1] == 0xFE);
    return marked && (file.at[2] == 0 || file.at[3] == 0);
}

static bool has_zero_bytes(span text)
{
    return memchr(text.at, 0, span_length(text)) != NULL;
}

// A line "v ..." or "f ..." among the first lines that say anything.
static bool looks_like_obj(span text)
{
    if (has_zero_bytes(text)) return false;
    while (text.at < text.end) {
        span line = next_line(&text), word = next_token(&line);
        if (token_is(word, "v") || token_is(word, "f") || token_is(word, "vn")) return true;
    }
    return false;
}

static hw_status refuse_unknown(hw_job *job, hw_bytes file, span text)
{
    if (is_wide_text(file))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the scan is UTF-16 text; export it again as plain text or as binary STL");
    if (file.count < 84 || !has_zero_bytes(text))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the file is no STL, OBJ, PLY, 3MF or XYZ scan (%zu bytes)", file.count);
    const unsigned char *at = file.at + 80;
    unsigned long count =
        at[0] | (unsigned long)at[1] << 8 | (unsigned long)at[2] << 16 | (unsigned long)at[3] << 24;
    return hw_fail(job, HW_BAD_FORMAT,
                   "the file has %zu bytes, but as binary STL it announces %lu triangles, which "
                   "take %llu bytes: it is cut off, damaged or no scan",
                   file.count, count, 84ull + 50ull * count);
}

static hw_status read_by_content(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out,
                                 hw_meshfile_facts *facts)
{
    if (is_zip(file)) return read_3mf(job, file, into, out, facts);
    span text = as_text(file), start = text;
    span first = next_token(&start);
    if (token_is(first, "ply")) return read_ply(job, file, into, out, facts);
    if (is_binary_stl(file)) {
        facts->format = "STL binary";
        return read_stl_binary(job, file, into, out);
    }
    if (token_is(first, "solid") && !has_zero_bytes(text)) {
        facts->format = "STL ASCII";
        return read_stl_text(job, text, into, out);
    }
    if (looks_like_points(text)) {
        facts->format = "XYZ text";
        return read_points(job, text, into, out);
    }
    if (!looks_like_obj(text)) return refuse_unknown(job, file, text);
    facts->format = "OBJ";
    return read_obj(job, text, into, out, facts);
}

static hw_status check_points(hw_job *job, const hw_mesh *mesh)
{
    for (int i = 0; i < mesh->point_count; i++) {
        double xyz[3] = {mesh->points[i].x, mesh->points[i].y, mesh->points[i].z};
        for (int k = 0; k < 3; k++) {
            if (!isfinite(xyz[k]))
                return hw_fail(job, HW_BAD_FORMAT,
                               "point %d of the scan has a coordinate that is %s", i + 1,
                               isnan(xyz[k]) ? "not a number" : "infinite");
            if (fabs(xyz[k]) > coordinate_max)
                return hw_fail(job, HW_BAD_FORMAT,
                               "point %d of the scan lies at %g; coordinates beyond 1000000 are "
                               "refused",
                               i + 1, xyz[k]);
        }
    }
    return HW_OK;
}

// Points alone get a surface here, so that no caller meets a scan without triangles.
static hw_status lay_surface(hw_job *job, hw_arena *into, hw_mesh *mesh, hw_meshfile_facts *facts)
{
    hw_mesh laid = {0};
    facts->cloud_points = mesh->point_count;
    hw_status status =
        hw_cloud_surface(job, mesh->points, mesh->point_count, into, &laid, &facts->cloud_spacing);
    if (status == HW_BAD_INPUT)
        return hw_fail(
            job, HW_BAD_FORMAT,
            "the scan has %d points without triangles, and no surface can be laid through "
            "them; export it as a surface",
            mesh->point_count);
    HW_TRY(status);
    *mesh = laid;
    return HW_OK;
}

hw_status hw_meshfile_read(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out,
                           hw_meshfile_facts *facts)
{
    if (file.count == 0) return hw_fail(job, HW_BAD_FORMAT, "the scan file is empty");
    hw_meshfile_facts found = {.format = "unknown"};
    hw_scratch tmp = hw_scratch_begin(job, into);
    found.gzipped = file.count >= 2 && file.at[0] == 0x1F && file.at[1] == 0x8B;
    hw_bytes plain = file;
    if (found.gzipped) HW_TRY(gunzip(job, file, tmp.arena, &plain));
    hw_mesh mesh = {0};
    HW_TRY(read_by_content(job, plain, into, &mesh, &found));
    HW_TRY(check_points(job, &mesh));
    if (mesh.triangle_count == 0) HW_TRY(lay_surface(job, into, &mesh, &found));
    hw_scratch_end(tmp);
    *out = mesh;
    if (facts) *facts = found;
    return HW_OK;
}
