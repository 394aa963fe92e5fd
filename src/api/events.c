// SPDX-License-Identifier: GPL-3.0-or-later
// News for the pages: what changed in the store, whoever changed it, and how jobs go on. One thread
// looks and tells; a browser keeps one stream.
#include "api_internal.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

enum {
    LOOK_MS = 150,
    BEAT_MS = 15000, // a comment line: finds out whose browser is gone
    OVERLAP_MS = 1500,
    JOBS_KNOWN = 256,
    NEWS_BYTES = 64 << 20,
    TIDY_MS = 600000,       // how often ended jobs are thrown away
    JOB_KEPT_MS = 86400000, // a day after their end
};

// What was last told of a job, so that it is told once.
typedef struct known_job {
    char id[HW_STORE_ID];
    int64_t changed_ms;
} known_job;

typedef struct api_events {
    hw_api *api;
    pthread_t thread;
    pthread_mutex_t lock;
    bool is_stopping, is_running;
    int64_t change, jobs_since_ms, beat_ms, tidied_ms;
    known_job known[JOBS_KNOWN];
    int next_known;
    int spoilt_told; // of hw_store_job_spoilt
} api_events;

hw_status answer_events(api_call *call)
{
    static const char hello[] = "retry: 2000\n: here\n\n";
    char *tag = NULL;
    HW_ALLOC(call->job, call->into, tag, HW_STORE_ID);
    memcpy(tag, call->session.tag, HW_STORE_ID);
    call->reply->type = "text/event-stream";
    call->reply->stream = tag;
    call->reply->body = (hw_bytes){(const unsigned char *)hello, sizeof hello - 1};
    return HW_OK;
}

// Whom a kind of news concerns.
typedef struct audience {
    hw_api *api;
    unsigned roles;
} audience;

// Called while the server holds its lock: a look into a table, nothing more.
static bool is_for(void *user, const char *tag)
{
    const audience *to = user;
    api_session session;
    return api_session_of_tag(to->api, tag, &session) && (session.user.role & to->roles) != 0;
}

// Ids and kinds only; even so a maker hears of devices alone.
static unsigned roles_for(const char *kind)
{
    if (strcmp(kind, "user") == 0 || strcmp(kind, "worker") == 0) return ROLE_OWNER;
    if (strcmp(kind, "clinic") == 0 || strcmp(kind, "device") == 0) return ROLES_ALL;
    return ROLES_MEDICAL;
}

// One event on one line: the writer's line feeds are blanks here, texts have none of their own.
static void send(api_events *events, hw_job *job, const char *name, hw_json_out *json,
                 unsigned roles)
{
    hw_bytes body = {0}, text = {0};
    audience to = {events->api, roles};
    hw_arena *into = json->writer.into;
    if (hw_json_end(job, json, &body) != HW_OK) return;
    hw_writer writer = hw_writer_begin(into);
    hw_writer_print(&writer, "event: %s\ndata: ", name);
    for (size_t i = 0; i < body.count; i++)
        hw_writer_bytes(&writer, body.at[i] == '\n' ? (const unsigned char *)" " : &body.at[i], 1);
    hw_writer_print(&writer, "\n\n");
    if (hw_writer_end(job, &writer, &text) == HW_OK)
        hw_http_send(events->api->http, is_for, &to, text);
}

// By change number, so that writes of other servers on the same database are told as well.
static void tell_changes(api_events *events, hw_job *job, hw_arena *into)
{
    int64_t newest = 0;
    hw_store_rows rows = {0};
    if (hw_store_change(job, events->api->store, &newest) != HW_OK || newest <= events->change)
        return;
    hw_store_query query = {.since = events->change, .is_heads_only = true};
    if (hw_store_changes(job, events->api->store, &query, into, &rows) != HW_OK) return;
    for (int i = 0; i < rows.count; i++) {
        const hw_store_head *head = &rows.rows[i].head;
        if (strcmp(head->kind, "user") == 0) api_user_changed(events->api, job, into, head->id);
        hw_json_out json = hw_json_begin(into);
        hw_json_open(&json, NULL, '{');
        hw_json_int(&json, "change", (long)head->change);
        hw_json_text(&json, "kind", head->kind);
        hw_json_text(&json, "id", head->id);
        hw_json_int(&json, "version", (long)head->version);
        hw_json_close(&json);
        send(events, job, "change", &json, roles_for(head->kind));
    }
    events->change = rows.count > 0 ? rows.change : newest;
}

// Jobs are asked for with overlap; what was told once is not told again.
static bool is_news(api_events *events, const hw_store_task *task)
{
    for (int i = 0; i < JOBS_KNOWN; i++) {
        known_job *known = &events->known[i];
        if (strcmp(known->id, task->claim.id) != 0) continue;
        bool news = known->changed_ms != task->changed_ms;
        known->changed_ms = task->changed_ms;
        return news;
    }
    known_job *place = &events->known[events->next_known++ % JOBS_KNOWN];
    memcpy(place->id, task->claim.id, sizeof place->id);
    place->changed_ms = task->changed_ms;
    return true;
}

// A stream that fell behind loses nothing: the page asks for the job itself.
static void tell_jobs(api_events *events, hw_job *job, hw_arena *into)
{
    hw_store_tasks tasks = {0};
    if (hw_store_job_list(job, events->api->store, events->jobs_since_ms - OVERLAP_MS, into,
                          &tasks) != HW_OK)
        return;
    for (int i = 0; i < tasks.count; i++) {
        const hw_store_task *task = &tasks.tasks[i];
        if (task->changed_ms > events->jobs_since_ms) events->jobs_since_ms = task->changed_ms;
        if (!is_news(events, task)) continue;
        hw_json_out json = hw_json_begin(into);
        hw_json_open(&json, NULL, '{');
        api_job_write(&json, task);
        hw_json_close(&json);
        send(events, job, "job", &json, ROLES_MEDICAL);
    }
}

// Each once: into the log, and to who waits for it.
static void tell_spoilt(api_events *events, hw_job *job, hw_arena *into)
{
    for (char id[HW_STORE_ID]; hw_store_job_spoilt(events->api->store, events->spoilt_told, id);
         events->spoilt_told++) {
        hw_json_out json = hw_json_begin(into);
        api_log(events->api,
                "error: the row of job %s was changed in the database: it is passed over", id);
        hw_json_open(&json, NULL, '{');
        api_job_write_spoilt(&json, id);
        hw_json_close(&json);
        send(events, job, "job", &json, ROLES_MEDICAL);
    }
}

static void tidy(api_events *events, hw_job *job, int64_t now)
{
    int removed = 0;
    if (now - events->tidied_ms < TIDY_MS) return;
    events->tidied_ms = now;
    if (hw_store_job_tidy(job, events->api->store, api_now_ms() - JOB_KEPT_MS, &removed) != HW_OK)
        api_log(events->api, "error: ended jobs cannot be thrown away: %s", job->why);
}

static bool look_once(api_events *events, hw_job *job, hw_arena *into)
{
    static const char beat[] = ": still here\n\n";
    int64_t now = api_tick_ms();
    tell_changes(events, job, into);
    tell_jobs(events, job, into);
    tell_spoilt(events, job, into);
    tidy(events, job, now);
    if (now - events->beat_ms > BEAT_MS) {
        audience all = {events->api, ROLES_ALL};
        events->beat_ms = now;
        hw_http_send(events->api->http, is_for, &all,
                     (hw_bytes){(const unsigned char *)beat, sizeof beat - 1});
    }
    pthread_mutex_lock(&events->lock);
    bool goes_on = !events->is_stopping;
    pthread_mutex_unlock(&events->lock);
    return goes_on;
}

static void *tell(void *user)
{
    api_events *events = user;
    const struct timespec tick = {0, LOOK_MS * 1000000L};
    hw_job job;
    hw_arena *into = hw_arena_new(NEWS_BYTES);
    if (!into || hw_job_open(&job, NEWS_BYTES) != HW_OK) {
        hw_arena_free(into);
        return NULL;
    }
    for (bool goes_on = true; goes_on;) {
        nanosleep(&tick, NULL);
        hw_arena_mark start = hw_arena_here(into);
        goes_on = look_once(events, &job, into);
        hw_arena_rewind(into, start);
    }
    hw_arena_free(into);
    hw_job_close(&job);
    return NULL;
}

hw_status api_events_start(hw_job *job, hw_api *api)
{
    api_events *events = calloc(1, sizeof *events);
    if (!events) return hw_fail(job, HW_NO_MEMORY, "no memory for events");
    events->api = api;
    api->events = events;
    pthread_mutex_init(&events->lock, NULL);
    events->beat_ms = api_tick_ms();
    events->jobs_since_ms = api_now_ms();
    HW_TRY(hw_store_change(job, api->store, &events->change));
    if (pthread_create(&events->thread, NULL, tell, events) != 0)
        return hw_fail(job, HW_NO_MEMORY, "no thread for events");
    events->is_running = true;
    return HW_OK;
}

void api_events_stop(hw_api *api)
{
    api_events *events = api->events;
    if (!events) return;
    if (events->is_running) {
        pthread_mutex_lock(&events->lock);
        events->is_stopping = true;
        pthread_mutex_unlock(&events->lock);
        pthread_join(events->thread, NULL);
    }
    pthread_mutex_destroy(&events->lock);
    free(events);
    api->events = NULL;
}
