// SPDX-License-Identifier: GPL-3.0-or-later
// Many files, a line each (RFC 4180). Lines are written in the order of names, each synced, so that after a
// kill the file holds whole lines of the first files; a line cut off is taken away.
#include "app/app.h"
#include "csv.h"
#include "sandbox/sandbox.h"

#include <stdlib.h>
#include <string.h>

enum { TELL_EVERY = 16, CSV_BYTES_MAX = 256 << 20, LONGEST_S = 300 };

static const char header[] = "file,kind,status,side,foot_length_mm,ball_breadth_mm,heel_breadth_mm,"
                             "released,why\r\n";

static bool ends_with(const char *name, const char *end)
{
    size_t all = strlen(name), part = strlen(end);
    return all >= part && hw_text_same(name + all - part, end);
}

static bool is_case(const char *name)
{
    return strcmp(name, "case.json") == 0 || ends_with(name, "/case.json");
}

static bool is_wanted(const char *name)
{
    static const char *const endings[] = {".stl", ".obj", ".ply", ".3mf", ".off"};
    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++)
        if (ends_with(name, endings[i])) return true;
    return is_case(name);
}

static void measure(hw_writer *to, hw_maybe metres)
{
    hw_writer_bytes(to, ",", 1);
    if (metres.known) hw_writer_print(to, "%.1f", hw_mm_from_m(metres.value));
}

static hw_status scan_fields(hw_job *job, const char *path, hw_arena *tmp, hw_writer *to)
{
    hw_scan_result scan = {0};
    const hw_scan_ask ask = {0};
    HW_TRY(hw_app_foot_at(job, path, &ask, tmp, &scan));
    const hw_foot_measures *of = &scan.foot.measures;
    hw_writer_print(to, ",scan,ok,%s", hw_side_word(scan.foot.side));
    measure(to, of->foot_length_m);
    measure(to, of->ball_breadth_m);
    measure(to, of->heel_breadth_m);
    hw_writer_print(to, ",,\r\n");
    return HW_OK;
}

static hw_status case_fields(hw_job *job, const char *path, hw_arena *tmp, hw_writer *to)
{
    hw_report report = {0};
    hw_faults faults = {.into = tmp};
    HW_TRY(hw_app_visit_at(job, path, HW_APP_PLAN, tmp, &report, &faults));
    hw_writer_print(to, ",case,ok,,,,,%s,", report.plan->released ? "yes" : "no");
    csv_quoted(to, report.plan->verdict);
    hw_writer_print(to, "\r\n");
    return HW_OK;
}

hw_status hw_app_batch_line(hw_job *job, const char *folder, const char *name, hw_arena *into,
                            hw_bytes *out)
{
    const char *path = NULL;
    hw_writer to = hw_writer_begin(into);
    csv_quoted(&to, name);
    HW_TRY(hw_file_join(job, folder, name, into, &path));
    HW_TRY(is_case(name) ? case_fields(job, path, into, &to) : scan_fields(job, path, into, &to));
    return hw_writer_end(job, &to, out);
}

hw_status hw_app_batch_failed(hw_job *job, const char *name, const char *why, hw_arena *into,
                              hw_bytes *out)
{
    hw_writer to = hw_writer_begin(into);
    csv_quoted(&to, name);
    hw_writer_print(&to, ",%s,failed,,,,,,", is_case(name) ? "case" : "scan");
    csv_quoted(&to, why);
    hw_writer_print(&to, "\r\n");
    return hw_writer_end(job, &to, out);
}

// Where the record that starts at `at` ends: behind its CR LF; 0 where it is cut off.
static size_t record_end(hw_bytes text, size_t at)
{
    bool is_quoted = false;
    for (size_t i = at; i < text.count; i++) {
        if (text.at[i] == '"') is_quoted = !is_quoted;
        if (!is_quoted && text.at[i] == '\n') return i + 1;
    }
    return 0;
}

// The first field, which is always quoted by us.
static hw_status first_field(hw_job *job, hw_bytes text, size_t at, hw_arena *into,
                             const char **out)
{
    hw_writer to = hw_writer_begin(into);
    hw_bytes name = {0};
    for (size_t i = at + 1; i < text.count; i++) {
        if (text.at[i] == '"' && (i + 1 == text.count || text.at[i + 1] != '"')) break;
        if (text.at[i] == '"') i++;
        hw_writer_bytes(&to, &text.at[i], 1);
    }
    HW_TRY(hw_writer_end(job, &to, &name));
    *out = (const char *)name.at;
    return HW_OK;
}

typedef struct progress {
    hw_file_names done; // sorted: a file that came later stands behind those of an earlier run
    size_t bytes;       // of whole lines
} progress;

static int by_text(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static hw_status read_progress(hw_job *job, const char *path, hw_arena *into, progress *out)
{
    hw_bytes text = {0};
    *out = (progress){0};
    if (!hw_file_exists(path)) return HW_OK;
    HW_TRY(hw_file_read(job, path, CSV_BYTES_MAX, into, &text));
    size_t head = sizeof header - 1;
    if (text.count < head ? memcmp(text.at, header, text.count) : memcmp(text.at, header, head))
        return hw_fail(job, HW_BAD_INPUT, "%.150s is there and is not a table of this command",
                       path);
    if (text.count < head) return HW_OK;
    int count = 0;
    size_t at = head;
    for (size_t end; (end = record_end(text, at)) != 0; at = end) count++;
    const char **names = NULL;
    HW_ALLOC(job, into, names, (size_t)count + 1);
    out->bytes = at, at = head, count = 0;
    for (size_t end; (end = record_end(text, at)) != 0; at = end)
        HW_TRY(first_field(job, text, at, into, &names[count++]));
    qsort(names, (size_t)count, sizeof *names, by_text);
    out->done = (hw_file_names){names, count};
    return HW_OK;
}

static bool is_done(const progress *of, const char *name)
{
    return of->done.count > 0 && bsearch(&name, of->done.names, (size_t)of->done.count,
                                         sizeof *of->done.names, by_text) != NULL;
}

hw_status hw_app_batch_open(hw_job *job, const hw_app_batch_ask *ask, hw_arena *into,
                            hw_app_batch_list *out)
{
    hw_file_names all = {0};
    progress before = {0};
    const char **names = NULL;
    hw_app_batch_list list = {.ask = ask};
    HW_TRY(hw_file_list(job, ask->folder, into, &all));
    HW_TRY(read_progress(job, ask->out, into, &before));
    HW_ALLOC(job, into, names, (size_t)all.count + 1);
    for (int i = 0; i < all.count; i++) {
        if (!is_wanted(all.names[i])) continue;
        if (is_done(&before, all.names[i]))
            list.sum.kept++;
        else
            names[list.count++] = all.names[i];
    }
    list.names = names;
    list.at = before.bytes;
    HW_TRY(hw_file_cut(job, ask->out, list.at)); // a line that was cut off is done again
    if (list.at == 0) {
        const hw_bytes head = {(const unsigned char *)header, sizeof header - 1};
        HW_TRY(hw_file_write_at(job, ask->out, 0, head));
        list.at = head.count;
    }
    *out = list;
    return HW_OK;
}

hw_status hw_app_batch_keep(hw_job *job, hw_app_batch_list *list, hw_bytes line, bool is_wrong)
{
    const hw_app_batch_ask *ask = list->ask;
    HW_TRY(hw_file_write_at(job, ask->out, list->at, line));
    list->at += line.count;
    list->sum.done++;
    list->sum.failed += is_wrong;
    bool is_time = list->sum.done % TELL_EVERY == 0 || list->sum.done == list->count;
    if (ask->tell && is_time)
        ask->tell(ask->user, list->sum.kept + list->sum.done, list->sum.kept + list->count,
                  list->sum.failed);
    return HW_OK;
}

static hw_status work(hw_job *job, void *with, int piece, hw_arena *into, hw_bytes *out)
{
    const hw_app_batch_list *list = with;
    return hw_app_batch_line(job, list->ask->folder, list->names[piece], into, out);
}

static hw_status take(hw_job *job, void *with, int piece, hw_status status, hw_bytes bytes)
{
    hw_app_batch_list *list = with;
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_bytes line = bytes;
    if (status != HW_OK)
        HW_TRY(
            hw_app_batch_failed(job, list->names[piece], (const char *)bytes.at, tmp.arena, &line));
    HW_TRY(hw_app_batch_keep(job, list, line, status != HW_OK));
    hw_scratch_end(tmp);
    return HW_OK;
}

hw_status hw_app_batch(hw_job *job, const hw_app_batch_ask *ask, hw_arena *into,
                       hw_app_batch_sum *out)
{
    hw_app_batch_list list = {0};
    HW_TRY(hw_app_batch_open(job, ask, into, &list));
    const hw_crew crew = {.processes = ask->processes,
                          .count = list.count,
                          .wall_s = LONGEST_S,
                          .memory_bytes = HW_APP_MEMORY_BYTES,
                          .work = work,
                          .take = take,
                          .with = &list};
    if (list.count > 0) HW_TRY(hw_crew_run(job, &crew));
    *out = list.sum;
    return HW_OK;
}
