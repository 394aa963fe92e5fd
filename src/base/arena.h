// SPDX-License-Identifier: GPL-3.0-or-later
// Arenas: memory that is freed whole, with a limit on its bytes.
#ifndef HW_BASE_ARENA_H
#define HW_BASE_ARENA_H

#include <stddef.h>

typedef struct hw_arena hw_arena;

/// A place in an arena to which it can be rewound.
typedef struct hw_arena_mark {
    void *block;
    size_t used;
} hw_arena_mark;

/// An empty arena, or NULL.
///
///   limit_bytes  the most it will ever hold; a request beyond that is refused
hw_arena *hw_arena_new(size_t limit_bytes);

/// Gives all of it back; NULL is none.
void hw_arena_free(hw_arena *arena);

/// `count` times `size` zeroed bytes, aligned for any type up to 32 bytes; NULL at the limit or
/// when count * size overflows. With the address sanitizer each request is its own allocation.
void *hw_arena_take(hw_arena *arena, size_t count, size_t size);

/// Where it stands, for hw_arena_rewind.
hw_arena_mark hw_arena_here(const hw_arena *arena);

/// Frees all that was taken since `mark`.
void hw_arena_rewind(hw_arena *arena, hw_arena_mark mark);

/// Bytes taken and not rewound.
size_t hw_arena_bytes(const hw_arena *arena);

/// For tests: the n-th request from now fails (1 = the next), 0 = none does.
void hw_arena_fail_at(hw_arena *arena, size_t n);

#endif
