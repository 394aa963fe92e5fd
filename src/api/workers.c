// SPDX-License-Identifier: GPL-3.0-or-later
// The workers inside the server: threads that sleep until a job comes, or look once a second.
#include "work.h"

#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { WORKERS_MAX = 16, LOOK_MS = 1000 };

typedef struct api_workers {
    hw_api *api;
    pthread_t threads[WORKERS_MAX];
    int count, numbered;
    bool keeps_only;
    pthread_mutex_t lock;
    pthread_cond_t wake;
    unsigned wakes;
    char base[HW_STORE_ID];
    atomic_bool is_stopping;
} api_workers;

static bool is_stopping(void *user)
{
    return atomic_load(&((api_workers *)user)->is_stopping);
}

// Sleeps until a job was added here, or a second: other processes add jobs too.
static void wait_for_work(api_workers *all, unsigned *seen)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_sec += LOOK_MS / 1000;
    pthread_mutex_lock(&all->lock);
    while (all->wakes == *seen && !is_stopping(all))
        if (pthread_cond_timedwait(&all->wake, &all->lock, &until) != 0) break;
    *seen = all->wakes;
    pthread_mutex_unlock(&all->lock);
}

// One job after the other; what it took of memory is given back in between.
static void work_on(api_workers *all, const char *name, hw_job *job, hw_arena *into)
{
    unsigned seen = 0;
    hw_store_worker worker = {.name = name,
                              .kind = WORK_COMPUTE,
                              .lease_s = HW_API_LEASE_S,
                              .keeps_only = all->keeps_only};
    work_bench bench = work_bench_of_store(all->api->store, &worker);
    while (!is_stopping(all)) {
        hw_arena_mark marks[2] = {hw_arena_here(job->scratch[0]), hw_arena_here(job->scratch[1])};
        hw_arena_mark start = hw_arena_here(into);
        pthread_mutex_lock(&all->lock);
        seen = all->wakes; // a job that comes while we look wakes us at once
        pthread_mutex_unlock(&all->lock);
        hw_status status = work_once(job, &bench, into);
        hw_arena_rewind(into, start);
        for (int i = 0; i < 2; i++) hw_arena_rewind(job->scratch[i], marks[i]);
        if (status == HW_OK) continue;
        if (status != HW_NOT_FOUND && status != HW_CANCELLED)
            api_log(all->api, "error: worker: %s", job->why);
        wait_for_work(all, &seen);
    }
}

static void *run(void *user)
{
    api_workers *all = user;
    char name[HW_STORE_WORKER];
    hw_job job;
    hw_arena *into = hw_arena_new(HW_APP_MEMORY_BYTES);
    hw_sandbox_give_way();
    pthread_mutex_lock(&all->lock);
    snprintf(name, sizeof name, "server-%s-%d", all->base, all->numbered++);
    pthread_mutex_unlock(&all->lock);
    if (into && hw_job_open(&job, HW_APP_MEMORY_BYTES) == HW_OK) {
        job.cancelled = is_stopping;
        job.user = all;
        work_on(all, name, &job, into);
        hw_job_close(&job);
    }
    hw_arena_free(into);
    return NULL;
}

hw_status api_workers_start(hw_job *job, hw_api *api, int count)
{
    api_workers *all = calloc(1, sizeof *all);
    if (!all) return hw_fail(job, HW_NO_MEMORY, "no memory for workers");
    all->api = api;
    hw_seal_id(all->base);
    pthread_mutex_init(&all->lock, NULL);
    pthread_cond_init(&all->wake, NULL);
    api->workers = all;
    // Without workers of its own the server still keeps what guests deliver.
    all->keeps_only = count == 0;
    if (all->keeps_only) count = 1;
    for (; all->count < count && all->count < WORKERS_MAX; all->count++)
        if (pthread_create(&all->threads[all->count], NULL, run, all) != 0)
            return hw_fail(job, HW_NO_MEMORY, "no thread for a worker");
    return HW_OK;
}

void api_workers_wake(hw_api *api)
{
    api_workers *all = api->workers;
    pthread_mutex_lock(&all->lock);
    all->wakes++;
    pthread_cond_broadcast(&all->wake);
    pthread_mutex_unlock(&all->lock);
}

void api_workers_stop(hw_api *api)
{
    api_workers *all = api->workers;
    if (!all) return;
    atomic_store(&all->is_stopping, true);
    api_workers_wake(api);
    for (int i = 0; i < all->count; i++) pthread_join(all->threads[i], NULL);
    pthread_cond_destroy(&all->wake);
    pthread_mutex_destroy(&all->lock);
    free(all);
    api->workers = NULL;
}
