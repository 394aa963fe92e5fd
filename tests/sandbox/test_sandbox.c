// SPDX-License-Identifier: GPL-3.0-or-later
// The child against what Linux documents: seccomp(2), getrlimit(2). Each forbidden act is really
// tried in the child.
#define _DEFAULT_SOURCE // syscall
#include "crew_tests.h"
#include "near.h"

#include "sandbox/sandbox.h"

#include <fcntl.h>
#include <limits.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

static hw_status reverse(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    unsigned char *at = NULL;
    HW_ALLOC(job, into, at, in.count);
    for (size_t i = 0; i < in.count; i++) at[i] = in.at[in.count - 1 - i];
    *out = (hw_bytes){at, in.count};
    return HW_OK;
}

static hw_status refuse(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)into, (void)out;
    return hw_fail(job, HW_BAD_FORMAT, "%zu bytes are no foot", in.count);
}

// What the acts below return is "it went through": the test then fails.
static hw_status went_through(hw_arena *into, hw_bytes *out, bool did)
{
    (void)into;
    *out = (hw_bytes){(const unsigned char *)(did ? "yes" : "no"), did ? 3 : 2};
    return HW_OK;
}

static hw_status open_to_read(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    return went_through(into, out, open("/etc/passwd", O_RDONLY) >= 0);
}

static hw_status open_to_write(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    return went_through(into, out, open("/tmp/hw-sandbox-got-out", O_WRONLY | O_CREAT, 0600) >= 0);
}

static hw_status open_socket(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    return went_through(into, out, socket(AF_INET, SOCK_STREAM, 0) >= 0);
}

static hw_status start_program(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    char *words[] = {"true", NULL}, *none[] = {NULL};
    return went_through(into, out, execve("/bin/true", words, none) == 0);
}

static hw_status start_process(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    return went_through(into, out, fork() >= 0);
}

static hw_status get_executable_memory(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    void *got =
        mmap(NULL, 4096, PROT_READ | PROT_WRITE | PROT_EXEC, 0x22 /* private, anonymous */, -1, 0);
    return went_through(into, out, got != MAP_FAILED);
}

static hw_status signal_another(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    return went_through(into, out, syscall(SYS_tgkill, getppid(), getppid(), 0) == 0);
}

static hw_status see_descriptors(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in;
    char byte;
    int seen = 0;
    for (int i = 3; i < 200; i++) seen += read(i, &byte, 0) == 0;
    return went_through(into, out, seen > 0);
}

static hw_status spin(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)into, (void)out;
    for (volatile unsigned long turns = in.count; turns < ULONG_MAX; turns++) continue;
    return HW_OK;
}

static hw_status sleep_long(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in, (void)into, (void)out;
    char byte;
    for (;;)
        if (read(1, &byte, 1) == 0) return HW_OK; // a socket nobody writes to
}

static hw_status crash(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)into, (void)out;
    HW_ASSERT(in.count == 1u << 30);
    return HW_OK;
}

static hw_status eat_memory(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)in, (void)out;
    for (;;) {
        char *piece = NULL;
        HW_ALLOC(job, into, piece, 1 << 20);
        memset(piece, 1, 1 << 20);
    }
}

static hw_status lie(hw_job *job, hw_bytes in, hw_arena *into, hw_bytes *out)
{
    (void)job, (void)in, (void)into, (void)out;
    static const char noise[] = "HTTP/1.1 200 OK\r\nthis is no answer of ours";
    _exit(write(1, noise, sizeof noise) == 0);
}

#define ROOMY                                                                                      \
    {                                                                                              \
        (size_t)512 << 20, 10, 10, 64 << 20                                                        \
    }

static const hw_sandbox_task tasks[] = {
    {"reverse", reverse, ROOMY},
    {"refuse", refuse, ROOMY},
    {"read", open_to_read, ROOMY},
    {"write", open_to_write, ROOMY},
    {"socket", open_socket, ROOMY},
    {"exec", start_program, ROOMY},
    {"process", start_process, ROOMY},
    {"executable", get_executable_memory, ROOMY},
    {"signal", signal_another, ROOMY},
    {"descriptors", see_descriptors, ROOMY},
    {"spin", spin, {(size_t)512 << 20, 1, 10, 100}},
    {"sleep", sleep_long, {(size_t)512 << 20, 10, 1, 100}},
    {"crash", crash, ROOMY},
    {"memory", eat_memory, {(size_t)128 << 20, 10, 10, 100}},
    {"lie", lie, ROOMY},
    {"long", reverse, {(size_t)512 << 20, 10, 10, 1000}},
};

enum { TASKS = sizeof tasks / sizeof *tasks };

static const hw_sandbox_task *task_of(const char *name)
{
    for (int i = 0; i < TASKS; i++)
        if (strcmp(tasks[i].name, name) == 0) return &tasks[i];
    abort();
}

static void expect_fails(const char *name, hw_status status, const char *part)
{
    hw_test_room room = hw_test_open();
    hw_bytes out = {0};
    CHECK_FAILS(&room.job,
                hw_sandbox_run(&room.job, task_of(name), (hw_bytes){(const unsigned char *)"x", 1},
                               room.into, &out),
                status, part);
    assert_null(out.at);
    hw_test_close(&room);
}

static void test_run__bytes_go_in_and_come_out(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    enum { COUNT = 5000000 }; // more than any socket holds at once
    unsigned char *in = hw_arena_take(room.into, COUNT, 1);
    for (int i = 0; i < COUNT; i++) in[i] = (unsigned char)(i * 7 + i / 1000);
    hw_bytes out = {0};
    CHECK_OK(&room.job,
             hw_sandbox_run(&room.job, task_of("reverse"), (hw_bytes){in, COUNT}, room.into, &out));
    assert_int_equal(out.count, COUNT);
    for (int i = 0; i < COUNT; i++)
        if (out.at[i] != in[COUNT - 1 - i]) fail_msg("byte %d", i);
    CHECK_OK(&room.job,
             hw_sandbox_run(&room.job, task_of("reverse"), (hw_bytes){in, 0}, room.into, &out));
    assert_int_equal(out.count, 0);
    hw_test_close(&room);
}

static void test_run__the_tasks_own_sentence_comes_back(void **state)
{
    (void)state;
    expect_fails("refuse", HW_BAD_FORMAT, "1 bytes are no foot");
}

static void test_run__opening_connecting_and_starting_end_the_child(void **state)
{
    (void)state;
    static const char *names[] = {"read", "write", "socket", "exec"};
    for (int i = 0; i < 4; i++) expect_fails(names[i], HW_BAD_FORMAT, "what a reader may not do");
    assert_int_equal(access("/tmp/hw-sandbox-got-out", F_OK), -1);
}

static void expect_no(const char *name)
{
    hw_test_room room = hw_test_open();
    hw_bytes out = {0};
    CHECK_OK(&room.job, hw_sandbox_run(&room.job, task_of(name), (hw_bytes){0}, room.into, &out));
    assert_int_equal(out.count, 2);
    assert_memory_equal(out.at, "no", 2);
    hw_test_close(&room);
}

static void test_run__no_new_process_no_executable_memory_no_descriptor_of_ours(void **state)
{
    (void)state;
    expect_no("process");
    expect_no("executable");
    expect_no("descriptors");
    expect_no("signal");
}

static void test_run__work_without_end_is_ended(void **state)
{
    (void)state;
    expect_fails("spin", HW_NO_ANSWER, "1 seconds of work");
    expect_fails("sleep", HW_NO_ANSWER, "longer than 1 seconds");
}

static void test_run__a_crash_is_a_sentence(void **state)
{
    (void)state;
    expect_fails("crash", HW_BAD_FORMAT, "ended without answer");
}

static void test_run__memory_has_a_limit(void **state)
{
    (void)state;
    expect_fails("memory", HW_NO_MEMORY, "memory");
}

static void test_run__an_answer_that_is_not_ours_is_not_believed(void **state)
{
    (void)state;
    expect_fails("lie", HW_BAD_FORMAT, "broken answer");
}

static void test_run__an_answer_beyond_its_limit_is_refused(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    unsigned char in[1001] = {0};
    hw_bytes out = {0};
    CHECK_FAILS(
        &room.job,
        hw_sandbox_run(&room.job, task_of("long"), (hw_bytes){in, sizeof in}, room.into, &out),
        HW_BAD_FORMAT, "too long");
    hw_test_close(&room);
}

static bool at_once(void *user)
{
    (void)user;
    return true;
}

static void test_run__it_stops_when_asked(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    room.job.cancelled = at_once;
    hw_bytes out = {0};
    CHECK_FAILS(&room.job,
                hw_sandbox_run(&room.job, task_of("spin"), (hw_bytes){0}, room.into, &out),
                HW_CANCELLED, "stopped");
    hw_test_close(&room);
}

int main(int count, char **texts)
{
    hw_sandbox_child(count, texts, tasks, TASKS);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_run__bytes_go_in_and_come_out),
        cmocka_unit_test(test_run__the_tasks_own_sentence_comes_back),
        cmocka_unit_test(test_run__opening_connecting_and_starting_end_the_child),
        cmocka_unit_test(test_run__no_new_process_no_executable_memory_no_descriptor_of_ours),
        cmocka_unit_test(test_run__work_without_end_is_ended),
        cmocka_unit_test(test_run__a_crash_is_a_sentence),
        cmocka_unit_test(test_run__memory_has_a_limit),
        cmocka_unit_test(test_run__an_answer_that_is_not_ours_is_not_believed),
        cmocka_unit_test(test_run__an_answer_beyond_its_limit_is_refused),
        cmocka_unit_test(test_run__it_stops_when_asked),
        cmocka_unit_test(test_crew__answers_come_in_order_and_a_crash_costs_its_piece),
        cmocka_unit_test(test_crew__it_stops_when_asked_and_when_the_taker_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
