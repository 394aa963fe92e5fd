// SPDX-License-Identifier: GPL-3.0-or-later
// Binary STL: 80 bytes of header, a count, 50 bytes a triangle; little-endian.
#include "write_internal.h"

#include <string.h>

enum { HEADER = 80, FACET = 50 };

static hw_status check_title(hw_job *job, const char *title)
{
    size_t length = strlen(title);
    if (length == 0 || length >= HEADER)
        return hw_fail(job, HW_BAD_INPUT, "a part's title has 1 to 79 letters; this one has %zu",
                       length);
    for (size_t i = 0; i < length; i++)
        if (title[i] < ' ' || title[i] > '~')
            return hw_fail(job, HW_BAD_INPUT, "a part's title is plain ASCII; letter %zu is not",
                           i + 1);
    // readers that go by it would take the file for the text form
    if (strncmp(title, "solid", 5) == 0)
        return hw_fail(job, HW_BAD_INPUT, "a part's title must not begin with 'solid'");
    return HW_OK;
}

static hw_status check_triangles(hw_job *job, const hw_mesh *solid)
{
    if (solid->triangle_count < 1 || solid->triangle_count > HW_MESHFILE_TRIANGLES_MAX)
        return hw_fail(job, HW_BAD_INPUT, "a file takes 1 to %d triangles; the surface has %d",
                       (int)HW_MESHFILE_TRIANGLES_MAX, solid->triangle_count);
    for (int i = 0; i < 3 * solid->triangle_count; i++) {
        int corner = solid->triangles[i / 3][i % 3];
        if (corner < 0 || corner >= solid->point_count)
            return hw_fail(job, HW_BAD_INPUT, "triangle %d names point %d of %d", i / 3, corner,
                           solid->point_count);
    }
    return HW_OK;
}

hw_status write_check(hw_job *job, const hw_mesh *solid, const char *title)
{
    const double most = 100.0; // m: beyond any room; a float there still tells 0.01 mm apart
    HW_TRY(check_title(job, title));
    HW_TRY(check_triangles(job, solid));
    for (int i = 0; i < solid->point_count; i++) {
        hw_vec3 p = solid->points[i];
        if (!(fabs(p.x) <= most && fabs(p.y) <= most && fabs(p.z) <= most))
            return hw_fail(job, HW_BAD_INPUT, "point %d is no number or beyond %g m", i, most);
    }
    return HW_OK;
}

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
    HW_TRY(write_check(job, solid, title));
    unsigned char *file = NULL;
    size_t count = HEADER + 4 + (size_t)FACET * (size_t)solid->triangle_count;
    HW_ALLOC(job, into, file, count + 1);
    memcpy(file, title, strlen(title)); // zero bytes behind it
    put_u32(file + HEADER, (uint32_t)solid->triangle_count);
    for (int t = 0; t < solid->triangle_count; t++)
        put_facet(file + HEADER + 4 + (size_t)FACET * (size_t)t, solid, t);
    *out = (hw_bytes){file, count};
    return HW_OK;
}
