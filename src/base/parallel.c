// SPDX-License-Identifier: GPL-3.0-or-later
#include "parallel.h"

#include <pthread.h>
#include <sched.h>
#include <stdatomic.h>

enum { THREADS_MAX = 16, CHUNK = 4 };

typedef struct shared_work {
    void (*each)(void *with, int i);
    void *with;
    int count;
    atomic_int next;
} shared_work;

static void *take_chunks(void *arg)
{
    shared_work *work = arg;
    for (;;) {
        int first = atomic_fetch_add(&work->next, CHUNK);
        if (first >= work->count) return NULL;
        int end = first + CHUNK < work->count ? first + CHUNK : work->count;
        for (int i = first; i < end; i++) work->each(work->with, i);
    }
}

// Cores this process may use.
static int core_count(void)
{
    cpu_set_t allowed;
    if (sched_getaffinity(0, sizeof allowed, &allowed) != 0) return 1;
    return CPU_COUNT(&allowed);
}

void hw_parallel(int count, void (*each)(void *with, int i), void *with)
{
    pthread_t threads[THREADS_MAX];
    shared_work work = {.each = each, .with = with, .count = count};
    int wanted = (count + CHUNK - 1) / CHUNK, cores = core_count(), started = 0;
    if (wanted > cores) wanted = cores;
    if (wanted > THREADS_MAX) wanted = THREADS_MAX;
    while (started < wanted - 1 && pthread_create(&threads[started], NULL, take_chunks, &work) == 0)
        started++;
    take_chunks(&work);
    for (int i = 0; i < started; i++) pthread_join(threads[i], NULL);
}
