// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

#include <signal.h>

int main(void)
{
    signal(SIGPIPE, SIG_IGN);
    int failed = run_parse_tests();
    failed += run_server_tests();
    failed += run_stream_tests();
    return failed;
}
