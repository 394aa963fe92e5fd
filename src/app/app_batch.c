// SPDX-License-Identifier: GPL-3.0-or-later
// Many files, a line each (RFC 4180). Lines are written in the order of names and synced a handful at a
// time, so that after a kill the file holds whole lines of the first files; a line cut off is taken away.
#include "app/app.h"
#include "csv.h"

#include <string.h>

enum { HANDFUL = 16, CSV_BYTES_MAX = 256 << 20 };

static const char header[] = "file,kind,status,side,foot_length_mm,ball_breadth_mm,heel_breadth_mm,"
                             "released,why\r\n";

typedef struct batch_item {
    const char *folder, *name;
    hw_bytes line;
    hw_arena *into; // holds the line
    bool is_wrong;
} batch_item;

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

// Cannot fail: what fails is a line that says why.
static void do_item(void *with, int i)
{
    batch_item *item = &((batch_item *)with)[i];
    hw_arena *tmp = hw_arena_new(HW_APP_MEMORY_BYTES);
    hw_job job = {0};
    const char *path = NULL;
    hw_status status = HW_NO_MEMORY;
    hw_writer to = hw_writer_begin(item->into);
    csv_quoted(&to, item->name);
    size_t start = to.count;
    if (tmp && hw_job_open(&job, HW_APP_MEMORY_BYTES) == HW_OK) {
        status = hw_file_join(&job, item->folder, item->name, tmp, &path);
        if (status == HW_OK)
            status = is_case(item->name) ? case_fields(&job, path, tmp, &to)
                                         : scan_fields(&job, path, tmp, &to);
        if (status != HW_OK) {
            to.count = start;
            hw_writer_print(&to, ",%s,failed,,,,,,", is_case(item->name) ? "case" : "scan");
            csv_quoted(&to, job.why);
            hw_writer_print(&to, "\r\n");
        }
        item->is_wrong = status != HW_OK;
        if (hw_writer_end(&job, &to, &item->line) != HW_OK) item->line = (hw_bytes){0};
        hw_job_close(&job);
    }
    hw_arena_free(tmp);
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
    hw_file_names done; // sorted as they were written
    size_t bytes;       // of whole lines
} progress;

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
    out->done = (hw_file_names){names, count};
    return HW_OK;
}

static bool is_done(const progress *of, const char *name)
{
    for (int i = 0; i < of->done.count; i++)
        if (strcmp(of->done.names[i], name) == 0) return true;
    return false;
}

// Does one handful and writes its lines, whole and synced, behind those that stand.
static hw_status do_handful(hw_job *job, batch_item *items, int count, const char *path, size_t *at)
{
    hw_arena *lines[HANDFUL] = {0};
    hw_status status = HW_OK;
    for (int i = 0; i < count; i++) {
        lines[i] = hw_arena_new(1 << 20);
        items[i].into = lines[i];
        if (!lines[i]) status = hw_fail(job, HW_NO_MEMORY, "no memory for a line");
    }
    if (status == HW_OK) hw_parallel(count, do_item, items);
    for (int i = 0; i < count && status == HW_OK; i++) {
        if (!items[i].line.at)
            status = hw_fail(job, HW_NO_MEMORY, "no memory for %.100s", items[i].name);
        else
            status = hw_file_write_at(job, path, *at, items[i].line);
        if (status == HW_OK) *at += items[i].line.count;
    }
    for (int i = 0; i < count; i++) hw_arena_free(lines[i]);
    return status;
}

hw_status hw_app_batch(hw_job *job, const hw_app_batch_ask *ask, hw_arena *into,
                       hw_app_batch_sum *out)
{
    hw_file_names all = {0};
    progress before = {0};
    batch_item *items = NULL;
    hw_app_batch_sum sum = {0};
    HW_TRY(hw_file_list(job, ask->folder, into, &all));
    HW_TRY(read_progress(job, ask->out, into, &before));
    HW_ALLOC(job, into, items, (size_t)all.count + 1);
    int count = 0;
    for (int i = 0; i < all.count; i++) {
        if (!is_wanted(all.names[i])) continue;
        if (is_done(&before, all.names[i]))
            sum.kept++;
        else
            items[count++] = (batch_item){.folder = ask->folder, .name = all.names[i]};
    }
    size_t at = before.bytes;
    HW_TRY(hw_file_cut(job, ask->out, at)); // a line that was cut off is done again
    if (at == 0) {
        const hw_bytes head = {(const unsigned char *)header, sizeof header - 1};
        HW_TRY(hw_file_write_at(job, ask->out, 0, head));
        at = head.count;
    }
    for (int i = 0; i < count; i += HANDFUL) {
        int here = count - i < HANDFUL ? count - i : HANDFUL;
        HW_TRY(hw_job_ask(job));
        HW_TRY(do_handful(job, items + i, here, ask->out, &at));
        for (int k = i; k < i + here; k++) sum.failed += items[k].is_wrong;
        sum.done += here;
        if (ask->tell) ask->tell(ask->user, sum.kept + sum.done, sum.kept + count, sum.failed);
    }
    *out = sum;
    return HW_OK;
}
