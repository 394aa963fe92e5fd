// SPDX-License-Identifier: GPL-3.0-or-later
// Many pieces of work in forked children. A child that crashes or hangs costs its piece and nothing
// else: another child takes its place. Results are given on in order, whichever child was first.
#define _GNU_SOURCE // cpu sets
#include "sandbox/sandbox.h"

#include <errno.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { MEMBERS_MAX = 64, AHEAD = 16, TICK_MS = 200, NOTHING = -1, ANSWER_MOST = 16 << 20 };

// What stands before an answer's bytes.
typedef struct answer_head {
    int32_t piece, status;
    uint64_t count;
} answer_head;

typedef struct member {
    pid_t process;
    int socket;
    int piece; // being done, or NOTHING
    int64_t since_ms;
} member;

// An answer that waits until those before it are there.
typedef struct answer {
    bool is_there;
    hw_status status;
    unsigned char *bytes; // a failure's sentence ends with a zero byte
    size_t count;
} answer;

typedef struct crew {
    const hw_crew *ask;
    member members[MEMBERS_MAX];
    int member_count;
    answer *answers; // of pieces taken .. taken + window - 1, by piece modulo window
    int window;
    int handed, taken; // pieces handed out; pieces given on
} crew;

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

// -- in the child

static bool send_all(int to, const void *bytes, size_t count)
{
    const unsigned char *at = bytes;
    while (count > 0) {
        ssize_t put = send(to, at, count, MSG_NOSIGNAL);
        if (put < 0 && errno == EINTR) continue;
        if (put <= 0) return false;
        at += put;
        count -= (size_t)put;
    }
    return true;
}

static bool receive_all(int from, void *bytes, size_t count)
{
    unsigned char *at = bytes;
    while (count > 0) {
        ssize_t got = recv(from, at, count, 0);
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) return false;
        at += got;
        count -= (size_t)got;
    }
    return true;
}

static bool answer_piece(const hw_crew *ask, int piece, int to)
{
    hw_job job = {0};
    hw_bytes out = {0};
    hw_arena *into = hw_arena_new(ask->memory_bytes);
    hw_status status = HW_NO_MEMORY;
    if (into && hw_job_open(&job, ask->memory_bytes) == HW_OK)
        status = ask->work(&job, ask->with, piece, into, &out);
    if (status != HW_OK) out = (hw_bytes){(const unsigned char *)job.why, strlen(job.why)};
    const answer_head head = {piece, (int32_t)status, out.count};
    bool is_sent = send_all(to, &head, sizeof head) && send_all(to, out.at, out.count);
    hw_job_close(&job);
    hw_arena_free(into);
    return is_sent;
}

// One core each: then the work's own threads are one.
static void stay_on_core(int index)
{
    cpu_set_t allowed, mine;
    int seen = 0, wanted = 0;
    if (sched_getaffinity(0, sizeof allowed, &allowed) != 0 || CPU_COUNT(&allowed) == 0) return;
    wanted = index % CPU_COUNT(&allowed);
    CPU_ZERO(&mine);
    for (size_t core = 0; core < CPU_SETSIZE; core++) {
        if (!CPU_ISSET(core, &allowed)) continue;
        if (seen++ == wanted) CPU_SET(core, &mine);
    }
    sched_setaffinity(0, sizeof mine, &mine);
}

static _Noreturn void be_member(const crew *of, int index, int socket, pid_t parent)
{
    int32_t piece = 0;
    const struct rlimit no_core = {0, 0};
    prctl(PR_SET_PDEATHSIG, SIGKILL); // no work goes on for nobody
    if (getppid() != parent) _exit(0);
    setrlimit(RLIMIT_CORE, &no_core);
    for (int i = 0; i < of->member_count; i++)
        if (i != index && of->members[i].socket >= 0) close(of->members[i].socket);
    stay_on_core(index);
    while (receive_all(socket, &piece, sizeof piece))
        if (!answer_piece(of->ask, piece, socket)) break;
    _exit(0);
}

// -- in the parent

static hw_status start_member(hw_job *job, crew *of, int index)
{
    int ends[2];
    pid_t parent = getpid();
    member *fresh = &of->members[index];
    *fresh = (member){.socket = -1, .piece = NOTHING};
    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0)
        return hw_fail(job, HW_IO_FAILED, "no socket for a process: %s", strerror(errno));
    fflush(NULL); // or the child would write it again
    fresh->process = fork();
    if (fresh->process == 0) {
        close(ends[0]);
        be_member(of, index, ends[1], parent);
    }
    close(ends[1]);
    fresh->socket = ends[0];
    if (fresh->process > 0) return HW_OK;
    close(ends[0]);
    fresh->socket = -1;
    return hw_fail(job, HW_IO_FAILED, "no process can be started: %s", strerror(errno));
}

static void end_member(member *one, int *how)
{
    if (one->socket >= 0) close(one->socket);
    one->socket = -1;
    if (one->process <= 0) return;
    while (waitpid(one->process, how, 0) < 0 && errno == EINTR) continue;
    one->process = 0;
}

static hw_status keep(hw_job *job, crew *of, int piece, hw_status status, const char *sentence)
{
    answer *kept = &of->answers[piece % of->window];
    *kept = (answer){.is_there = true, .status = status, .count = strlen(sentence)};
    kept->bytes = malloc(kept->count + 1);
    if (!kept->bytes) return hw_fail(job, HW_NO_MEMORY, "no memory for an answer");
    memcpy(kept->bytes, sentence, kept->count + 1);
    return HW_OK;
}

// A child ended in the middle of its piece: that one failed, the rest goes on.
static hw_status replace_member(hw_job *job, crew *of, int index, const char *sentence)
{
    member *one = &of->members[index];
    int how = 0, piece = one->piece;
    char why[120];
    end_member(one, &how);
    if (piece != NOTHING) {
        snprintf(why, sizeof why, "the program broke off on this file (signal %d): report it",
                 WIFSIGNALED(how) ? WTERMSIG(how) : 0);
        HW_TRY(keep(job, of, piece, HW_NO_ANSWER, sentence ? sentence : why));
    }
    return start_member(job, of, index);
}

static hw_status take_answer(hw_job *job, crew *of, int index)
{
    member *one = &of->members[index];
    answer_head head;
    bool is_whole = receive_all(one->socket, &head, sizeof head) && head.piece == one->piece &&
                    head.count <= ANSWER_MOST;
    if (!is_whole) return replace_member(job, of, index, NULL);
    answer kept = {.is_there = true, .status = (hw_status)head.status, .count = head.count};
    kept.bytes = malloc(kept.count + 1);
    if (!kept.bytes) return hw_fail(job, HW_NO_MEMORY, "no memory for an answer");
    if (!receive_all(one->socket, kept.bytes, kept.count)) {
        free(kept.bytes);
        return replace_member(job, of, index, NULL);
    }
    kept.bytes[kept.count] = 0;
    of->answers[one->piece % of->window] = kept;
    one->piece = NOTHING;
    return HW_OK;
}

static void hand_out(crew *of)
{
    for (int i = 0; i < of->member_count; i++) {
        member *one = &of->members[i];
        bool has_room = of->handed < of->ask->count && of->handed < of->taken + of->window;
        if (one->piece != NOTHING || !has_room) continue;
        int32_t piece = of->handed++;
        one->piece = piece;
        one->since_ms = now_ms();
        send_all(one->socket, &piece, sizeof piece); // a dead child is seen when its answer is read
    }
}

static hw_status give_on(hw_job *job, crew *of)
{
    while (of->taken < of->ask->count && of->answers[of->taken % of->window].is_there) {
        answer *next = &of->answers[of->taken % of->window];
        hw_status status = of->ask->take(job, of->ask->with, of->taken, next->status,
                                         (hw_bytes){next->bytes, next->count});
        free(next->bytes);
        *next = (answer){0};
        of->taken++;
        HW_TRY(status);
    }
    return HW_OK;
}

static hw_status wait_a_while(hw_job *job, crew *of)
{
    struct pollfd sockets[MEMBERS_MAX];
    for (int i = 0; i < of->member_count; i++)
        sockets[i] = (struct pollfd){of->members[i].socket, POLLIN, 0};
    if (poll(sockets, (nfds_t)of->member_count, TICK_MS) < 0 && errno != EINTR)
        return hw_fail(job, HW_IO_FAILED, "the processes cannot be heard: %s", strerror(errno));
    for (int i = 0; i < of->member_count; i++) {
        const member *one = &of->members[i];
        if (sockets[i].revents) {
            HW_TRY(take_answer(job, of, i));
        } else if (one->piece != NOTHING &&
                   now_ms() - one->since_ms > 1000 * (int64_t)of->ask->wall_s) {
            char why[80];
            snprintf(why, sizeof why, "it takes longer than %d seconds", of->ask->wall_s);
            kill(one->process, SIGKILL);
            HW_TRY(replace_member(job, of, i, why));
        }
    }
    return HW_OK;
}

static hw_status run(hw_job *job, crew *of)
{
    for (int i = 0; i < of->member_count; i++) of->members[i] = (member){.socket = -1};
    for (int i = 0; i < of->member_count; i++) HW_TRY(start_member(job, of, i));
    while (of->taken < of->ask->count) {
        HW_TRY(hw_job_ask(job));
        hand_out(of);
        HW_TRY(wait_a_while(job, of));
        HW_TRY(give_on(job, of));
    }
    return HW_OK;
}

static int cores(void)
{
    cpu_set_t allowed;
    return sched_getaffinity(0, sizeof allowed, &allowed) == 0 ? CPU_COUNT(&allowed) : 1;
}

hw_status hw_crew_run(hw_job *job, const hw_crew *ask)
{
    crew of = {.ask = ask};
    int how = 0, wanted = ask->processes > 0 ? ask->processes : cores();
    of.member_count = wanted < MEMBERS_MAX ? wanted : MEMBERS_MAX;
    of.window = AHEAD * of.member_count;
    of.answers = calloc((size_t)of.window, sizeof *of.answers);
    if (!of.answers) return hw_fail(job, HW_NO_MEMORY, "no memory for the processes");
    hw_status status = run(job, &of);
    for (int i = 0; i < of.member_count; i++) {
        if (of.members[i].process > 0) kill(of.members[i].process, SIGKILL);
        end_member(&of.members[i], &how);
    }
    for (int i = 0; i < of.window; i++) free(of.answers[i].bytes);
    free(of.answers);
    return status;
}
