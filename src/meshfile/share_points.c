// SPDX-License-Identifier: GPL-3.0-or-later
// Corners of an STL that stand at the very same place become one point while they are read: the
// file repeats each point about six times, and what comes after need not carry that.
#include "read_internal.h"

#include <string.h>

enum { START = 1 << 12 };

hw_status sharer_begin(hw_job *job, int corner_count, hw_arena *into, sharer *out)
{
    // A closed surface has half as many points as triangles; where there are more, room is doubled.
    sharer fresh = {.into = into, .capacity = corner_count / 5 + START, .slot_count = START};
    while (fresh.slot_count < 2 * (size_t)fresh.capacity) fresh.slot_count *= 2;
    HW_ALLOC(job, into, fresh.points, fresh.capacity);
    HW_ALLOC(job, into, fresh.slots, fresh.slot_count);
    *out = fresh;
    return HW_OK;
}

// The point's own bits, so that nothing but the same number is the same place; -0 is 0.
static size_t slot_of(const sharer *of, hw_vec3 p)
{
    uint64_t x, y, z;
    double px = p.x + 0.0, py = p.y + 0.0, pz = p.z + 0.0;
    memcpy(&x, &px, sizeof x);
    memcpy(&y, &py, sizeof y);
    memcpy(&z, &pz, sizeof z);
    uint64_t hash = x * 0x9E3779B97F4A7C15u;
    hash = (hash ^ hash >> 32 ^ y) * 0xBF58476D1CE4E5B9u;
    hash = (hash ^ hash >> 32 ^ z) * 0x94D049BB133111EBu;
    return (size_t)(hash ^ hash >> 32) & (of->slot_count - 1);
}

// Free slot or that of a point at the same place.
static size_t find_slot(const sharer *of, hw_vec3 p)
{
    size_t at = slot_of(of, p);
    for (; of->slots[at]; at = (at + 1) & (of->slot_count - 1)) {
        hw_vec3 q = of->points[of->slots[at] - 1];
        if (p.x == q.x && p.y == q.y && p.z == q.z) break;
    }
    return at;
}

static hw_status grow(hw_job *job, sharer *of)
{
    sharer wider = *of;
    wider.capacity *= 2;
    wider.slot_count *= 2;
    HW_ALLOC(job, of->into, wider.points, wider.capacity);
    HW_ALLOC(job, of->into, wider.slots, wider.slot_count);
    memcpy(wider.points, of->points, (size_t)of->point_count * sizeof *of->points);
    for (int i = 0; i < of->point_count; i++) wider.slots[find_slot(&wider, of->points[i])] = i + 1;
    *of = wider;
    return HW_OK;
}

hw_status sharer_take(hw_job *job, sharer *of, hw_vec3 p, int *out)
{
    size_t at = find_slot(of, p);
    if (!of->slots[at]) {
        if (of->point_count == of->capacity) {
            HW_TRY(grow(job, of));
            at = find_slot(of, p);
        }
        of->points[of->point_count++] = p;
        of->slots[at] = of->point_count;
    }
    *out = of->slots[at] - 1;
    return HW_OK;
}
