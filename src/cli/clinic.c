// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/clinic.h"

#include "sandbox/sandbox.h"

#include <stdlib.h>
#include <string.h>

static hw_status make_parents(hw_job *job, const char *folder, hw_arena *into)
{
    char *path = NULL;
    size_t length = strlen(folder);
    HW_ALLOC(job, into, path, length + 1);
    for (size_t i = 1; i <= length; i++) {
        if (folder[i] != '/' && folder[i]) continue;
        memcpy(path, folder, i);
        path[i] = 0;
        if (!hw_file_exists(path)) HW_TRY(hw_file_make_folder(job, path));
    }
    return HW_OK;
}

// XDG Base Directory Specification 0.8.
static hw_status default_folder(cli_room *room, const char **out)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (data && data[0] == '/')
        return hw_text_format(&room->job, room->into, out, "%s/heelwright", data);
    if (home && home[0] == '/')
        return hw_text_format(&room->job, room->into, out, "%s/.local/share/heelwright", home);
    return hw_fail(&room->job, HW_BAD_INPUT, "there is no home folder: say --data FOLDER");
}

// A passphrase comes by the environment: it would stand in the list of processes otherwise.
hw_status cli_clinic_find(cli_room *room, const cli_words *words, cli_clinic *out)
{
    const char *file = NULL;
    out->folder = words->data;
    if (!out->folder) HW_TRY(default_folder(room, &out->folder));
    HW_TRY(make_parents(&room->job, out->folder, room->into));
    HW_TRY(hw_file_join(&room->job, out->folder, "clinic.db", room->into, &file));
    HW_TRY(hw_file_join(&room->job, out->folder, "clinic.key", room->into, &out->place.key_file));
    out->place.url = words->store ? words->store : file;
    out->guest.url = out->place.url;
    HW_TRY(hw_file_join(&room->job, out->folder, "worker.key", room->into, &out->guest.key_file));
    HW_TRY(
        hw_file_join(&room->job, out->folder, "worker.clinic", room->into, &out->guest.line_file));
    out->place.passphrase = getenv("HEELWRIGHT_PASSPHRASE");
    return HW_OK;
}

hw_status cli_clinic_open(cli_room *room, const cli_words *words, cli_clinic *out)
{
    hw_sandbox_leave_no_core();
    HW_TRY(cli_clinic_find(room, words, out));
    return hw_store_open(&room->job, &out->place, &out->store);
}

// -- waiting for the end

static volatile sig_atomic_t is_asked_to_stop;

static void note_signal(int number)
{
    (void)number;
    is_asked_to_stop = 1;
}

bool cli_is_stopping(void *user)
{
    (void)user;
    return is_asked_to_stop != 0;
}

// A browser that leaves is no reason to end.
void cli_listen_to_signals(sigset_t *ends)
{
    struct sigaction note = {.sa_handler = note_signal}, ignore = {.sa_handler = SIG_IGN};
    sigaction(SIGPIPE, &ignore, NULL);
    sigaction(SIGINT, &note, NULL);
    sigaction(SIGTERM, &note, NULL);
    sigemptyset(ends);
    sigaddset(ends, SIGINT);
    sigaddset(ends, SIGTERM);
}
