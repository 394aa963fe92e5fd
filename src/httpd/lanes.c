// SPDX-License-Identifier: GPL-3.0-or-later
// The threads that answer. A connection sleeps while its exchange is with them.
#include "httpd_internal.h"

#include <stdlib.h>

// Waits; NULL once the server stops and nothing is left.
static http_exchange *next_of(hw_http *server, http_lane *lane)
{
    pthread_mutex_lock(&server->lock);
    while (!lane->first && !server->is_stopping) pthread_cond_wait(&lane->more, &server->lock);
    http_exchange *exchange = lane->first;
    if (exchange) {
        lane->first = exchange->next;
        if (!lane->first) lane->last = &lane->first;
    }
    pthread_mutex_unlock(&server->lock);
    return exchange;
}

typedef struct seat {
    hw_http *server;
    http_lane *lane;
} seat;

// After the resume the exchange is the network's again: nothing here may touch it.
static void answer_one(hw_http *server, http_exchange *exchange, hw_job *job)
{
    hw_arena_mark marks[2] = {hw_arena_here(job->scratch[0]), hw_arena_here(job->scratch[1])};
    server->door->answer(server->door->user, &exchange->request, &exchange->plan, job,
                         exchange->into, &exchange->reply);
    for (int i = 0; i < 2; i++) hw_arena_rewind(job->scratch[i], marks[i]);
    exchange->is_answered = true;
    MHD_resume_connection(exchange->connection);
}

// A thread without memory still answers, that it cannot.
static void *work(void *user)
{
    seat mine = *(seat *)user;
    free(user);
    hw_job job;
    http_exchange *exchange;
    bool has_job = hw_job_open(&job, mine.server->limits.work_bytes) == HW_OK;
    while ((exchange = next_of(mine.server, mine.lane)) != NULL) {
        if (has_job) {
            answer_one(mine.server, exchange, &job);
            continue;
        }
        exchange->reply = (hw_http_reply){.code = 503};
        exchange->is_answered = true;
        MHD_resume_connection(exchange->connection);
    }
    if (has_job) hw_job_close(&job);
    return NULL;
}

static bool add_thread(hw_http *server, http_lane *lane)
{
    seat *mine = malloc(sizeof *mine);
    if (!mine) return false;
    *mine = (seat){server, lane};
    if (pthread_create(&lane->threads[lane->thread_count], NULL, work, mine) != 0) {
        free(mine);
        return false;
    }
    lane->thread_count++;
    return true;
}

hw_status http_lanes_start(hw_job *job, hw_http *server)
{
    for (int i = 0; i < HW_HTTP_LANES; i++) {
        http_lane *lane = &server->lanes[i];
        lane->last = &lane->first;
        pthread_cond_init(&lane->more, NULL);
    }
    for (int i = 0; i < HW_HTTP_LANES; i++)
        for (int k = 0; k < server->limits.threads[i] && k < THREADS_MAX; k++)
            if (!add_thread(server, &server->lanes[i]))
                return hw_fail(job, HW_NO_MEMORY, "no thread to answer requests");
    return HW_OK;
}

void http_lanes_stop(hw_http *server)
{
    for (int i = 0; i < HW_HTTP_LANES; i++) {
        http_lane *lane = &server->lanes[i];
        pthread_mutex_lock(&server->lock);
        pthread_cond_broadcast(&lane->more);
        pthread_mutex_unlock(&server->lock);
        for (int k = 0; k < lane->thread_count; k++) pthread_join(lane->threads[k], NULL);
        pthread_cond_destroy(&lane->more);
    }
}

bool http_lane_take(http_exchange *exchange)
{
    hw_http *server = exchange->server;
    http_lane *lane = &server->lanes[exchange->plan.lane];
    pthread_mutex_lock(&server->lock);
    bool taken = !server->is_stopping;
    if (taken) {
        // Before any thread can see the exchange, and so before it can be resumed.
        MHD_suspend_connection(exchange->connection);
        exchange->next = NULL;
        *lane->last = exchange;
        lane->last = &exchange->next;
        pthread_cond_signal(&lane->more);
    }
    pthread_mutex_unlock(&server->lock);
    return taken;
}
