// SPDX-License-Identifier: GPL-3.0-or-later
#include "sandbox_internal.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static bool read_all(void *to, size_t count)
{
    unsigned char *at = to;
    while (count > 0) {
        ssize_t got = read(0, at, count);
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) return false;
        at += got;
        count -= (size_t)got;
    }
    return true;
}

static bool write_all(const void *from, size_t count)
{
    const unsigned char *at = from;
    while (count > 0) {
        ssize_t put = write(1, at, count);
        if (put < 0 && errno == EINTR) continue;
        if (put <= 0) return false;
        at += put;
        count -= (size_t)put;
    }
    return true;
}

// After the wall is up: not a byte is read before.
static hw_status read_input(hw_job *job, hw_arena *into, hw_bytes *in)
{
    uint64_t count = 0;
    unsigned char *at = NULL;
    if (!read_all(&count, sizeof count))
        return hw_fail(job, HW_IO_FAILED, "the reader was given nothing");
    HW_ALLOC(job, into, at, count + 1);
    if (!read_all(at, count)) return hw_fail(job, HW_IO_FAILED, "the reader's input broke off");
    *in = (hw_bytes){at, count};
    return HW_OK;
}

static hw_status do_task(hw_job *job, const hw_sandbox_task *task, hw_arena *into, hw_bytes *out)
{
    hw_bytes in = {0};
    HW_TRY(sandbox_enter(job, &task->limits));
    HW_TRY(read_input(job, into, &in));
    return task->run(job, in, into, out);
}

_Noreturn static void run_child(const hw_sandbox_task *task)
{
    // Half the address space, so that arenas say "no memory" before the kernel does.
    size_t share = task->limits.memory_bytes / 2;
    hw_job job;
    hw_arena *into = hw_arena_new(share);
    if (!into || hw_job_open(&job, share) != HW_OK) _exit(1);
    hw_bytes out = {0};
    hw_status status = do_task(&job, task, into, &out);
    if (status != HW_OK) out = (hw_bytes){(const unsigned char *)job.why, strlen(job.why)};
    sandbox_head head = {SANDBOX_MAGIC, (uint32_t)status, out.count};
    bool told = write_all(&head, sizeof head) && write_all(out.at, out.count);
    _exit(told ? 0 : 1); // nothing to tidy up, and no leak checker that would want /proc
}

void hw_sandbox_child(int count, char **texts, const hw_sandbox_task *tasks, int task_count)
{
    if (count < 2 || strcmp(texts[1], SANDBOX_COMMAND) != 0) return;
    for (int i = 0; count == 3 && i < task_count; i++)
        if (strcmp(texts[2], tasks[i].name) == 0) run_child(&tasks[i]);
    _exit(1);
}
