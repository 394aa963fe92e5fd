// SPDX-License-Identifier: GPL-3.0-or-later
// What parent and child agree on. The parent writes 8 bytes of count and the input; the child
// answers with a head and then the output, or the sentence of its failure.
#ifndef HW_SANDBOX_INTERNAL_H
#define HW_SANDBOX_INTERNAL_H

#include "sandbox/sandbox.h"
#include <stdint.h>

/// The hidden command of the child, followed by the task's name.
#define SANDBOX_COMMAND "--as-sandboxed-child"

enum { SANDBOX_MAGIC = 0x48575342, SENTENCE_BYTES = sizeof((hw_job *)0)->why };

typedef struct sandbox_head {
    uint32_t magic;
    uint32_t status; // an hw_status
    uint64_t count;  // bytes that follow
} sandbox_head;

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SANDBOX_SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define SANDBOX_SANITIZED 1
#endif
#endif
#ifndef SANDBOX_SANITIZED
#define SANDBOX_SANITIZED 0 // a sanitizer reserves terabytes of address space
#endif

/// Gives up everything but reading descriptor 0, writing descriptors 1 and 2, and memory.
///
///   fails   HW_IO_FAILED: the child must not go on
HW_MUST_USE hw_status sandbox_enter(hw_job *job, const hw_sandbox_limits *limits);

#endif
