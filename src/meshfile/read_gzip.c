// SPDX-License-Identifier: GPL-3.0-or-later
#include "read_internal.h"

#include <limits.h>
#include <string.h>
#include <zlib.h>

// Repeated digits of a text mesh reach 30:1; deflate's limit, which only bombs reach, is 1032:1.
enum { RATIO_MAX = 200, ALLOWANCE = 1 << 20, CHUNK = 1 << 16 };

// 20 million triangles as binary STL, and again as much for a text's digits.
static const size_t plain_bytes_max = (size_t)2 << 30;

static hw_status damaged(hw_job *job)
{
    return hw_fail(job, HW_BAD_FORMAT, "the gzip file is damaged or cut off; copy it again");
}

// One member after the other into `room`, or only counted where `room` is NULL.
static hw_status inflate_all(hw_job *job, z_stream *z, size_t limit, unsigned char *room,
                             size_t *count)
{
    unsigned char chunk[CHUNK];
    size_t done = 0;
    for (;;) {
        z->next_out = room ? room + done : chunk;
        z->avail_out = room && limit - done < CHUNK ? (uInt)(limit - done) : CHUNK;
        uInt asked = z->avail_out;
        int end = inflate(z, Z_NO_FLUSH);
        done += asked - z->avail_out;
        if (done > limit)
            return hw_fail(job, HW_BAD_FORMAT,
                           "the gzip file grows beyond %zu bytes when opened, which no scan does",
                           limit);
        if (end == Z_STREAM_END) {
            bool more = z->avail_in >= 2 && z->next_in[0] == 0x1F && z->next_in[1] == 0x8B;
            if (!more) break;
            if (inflateReset(z) != Z_OK) return damaged(job);
            continue;
        }
        if (end != Z_OK || (z->avail_out > 0 && z->avail_in == 0)) return damaged(job);
    }
    *count = done;
    return HW_OK;
}

// zlib's own memory is freed here whatever the outcome.
static hw_status run(hw_job *job, hw_bytes file, size_t limit, unsigned char *room, size_t *count)
{
    z_stream z;
    memset(&z, 0, sizeof z);
    if (inflateInit2(&z, 15 + 16) != Z_OK) // 16: a gzip wrapper
        return hw_fail(job, HW_NO_MEMORY, "no memory to open a gzip file");
    z.next_in = (unsigned char *)(uintptr_t)file.at; // zlib reads only
    z.avail_in = (uInt)file.count;
    hw_status status = inflate_all(job, &z, limit, room, count);
    inflateEnd(&z);
    return status;
}

hw_status gunzip(hw_job *job, hw_bytes file, hw_arena *into, hw_bytes *out)
{
    if (file.count > INT_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "a gzip file of %zu bytes is too large", file.count);
    size_t limit = file.count * RATIO_MAX + ALLOWANCE;
    if (limit > plain_bytes_max) limit = plain_bytes_max;
    // Counted first, so that a bomb takes time for its limit but no memory.
    size_t count = 0, again = 0;
    HW_TRY(run(job, file, limit, NULL, &count));
    unsigned char *room = NULL;
    HW_ALLOC(job, into, room, count + 1);
    HW_TRY(run(job, file, count + 1, room, &again));
    HW_ASSERT(again == count);
    if (count == 0) return hw_fail(job, HW_BAD_FORMAT, "the gzip file holds an empty file");
    *out = (hw_bytes){room, count};
    return HW_OK;
}
