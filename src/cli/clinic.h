// SPDX-License-Identifier: GPL-3.0-or-later
// What the commands about records share: where the clinic's data lies, and how to wait for the end.
#ifndef HW_CLI_CLINIC_H
#define HW_CLI_CLINIC_H

#include "api/api.h"
#include "cli/cli.h"

#include <signal.h>

/// Where the clinic's data is, and its store once it is open.
typedef struct cli_clinic {
    const char *folder;
    hw_store_place place;
    hw_guest_place guest; // of a machine that only works for a clinic
    hw_store *store;
} cli_clinic;

/// The places, as asked or by default; the folder is made when absent.
HW_MUST_USE hw_status cli_clinic_find(cli_room *room, const cli_words *words, cli_clinic *out);

/// Also opens the store, which is made where there is none.
HW_MUST_USE hw_status cli_clinic_open(cli_room *room, const cli_words *words, cli_clinic *out);

/// From now on the end is asked for, not suffered. ends: the signals that ask.
void cli_listen_to_signals(sigset_t *ends);

/// For job->cancelled: whether the end was asked for.
bool cli_is_stopping(void *user);

#endif
