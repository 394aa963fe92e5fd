// SPDX-License-Identifier: GPL-3.0-or-later
// The server, and what is done to a store from the shell.
#define _XOPEN_SOURCE 700 // realpath
#include "api/api.h"
#include "cli/clinic.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { PEM_BYTES = 1 << 20 };

// -- serve

static void print_line(void *user, const char *line)
{
    (void)user;
    fprintf(stderr, "%s\n", line);
}

static hw_status read_pem(cli_room *room, const char *path, const char **out)
{
    hw_bytes bytes = {0};
    if (!path) return HW_OK;
    HW_TRY(hw_file_read(&room->job, path, PEM_BYTES, room->into, &bytes));
    *out = (const char *)bytes.at; // a zero byte follows
    return HW_OK;
}

// The page: as asked, else of the source tree, else beside the program.
static hw_status find_page(cli_room *room, const cli_words *words, const char **out)
{
    const char *folder = NULL;
    *out = words->ui ? words->ui : HW_PAGE_FOLDER;
    if (words->ui || hw_file_exists(*out)) return HW_OK;
    HW_TRY(hw_file_folder(&room->job, words->program, room->into, &folder));
    return hw_file_join(&room->job, folder, "ui", room->into, out);
}

// Loopback unless asked; never in the clear beyond it.
static hw_status fill_place(cli_room *room, const cli_words *words, const cli_clinic *of,
                            hw_api_place *out)
{
    bool has_tls = words->certificate && words->key;
    if (words->is_open && !has_tls)
        return hw_fail(&room->job, HW_BAD_INPUT,
                       "--open-network needs --tls-cert and --tls-key: records do not cross a "
                       "network in the clear");
    *out = (hw_api_place){.store = of->store,
                          .address = words->is_open ? "0.0.0.0" : "127.0.0.1",
                          .port = words->port,
                          .hosts = words->hosts,
                          .workers = words->workers,
                          .log = words->is_quiet ? NULL : print_line};
    HW_TRY(read_pem(room, words->certificate, &out->certificate));
    HW_TRY(read_pem(room, words->key, &out->key));
    HW_TRY(find_page(room, words, &out->ui));
    return hw_file_join(&room->job, of->folder, "backups", room->into, &out->backups);
}

static const char sign_in_file[] = "invented-sign-in.txt";

// Whoever starts the invented clinic again still finds how to sign in: it protects nothing real.
static hw_status keep_sign_in(cli_room *room, const cli_clinic *of, const hw_api_demo_user *users)
{
    hw_writer to = hw_writer_begin(room->into);
    hw_bytes text = {0};
    hw_file_set set = {0};
    hw_writer_print(&to, "An invented clinic. Sign in as\n");
    for (int i = 0; i < HW_API_DEMO_USERS; i++)
        hw_writer_print(&to, "  %-10s %-10s passphrase %s\n", users[i].role, users[i].login,
                        users[i].passphrase);
    HW_TRY(hw_writer_end(&room->job, &to, &text));
    HW_TRY(hw_file_set_add(&room->job, &set, sign_in_file, text));
    return hw_file_set_write(&room->job, &set, of->folder);
}

static hw_status print_sign_in(cli_room *room, const cli_clinic *of)
{
    const char *path = NULL;
    hw_bytes text = {0};
    HW_TRY(hw_file_join(&room->job, of->folder, sign_in_file, room->into, &path));
    if (hw_file_read(&room->job, path, 4096, room->into, &text) == HW_OK)
        fwrite(text.at, 1, text.count, stdout);
    return HW_OK; // a store in use that is no invented clinic has no such file
}

static hw_status make_demo(cli_room *room, const cli_clinic *of)
{
    hw_api_demo_user users[HW_API_DEMO_USERS];
    hw_status status = hw_api_demo(&room->job, of->store, users);
    if (status == HW_OK) status = keep_sign_in(room, of, users);
    if (status != HW_OK && status != HW_CLASH) return status;
    return print_sign_in(room, of);
}

static void greet(const hw_api *api, const hw_api_place *place)
{
    printf("heelwright %s serves at %s://127.0.0.1:%d/%s\n", HW_VERSION,
           place->certificate ? "https" : "http", hw_api_port(api),
           strcmp(place->address, "127.0.0.1") == 0
               ? ""
               : " and to the network by this machine's names");
    if (hw_api_first_use_code(api))
        printf("There is no user yet. Code for the first owner: %s\n", hw_api_first_use_code(api));
    fflush(stdout);
}

static hw_status serve(cli_room *room, const cli_words *words, const cli_clinic *of)
{
    sigset_t ends;
    int number = 0;
    hw_api *api = NULL;
    hw_api_place place = {0};
    HW_TRY(fill_place(room, words, of, &place));
    if (words->is_demo) HW_TRY(make_demo(room, of));
    cli_listen_to_signals(&ends);
    sigprocmask(SIG_BLOCK, &ends, NULL); // for all threads: this one waits for them
    HW_TRY(hw_api_start(&room->job, &place, &api));
    greet(api, &place);
    sigwait(&ends, &number);
    hw_api_stop(api);
    printf("stopped\n");
    return HW_OK;
}

hw_status cli_serve(cli_room *room, const cli_words *words)
{
    cli_clinic of = {0};
    if (words->lists_routes) {
        hw_bytes text = {0};
        HW_TRY(hw_api_routes(&room->job, room->into, &text));
        fwrite(text.at, 1, text.count, stdout);
        return HW_OK;
    }
    HW_TRY(cli_clinic_open(room, words, &of));
    hw_status status = serve(room, words, &of);
    hw_store_close(of.store);
    return status;
}

// -- backup, restore, verify

hw_status cli_backup(cli_room *room, const cli_words *words)
{
    cli_clinic of = {0};
    const char *name = NULL;
    HW_TRY(cli_clinic_open(room, words, &of));
    hw_status status = hw_store_backup(&room->job, of.store, words->out, room->into, &name);
    hw_store_close(of.store);
    if (status == HW_OK)
        printf("%s\nIt is sealed. Keep %s elsewhere: without it nobody can open this.\n", name,
               of.place.key_file);
    return status;
}

// Workers may stand in other folders: the path is made whole.
hw_status cli_batch_queue(cli_room *room, const cli_words *words, const hw_app_batch_ask *ask,
                          hw_app_batch_sum *out)
{
    cli_clinic of = {0};
    hw_app_batch_ask whole = *ask;
    char *path = realpath(ask->folder, NULL);
    if (!path) return hw_fail(&room->job, HW_NOT_FOUND, "%.200s is not there", ask->folder);
    whole.folder = path;
    hw_status status = cli_clinic_open(room, words, &of);
    if (status == HW_OK) status = hw_api_batch(&room->job, of.store, &whole, room->into, out);
    hw_store_close(of.store);
    free(path);
    return status;
}

// -- the caseload

static hw_status write_caseload(cli_room *room, const cli_words *words, hw_store *store)
{
    hw_job *job = &room->job;
    hw_app_books *books = NULL;
    hw_file_set files = {0};
    hw_bytes pdf = {0};
    const hw_date today = {(int)(time(NULL) / 86400), true};
    HW_ALLOC(job, room->into, books, 1);
    HW_TRY(hw_app_books_read(job, store, today, room->into, books));
    if (words->is_deidentified) {
        HW_TRY(hw_app_books_deidentified(job, books, HW_APP_K, room->into, &files));
    } else {
        HW_TRY(hw_app_books_tables(job, books, room->into, &files));
        HW_TRY(hw_app_audit_pdf(job, books, words->paper, room->into, &pdf));
        HW_TRY(hw_file_set_add(job, &files, "audit.pdf", pdf));
    }
    HW_TRY(hw_app_export_noted(
        job, store, "shell", words->is_deidentified ? "deidentified" : "tables", NULL, room->into));
    HW_TRY(hw_file_set_write(job, &files, words->out));
    for (int i = 0; i < files.count; i++) printf("%s/%s\n", words->out, files.files[i].name);
    return HW_OK;
}

// Whoever holds the key file is the owner.
hw_status cli_caseload(cli_room *room, const cli_words *words)
{
    cli_clinic of = {0};
    HW_TRY(cli_clinic_open(room, words, &of));
    hw_status status = write_caseload(room, words, of.store);
    hw_store_close(of.store);
    return status;
}

hw_status cli_restore(cli_room *room, const cli_words *words)
{
    cli_clinic of = {0};
    HW_TRY(cli_clinic_find(room, words, &of));
    HW_TRY(hw_store_restore(&room->job, words->subject, &of.place, &of.store));
    hw_store_close(of.store);
    printf("restored and verified: %s\n", of.place.url);
    return HW_OK;
}

static void print_report(const hw_store_report *report)
{
    printf("%lld versions, %lld files, %lld jobs, %lld keys; %d faults\n",
           (long long)report->records, (long long)report->files, (long long)report->jobs,
           (long long)report->keys, report->fault_count);
    for (int i = 0; i < report->listed; i++) printf("  %s\n", report->faults[i]);
    printf("mark %lld %s (keep it outside: it finds out a rollback)\n",
           (long long)report->mark.change, report->mark.link);
}

// Also opens what is damaged, to say what is wrong.
hw_status cli_verify(cli_room *room, const cli_words *words)
{
    cli_clinic of = {0};
    hw_store_report report = {0};
    HW_TRY(cli_clinic_find(room, words, &of));
    of.place.is_damaged_ok = true;
    HW_TRY(hw_store_open(&room->job, &of.place, &of.store));
    hw_status status = hw_store_verify(&room->job, of.store, NULL, room->into, &report);
    hw_store_close(of.store);
    if (status == HW_OK || report.fault_count > 0) print_report(&report);
    return status;
}
