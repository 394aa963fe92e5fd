// SPDX-License-Identifier: GPL-3.0-or-later
// What the process does to itself.
#define _XOPEN_SOURCE 700 // nice
#include "sandbox/sandbox.h"

#include <sys/resource.h>
#include <unistd.h>

enum { LESS_URGENT = 15 }; // about a thirtieth of the others' share when all want the processor

void hw_sandbox_give_way(void)
{
    // Linux keeps niceness by thread. That it could not be lowered is no reason not to work.
    int now = nice(LESS_URGENT);
    (void)now;
}

void hw_sandbox_leave_no_core(void)
{
    const struct rlimit none = {0, 0};
    setrlimit(RLIMIT_CORE, &none);
}
