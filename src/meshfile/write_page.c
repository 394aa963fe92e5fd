// SPDX-License-Identifier: GPL-3.0-or-later
// The page's form of a surface: what a graphics card takes as it stands.
#include "meshfile/meshfile.h"

#include <string.h>

enum { HEAD_BYTES = 12 };

static void put_u32(unsigned char **at, uint32_t value)
{
    for (int i = 0; i < 4; i++) *(*at)++ = (unsigned char)(value >> (8 * i));
}

static void put_float(unsigned char **at, double value)
{
    float narrow = (float)value;
    uint32_t bits = 0;
    memcpy(&bits, &narrow, sizeof bits);
    put_u32(at, bits);
}

hw_status hw_meshfile_page(hw_job *job, const hw_mesh *surface, hw_arena *into, hw_bytes *out)
{
    size_t points = (size_t)surface->point_count, triangles = (size_t)surface->triangle_count;
    size_t count = HEAD_BYTES + 12 * (points + triangles) + (surface->colours ? 3 * points : 0);
    unsigned char *bytes = NULL;
    HW_ALLOC(job, into, bytes, count);
    unsigned char *at = bytes;
    memcpy(at, surface->colours ? "HWM2" : "HWM1", 4);
    at += 4;
    put_u32(&at, (uint32_t)points);
    put_u32(&at, (uint32_t)triangles);
    for (size_t i = 0; i < points; i++) {
        put_float(&at, hw_mm_from_m(surface->points[i].x));
        put_float(&at, hw_mm_from_m(surface->points[i].y));
        put_float(&at, hw_mm_from_m(surface->points[i].z));
    }
    for (size_t i = 0; i < triangles; i++)
        for (int c = 0; c < 3; c++) put_u32(&at, (uint32_t)surface->triangles[i][c]);
    for (size_t i = 0; surface->colours && i < points; i++)
        for (int c = 0; c < 3; c++) *at++ = surface->colours[i][c];
    *out = (hw_bytes){.at = bytes, .count = count};
    return HW_OK;
}
