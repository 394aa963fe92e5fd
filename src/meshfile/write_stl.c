// SPDX-License-Identifier: GPL-3.0-or-later
#include "meshfile/meshfile.h"

#include <string.h>

enum { HEADER = 80, FACET = 50 };

static void put_u32(unsigned char *at, uint32_t value)
{
    for (int i = 0; i < 4; i++) at[i] = (unsigned char)(value >> (8 * i));
}

static void put_float(unsigned char *at, double value)
{
    float narrow = (float)value;
    uint32_t bits = 0;
    memcpy(&bits, &narrow, 4);
    put_u32(at, bits);
}

static void put_vector(unsigned char *at, hw_vec3 v)
{
    put_float(at, v.x);
    put_float(at + 4, v.y);
    put_float(at + 8, v.z);
}

static void put_facet(unsigned char *at, const hw_mesh *solid, int triangle)
{
    hw_vec3 corner[3];
    for (int k = 0; k < 3; k++) {
        hw_vec3 p = solid->points[solid->triangles[triangle][k]];
        corner[k] = (hw_vec3){hw_mm_from_m(p.x), hw_mm_from_m(p.y), hw_mm_from_m(p.z)};
        put_vector(at + 12 * (k + 1), corner[k]);
    }
    hw_vec3 one = hw_vec3_sub(corner[1], corner[0]), other = hw_vec3_sub(corner[2], corner[0]);
    put_vector(at, hw_vec3_unit(hw_vec3_cross(one, other)));
}

hw_status hw_meshfile_stl(hw_job *job, const hw_mesh *solid, const char *title, hw_arena *into,
                          hw_bytes *out)
{
    unsigned char *file = NULL;
    size_t count = HEADER + 4 + (size_t)FACET * (size_t)solid->triangle_count;
    if (strncmp(title, "solid", 5) == 0)
        return hw_fail(job, HW_BAD_INPUT,
                       "a binary STL whose title begins with 'solid' is misread");
    HW_ALLOC(job, into, file, count + 1);
    size_t length = strlen(title);
    memcpy(file, title, length < HEADER - 1 ? length : HEADER - 1);
    put_u32(file + HEADER, (uint32_t)solid->triangle_count);
    for (int t = 0; t < solid->triangle_count; t++)
        put_facet(file + HEADER + 4 + (size_t)FACET * (size_t)t, solid, t);
    *out = (hw_bytes){file, count};
    return HW_OK;
}
