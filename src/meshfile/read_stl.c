// SPDX-License-Identifier: GPL-3.0-or-later
// STL. The first word never decides: binary headers begin with "solid" too. Stored normals are
// ignored, the winding is what counts.
#include "read_internal.h"

#include <string.h>

enum { HEADER_BYTES = 84, FACET_BYTES = 50, CORNERS_AT = 12 };

static uint32_t little_u32(const unsigned char *at)
{
    return at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

static double little_float(const unsigned char *at)
{
    uint32_t bits = little_u32(at);
    float value;
    memcpy(&value, &bits, sizeof value);
    return (double)value;
}

bool is_binary_stl(hw_bytes file)
{
    if (file.count < HEADER_BYTES) return false;
    uint64_t count = little_u32(file.at + 80);
    return file.count == HEADER_BYTES + FACET_BYTES * count;
}

// Room for n triangles and for the points they will share.
static hw_status begin(hw_job *job, uint64_t count, hw_arena *into, hw_arena *scratch, hw_mesh *out,
                       sharer *points)
{
    if (count == 0) return hw_fail(job, HW_BAD_FORMAT, "the STL file has no triangles");
    if (count > HW_MESHFILE_TRIANGLES_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "the STL file has %llu triangles; %d are the limit",
                       (unsigned long long)count, HW_MESHFILE_TRIANGLES_MAX);
    hw_mesh mesh = {.triangle_count = (int)count};
    HW_ALLOC(job, into, mesh.triangles, mesh.triangle_count);
    *out = mesh;
    return sharer_begin(job, 3 * (int)count, scratch, points);
}

static hw_status keep_points(hw_job *job, const sharer *from, hw_arena *into, hw_mesh *out)
{
    out->point_count = from->point_count;
    HW_ALLOC(job, into, out->points, out->point_count);
    memcpy(out->points, from->points, (size_t)out->point_count * sizeof *out->points);
    return HW_OK;
}

hw_status read_stl_binary(hw_job *job, hw_bytes file, hw_arena *into, hw_mesh *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh mesh = {0};
    sharer points = {0};
    HW_TRY(begin(job, little_u32(file.at + 80), into, tmp.arena, &mesh, &points));
    const unsigned char *at = file.at + HEADER_BYTES;
    for (int i = 0; i < mesh.triangle_count; i++, at += FACET_BYTES)
        for (int k = 0; k < 3; k++) {
            const unsigned char *xyz = at + CORNERS_AT + 12 * k;
            hw_vec3 p = {little_float(xyz), little_float(xyz + 4), little_float(xyz + 8)};
            HW_TRY(sharer_take(job, &points, p, &mesh.triangles[i][k]));
        }
    HW_TRY(keep_points(job, &points, into, &mesh));
    hw_scratch_end(tmp);
    *out = mesh;
    return HW_OK;
}

// To behind "facet normal"; false at the end of the text. A solid's name may be any words.
static bool next_facet(span *text, bool *is_closed)
{
    for (;;) {
        span token = next_token(text);
        if (token.at == token.end) return false;
        if (token_is(token, "endsolid") || token_is(token, "end")) *is_closed = true;
        if (!token_is(token, "facet")) continue;
        span ahead = *text;
        if (!token_is(next_token(&ahead), "normal")) continue;
        *text = ahead;
        *is_closed = false;
        return true;
    }
}

static hw_status expect(hw_job *job, span *text, const char *word)
{
    span token = next_token(text);
    if (token_is(token, word)) return HW_OK;
    if (token.at == token.end)
        return hw_fail(job, HW_BAD_FORMAT, "the ASCII STL ends inside a triangle: it is cut off");
    return hw_fail(job, HW_BAD_FORMAT, "the ASCII STL is damaged: a triangle lacks its '%s'", word);
}

static hw_status read_facet(hw_job *job, span *text, hw_vec3 *corners)
{
    for (int i = 0; i < 3; i++) next_token(text); // the normal, often nan for slivers
    HW_TRY(expect(job, text, "outer"));
    HW_TRY(expect(job, text, "loop"));
    for (int k = 0; k < 3; k++) {
        HW_TRY(expect(job, text, "vertex"));
        HW_TRY(read_coordinate(job, next_token(text), &corners[k].x));
        HW_TRY(read_coordinate(job, next_token(text), &corners[k].y));
        HW_TRY(read_coordinate(job, next_token(text), &corners[k].z));
    }
    HW_TRY(expect(job, text, "endloop"));
    return expect(job, text, "endfacet");
}

hw_status read_stl_text(hw_job *job, span text, hw_arena *into, hw_mesh *out)
{
    uint64_t count = 0;
    bool is_closed = false;
    for (span counting = text; next_facet(&counting, &is_closed);) count++;
    hw_scratch tmp = hw_scratch_begin(job, into);
    hw_mesh mesh = {0};
    sharer points = {0};
    HW_TRY(begin(job, count, into, tmp.arena, &mesh, &points));
    for (int i = 0; i < mesh.triangle_count; i++) {
        hw_vec3 corners[3];
        if (!next_facet(&text, &is_closed)) // it was there when counting, but inside another
            return hw_fail(job, HW_BAD_FORMAT, "the ASCII STL has a triangle inside another");
        HW_TRY(read_facet(job, &text, corners));
        for (int k = 0; k < 3; k++)
            HW_TRY(sharer_take(job, &points, corners[k], &mesh.triangles[i][k]));
    }
    next_facet(&text, &is_closed);
    if (!is_closed)
        return hw_fail(job, HW_BAD_FORMAT, "the ASCII STL lacks its 'endsolid': it is cut off");
    HW_TRY(keep_points(job, &points, into, &mesh));
    hw_scratch_end(tmp);
    *out = mesh;
    return HW_OK;
}
