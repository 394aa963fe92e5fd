// SPDX-License-Identifier: GPL-3.0-or-later
// The form in which an uploaded surface is kept: whatever came in, one plain layout goes on.
#include "meshfile/meshfile.h"

#include <stdio.h>
#include <string.h>

enum { HEAD_BYTES_MAX = 300, FACE_BYTES = 1 + 3 * 4 };

// A float holds what an STL said; a decimal of an OBJ needs the double.
static bool fits_floats(const hw_mesh *surface)
{
    for (int i = 0; i < surface->point_count; i++) {
        hw_vec3 p = surface->points[i];
        if (p.x > (double)(float)p.x || p.x < (double)(float)p.x) return false;
        if (p.y > (double)(float)p.y || p.y < (double)(float)p.y) return false;
        if (p.z > (double)(float)p.z || p.z < (double)(float)p.z) return false;
    }
    return true;
}

static void put_little_endian(unsigned char **at, uint64_t value, int bytes)
{
    for (int i = 0; i < bytes; i++) *(*at)++ = (unsigned char)(value >> (8 * i));
}

static void put_real(unsigned char **at, double value, bool as_float)
{
    float narrow = (float)value;
    uint64_t wide_bits = 0;
    uint32_t bits = 0;
    memcpy(&wide_bits, &value, sizeof wide_bits);
    memcpy(&bits, &narrow, sizeof bits);
    put_little_endian(at, as_float ? bits : wide_bits, as_float ? 4 : 8);
}

static int write_head(const hw_mesh *surface, bool as_float, char head[static HEAD_BYTES_MAX])
{
    const char *type = as_float ? "float" : "double";
    return snprintf(head, HEAD_BYTES_MAX,
                    "ply\nformat binary_little_endian 1.0\nelement vertex %d\n"
                    "property %s x\nproperty %s y\nproperty %s z\n%selement face %d\n"
                    "property list uchar int vertex_indices\nend_header\n",
                    surface->point_count, type, type, type,
                    surface->colours ? "property uchar red\nproperty uchar green\n"
                                       "property uchar blue\n"
                                     : "",
                    surface->triangle_count);
}

hw_status hw_meshfile_ply(hw_job *job, const hw_mesh *surface, hw_arena *into, hw_bytes *out)
{
    if (surface->triangle_count < 1 || surface->triangle_count > HW_MESHFILE_TRIANGLES_MAX)
        return hw_fail(job, HW_BAD_INPUT, "a PLY of %d triangles; it may hold 1 to %d",
                       surface->triangle_count, HW_MESHFILE_TRIANGLES_MAX);
    bool as_float = fits_floats(surface);
    char head[HEAD_BYTES_MAX];
    int head_bytes = write_head(surface, as_float, head);
    unsigned char *bytes = NULL;
    size_t row_bytes = (as_float ? 12u : 24u) + (surface->colours ? 3u : 0u);
    size_t count = (size_t)head_bytes + (size_t)surface->point_count * row_bytes +
                   (size_t)surface->triangle_count * FACE_BYTES;
    HW_ALLOC(job, into, bytes, count);
    unsigned char *at = bytes;
    memcpy(at, head, (size_t)head_bytes);
    at += head_bytes;
    for (int i = 0; i < surface->point_count; i++) {
        put_real(&at, surface->points[i].x, as_float);
        put_real(&at, surface->points[i].y, as_float);
        put_real(&at, surface->points[i].z, as_float);
        for (int c = 0; surface->colours && c < 3; c++) *at++ = surface->colours[i][c];
    }
    for (int i = 0; i < surface->triangle_count; i++) {
        *at++ = 3;
        for (int c = 0; c < 3; c++) put_little_endian(&at, (uint64_t)surface->triangles[i][c], 4);
    }
    *out = (hw_bytes){.at = bytes, .count = count};
    return HW_OK;
}
