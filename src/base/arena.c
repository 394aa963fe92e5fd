// SPDX-License-Identifier: GPL-3.0-or-later
#include "arena.h"
#include "status.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#if defined(__SANITIZE_ADDRESS__)
#define ONE_BLOCK_EACH 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define ONE_BLOCK_EACH 1
#endif
#endif
#ifndef ONE_BLOCK_EACH
#define ONE_BLOCK_EACH 0
#endif

enum { ALIGNMENT = 32, BLOCK_BYTES = 1 << 20 };

typedef struct block {
    struct block *older;
    size_t capacity; // bytes behind the header
    size_t used;
} block;

struct hw_arena {
    block *newest;
    size_t limit;
    size_t taken; // bytes, all blocks
    size_t fail_in;
};

// The header is padded so that what follows it is aligned.
static const size_t header_bytes = (sizeof(block) + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;

hw_arena *hw_arena_new(size_t limit_bytes)
{
    hw_arena *arena = calloc(1, sizeof *arena);
    if (arena) arena->limit = limit_bytes;
    return arena;
}

static void drop_newest(hw_arena *arena)
{
    block *gone = arena->newest;
    arena->newest = gone->older;
    arena->taken -= gone->used;
    free(gone);
}

void hw_arena_free(hw_arena *arena)
{
    if (!arena) return;
    while (arena->newest) drop_newest(arena);
    free(arena);
}

static block *add_block(hw_arena *arena, size_t bytes)
{
    size_t capacity = ONE_BLOCK_EACH || bytes > BLOCK_BYTES ? bytes : BLOCK_BYTES;
    void *memory = NULL;
    if (posix_memalign(&memory, ALIGNMENT, header_bytes + capacity) != 0) return NULL;
    block *fresh = memory;
    *fresh = (block){arena->newest, capacity, 0};
    arena->newest = fresh;
    return fresh;
}

void *hw_arena_take(hw_arena *arena, size_t count, size_t size)
{
    if (arena->fail_in && --arena->fail_in == 0) return NULL;
    if (size && count > (SIZE_MAX - ALIGNMENT - header_bytes) / size) return NULL;
    size_t bytes = count * size;
    if (!ONE_BLOCK_EACH) bytes = (bytes + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
    if (bytes > arena->limit - arena->taken) return NULL;
    block *from = arena->newest;
    if (!from || ONE_BLOCK_EACH || bytes > from->capacity - from->used)
        from = add_block(arena, bytes);
    if (!from) return NULL;
    char *start = (char *)from + header_bytes + from->used;
    from->used += bytes;
    arena->taken += bytes;
    memset(start, 0, bytes);
    return start;
}

hw_arena_mark hw_arena_here(const hw_arena *arena)
{
    return (hw_arena_mark){arena->newest, arena->newest ? arena->newest->used : 0};
}

void hw_arena_rewind(hw_arena *arena, hw_arena_mark mark)
{
    while (arena->newest && arena->newest != mark.block) drop_newest(arena);
    HW_ASSERT(arena->newest == mark.block);
    if (!arena->newest) return;
    arena->taken -= arena->newest->used - mark.used;
    arena->newest->used = mark.used;
}

size_t hw_arena_bytes(const hw_arena *arena)
{
    return arena->taken;
}

void hw_arena_fail_at(hw_arena *arena, size_t n)
{
    arena->fail_in = n;
}
