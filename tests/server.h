// SPDX-License-Identifier: GPL-3.0-or-later
// A PostgreSQL of the tests' own and folders that go away; included by one file of a test program.
#ifndef HW_TESTS_SERVER_H
#define HW_TESTS_SERVER_H

#include "near.h"
#include <sys/stat.h>
#include <unistd.h>

static const char hw_server_programs[] = "/usr/lib/postgresql/15/bin";
static char hw_server_folder[64]; // "" until started

static inline void hw_folder_make(char folder[64])
{
    // memory where there is some: these tests sync thousands of times, and none of them cuts power
    bool has_memory = access("/dev/shm", W_OK) == 0;
    strcpy(folder, has_memory ? "/dev/shm/hw-store-XXXXXX" : "/tmp/hw-store-XXXXXX");
    assert_non_null(mkdtemp(folder));
}

// Test code may use the shell: the folder's name is our own.
static inline int hw_shell(const char *format, const char *a, const char *b, const char *c)
{
    char line[1000];
    snprintf(line, sizeof line, format, a, b, c);
    return system(line);
}

static inline void hw_folder_remove(const char *folder)
{
    assert_int_equal(0, hw_shell("rm -rf '%s'%s%s", folder, "", ""));
}

// PostgreSQL refuses to run as root.
static inline const char *hw_server_user(void)
{
    return geteuid() == 0 ? "setpriv --reuid=postgres --regid=postgres --clear-groups " : "";
}

// what: "start", "-m fast stop" or "-m immediate stop", which is a crash: nothing is written down.
static inline int hw_server_do(const char *what)
{
    char line[1000];
    snprintf(
        line, sizeof line,
        "cd / && %s%s/pg_ctl -w -D '%s/data' -l '%s/log' -o \"-c listen_addresses='' -k '%s' -c "
        "shared_buffers=16MB -c log_statement=all\" %s >/dev/null 2>&1",
        hw_server_user(), hw_server_programs, hw_server_folder, hw_server_folder, hw_server_folder,
        what);
    return system(line);
}

static inline const char *hw_server_start(void)
{
    if (hw_server_folder[0]) return hw_server_folder;
    if (access("/usr/lib/postgresql/15/bin/initdb", X_OK) != 0) return NULL;
    hw_folder_make(hw_server_folder);
    chmod(hw_server_folder, 0777);
    int code = hw_shell("cd / && %s%s/initdb -D '%s/data' -U postgres -A trust -E UTF8 --no-sync "
                        "--locale=C.UTF-8 >/dev/null 2>&1",
                        hw_server_user(), hw_server_programs, hw_server_folder);
    if (code == 0) code = hw_server_do("start");
    if (code != 0) print_error("PostgreSQL did not start: see %s\n", hw_server_folder);
    assert_int_equal(0, code);
    return hw_server_folder;
}

static inline void hw_server_stop(void)
{
    if (!hw_server_folder[0]) return;
    if (hw_server_do("-m fast stop") != 0) print_error("PostgreSQL did not stop\n");
    hw_folder_remove(hw_server_folder);
    hw_server_folder[0] = '\0';
}

#endif
