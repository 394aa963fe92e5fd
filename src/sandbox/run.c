// SPDX-License-Identifier: GPL-3.0-or-later
// The parent's side: starts the child, feeds it and listens at once, and takes no word of it on
// trust.
#define _GNU_SOURCE // addclosefrom_np
#include "sandbox_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { TICK_MS = 100 };

// One conversation. Sockets rather than pipes, so that a dead child is an error, not a signal.
typedef struct talk {
    pid_t child;
    int to, from; // -1: closed
    uint64_t in_count;
    hw_bytes in;
    size_t sent; // of count and input together
    sandbox_head head;
    size_t head_have;
    unsigned char *out;
    size_t out_have;
    int64_t deadline_ms;
} talk;

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static void shut(int *descriptor)
{
    if (*descriptor >= 0) close(*descriptor);
    *descriptor = -1;
}

// Closed on exec, so that no other child inherits them.
static bool make_sockets(int in[2], int out[2])
{
    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, in) != 0) return false;
    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, out) == 0) return true;
    close(in[0]), close(in[1]);
    return false;
}

// Two descriptors, no environment, everything else closed before the program starts.
static int spawn(pid_t *child, const hw_sandbox_task *task, int in, int out)
{
    char *words[] = {"heelwright", SANDBOX_COMMAND, (char *)task->name, NULL};
    char *no_environment[] = {NULL}; // nothing of ours is the child's business
    posix_spawn_file_actions_t actions;
    int failed = posix_spawn_file_actions_init(&actions);
    if (failed) return failed;
    failed = posix_spawn_file_actions_adddup2(&actions, in, 0);
    if (!failed) failed = posix_spawn_file_actions_adddup2(&actions, out, 1);
    if (!failed) failed = posix_spawn_file_actions_addclosefrom_np(&actions, 3);
    if (!failed)
        failed = posix_spawn(child, "/proc/self/exe", &actions, NULL, words, no_environment);
    posix_spawn_file_actions_destroy(&actions);
    return failed;
}

static hw_status start(hw_job *job, const hw_sandbox_task *task, talk *with)
{
    int in[2], out[2];
    if (!make_sockets(in, out))
        return hw_fail(job, HW_IO_FAILED, "no socket for the reader: %s", strerror(errno));
    int failed = spawn(&with->child, task, in[1], out[1]);
    close(in[1]), close(out[1]);
    with->to = in[0];
    with->from = out[0];
    if (!failed) return HW_OK;
    shut(&with->to), shut(&with->from);
    return hw_fail(job, HW_IO_FAILED, "the reader cannot be started: %s", strerror(failed));
}

// The next piece of count and input. A child that closes early is judged by its answer.
static void feed(talk *with)
{
    const size_t lead = sizeof with->in_count;
    const unsigned char *at = (const unsigned char *)&with->in_count + with->sent;
    size_t left = lead - with->sent;
    if (with->sent >= lead) {
        at = with->in.at + (with->sent - lead);
        left = with->in.count - (with->sent - lead);
    }
    ssize_t put = left ? send(with->to, at, left, MSG_NOSIGNAL | MSG_DONTWAIT) : 0;
    if (put > 0) with->sent += (size_t)put;
    bool is_over = with->sent == lead + with->in.count;
    if (is_over || (put < 0 && errno != EAGAIN && errno != EINTR)) shut(&with->to);
}

// The child may be an attacker by now: counts and codes are checked like a stranger's.
static hw_status take_head(hw_job *job, const hw_sandbox_task *task, hw_arena *into, talk *with)
{
    const sandbox_head *head = &with->head;
    bool is_ours = head->magic == SANDBOX_MAGIC && head->status <= HW_CLASH;
    size_t most = head->status == HW_OK ? task->limits.output_bytes : SENTENCE_BYTES;
    if (!is_ours) return hw_fail(job, HW_BAD_FORMAT, "the reader gave a broken answer");
    if (head->count > most)
        return hw_fail(job, HW_BAD_FORMAT, "the reader's answer is too long: %zu MB, limit %zu MB",
                       (size_t)head->count >> 20, most >> 20);
    HW_ALLOC(job, into, with->out, head->count + 1);
    return HW_OK;
}

// The next piece of the answer; closes at its end.
static hw_status listen_on(hw_job *job, const hw_sandbox_task *task, hw_arena *into, talk *with)
{
    bool in_head = with->head_have < sizeof with->head;
    unsigned char *to =
        in_head ? (unsigned char *)&with->head + with->head_have : with->out + with->out_have;
    size_t left =
        in_head ? sizeof with->head - with->head_have : (size_t)with->head.count - with->out_have;
    ssize_t got = left ? recv(with->from, to, left, MSG_DONTWAIT) : 0;
    if (got < 0 && (errno == EAGAIN || errno == EINTR)) return HW_OK;
    if (got <= 0) {
        shut(&with->from);
        return HW_OK;
    }
    if (!in_head) {
        with->out_have += (size_t)got;
        return HW_OK;
    }
    with->head_have += (size_t)got;
    if (with->head_have < sizeof with->head) return HW_OK;
    return take_head(job, task, into, with);
}

// Writing and listening at once: a child that answers before it has read all would else wait for
// ever.
static hw_status converse(hw_job *job, const hw_sandbox_task *task, hw_arena *into, talk *with)
{
    while (with->from >= 0) {
        struct pollfd both[2] = {{with->from, POLLIN, 0}, {with->to, POLLOUT, 0}};
        HW_TRY(hw_job_ask(job));
        if (now_ms() > with->deadline_ms)
            return hw_fail(job, HW_NO_ANSWER, "the file takes longer than %d seconds to read",
                           task->limits.wall_s);
        if (poll(both, 2, TICK_MS) < 0 && errno != EINTR)
            return hw_fail(job, HW_IO_FAILED, "the reader cannot be heard: %s", strerror(errno));
        if (both[1].revents) feed(with);
        if (both[0].revents) HW_TRY(listen_on(job, task, into, with));
    }
    return HW_OK;
}

// Why a child that gave no whole answer ended.
static hw_status say_death(hw_job *job, const hw_sandbox_task *task, int state)
{
    if (WIFSIGNALED(state) && WTERMSIG(state) == SIGSYS)
        return hw_fail(job, HW_BAD_FORMAT,
                       "reading the file was stopped: it led to what a reader may not do");
    if (WIFSIGNALED(state) && (WTERMSIG(state) == SIGXCPU || WTERMSIG(state) == SIGKILL))
        return hw_fail(job, HW_NO_ANSWER, "the file takes more than %d seconds of work to read",
                       task->limits.cpu_s);
    return hw_fail(job, HW_BAD_FORMAT, "the file cannot be read: the reader ended without answer");
}

// An answer counts only when it is whole, whatever the exit code says.
static hw_status judge(hw_job *job, const hw_sandbox_task *task, const talk *with, int state,
                       hw_bytes *out)
{
    bool is_whole =
        with->head_have == sizeof with->head && with->out && with->out_have == with->head.count;
    if (!is_whole) return say_death(job, task, state);
    if (with->head.status != HW_OK)
        return hw_fail(job, (hw_status)with->head.status, "%s", (const char *)with->out);
    *out = (hw_bytes){with->out, with->out_have};
    return HW_OK;
}

hw_status hw_sandbox_run(hw_job *job, const hw_sandbox_task *task, hw_bytes in, hw_arena *into,
                         hw_bytes *out)
{
    talk with = {.in = in, .in_count = in.count, .to = -1, .from = -1};
    with.deadline_ms = now_ms() + 1000 * (int64_t)task->limits.wall_s;
    HW_TRY(start(job, task, &with));
    hw_status status = converse(job, task, into, &with);
    shut(&with.to), shut(&with.from);
    // An answer is complete or will never be.
    if (status != HW_OK) kill(with.child, SIGKILL);
    int state = 0;
    while (waitpid(with.child, &state, 0) < 0 && errno == EINTR) continue;
    return status == HW_OK ? judge(job, task, &with, state, out) : status;
}
