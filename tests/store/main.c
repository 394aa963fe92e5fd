// SPDX-License-Identifier: GPL-3.0-or-later
#include "suites.h"

int main(void)
{
    int wrong = hw_test_records();
    wrong += hw_test_jobs();
    wrong += hw_test_guests();
    wrong += hw_test_keep();
    wrong += hw_test_tamper();
    wrong += hw_test_clear();
    wrong += hw_test_kill();
    wrong += hw_test_replay();
    hw_place_stop_server();
    return wrong;
}
