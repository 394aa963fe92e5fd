// SPDX-License-Identifier: GPL-3.0-or-later
#include "files/files.h"
#include "store/job_internal.h"

#include <stdlib.h>
#include <time.h>

// One table of all links of the chain; what is not part of a link is proven by a digest in one:
// data_key by kind "key", chunk by "file", job by "job", parcel by its job, meta by "lock".
// docs/security.md.
static const char step_1[] =
    "CREATE TABLE meta (name TEXT NOT NULL PRIMARY KEY, value BYTEA NOT NULL);\n"
    "CREATE TABLE entry (seq BIGINT NOT NULL PRIMARY KEY, kind TEXT NOT NULL, id TEXT NOT NULL,"
    " version BIGINT NOT NULL, person TEXT NOT NULL, owner TEXT NOT NULL, at_ms BIGINT NOT NULL,"
    " head BYTEA NOT NULL, body BYTEA NOT NULL, link BYTEA NOT NULL, UNIQUE (kind, id, version));\n"
    "CREATE INDEX entry_owner ON entry (owner, kind);\n"
    "CREATE TABLE data_key (owner TEXT NOT NULL PRIMARY KEY, wrapped BYTEA NOT NULL);\n"
    "CREATE TABLE chunk (file TEXT NOT NULL, number BIGINT NOT NULL, sealed BYTEA NOT NULL,"
    " PRIMARY KEY (file, number));\n"
    "CREATE TABLE job (id TEXT NOT NULL PRIMARY KEY, kind TEXT NOT NULL, person TEXT NOT NULL,"
    " slot TEXT NOT NULL, state BIGINT NOT NULL, is_cancel_asked BIGINT NOT NULL,"
    " tries BIGINT NOT NULL, worker TEXT NOT NULL, added_ms BIGINT NOT NULL,"
    " changed_ms BIGINT NOT NULL, lease_ms BIGINT NOT NULL, job_key BYTEA NOT NULL,"
    " body BYTEA NOT NULL, news BYTEA NOT NULL, result BYTEA NOT NULL, mac BYTEA NOT NULL);\n"
    "CREATE INDEX job_open ON job (added_ms, id) WHERE state < 2;\n"
    "CREATE INDEX job_changed ON job (changed_ms);\n"
    "CREATE INDEX job_person ON job (person)";

// A row's proof parted in two, and what guests deliver.
static const char step_2[] =
    "ALTER TABLE job ADD COLUMN live BYTEA NOT NULL DEFAULT '';\n"
    "CREATE TABLE parcel (job TEXT NOT NULL, number BIGINT NOT NULL, sealed BYTEA NOT NULL,"
    " PRIMARY KEY (job, number))";

static const char *const steps[] = {step_1, step_2};

static int64_t system_now_ms(void *user)
{
    (void)user;
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static char *copy_text(const char *text, const char *more)
{
    size_t size = strlen(text) + strlen(more) + 1;
    char *copy = malloc(size);
    if (copy) {
        strcpy(copy, text);
        strcat(copy, more);
    }
    return copy;
}

hw_status hw_store_blank(hw_job *job, const hw_store_place *place, hw_store **out)
{
    if (!place->url || !place->url[0])
        return hw_fail(job, HW_BAD_INPUT, "the store has no place: give a file or a database");
    if (!place->passphrase && !place->key_file)
        return hw_fail(job, HW_BAD_INPUT, "a store is opened by a key file or a passphrase");
    hw_store *store = calloc(1, sizeof *store);
    if (!store) return hw_fail(job, HW_NO_MEMORY, "no memory for a store");
    const char *beside = place->key_file ? place->key_file : place->url;
    store->url = copy_text(place->url, "");
    store->head_file =
        place->head_file ? copy_text(place->head_file, "") : copy_text(beside, ".head");
    store->now_ms = place->now_ms ? place->now_ms : system_now_ms;
    store->user = place->user;
    store->pending_into = hw_arena_new((size_t)1 << 31);
    bool is_ready = store->url && store->head_file && store->pending_into;
    if (!is_ready || pthread_mutex_init(&store->mutex, NULL) != 0) {
        free(store->url), free(store->head_file), hw_arena_free(store->pending_into), free(store);
        return hw_fail(job, HW_NO_MEMORY, "no memory for a store");
    }
    *out = store;
    return HW_OK;
}

// SQLite would make it readable for all.
static hw_status make_database_private(hw_job *job, const char *url)
{
    if (hw_sql_is_server_url(url) || hw_file_exists(url)) return HW_OK;
    hw_status status = hw_file_make_private(job, url, (hw_bytes){0});
    return status == HW_CLASH ? HW_OK : status; // another process was faster
}

// The three entries every store begins with.
static hw_status begin_chain(hw_job *job, hw_store *store)
{
    unsigned char digest[HW_SEAL_HASH];
    hw_content content = {"", "", {digest, sizeof digest}};
    hw_entry lock = {.kind = HW_KIND_LOCK, .id = HW_STORE_CLINIC, .version = 1, .person = ""};
    hw_entry worker = {.kind = HW_KIND_WORKER, .id = HW_STORE_CLINIC, .version = 1, .person = ""};
    lock.owner = worker.owner = HW_STORE_CLINIC;
    hw_seal_pair pair = hw_seal_pair_new();
    HW_TRY(hw_key_make(job, store, HW_STORE_CLINIC, ""));
    HW_TRY(hw_lock_digest(job, store, digest));
    HW_TRY(hw_chain_append(job, store, &lock, &content));
    content.body = (hw_bytes){(const unsigned char *)&pair, sizeof pair};
    HW_TRY(hw_chain_append(job, store, &worker, &content));
    hw_seal_wipe(&pair, sizeof pair);
    return HW_OK;
}

static hw_status unlock(hw_job *job, hw_store *store, const hw_store_place *place)
{
    bool is_new = false;
    HW_TRY(hw_sql_begin(job, store->sql, HW_SQL_WRITE));
    HW_TRY(hw_lock_open(job, store, place, &is_new));
    store->chain = store->next = hw_chain_start(store);
    if (is_new && hw_file_exists(store->head_file))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the database is empty but the head file %.100s is there: its records are "
                       "gone. Restore a backup, or move the head file away to begin anew",
                       store->head_file);
    if (is_new) HW_TRY(begin_chain(job, store));
    return hw_sql_commit(job, store->sql);
}

// The head may be one transaction behind (killed between the two writes) or, where several machines
// share a database, many: then the links from it on have been checked like all others. It is never
// ahead, and never beside the chain.
// The head was read before the chain: another process may write meanwhile, and its head would be
// ahead of what was read. `status`: how reading the head ended.
static hw_status check_head(hw_job *job, hw_store *store, const hw_store_place *place,
                            hw_status status, hw_chain head)
{
    bool may_be_missing = place->is_first_here || store->chain.seq <= HW_STORE_FIRST;
    if (status == HW_NOT_FOUND && may_be_missing) return HW_OK;
    HW_TRY(status);
    if (head.seq > store->chain.seq)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the store has %lld changes but its head file knows %lld: records were "
                       "removed or an old copy was put in place",
                       (long long)store->chain.seq, (long long)head.seq);
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_entry *entries = NULL;
    int count = 0;
    HW_TRY(hw_chain_page(job, store, head.seq, tmp.arena, &entries, &count));
    if (count == 0 || entries[0].seq != head.seq ||
        !hw_seal_same(entries[0].link, head.link, sizeof head.link))
        return hw_fail(job, HW_BAD_FORMAT, "change %lld is not the one the head file knows",
                       (long long)head.seq);
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status read_worker(hw_job *job, hw_store *store)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_entry entry = {0};
    hw_content content;
    hw_store_ref ref = {HW_KIND_WORKER, HW_STORE_CLINIC, 1};
    HW_TRY(hw_entry_find(job, store, ref, tmp.arena, &entry));
    HW_TRY(hw_entry_open_body(job, store, &entry, tmp.arena, &content));
    if (content.body.count != sizeof store->worker)
        return hw_fail(job, HW_BAD_FORMAT, "the workers' key is none");
    memcpy(&store->worker, content.body.at, sizeof store->worker);
    hw_scratch_end(tmp);
    return HW_OK;
}

// An older wrapping of the master key would let a passphrase in that was changed since.
static hw_status check_lock(hw_job *job, hw_store *store)
{
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_item *item = hw_index_find(&store->index, HW_KIND_LOCK, HW_STORE_CLINIC);
    hw_entry entry = {0};
    hw_content content;
    unsigned char digest[HW_SEAL_HASH];
    if (!item) return hw_fail(job, HW_BAD_FORMAT, "the store's lock is not in the chain");
    hw_store_ref ref = {HW_KIND_LOCK, HW_STORE_CLINIC, item->version};
    HW_TRY(hw_entry_find(job, store, ref, tmp.arena, &entry));
    HW_TRY(hw_entry_open_body(job, store, &entry, tmp.arena, &content));
    HW_TRY(hw_lock_digest(job, store, digest));
    if (content.body.count != sizeof digest ||
        !hw_seal_same(content.body.at, digest, sizeof digest))
        return hw_fail(job, HW_BAD_FORMAT, "the store's lock is not the last one set");
    hw_scratch_end(tmp);
    return HW_OK;
}

static hw_status check_all(hw_job *job, hw_store *store, const hw_store_place *place)
{
    hw_chain head = {0};
    hw_status status = hw_head_read(job, store, &head);
    char why[sizeof job->why]; // of the head, told where the chain is sound
    memcpy(why, job->why, sizeof why);
    HW_TRY(hw_chain_refresh(job, store));
    if (status != HW_OK) memcpy(job->why, why, sizeof why);
    HW_TRY(check_head(job, store, place, status, head));
    HW_TRY(check_lock(job, store));
    HW_TRY(read_worker(job, store));
    return hw_task_renew_form(job, store);
}

hw_status hw_store_connect(hw_job *job, hw_store *store)
{
    HW_TRY(hw_seal_start(job));
    HW_TRY(make_database_private(job, store->url));
    HW_TRY(hw_sql_open(job, store->url, &store->sql));
    return hw_sql_migrate(job, store->sql, steps, sizeof steps / sizeof steps[0]);
}

static hw_status fill(hw_job *job, hw_store *store, const hw_store_place *place)
{
    HW_TRY(hw_store_connect(job, store));
    HW_TRY(unlock(job, store, place));
    store->pending_count = store->new_key_count = 0;
    hw_status status = check_all(job, store, place);
    if (status == HW_BAD_FORMAT && place->is_damaged_ok) {
        store->is_damaged = true; // what can still be opened is read; hw_store_verify says the rest
        HW_TRY(hw_chain_refresh(job, store));
        return read_worker(job, store);
    }
    HW_TRY(status);
    return hw_head_write(job, store, &store->chain);
}

hw_status hw_store_open(hw_job *job, const hw_store_place *place, hw_store **out)
{
    hw_store *store = NULL;
    HW_TRY(hw_store_blank(job, place, &store));
    hw_status status = fill(job, store, place);
    if (status != HW_OK) {
        hw_store_close(store);
        return status;
    }
    *out = store;
    return HW_OK;
}

void hw_store_close(hw_store *store)
{
    if (!store) return;
    hw_sql_close(store->sql);
    hw_index_free(&store->index);
    hw_arena_free(store->pending_into);
    pthread_mutex_destroy(&store->mutex);
    free(store->url);
    free(store->head_file);
    hw_seal_wipe(store, sizeof *store);
    free(store);
}

static hw_status fill_shadow(hw_job *job, const hw_store *store, hw_store *shadow)
{
    memcpy(shadow->store_id, store->store_id, sizeof shadow->store_id);
    shadow->wrap_key = store->wrap_key;
    shadow->chain_key = store->chain_key;
    shadow->head_key = store->head_key;
    shadow->name_key = store->name_key;
    shadow->worker = store->worker;
    shadow->is_damaged = true;
    HW_TRY(hw_sql_open(job, shadow->url, &shadow->sql));
    HW_TRY(hw_sql_begin(job, shadow->sql, HW_SQL_READ));
    shadow->chain = hw_chain_start(shadow);
    return hw_chain_refresh(job, shadow);
}

hw_status hw_store_shadow(hw_job *job, hw_store *store, hw_store **out)
{
    hw_store *shadow = NULL;
    hw_store_place place = {.url = store->url,
                            .passphrase = "", // never used: the keys are there already
                            .head_file = store->head_file,
                            .now_ms = store->now_ms,
                            .user = store->user};
    HW_TRY(hw_store_blank(job, &place, &shadow));
    hw_status status = fill_shadow(job, store, shadow);
    if (status != HW_OK) {
        hw_store_close(shadow);
        return status;
    }
    *out = shadow;
    return HW_OK;
}

int64_t hw_store_now(const hw_store *store)
{
    return store->now_ms(store->user);
}
