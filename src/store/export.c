// SPDX-License-Identifier: GPL-3.0-or-later
// Everything in the clear, for another system: what was sealed leaves the store here.
#include "files/files.h"
#include "store/file_internal.h"

static const char page_of_files[] = "SELECT id, person FROM entry WHERE kind = 'file' AND id > $1"
                                    " ORDER BY id LIMIT 64";

typedef struct export_run {
    hw_store *shadow;
    const char *person; // NULL: all
    const char *folder;
    hw_writer index; // what goes into index.json
    int records, files;
} export_run;

// A JSON text: quotes, backslashes and control characters are spelt out.
static void write_text(hw_writer *out, const char *text)
{
    hw_writer_print(out, "\"");
    for (const char *at = text; *at; at++) {
        if (*at == '"' || *at == '\\')
            hw_writer_print(out, "\\%c", *at);
        else if ((unsigned char)*at < 0x20)
            hw_writer_print(out, "\\u%04x", (unsigned)*at);
        else
            hw_writer_bytes(out, at, 1);
    }
    hw_writer_print(out, "\"");
}

static hw_status write_file(hw_job *job, const char *path, hw_bytes bytes)
{
    hw_file_stream *file = NULL;
    HW_TRY(hw_file_stream_write(job, path, &file));
    hw_status status = hw_file_stream_put(job, file, bytes);
    if (status == HW_OK) status = hw_file_stream_keep(job, file);
    hw_file_stream_close(file);
    return status;
}

static void write_version(hw_writer *out, const hw_store_row *row)
{
    hw_writer_print(out, "{\"version\":%lld,\"at_ms\":%lld,\"who\":", (long long)row->head.version,
                    (long long)row->head.at_ms);
    write_text(out, row->head.who);
    hw_writer_print(out, ",\"why\":");
    write_text(out, row->head.why);
    hw_writer_print(out, ",\"body\":");
    hw_writer_bytes(out, row->body.at, row->body.count);
    hw_writer_print(out, "}");
}

static hw_status export_record(hw_job *job, export_run *run, const hw_item *item)
{
    hw_scratch tmp = hw_scratch_begin(job, run->index.into);
    hw_store_rows rows;
    hw_bytes bytes;
    const char *path = NULL;
    hw_store_ref ref = {item->kind, item->id, 0};
    HW_TRY(hw_store_history(job, run->shadow, ref, tmp.arena, &rows));
    hw_writer out = hw_writer_begin(tmp.arena);
    hw_writer_print(&out, "{\"kind\":\"%s\",\"id\":\"%s\",\"person\":\"%s\",\"versions\":[",
                    item->kind, item->id, item->person);
    for (int i = 0; i < rows.count; i++) {
        if (i > 0) hw_writer_print(&out, ",\n");
        write_version(&out, &rows.rows[i]);
    }
    hw_writer_print(&out, "]}\n");
    HW_TRY(hw_writer_end(job, &out, &bytes));
    HW_TRY(hw_text_format(job, tmp.arena, &path, "%s/records/%s-%s.json", run->folder, item->kind,
                          item->id));
    HW_TRY(write_file(job, path, bytes));
    hw_writer_print(&run->index, "%s{\"record\":\"records/%s-%s.json\",\"person\":\"%s\"}",
                    run->records++ ? ",\n" : "", item->kind, item->id, item->person);
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status export_records(hw_job *job, export_run *run)
{
    const hw_index *index = &run->shadow->index;
    for (int i = 0; i < index->count; i++) {
        const hw_item *item = &index->items[i];
        if (hw_kind_is_ours(item->kind) || hw_key_is_erased(run->shadow, item->owner)) continue;
        if (run->person && strcmp(run->person, item->person) != 0) continue;
        HW_TRY(hw_job_ask(job));
        HW_TRY(export_record(job, run, item));
    }
    return HW_OK;
}

static hw_status export_file(hw_job *job, export_run *run, const char *hash, const char *person)
{
    hw_scratch tmp = hw_scratch_begin(job, run->index.into);
    hw_bytes bytes;
    const char *path = NULL;
    if (run->person && strcmp(run->person, person) != 0) return HW_OK;
    hw_status status = hw_store_file_get(job, run->shadow, hash, tmp.arena, &bytes);
    if (status == HW_NOT_FOUND) return HW_OK; // erased
    HW_TRY(status);
    HW_TRY(hw_text_format(job, tmp.arena, &path, "%s/files/%s", run->folder, hash));
    HW_TRY(write_file(job, path, bytes));
    hw_writer_print(&run->index, "%s{\"file\":\"files/%s\",\"person\":\"%s\"}",
                    run->files++ ? ",\n" : "", hash, person);
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status export_files(hw_job *job, export_run *run)
{
    char last[HW_STORE_HASH] = "";
    for (int count = 1; count > 0;) {
        hw_scratch tmp = hw_scratch_begin(job, run->index.into);
        hw_sql_rows rows;
        HW_TRY(hw_sql_ask(job, run->shadow->sql, HW_SQL(page_of_files, hw_sql_text(last)),
                          tmp.arena, &rows));
        for (int i = 0; i < rows.count; i++)
            HW_TRY(export_file(job, run, hw_sql_text_at(&rows, i, 0), hw_sql_text_at(&rows, i, 1)));
        count = rows.count;
        if (count) snprintf(last, sizeof last, "%s", hw_sql_text_at(&rows, count - 1, 0));
        hw_scratch_end(tmp);
    }
    return HW_OK;
}

static hw_status make_folders(hw_job *job, const char *folder, hw_arena *scratch)
{
    const char *records = NULL, *files = NULL;
    HW_TRY(hw_text_format(job, scratch, &records, "%s/records", folder));
    HW_TRY(hw_text_format(job, scratch, &files, "%s/files", folder));
    HW_TRY(hw_file_make_folder(job, folder));
    HW_TRY(hw_file_make_folder(job, records));
    return hw_file_make_folder(job, files);
}

static hw_status run_export(hw_job *job, export_run *run)
{
    hw_arena *into = run->index.into;
    hw_bytes bytes;
    const char *path = NULL;
    HW_TRY(make_folders(job, run->folder, into));
    hw_writer_print(&run->index, "{\"change\":%lld,\"records\":[\n",
                    (long long)run->shadow->chain.seq);
    HW_TRY(export_records(job, run));
    hw_writer_print(&run->index, "],\n\"files\":[\n");
    HW_TRY(export_files(job, run));
    hw_writer_print(&run->index, "]}\n");
    HW_TRY(hw_writer_end(job, &run->index, &bytes));
    HW_TRY(hw_text_format(job, into, &path, "%s/index.json", run->folder));
    return write_file(job, path, bytes); // last: with it the export is complete
}

hw_status hw_store_export(hw_job *job, hw_store *store, const char *person, const char *folder)
{
    hw_scratch keep = hw_scratch_begin(job, NULL);
    export_run run = {.person = person, .folder = folder, .index = hw_writer_begin(keep.arena)};
    HW_TRY(hw_store_shadow(job, store, &run.shadow));
    hw_status status = run_export(job, &run);
    hw_store_close(run.shadow);
    HW_TRY(status);
    hw_scratch_end(keep);
    return HW_OK;
}
