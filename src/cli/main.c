// SPDX-License-Identifier: GPL-3.0-or-later
#include "api/api.h"
#include "cli/cli.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXIT_DONE = 0, EXIT_CANNOT = 1, EXIT_WRONG_USE = 2 };

static const cli_command commands[] = {
    {"foot", cli_foot, "FILE",
     "--side --unit --loading --mass --up --toes --extent --cast --keep-all --leave-holes "
     "--landmark --uncertainty --picture --person --json",
     false, "reads a scan; prints what was inferred of it, landmarks and measures"},
    {"compare", cli_compare, "A B", "--unit --loading --json", false,
     "lays two scans onto each other: where they deviate, which measures differ"},
    {"load", cli_load, "CASE", "--picture --json", false,
     "the load on the plantar fascia through a step, and what each treatment changes"},
    {"orthosis", cli_orthosis, "CASE", "--out --search --previous --json", true,
     "shapes the orthoses of a case and writes STL and 3MF"},
    {"redflags", cli_redflags, "CASE", "--json", false,
     "red flags, and what else than the plantar fascia it may be"},
    {"dose", cli_dose, "CASE", "--json", false,
     "the dose of each treatment for this person, and what the case orders worked out"},
    {"toolpath", cli_toolpath, "CASE", "--out --mill --json", true,
     "milling programs of its orthoses, read again and cut in memory before they are written"},
    {"mill-table", cli_mill_table, NULL, "", false,
     "machine, blocks and tools to begin with, as JSON for --mill"},
    {"plan", cli_plan, "CASE", "--json", false,
     "screening, options with dose and reasons, weekly timeline"},
    {"visit", cli_visit, "CASE", "--out --paper --json", true,
     "all of it: a plan as PDF, the orthosis files, everything as JSON"},
    {"followup", cli_followup, "FILE", "--json", false,
     "where one heel's pain is going, from its ratings (JSON: pain, scores); or questionnaires "
     "scored (JSON: scale, sheets)"},
    {"trials", cli_trials, NULL, "--add --json", false,
     "the trials of heel pain, recomputed, and what may be pooled of them"},
    {"demo", cli_demo, NULL, "--out --seed --json", true,
     "writes an invented case with invented scans and does its visit"},
    {"batch", cli_batch, "DIR", "--out --processes --data --store", true,
     "reads all scans and cases below a folder into one CSV (--out FILE); goes on after a stop; "
     "with "
     "--data or --store by the workers of that store"},
    {"image", cli_image, "FILE",
     "--frame --ruler --spacing-confirmed --caliper --box --site --edges --thickness --picture "
     "--json",
     false,
     "an ultrasound picture: its scale, a caliper, the two edges of a band traced (a proposal)"},
    {"gait", cli_gait, "FILE",
     "--forces --unit --mass --length --plate --step --heel --arch --head-1 --head-5 --json", false,
     "a recorded walk (C3D, TRC, force tables): one stance of it, the arch through it"},
    {"pressure", cli_pressure, "FILE", "--cell --pressure-unit --frame-ms --mass --json", false,
     "plantar pressure as a table of cells: contact, peaks and means by region, arch index"},
    {"fhir", cli_fhir, "CASE", "--out", true,
     "the visit as an HL7 FHIR R4 bundle: visit-bundle.json"},
    {"fhir-read", cli_fhir_read, "BUNDLE", "--out", true, "the case file out of a bundle of ours"},
    {"serve", cli_serve, NULL,
     "--data --store --port --ui --workers --open-network --host --tls-cert --tls-key --demo "
     "--quiet --routes",
     false, "the page and the records: serves until stopped"},
    {"work", cli_work, NULL, "--data --store --lease --join --clinic", false,
     "takes jobs of a store that other machines serve, with the clinic's key or as a guest"},
    {"workers", cli_workers, NULL, "--data --store --register --line --withdraw", false,
     "the guest workers of a store: lists, registers, withdraws them"},
    {"caseload", cli_caseload, NULL, "--data --store --out --deidentified --paper", true,
     "the clinic's outcomes: audit.pdf and tables as CSV with their dictionary, or without people"},
    {"backup", cli_backup, NULL, "--data --store --out", true,
     "writes a sealed copy of all records, re-read before it counts"},
    {"restore", cli_restore, "FILE", "--data --store", false,
     "fills an empty store from a backup and verifies it"},
    {"verify", cli_verify, NULL, "--data --store", false,
     "walks the chain of all records and says what was changed behind its back"},
};

enum { COMMANDS = sizeof commands / sizeof *commands };

static void print_help(FILE *to)
{
    fprintf(to, "heelwright %s: a workbench for the podiatrist who treats plantar heel pain\n\n",
            HW_VERSION);
    for (int i = 0; i < COMMANDS; i++)
        fprintf(to, "  heelwright %s%s%s  %s\n      %s\n", commands[i].name,
                commands[i].subject ? " " : "", commands[i].subject ? commands[i].subject : "",
                commands[i].options, commands[i].what);
    fprintf(
        to,
        "\n"
        "  --side left|right                    whose foot a scan is\n"
        "  --unit mm|cm|dm|m|inch               of the scan file; inferred where absent\n"
        "  --loading hanging|sitting|standing   how the foot was held while scanned\n"
        "  --mass KG                            half of it presses the computed contact print\n"
        "  --up, --toes +x|-x|+y|-y|+z|-z       where they lie in the file\n"
        "  --extent full|sole                   a whole foot or a sole alone\n"
        "  --cast foot|negative                 the foot itself, or its print or negative\n"
        "  --keep-all, --leave-holes            nothing is removed, no hole filled\n"
        "  --landmark NAME=X,Y,Z                placed by hand, mm of the foot frame; may be "
        "repeated\n"
        "  --uncertainty                        repeats the measures for their 95 %% intervals\n"
        "  --out DIR                            where files go, all of them or none\n"
        "  --search                             looks for a better device: up to two minutes a "
        "foot\n"
        "  --previous FILE                      the earlier device's case, or its STL: how the new "
        "one differs\n"
        "  --paper a4|letter                    what the PDFs are printed on, a4 by default\n"
        "  --picture DIR                        load.pdf or foot.pdf goes there\n"
        "  --ruler X,Y,X,Y,MM                   two marks of a picture's depth scale, pixels\n"
        "  --spacing-confirmed                  the file's pixel spacing is meant for this "
        "picture\n"
        "  --caliper X,Y,X,Y                    a distance on the picture, pixels\n"
        "  --box LEFT,TOP,RIGHT,BOTTOM          around the band whose edges are traced, pixels\n"
        "  --site X, --edges steps|lines, --thickness MM,MM\n"
        "                                       where it counts, what its edges are, how thick\n"
        "  --forces FILE                        plates of the trial whose markers are in FILE\n"
        "  --heel NAME, --arch NAME, --head-1 NAME, --head-5 NAME\n"
        "                                       which markers stand where on the foot\n"
        "  --plate N, --step N, --length MM     which stance, and the foot's length\n"
        "  --cell MM, --pressure-unit kPa|N/cm2, --frame-ms MS\n"
        "                                       of a pressure file that does not say it\n"
        "  --frame N                            of a film, 1 the first\n"
        "  --mill FILE                          machine, blocks, tools and choice: see mill-table\n"
        "  --person CODE                        stands on the picture: a code, never a name\n"
        "  --add FILE                           trials of your own (JSON), pooled with the "
        "table's\n"
        "  --seed N                             of the invented person, 1 by default\n"
        "  --json                               the whole result on standard output\n"
        "  --data DIR                           where the clinic's data lies\n"
        "  --store URL                          postgresql://...; else clinic.db in there\n"
        "  --processes N                        of a batch; one a core by default\n"
        "  --port N, --workers N                8437 and 2 by default\n"
        "  --lease S                            how long a dead worker's job waits for another\n"
        "  --join, --clinic LINE                a guest worker's own line; keeps the clinic's\n"
        "  --register NAME --line LINE          registers a guest worker, prints the clinic's "
        "line\n"
        "  --withdraw ID                        no job is open to that worker any more\n"
        "  --ui DIR                             the page's files\n"
        "  --open-network --tls-cert FILE --tls-key FILE --host NAME,...\n"
        "                                       serves the clinic's network, never in the clear\n"
        "  --demo                               fills an empty store with an invented clinic\n"
        "  --deidentified                       without people: docs/deidentified.md says how\n"
        "  --quiet, --routes                    no line a request; the routes as JSON\n\n"
        "exit code 0 done, 1 cannot be done (the reason on standard error), 2 wrong use\n"
        "For a registered podiatrist. It computes and warns; the clinician decides.\n");
}

static bool takes(const cli_command *command, const char *option)
{
    const char *at = strstr(command->options, option);
    char after = at ? at[strlen(option)] : 'x';
    return after == ' ' || after == 0;
}

static bool takes_two(const cli_command *command)
{
    return command->subject && strchr(command->subject, ' ');
}

static bool read_side(const char *text, cli_words *words)
{
    if (hw_text_same(text, "left"))
        words->ask.side = HW_SIDE_LEFT;
    else if (hw_text_same(text, "right"))
        words->ask.side = HW_SIDE_RIGHT;
    return words->ask.side != HW_SIDE_UNKNOWN;
}

static bool read_unit(const char *text, cli_words *words)
{
    words->ask.unit = hw_scan_unit_from_word(text);
    return words->ask.unit != HW_SCAN_UNIT_UNKNOWN;
}

static bool read_loading(const char *text, cli_words *words)
{
    for (int i = HW_LOADING_HANGING; i <= HW_LOADING_STANDING; i++)
        if (hw_text_same(text, hw_loading_word((hw_loading)i))) words->ask.loading = (hw_loading)i;
    return words->ask.loading != HW_LOADING_UNKNOWN;
}

static bool read_axis(const char *text, hw_scan_axis *out)
{
    *out = hw_scan_axis_from_word(text);
    return *out != HW_SCAN_AXIS_UNKNOWN;
}

static bool read_extent(const char *text, cli_words *words)
{
    for (int i = HW_SCAN_EXTENT_FULL; i <= HW_SCAN_EXTENT_SOLE; i++)
        if (hw_text_same(text, hw_scan_extent_word((hw_scan_extent)i)))
            words->ask.extent = (hw_scan_extent)i;
    return words->ask.extent != HW_SCAN_EXTENT_UNKNOWN;
}

static bool read_cast(const char *text, cli_words *words)
{
    for (int i = HW_SCAN_CAST_FOOT; i <= HW_SCAN_CAST_NEGATIVE; i++)
        if (hw_text_same(text, hw_scan_cast_word((hw_scan_cast)i)))
            words->ask.cast = (hw_scan_cast)i;
    return words->ask.cast != HW_SCAN_CAST_UNKNOWN;
}

static bool read_mass(const char *text, cli_words *words)
{
    words->ask.mass_kg.known = hw_text_number(text, strlen(text), &words->ask.mass_kg.value);
    return words->ask.mass_kg.known && words->ask.mass_kg.value >= 2.0 &&
           words->ask.mass_kg.value <= 400.0;
}

// "metatarsal_head_1=190.5,-41,12": millimetres of the foot frame, as the landmarks are printed.
static bool read_landmark(const char *text, cli_words *words)
{
    const char *at = strchr(text, '=');
    char key[40];
    double mm[3];
    if (!at || (size_t)(at - text) >= sizeof key) return false;
    snprintf(key, sizeof key, "%.*s", (int)(at - text), text);
    hw_landmark which = hw_landmark_from_key(key);
    if (which == HW_LANDMARKS) return false;
    for (int i = 0; i < 3; i++) {
        size_t length = strcspn(++at, ",");
        if (!hw_text_number(at, length, &mm[i]) || (at[length] == 0) != (i == 2)) return false;
        at += length;
    }
    words->ask.by_hand.is_given[which] = true;
    words->ask.by_hand.at[which] =
        (hw_vec3){hw_m_from_mm(mm[0]), hw_m_from_mm(mm[1]), hw_m_from_mm(mm[2])};
    return true;
}

static bool read_seed(const char *text, cli_words *words)
{
    char *end = NULL;
    unsigned long seed = strtoul(text, &end, 10);
    words->seed = (unsigned)seed;
    return *text >= '0' && *text <= '9' && !*end && seed <= 1000000;
}

static bool read_paper(const char *text, cli_words *words)
{
    bool is_letter = hw_text_same(text, "letter");
    words->paper = is_letter ? HW_PAPER_LETTER : HW_PAPER_A4;
    return is_letter || hw_text_same(text, "a4");
}

static bool read_number(const char *text, long most, int *out)
{
    char *end = NULL;
    long number = strtol(text, &end, 10);
    *out = (int)number;
    return *text >= '0' && *text <= '9' && !*end && number <= most;
}

// Options whose value is a text as it stands.
static const char **text_place(const char *option, cli_words *words)
{
    const struct {
        const char *option;
        const char **place;
    } places[] = {{"--data", &words->data},
                  {"--store", &words->store},
                  {"--ui", &words->ui},
                  {"--host", &words->hosts},
                  {"--tls-key", &words->key},
                  {"--tls-cert", &words->certificate},
                  {"--out", &words->out},
                  {"--picture", &words->out},
                  {"--person", &words->person},
                  {"--clinic", &words->line},
                  {"--line", &words->line},
                  {"--register", &words->name},
                  {"--withdraw", &words->withdrawn},
                  {"--mill", &words->mill},
                  {"--previous", &words->previous},
                  {"--add", &words->second}};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++)
        if (strcmp(places[i].option, option) == 0) return places[i].place;
    return NULL;
}

// Options that stand alone.
static bool *flag_place(const char *option, cli_words *words)
{
    const struct {
        const char *option;
        bool *place;
    } places[] = {{"--json", &words->is_json},
                  {"--open-network", &words->is_open},
                  {"--demo", &words->is_demo},
                  {"--uncertainty", &words->ask.wants_spread},
                  {"--keep-all", &words->ask.keeps_all},
                  {"--leave-holes", &words->ask.leaves_holes},
                  {"--quiet", &words->is_quiet},
                  {"--routes", &words->lists_routes},
                  {"--spacing-confirmed", &words->image.measure.is_spacing_confirmed},
                  {"--join", &words->joins},
                  {"--search", &words->is_searching},
                  {"--deidentified", &words->is_deidentified}};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++)
        if (strcmp(places[i].option, option) == 0) return places[i].place;
    return NULL;
}

// Reads the value of one option; false when the value is none of its.
static bool read_option(const char *option, const char *value, cli_words *words)
{
    if (strcmp(option, "--side") == 0) return read_side(value, words);
    if (strcmp(option, "--unit") == 0) return read_unit(value, words);
    if (strcmp(option, "--loading") == 0) return read_loading(value, words);
    if (strcmp(option, "--mass") == 0) return read_mass(value, words);
    if (strcmp(option, "--up") == 0) return read_axis(value, &words->ask.up);
    if (strcmp(option, "--toes") == 0) return read_axis(value, &words->ask.toes);
    if (strcmp(option, "--extent") == 0) return read_extent(value, words);
    if (strcmp(option, "--cast") == 0) return read_cast(value, words);
    if (strcmp(option, "--landmark") == 0) return read_landmark(value, words);
    if (strcmp(option, "--seed") == 0) return read_seed(value, words);
    if (strcmp(option, "--paper") == 0) return read_paper(value, words);
    if (strcmp(option, "--port") == 0) return read_number(value, 65535, &words->port);
    if (strcmp(option, "--processes") == 0) return read_number(value, 64, &words->processes);
    if (strcmp(option, "--workers") == 0) return read_number(value, 16, &words->workers);
    if (strcmp(option, "--lease") == 0)
        return read_number(value, HW_STORE_LEASE_MAX_S, &words->lease_s) && words->lease_s > 0;
    bool is_of_image = false,
         is_read = cli_image_option(option, value, &words->image, &is_of_image);
    if (is_of_image) return is_read;
    bool is_of_walk = false;
    is_read = cli_walk_option(option, value, words, &is_of_walk);
    if (is_of_walk) return is_read;
    const char **place = text_place(option, words);
    if (place) *place = value;
    return place && value[0] != 0;
}

static bool wrong_use(const char *format, const char *one, const char *other)
{
    fprintf(stderr, "heelwright: ");
    fprintf(stderr, format, one, other);
    fprintf(stderr, "; see heelwright help\n");
    return false;
}

static bool read_words(const cli_command *command, int count, char **texts, cli_words *words)
{
    for (int i = 0; i < count; i++) {
        const char *text = texts[i];
        if (strncmp(text, "--", 2) != 0) {
            const char **place = words->subject ? &words->second : &words->subject;
            if (!command->subject || *place || (words->subject && !takes_two(command)))
                return wrong_use("%s does not take '%s'", command->name, text);
            *place = text;
        } else if (!takes(command, text)) {
            return wrong_use("%s does not take %s", command->name, text);
        } else if (flag_place(text, words)) {
            *flag_place(text, words) = true;
        } else if (i + 1 == count) {
            return wrong_use("%s needs a value%s", text, "");
        } else if (!read_option(text, texts[++i], words)) {
            return wrong_use("%s cannot be '%s'", text, texts[i]);
        }
    }
    if (command->subject && (!words->subject || (takes_two(command) && !words->second)))
        return wrong_use("%s needs a %s", command->name, command->subject);
    if (command->needs_out && !words->out)
        return wrong_use("%s needs --out DIR%s", command->name, "");
    return true;
}

static void print_faults(const cli_room *room)
{
    if (room->faults.count < 2) {
        fprintf(stderr, "heelwright: %s\n", room->job.why);
        return;
    }
    fprintf(stderr, "heelwright: %d faults in the case file\n", room->faults.count);
    for (int i = 0; i < room->faults.count; i++)
        fprintf(stderr, "  %s: %s\n", room->faults.rows[i].key, room->faults.rows[i].sentence);
}

static int run(const cli_command *command, const cli_words *words)
{
    cli_room room = {.into = hw_arena_new(HW_APP_MEMORY_BYTES)};
    hw_status status = HW_NO_MEMORY;
    if (room.into && hw_job_open(&room.job, HW_APP_MEMORY_BYTES) == HW_OK) {
        room.faults.into = room.into;
        status = command->run(&room, words);
        if (status == HW_OK && fflush(stdout) != 0)
            status = hw_fail(&room.job, HW_IO_FAILED, "standard output cannot be written");
        if (status != HW_OK) print_faults(&room);
        hw_job_close(&room.job);
    } else {
        fprintf(stderr, "heelwright: no memory to start\n");
    }
    hw_arena_free(room.into);
    return status == HW_OK ? EXIT_DONE : EXIT_CANNOT;
}

int main(int count, char **texts)
{
    int task_count = 0;
    const hw_sandbox_task *tasks = hw_app_tasks(&task_count);
    hw_sandbox_child(count, texts, tasks, task_count); // started as a reader: never comes back
    if (count >= 2 && (hw_text_same(texts[1], "help") || strcmp(texts[1], "--help") == 0)) {
        print_help(stdout);
        return EXIT_DONE;
    }
    if (count >= 2 && strcmp(texts[1], "--version") == 0) {
        printf("heelwright %s, rules %s\n", HW_VERSION, HW_RULES_VERSION);
        return EXIT_DONE;
    }
    for (int i = 0; count >= 2 && i < COMMANDS; i++) {
        if (strcmp(texts[1], commands[i].name) != 0) continue;
        cli_words words = {
            .seed = 1, .port = 8437, .workers = 2, .lease_s = HW_API_LEASE_S, .program = texts[0]};
        if (!read_words(&commands[i], count - 2, texts + 2, &words)) return EXIT_WRONG_USE;
        return run(&commands[i], &words);
    }
    if (count >= 2) fprintf(stderr, "heelwright: there is no command '%s'\n\n", texts[1]);
    print_help(stderr);
    return EXIT_WRONG_USE;
}
