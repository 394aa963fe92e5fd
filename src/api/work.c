// SPDX-License-Identifier: GPL-3.0-or-later
// One job, from claim to result. While it is computed, a second thread keeps the lease alive and
// listens whether anybody still wants the answer; nothing in the computation itself needs to.
#include "work.h"

#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

enum {
    LISTEN_MS = 300,
    TICK_MS = 50,
    BEAT_BYTES = 64 << 20,
};

// A job being done, and the thread that keeps it.
typedef struct labour {
    const work_bench *bench;
    hw_store_task task;
    int64_t renew_ms; // a third of the lease
    const hw_json *order;
    hw_job *job;
    bool (*outer_cancelled)(void *user);
    void *outer_user;
    pthread_t beat;
    pthread_mutex_t lock;
    double progress;      // under lock
    const char *sentence; // static text, under lock
    bool is_told;         // under lock
    bool is_given_back;   // the job goes on elsewhere: neither ended nor failed here
    atomic_bool is_over, is_unwanted;
} labour;

int work_part(const char *word)
{
    static const struct {
        const char *word;
        int part;
    } parts[] = {{"foot", 0},
                 {"load", HW_APP_LOAD},
                 {"causes", HW_APP_LOAD | HW_APP_CAUSES},
                 {"orthosis", HW_APP_ORTHOSIS},
                 {"press", HW_APP_ORTHOSIS | HW_APP_PRESS},
                 {"search-left", HW_APP_ORTHOSIS | HW_APP_SEARCH_LEFT},
                 {"search-right", HW_APP_ORTHOSIS | HW_APP_SEARCH_RIGHT},
                 {"mill", HW_APP_ORTHOSIS | HW_APP_MILL},
                 {"left-alone", HW_APP_LEFT_ALONE},
                 {"right-alone", HW_APP_RIGHT_ALONE},
                 {"plan", HW_APP_PLAN}};
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        if (strcmp(parts[i].word, word) == 0) return parts[i].part;
    return -1;
}

// Asked in every long loop of the computation.
static bool is_cancelled(void *user)
{
    labour *mine = user;
    return atomic_load(&mine->is_unwanted) ||
           (mine->outer_cancelled && mine->outer_cancelled(mine->outer_user));
}

// What the beat passes on: sentences without a name, since anybody medical sees jobs.
static void say(labour *mine, double progress, const char *sentence)
{
    pthread_mutex_lock(&mine->lock);
    mine->progress = progress;
    mine->sentence = sentence;
    mine->is_told = false;
    pthread_mutex_unlock(&mine->lock);
}

// A long computation says how far it is: between reading and writing.
static void told(void *user, double share, const char *what)
{
    say(user, 0.4 + 0.4 * share, what);
}

// -- the beat

static void renew(labour *mine, hw_job *job, double progress, const char *sentence)
{
    bool is_unwanted = false;
    hw_status status =
        mine->bench->renew(job, mine->bench, &mine->task.claim, progress, sentence, &is_unwanted);
    // A lost lease is another worker's job now. Any other trouble may pass before it lapses.
    if (status == HW_CLASH || (status == HW_OK && is_unwanted))
        atomic_store(&mine->is_unwanted, true);
}

// Only reads: a lease is renewed by a write, which costs a sync of the disk.
static void listen(labour *mine, hw_job *job, hw_arena *into)
{
    hw_store_task seen = {0};
    hw_status status = mine->bench->look(job, mine->bench, mine->task.claim.id, into, &seen);
    if (status == HW_NOT_FOUND || (status == HW_OK && seen.is_cancel_asked))
        atomic_store(&mine->is_unwanted, true);
}

// News go out at once; without news the lease is renewed in time, and in between it listens.
static void beat_once(labour *mine, hw_job *job, hw_arena *into, int64_t *renewed)
{
    int64_t now = api_tick_ms();
    pthread_mutex_lock(&mine->lock);
    double progress = mine->progress;
    const char *sentence = mine->sentence;
    bool is_due = !mine->is_told || now - *renewed > mine->renew_ms;
    mine->is_told = true;
    pthread_mutex_unlock(&mine->lock);
    if (is_due) {
        renew(mine, job, progress, sentence);
        *renewed = now;
    } else {
        listen(mine, job, into);
    }
}

static void *beat(void *user)
{
    labour *mine = user;
    const struct timespec tick = {0, TICK_MS * 1000000L};
    hw_job job;
    hw_arena *into = hw_arena_new(BEAT_BYTES);
    int64_t renewed = api_tick_ms(), listened = renewed;
    if (!into || hw_job_open(&job, BEAT_BYTES) != HW_OK) {
        hw_arena_free(into);
        return NULL; // the lease lapses, another worker takes the job
    }
    while (!atomic_load(&mine->is_over)) {
        nanosleep(&tick, NULL);
        pthread_mutex_lock(&mine->lock);
        bool has_news = !mine->is_told;
        pthread_mutex_unlock(&mine->lock);
        if (!has_news && api_tick_ms() - listened < LISTEN_MS) continue;
        hw_arena_mark start = hw_arena_here(into);
        beat_once(mine, &job, into, &renewed);
        hw_arena_rewind(into, start);
        listened = api_tick_ms();
    }
    hw_arena_free(into);
    hw_job_close(&job);
    return NULL;
}

// -- the work

static hw_status read_stored(hw_job *job, void *from, const char *name, hw_arena *into,
                             hw_bytes *out)
{
    labour *mine = from;
    say(mine, mine->progress < 0.1 ? 0.1 : 0.4, "posing and measuring the foot");
    return mine->bench->read_scan(job, mine->bench, &mine->task, name, into, out);
}

// The table and the choice as they stood when it was asked.
static hw_status mill_devices(labour *mine, hw_report *report, hw_arena *into, hw_file_set *files)
{
    hw_job *job = mine->job;
    hw_bytes text = {0};
    hw_mill *mill = NULL;
    hw_faults faults = {.into = into};
    const hw_json *given = hw_json_get(mine->order, "mill");
    hw_json_out json = hw_json_begin(into);
    hw_json_tree(&json, NULL, given);
    HW_TRY(hw_json_end(job, &json, &text));
    HW_ALLOC(job, into, mill, 1);
    HW_TRY(hw_mill_read(job, text, into, mill, &faults));
    say(mine, 0.6, "making and checking the milling program");
    HW_TRY(hw_app_mill(job, mill, into, report));
    return hw_app_mill_files(job, report, into, files);
}

// The devices on those of the earlier version that the page draws as a ghost.
static hw_status lay_on_previous(labour *mine, const hw_json *previous, const hw_app_source *source,
                                 int parts, hw_arena *into, hw_report *report)
{
    hw_bytes case_file = {0};
    hw_json_out json = hw_json_begin(into);
    hw_json_tree(&json, NULL, previous);
    HW_TRY(hw_json_end(mine->job, &json, &case_file));
    say(mine, 0.5, "shaping the earlier design");
    return hw_app_lay_on_visit(mine->job, case_file, source, parts, into, report);
}

// From the case of the job: the record may have changed since, its version is in the result.
static hw_status compute(labour *mine, hw_arena *into, hw_file_set *files)
{
    hw_job *job = mine->job;
    hw_report report = {0};
    hw_faults faults = {.into = into};
    hw_bytes case_file = {0};
    hw_app_source source = {.read = read_stored, .from = mine};
    const hw_json *parts = hw_json_get(mine->order, "parts");
    const hw_json *wish = hw_json_get(mine->order, "case");
    const hw_json *paper = hw_json_get(mine->order, "paper");
    const hw_json *version = hw_json_get(mine->order, "visit_version");
    const hw_json *previous = hw_json_get(mine->order, "previous");
    if (!parts || !wish) return hw_fail(job, HW_BAD_FORMAT, "the job is malformed");
    hw_json_out json = hw_json_begin(into);
    hw_json_tree(&json, NULL, wish);
    HW_TRY(hw_json_end(job, &json, &case_file));
    say(mine, 0.05, "reading the visit");
    HW_TRY(hw_app_visit(job, case_file, &source, (int)parts->number, into, &report, &faults));
    if (paper && hw_text_same(paper->text, "letter")) report.paper = HW_PAPER_LETTER;
    if (version) report.revision = (int)version->number;
    if (previous)
        HW_TRY(lay_on_previous(mine, previous, &source, (int)parts->number, into, &report));
    if ((int)parts->number & (HW_APP_LEFT_ALONE | HW_APP_RIGHT_ALONE))
        return hw_app_sketch_files(job, &report, into, files);
    hw_file_set milled = {0};
    if ((int)parts->number & HW_APP_MILL) HW_TRY(mill_devices(mine, &report, into, &milled));
    say(mine, 0.8, "writing the files");
    HW_TRY(hw_app_page_files(job, &report, case_file, into, files));
    for (int i = 0; i < milled.count; i++)
        HW_TRY(hw_file_set_add(job, files, milled.files[i].name, milled.files[i].bytes));
    return HW_OK;
}

// A file of a batch: its line is all that is made of it.
static hw_status measure(labour *mine, hw_arena *into, hw_file_set *files)
{
    hw_bytes line = {0};
    HW_TRY(work_measure(mine->job, mine->order, into, &line));
    return hw_file_set_add(mine->job, files, "line.json", line);
}

static hw_status do_task(labour *mine, hw_arena *into)
{
    work_made made = {.program = HW_VERSION, .rules = HW_RULES_VERSION, .why = "computed"};
    HW_TRY(hw_json_read(mine->job, mine->task.body, into, &mine->order));
    if (mine->task.is_delivered) {
        hw_status status = mine->bench->unpack(mine->job, mine->bench, &mine->task, into, &made);
        mine->is_given_back = status != HW_OK;
        HW_TRY(status);
    } else if (strcmp(mine->task.kind, WORK_MEASURE) == 0) {
        HW_TRY(measure(mine, into, &made.files));
    } else {
        HW_TRY(compute(mine, into, &made.files));
    }
    if (made.failed) return hw_fail(mine->job, HW_BAD_INPUT, "%s", made.failed);
    say(mine, 0.9, "sealing the files");
    return mine->bench->finish(mine->job, mine->bench, &mine->task, &made, into);
}

// The job ends badly unless it is no longer ours, or goes on elsewhere as we were told to stop.
static hw_status end_badly(labour *mine, hw_status status)
{
    char why[sizeof mine->job->why];
    memcpy(why, mine->job->why, sizeof why);
    bool is_stopped = status == HW_CANCELLED && !atomic_load(&mine->is_unwanted);
    if (is_stopped) return status;
    hw_status told = mine->bench->fail(mine->job, mine->bench, &mine->task.claim, why);
    return told == HW_CLASH ? HW_OK : told;
}

// The job's own `cancelled` is put back afterwards: it is the loop's.
hw_status work_once(hw_job *job, const work_bench *bench, hw_arena *into)
{
    labour mine = {.bench = bench, .job = job, .sentence = "", .is_told = true};
    mine.renew_ms = 1000 * (int64_t)bench->worker->lease_s / 3;
    HW_TRY(bench->claim(job, bench, into, &mine.task));
    pthread_mutex_init(&mine.lock, NULL);
    mine.outer_cancelled = job->cancelled;
    mine.outer_user = job->user;
    bool has_beat = pthread_create(&mine.beat, NULL, beat, &mine) == 0;
    job->cancelled = is_cancelled;
    job->told = told;
    job->user = &mine;
    hw_status status = do_task(&mine, into);
    job->cancelled = mine.outer_cancelled;
    job->told = NULL;
    job->user = mine.outer_user;
    atomic_store(&mine.is_over, true);
    if (has_beat) pthread_join(mine.beat, NULL);
    if (status != HW_OK && !mine.is_given_back) status = end_badly(&mine, status);
    pthread_mutex_destroy(&mine.lock);
    return status;
}

// A job that nobody wants any more is no trouble of this worker's.
static bool is_trouble(hw_status status)
{
    return status != HW_OK && status != HW_NOT_FOUND && status != HW_CANCELLED;
}

// Rows that were changed behind everybody's back, each once, to who reads this process's log.
static int tell_spoilt(const work_bench *bench, int told)
{
    for (char id[HW_STORE_ID]; bench->spoilt(bench, told, id); told++)
        fprintf(stderr, "the row of job %s was changed in the database: it is passed over\n", id);
    return told;
}

static hw_status work_on(hw_job *job, const work_bench *bench)
{
    enum { POLL_MS = 250, TROUBLES_MAX = 10 };
    const struct timespec rest = {0, POLL_MS * 1000000L};
    hw_arena *into = hw_arena_new(HW_APP_MEMORY_BYTES);
    hw_status status = HW_OK;
    int told = 0;
    if (!into) return hw_fail(job, HW_NO_MEMORY, "no memory for a worker");
    for (int troubles = 0; troubles < TROUBLES_MAX && hw_job_ask(job) == HW_OK;) {
        hw_arena_mark marks[2] = {hw_arena_here(job->scratch[0]), hw_arena_here(job->scratch[1])};
        hw_arena_mark start = hw_arena_here(into);
        status = work_once(job, bench, into);
        hw_arena_rewind(into, start);
        for (int i = 0; i < 2; i++) hw_arena_rewind(job->scratch[i], marks[i]);
        told = tell_spoilt(bench, told);
        troubles = is_trouble(status) ? troubles + 1 : 0;
        if (status != HW_OK && status != HW_CANCELLED) nanosleep(&rest, NULL);
    }
    hw_arena_free(into);
    return hw_job_ask(job) != HW_OK ? HW_CANCELLED : status;
}

hw_status hw_api_work(hw_job *job, hw_store *store, const char *name, int lease_s)
{
    hw_store_worker worker = {.name = name, .lease_s = lease_s}; // visits and files of batches
    work_bench bench = work_bench_of_store(store, &worker);
    return work_on(job, &bench);
}

hw_status hw_api_work_as_guest(hw_job *job, hw_guest *guest, int lease_s)
{
    hw_store_worker worker = {.kind = WORK_COMPUTE, .lease_s = lease_s};
    work_bench bench = work_bench_of_guest(guest, &worker);
    return work_on(job, &bench);
}
