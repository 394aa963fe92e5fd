// SPDX-License-Identifier: GPL-3.0-or-later
// Patience and rates. libmicrohttpd's own timeout starts anew with every byte, so a client that
// drips would stay for ever: here each step of a request has a deadline, kept by one thread.
#include "httpd_internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

enum { TICK_MS = 200 };

int64_t http_now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

// A connection leaves the list before its descriptor is closed, so none is shut by mistake.
static void shut_late_ones(http_guard *guard)
{
    int64_t now = http_now_ms();
    for (http_link *link = guard->links; link; link = link->next)
        if (link->deadline_ms && now > link->deadline_ms) shutdown(link->descriptor, SHUT_RDWR);
}

static void *watch(void *user)
{
    http_guard *guard = user;
    const struct timespec tick = {0, TICK_MS * 1000000L};
    for (bool is_over = false; !is_over;) {
        nanosleep(&tick, NULL);
        pthread_mutex_lock(&guard->lock);
        shut_late_ones(guard);
        is_over = guard->is_stopping;
        pthread_mutex_unlock(&guard->lock);
    }
    return NULL;
}

hw_status http_guard_start(hw_job *job, http_guard *guard, const hw_http_limits *limits)
{
    guard->limits = limits;
    pthread_mutex_init(&guard->lock, NULL);
    if (pthread_create(&guard->thread, NULL, watch, guard) != 0)
        return hw_fail(job, HW_NO_MEMORY, "no thread to watch over connections");
    guard->is_running = true;
    return HW_OK;
}

void http_guard_stop(http_guard *guard)
{
    if (guard->is_running) {
        pthread_mutex_lock(&guard->lock);
        guard->is_stopping = true;
        pthread_mutex_unlock(&guard->lock);
        pthread_join(guard->thread, NULL);
    }
    pthread_mutex_destroy(&guard->lock);
}

http_link *http_guard_enter(http_guard *guard, int descriptor, const char *address)
{
    http_link *link = calloc(1, sizeof *link);
    if (!link) return NULL;
    link->descriptor = descriptor;
    link->deadline_ms = http_now_ms() + 1000 * (int64_t)guard->limits->head_s;
    snprintf(link->address, sizeof link->address, "%s", address);
    pthread_mutex_lock(&guard->lock);
    link->next = guard->links;
    if (link->next) link->next->previous = link;
    guard->links = link;
    pthread_mutex_unlock(&guard->lock);
    return link;
}

void http_guard_leave(http_guard *guard, http_link *link)
{
    if (!link) return;
    pthread_mutex_lock(&guard->lock);
    if (link->next) link->next->previous = link->previous;
    if (link->previous)
        link->previous->next = link->next;
    else
        guard->links = link->next;
    pthread_mutex_unlock(&guard->lock);
    free(link);
}

void http_guard_wait(http_guard *guard, http_link *link, int64_t deadline_ms)
{
    if (!link) return;
    pthread_mutex_lock(&guard->lock);
    link->deadline_ms = deadline_ms;
    pthread_mutex_unlock(&guard->lock);
}

// The address's row; where there is none, the row unused for longest becomes it.
static http_rate *rate_of(http_guard *guard, const char *address, int64_t now)
{
    http_rate *oldest = &guard->rates[0];
    for (int i = 0; i < RATES; i++) {
        http_rate *rate = &guard->rates[i];
        if (strcmp(rate->address, address) == 0) return rate;
        if (rate->at_ms < oldest->at_ms) oldest = rate;
    }
    *oldest = (http_rate){.left = guard->limits->burst, .at_ms = now};
    snprintf(oldest->address, sizeof oldest->address, "%s", address);
    return oldest;
}

// A bucket of `burst` tokens filled at `rate` a second.
bool http_guard_allows(http_guard *guard, const char *address)
{
    int64_t now = http_now_ms();
    pthread_mutex_lock(&guard->lock);
    http_rate *rate = rate_of(guard, address, now);
    rate->left += 1e-3 * (double)(now - rate->at_ms) * guard->limits->rate;
    if (rate->left > guard->limits->burst) rate->left = guard->limits->burst;
    rate->at_ms = now;
    bool allowed = rate->left >= 1.0;
    if (allowed) rate->left -= 1.0;
    pthread_mutex_unlock(&guard->lock);
    return allowed;
}
