// SPDX-License-Identifier: GPL-3.0-or-later
// The end of records: erasure, and until when they are to be kept.
#include "store/job_internal.h"
#include "json/json.h"

static const char remove_key[] = "DELETE FROM data_key WHERE owner = $1";
static const char remove_chunks[] =
    "DELETE FROM chunk WHERE file IN (SELECT id FROM entry WHERE owner = $1 AND kind = 'file')";

static hw_status check_hold(hw_job *job, hw_store *store, const char *person)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_entry entry = {0};
    hw_content content;
    const hw_json *root = NULL;
    const hw_item *item = hw_index_find(&store->index, "person", person);
    if (!item) return hw_fail(job, HW_NOT_FOUND, "there is no person %.20s", person);
    if (hw_key_is_erased(store, person))
        return hw_fail(job, HW_NOT_FOUND, "this person was erased already");
    hw_store_ref ref = {"person", person, item->version};
    HW_TRY(hw_entry_find(job, store, ref, tmp.arena, &entry));
    HW_TRY(hw_entry_open_body(job, store, &entry, tmp.arena, &content));
    HW_TRY(hw_json_read(job, content.body, tmp.arena, &root));
    const hw_json *hold = hw_json_get(root, "hold");
    if (hold && hold->kind == HW_JSON_BOOL && hold->truth)
        return hw_fail(job, HW_NO_ACCESS, "these records are on hold: lift the hold first");
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status remove_jobs(hw_job *job, hw_store *store, const char *person, const char *who)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_task_row *rows = NULL;
    int count = 0;
    const hw_sql_value values[HW_TASK_VALUES] = {hw_sql_text(person)};
    HW_TRY(hw_task_rows(job, store, HW_TASK_BY_PERSON, values, tmp.arena, &rows, &count));
    for (int i = 0; i < count; i++) HW_TRY(hw_task_row_remove(job, store, &rows[i], who));
    hw_scratch_end(tmp);
    return HW_OK;
}

// The tombstone is the clinic's: who erased, when and why stays readable.
static hw_status note_erasure(hw_job *job, hw_store *store, const char *person,
                              const hw_content *content)
{
    unsigned char nothing[HW_SEAL_HASH] = {0};
    hw_entry key = {.kind = HW_KIND_KEY, .id = person, .version = 2, .person = person};
    hw_entry tomb = {.kind = HW_KIND_ERASED, .id = person, .version = 1, .person = person};
    key.owner = tomb.owner = HW_STORE_CLINIC;
    hw_content gone = {content->who, "", {nothing, sizeof nothing}};
    HW_TRY(hw_chain_append(job, store, &key, &gone));
    return hw_chain_append(job, store, &tomb, content);
}

static hw_status erase_locked(hw_job *job, hw_store *store, const char *person,
                              const hw_content *content)
{
    HW_TRY(hw_write_begin(job, store));
    HW_TRY(check_hold(job, store, person));
    HW_TRY(hw_sql_run(job, store->sql, HW_SQL(remove_key, hw_sql_text(person)), NULL));
    HW_TRY(hw_sql_run(job, store->sql, HW_SQL(remove_chunks, hw_sql_text(person)), NULL));
    HW_TRY(remove_jobs(job, store, person, content->who));
    HW_TRY(note_erasure(job, store, person, content));
    HW_TRY(hw_write_end(job, store));
    return hw_sql_compact(job, store->sql);
}

hw_status hw_store_erase(hw_job *job, hw_store *store, const char *person, const char *who,
                         const char *why)
{
    if (!why || !why[0])
        return hw_fail(job, HW_BAD_INPUT, "erasing a person takes a reason, which is kept");
    hw_content content = {who, why, {(const unsigned char *)"{}", 2}};
    hw_store_enter(job, store);
    return hw_store_leave(job, store, erase_locked(job, store, person, &content));
}

// The same day `years` later; 29 February becomes 1 March where there is none.
static hw_date years_later(hw_date date, int years)
{
    char text[HW_DATE_TEXT];
    hw_date out = {0};
    hw_date_text(date, text);
    int year = hw_date_year(date) + years;
    for (int i = 3; i >= 0; i--, year /= 10) text[i] = (char)('0' + year % 10);
    if (hw_date_parse(text, &out)) return out;
    memcpy(text + 5, "03-01", 5);
    if (!hw_date_parse(text, &out)) return (hw_date){0}; // beyond the calendar
    return out;
}

hw_date hw_store_keep_until(hw_date born, hw_date last_contact)
{
    if (!born.known || !last_contact.known) return (hw_date){0};
    hw_date until = years_later(last_contact, 8);
    hw_date grown = years_later(born, 18);
    if (!grown.known || hw_date_days(last_contact, grown) <= 0) return until;
    bool is_17 = hw_date_days(last_contact, years_later(born, 17)) <= 0;
    hw_date birthday = years_later(born, is_17 ? 26 : 25);
    // "if that is later" does not stand in the schedule: a child's record ends with the birthday,
    // but never before the adult's eight years would
    return hw_date_days(until, birthday) > 0 ? birthday : until;
}
