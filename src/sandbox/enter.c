// SPDX-License-Identifier: GPL-3.0-or-later
// The child's side of the wall: limits first, then the filter on system calls that nothing undoes.
#define _DEFAULT_SOURCE // RLIMIT_NPROC
#include "sandbox_internal.h"

#include <errno.h>
#include <seccomp.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <unistd.h>

// What computing needs. Everything else that is harmless to refuse fails with EPERM.
static const int allowed[] = {
    SCMP_SYS(read),         SCMP_SYS(write),          SCMP_SYS(brk),       SCMP_SYS(munmap),
    SCMP_SYS(mremap),       SCMP_SYS(madvise),        SCMP_SYS(futex),     SCMP_SYS(exit),
    SCMP_SYS(exit_group),   SCMP_SYS(clock_gettime),  SCMP_SYS(getrandom), SCMP_SYS(rt_sigreturn),
    SCMP_SYS(rt_sigaction), SCMP_SYS(rt_sigprocmask), SCMP_SYS(getpid),    SCMP_SYS(gettid),
    SCMP_SYS(sched_yield),  SCMP_SYS(newfstatat),     SCMP_SYS(fstat),     SCMP_SYS(lseek),
    SCMP_SYS(sigaltstack),
};

// What only an attack would ask for in a reader: the process ends on the spot.
static const int deadly[] = {
    SCMP_SYS(open),     SCMP_SYS(openat), SCMP_SYS(creat),    SCMP_SYS(execve),
    SCMP_SYS(execveat), SCMP_SYS(socket), SCMP_SYS(connect),  SCMP_SYS(ptrace),
    SCMP_SYS(fork),     SCMP_SYS(vfork),  SCMP_SYS(unlink),   SCMP_SYS(rename),
    SCMP_SYS(unlinkat), SCMP_SYS(kill),   SCMP_SYS(bind),     SCMP_SYS(renameat),
    SCMP_SYS(mount),    SCMP_SYS(chmod),  SCMP_SYS(truncate),
};

enum {
    ALLOWED = sizeof allowed / sizeof *allowed,
    DEADLY = sizeof deadly / sizeof *deadly,
    PROTECTION_EXECUTES = 4, // PROT_EXEC of mmap and mprotect
};

// Soft and hard: it cannot be raised again.
static bool limit(int resource, rlim_t value)
{
    struct rlimit both = {value, value};
    return setrlimit(resource, &both) == 0;
}

// No new descriptor can be opened beyond 0, 1 and 2, no file can grow.
static bool set_limits(const hw_sandbox_limits *limits)
{
    bool done = limit(RLIMIT_CPU, (rlim_t)limits->cpu_s) && limit(RLIMIT_CORE, 0) &&
                limit(RLIMIT_FSIZE, 0) && limit(RLIMIT_NOFILE, 3) && limit(RLIMIT_NPROC, 0);
    if (!SANDBOX_SANITIZED) done = done && limit(RLIMIT_AS, (rlim_t)limits->memory_bytes);
    return done && prctl(PR_SET_DUMPABLE, 0, 0, 0, 0) == 0 &&
           prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0;
}

// Memory may be had, but never memory that can be executed.
static int allow_memory(scmp_filter_ctx filter, int call)
{
    return seccomp_rule_add(filter, SCMP_ACT_ALLOW, call, 1,
                            SCMP_A2(SCMP_CMP_MASKED_EQ, PROTECTION_EXECUTES, 0));
}

// abort() signals its own process; no other one may be signalled.
static int allow_own_signal(scmp_filter_ctx filter)
{
    const struct scmp_arg_cmp to_itself = {
        .arg = 0, .op = SCMP_CMP_EQ, .datum_a = (scmp_datum_t)getpid()};
    return seccomp_rule_add_array(filter, SCMP_ACT_ALLOW, SCMP_SYS(tgkill), 1, &to_itself);
}

// Everything that is on neither list fails with EPERM.
static int fill_filter(scmp_filter_ctx filter)
{
    int failed = 0;
    for (int i = 0; i < ALLOWED && !failed; i++)
        failed = seccomp_rule_add(filter, SCMP_ACT_ALLOW, allowed[i], 0);
    for (int i = 0; i < DEADLY && !failed; i++) {
        failed = seccomp_rule_add(filter, SCMP_ACT_KILL_PROCESS, deadly[i], 0);
        if (failed == -EDOM) failed = 0; // this machine has no such call
    }
    if (!failed) failed = allow_own_signal(filter);
    if (!failed) failed = allow_memory(filter, SCMP_SYS(mmap));
    if (!failed) failed = allow_memory(filter, SCMP_SYS(mprotect));
    return failed ? failed : seccomp_load(filter);
}

hw_status sandbox_enter(hw_job *job, const hw_sandbox_limits *limits)
{
    // A parent that dies takes its children along.
    if (prctl(PR_SET_PDEATHSIG, SIGKILL, 0, 0, 0) != 0 || !set_limits(limits))
        return hw_fail(job, HW_IO_FAILED, "the limits of the reader cannot be set: %s",
                       strerror(errno));
    scmp_filter_ctx filter = seccomp_init(SCMP_ACT_ERRNO(EPERM));
    if (!filter) return hw_fail(job, HW_NO_MEMORY, "no memory for the reader's filter");
    int failed = fill_filter(filter);
    seccomp_release(filter);
    if (failed)
        return hw_fail(job, HW_IO_FAILED, "the reader cannot be shut in: %s", strerror(-failed));
    return HW_OK;
}
