// SPDX-License-Identifier: GPL-3.0-or-later
//
// sandbox: work on bytes from outside, done in a process that can do nothing else. It owns
// libseccomp and the starting of processes.
//
//     static hw_status read_scan(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out) {...}
//     static const hw_sandbox_task tasks[] = {{"scan", read_scan, {2 << 30, 20, 30, 1 << 30}}};
//     int main(int count, char **texts) {
//         hw_sandbox_child(count, texts, tasks, 1);           // first of all
//         ...
//         HW_TRY(hw_sandbox_run(job, &tasks[0], upload, into, &clean));
//
// The program runs itself again. The child gives up, before it reads a byte: opening files,
// sockets, other programs, new processes and threads, memory, processor time and output beyond the
// limits.
// A crash, a loop or an attack in it ends the child and comes back as one sentence.
#ifndef HW_SANDBOX_H
#define HW_SANDBOX_H

#include "base/base.h"

typedef struct hw_sandbox_limits {
    size_t memory_bytes; // address space of the child
    int cpu_s;           // processor time
    int wall_s;          // from start to end
    size_t output_bytes;
} hw_sandbox_limits;

/// Bytes in, bytes out. What fails says so as ever: status and sentence cross over to the parent.
typedef struct hw_sandbox_task {
    const char *name; // letters
    hw_status (*run)(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out);
    hw_sandbox_limits limits;
} hw_sandbox_task;

/// To be called first in main, before threads and files: when this process was started as a child,
/// does its task and ends the process; else returns at once.
void hw_sandbox_child(int count, char **texts, const hw_sandbox_task *tasks, int task_count);

/// Runs a task in a child of its own and waits. Safe from several threads.
///
///   in      up to 4 GB
///   out     in `into`
///   fails   as the task; HW_BAD_FORMAT the child crashed or tried what it may not; HW_NO_MEMORY or
///           HW_NO_ANSWER it went beyond its limits; HW_CANCELLED; HW_IO_FAILED it cannot start
///   cost    about 2 ms and one copy of input and output
HW_MUST_USE hw_status hw_sandbox_run(hw_job *job, const hw_sandbox_task *task, hw_bytes in,
                                     hw_arena *into, hw_bytes *out);

/// Many pieces of work, each done in one of several forked processes of one thread.
typedef struct hw_crew {
    int processes;       // 0: one a core
    int count;           // pieces 0 .. count - 1
    int wall_s;          // of one piece
    size_t memory_bytes; // of the arenas of one piece
    /// In a child. What fails is passed on with its sentence.
    hw_status (*work)(hw_job *job, void *with, int piece, hw_arena *into, hw_bytes *out);
    /// In the parent, in the order of the pieces. bytes: the answer, or why it failed, followed by
    /// a zero byte that is not counted. What fails here ends the whole.
    hw_status (*take)(hw_job *job, void *with, int piece, hw_status status, hw_bytes bytes);
    void *with;
} hw_crew;

/// Does them. To be called while this process has one thread: the children are forks of it, not
/// shut in as those above, and see what it sees. A piece that crashes or hangs fails with a
/// sentence; the others go on. The children end with the caller, also when it is killed.
///
///   fails   as `take`; HW_IO_FAILED no process can be started; HW_CANCELLED; HW_NO_MEMORY
HW_MUST_USE hw_status hw_crew_run(hw_job *job, const hw_crew *crew);

/// From now on the calling thread, and threads it starts, give way to all others that have work:
/// for long computations beside a server that must answer.
void hw_sandbox_give_way(void);

/// This process leaves no core file: keys and records would stand in it in the clear.
void hw_sandbox_leave_no_core(void);

#endif
