// SPDX-License-Identifier: GPL-3.0-or-later
#define _XOPEN_SOURCE 700 // nice
#include "sandbox/sandbox.h"

#include <unistd.h>

enum { LESS_URGENT = 15 }; // about a thirtieth of the others' share when all want the processor

void hw_sandbox_give_way(void)
{
    // Linux keeps niceness by thread. That it could not be lowered is no reason not to work.
    int now = nice(LESS_URGENT);
    (void)now;
}
