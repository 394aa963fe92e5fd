// SPDX-License-Identifier: GPL-3.0-or-later
//
// cli: the shell's door. A table of commands; each parses, calls one app function, writes.
// Exit code 0 done, 1 cannot be done (reason on standard error), 2 wrong use.
#ifndef HW_CLI_H
#define HW_CLI_H

#include "app/app.h"

/// What stood on the command line. Which of it a command takes is in its row.
typedef struct cli_words {
    const char *subject;  // the file
    const char *second;   // of a command that takes two files
    const char *out;      // --out DIR
    const char *person;   // --person CODE
    const char *mill;     // --mill FILE
    const char *previous; // --previous FILE
    hw_image_ask image;   // --ruler and the like
    hw_walk_ask walk;     // --heel and the like
    hw_pressure_ask pressure;
    hw_scan_ask ask;   // --side, --unit, --loading
    unsigned seed;     // --seed
    bool is_json;      // --json
    bool is_searching; // --search
    hw_paper paper;    // --paper a4|letter

    // of the commands about records
    const char *program;           // how this program was called
    const char *data, *store, *ui; // --data, --store, --ui
    const char *hosts, *certificate, *key;
    int port, workers, lease_s, processes;
    bool is_open, is_demo, is_quiet, lists_routes, is_deidentified;
    bool joins;            // --join
    const char *line;      // --clinic LINE of a guest, --line LINE of who registers one
    const char *name;      // --register NAME
    const char *withdrawn; // --withdraw ID
} cli_words;

/// What a command works with.
typedef struct cli_room {
    hw_job job;
    hw_arena *into;
    hw_faults faults;
} cli_room;

typedef struct cli_command {
    const char *name;
    hw_status (*run)(cli_room *room, const cli_words *words);
    const char *subject; // what its file is, two words where it takes two, or NULL
    const char *options; // those it takes, for the parser and the help
    bool needs_out;
    const char *what; // for the help
} cli_command;

/// One option of a picture. False: the value is none of its; `is_one` false: it is no option of
/// these.
bool cli_image_option(const char *option, const char *value, hw_image_ask *ask, bool *is_one);

bool cli_walk_option(const char *option, const char *value, cli_words *words, bool *is_one);

/// The text on standard output; HW_IO_FAILED.
hw_status cli_print(cli_room *room, hw_bytes text);

/// What else it may be, a line each (reason.c).
void cli_print_differential(const hw_differential *of);

hw_status cli_compare(cli_room *room, const cli_words *words);
hw_status cli_foot(cli_room *room, const cli_words *words);
hw_status cli_image(cli_room *room, const cli_words *words);
hw_status cli_gait(cli_room *room, const cli_words *words);
hw_status cli_pressure(cli_room *room, const cli_words *words);
hw_status cli_load(cli_room *room, const cli_words *words);
hw_status cli_orthosis(cli_room *room, const cli_words *words);
hw_status cli_redflags(cli_room *room, const cli_words *words);
hw_status cli_dose(cli_room *room, const cli_words *words);
hw_status cli_toolpath(cli_room *room, const cli_words *words);
hw_status cli_mill_table(cli_room *room, const cli_words *words);
hw_status cli_plan(cli_room *room, const cli_words *words);
hw_status cli_visit(cli_room *room, const cli_words *words);
hw_status cli_followup(cli_room *room, const cli_words *words);
hw_status cli_trials(cli_room *room, const cli_words *words);
hw_status cli_demo(cli_room *room, const cli_words *words);
hw_status cli_batch(cli_room *room, const cli_words *words);

/// A batch through the queue of the store that --data and --store name.
hw_status cli_batch_queue(cli_room *room, const cli_words *words, const hw_app_batch_ask *ask,
                          hw_app_batch_sum *out);
hw_status cli_fhir(cli_room *room, const cli_words *words);
hw_status cli_fhir_read(cli_room *room, const cli_words *words);
hw_status cli_serve(cli_room *room, const cli_words *words);
hw_status cli_work(cli_room *room, const cli_words *words);
hw_status cli_workers(cli_room *room, const cli_words *words);
hw_status cli_caseload(cli_room *room, const cli_words *words);
hw_status cli_backup(cli_room *room, const cli_words *words);
hw_status cli_restore(cli_room *room, const cli_words *words);
hw_status cli_verify(cli_room *room, const cli_words *words);

#endif
