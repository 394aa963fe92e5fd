// SPDX-License-Identifier: GPL-3.0-or-later
// Workers: those that hold the clinic's key, guests that do not, and who is registered.
#include "cli/clinic.h"

#include "seal/seal.h"

#include <stdio.h>
#include <string.h>

// -- work

static hw_status print_join(cli_room *room, const cli_clinic *of)
{
    const char *line = NULL;
    HW_TRY(hw_guest_join(&room->job, &of->guest, room->into, &line));
    printf("%s\n", line);
    fprintf(stderr, "Register this line at the clinic (Settings, or 'heelwright workers --register "
                    "NAME --line LINE'),\nthen keep the clinic's line here: 'heelwright work "
                    "--clinic LINE'.\n");
    return HW_OK;
}

static hw_status keep_clinic(cli_room *room, const cli_words *words, const cli_clinic *of)
{
    HW_TRY(hw_guest_keep(&room->job, &of->guest, words->line));
    printf("kept: this machine now works for that clinic\n");
    return HW_OK;
}

static hw_status work_as_guest(cli_room *room, const cli_words *words, const cli_clinic *of)
{
    hw_guest *guest = NULL;
    HW_TRY(hw_guest_open(&room->job, &of->guest, &guest));
    printf("guest-%s takes jobs\n", hw_guest_id(guest));
    fflush(stdout);
    hw_status status = hw_api_work_as_guest(&room->job, guest, words->lease_s);
    hw_guest_close(guest);
    return status;
}

// A name nobody else has: leases are by name.
static hw_status work_at_home(cli_room *room, const cli_words *words, cli_clinic *of)
{
    char name[HW_STORE_WORKER] = "work-";
    HW_TRY(hw_seal_start(&room->job));
    hw_seal_id(name + strlen(name));
    HW_TRY(hw_store_open(&room->job, &of->place, &of->store));
    printf("%s takes jobs\n", name);
    fflush(stdout);
    hw_status status = hw_api_work(&room->job, of->store, name, words->lease_s);
    hw_store_close(of->store);
    return status;
}

// A folder is a guest's or the clinic's: which of the two is never guessed.
hw_status cli_work(cli_room *room, const cli_words *words)
{
    sigset_t ends;
    cli_clinic of = {0};
    hw_sandbox_leave_no_core();
    HW_TRY(cli_clinic_find(room, words, &of));
    bool has_key = of.place.passphrase || hw_file_exists(of.place.key_file);
    bool is_guest = hw_file_exists(of.guest.key_file);
    if (has_key && (is_guest || words->joins || words->line))
        return hw_fail(&room->job, HW_BAD_INPUT,
                       "%s opens the clinic's store already (clinic.key or a passphrase): a guest "
                       "worker needs a folder of its own",
                       of.folder);
    if (words->joins) return print_join(room, &of);
    if (words->line) return keep_clinic(room, words, &of);
    cli_listen_to_signals(&ends);
    room->job.cancelled = cli_is_stopping;
    hw_status status = is_guest ? work_as_guest(room, words, &of) : work_at_home(room, words, &of);
    return status == HW_CANCELLED ? HW_OK : status;
}

// -- workers

static void print_moment(int64_t at_ms)
{
    char day[HW_DATE_TEXT];
    int64_t seconds = at_ms / 1000;
    hw_date_text((hw_date){.known = true, .days = (int)(seconds / 86400)}, day);
    printf("%s %02d:%02d UTC", day, (int)(seconds / 3600 % 24), (int)(seconds / 60 % 60));
}

static hw_status print_workers(cli_room *room, const cli_clinic *of)
{
    hw_store_guests all = {0};
    HW_TRY(hw_store_guest_list(&room->job, of->store, room->into, &all));
    if (all.count == 0) printf("no worker is registered\n");
    for (int i = 0; i < all.count; i++) {
        const hw_store_guest *one = &all.guests[i];
        printf("%s  %s  registered ", one->id, one->name);
        print_moment(one->added_ms);
        if (one->withdrawn_ms) printf(", withdrawn "), print_moment(one->withdrawn_ms);
        printf("\n");
        if (!one->withdrawn_ms) printf("    %s\n", one->line); // for a guest that lost it
    }
    return HW_OK;
}

static hw_status register_worker(cli_room *room, const cli_words *words, const cli_clinic *of)
{
    hw_store_guest added = {0};
    if (!words->name || !words->line)
        return hw_fail(&room->job, HW_BAD_INPUT,
                       "registering takes --register NAME and --line LINE");
    HW_TRY(hw_store_guest_add(&room->job, of->store, words->name, words->line, "", room->into,
                              &added));
    printf("%s\n", added.line);
    fprintf(stderr,
            "Jobs asked for from now on are open to %s. On that machine: 'heelwright work "
            "--clinic LINE' with the line above.\n",
            added.name);
    return HW_OK;
}

static hw_status withdraw_worker(cli_room *room, const cli_words *words, const cli_clinic *of)
{
    HW_TRY(hw_store_guest_withdraw(&room->job, of->store, words->withdrawn, ""));
    printf("withdrawn: also end its role in the database\n");
    return HW_OK;
}

hw_status cli_workers(cli_room *room, const cli_words *words)
{
    cli_clinic of = {0};
    HW_TRY(cli_clinic_open(room, words, &of));
    hw_status status = HW_OK;
    if (words->name || words->line)
        status = register_worker(room, words, &of);
    else if (words->withdrawn)
        status = withdraw_worker(room, words, &of);
    else
        status = print_workers(room, &of);
    hw_store_close(of.store);
    return status;
}
