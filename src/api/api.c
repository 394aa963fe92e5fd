// SPDX-License-Identifier: GPL-3.0-or-later
#include "api_internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// 20 letters of 31 in groups: 99 bits, read off a terminal and typed once.
static void make_first_use_code(char code[static 32])
{
    static const char letters[] = "abcdefghjkmnpqrstuvwxyz23456789";
    int at = 0;
    for (int i = 0; i < 20;) {
        unsigned char byte;
        hw_seal_random(&byte, 1);
        if (byte >= 248) continue; // 248 = 8 * 31
        if (i > 0 && i % 5 == 0) code[at++] = '-';
        code[at++] = letters[byte % 31];
        i++;
    }
    code[at] = 0;
}

// A hash nobody has the passphrase of stands in for unknown logins, so that they take as long.
static hw_status prepare(hw_job *job, hw_api *api)
{
    bool has_users = false;
    hw_arena *into = hw_arena_new((size_t)64 << 20);
    if (!into) return hw_fail(job, HW_NO_MEMORY, "no memory for the server");
    hw_status status = hw_seal_start(job);
    if (status == HW_OK) status = hw_seal_password(job, "nobody's passphrase", api->dummy_hash);
    if (status == HW_OK) status = api_has_users(job, api->store, into, &has_users);
    hw_arena_free(into);
    if (status == HW_OK && !has_users) make_first_use_code(api->first_use);
    return status;
}

static hw_status start_parts(hw_job *job, const hw_api_place *place, hw_api *api)
{
    HW_TRY(prepare(job, api));
    // Before the first request: compute wakes the workers.
    HW_TRY(api_workers_start(job, api, place->workers));
    hw_http_place http = {.address = place->address,
                          .port = place->port,
                          .door = &api->door,
                          .certificate = place->certificate,
                          .key = place->key};
    pthread_mutex_lock(&api->lock); // a request that comes at once waits until its port is known
    hw_status status = hw_http_start(job, &http, &api->http);
    if (status == HW_OK) api->port = hw_http_port(api->http);
    pthread_mutex_unlock(&api->lock);
    if (status != HW_OK) return status;
    return api_events_start(job, api);
}

hw_status hw_api_start(hw_job *job, const hw_api_place *place, hw_api **out)
{
    hw_api *api = calloc(1, sizeof *api);
    if (!api) return hw_fail(job, HW_NO_MEMORY, "no memory for the server");
    api->store = place->store;
    api->ui = place->ui;
    api->backups = place->backups;
    api->hosts = place->hosts;
    api->is_tls = place->certificate != NULL;
    api->is_open = strcmp(place->address, "127.0.0.1") != 0;
    api->log = place->log;
    api->log_user = place->log_user;
    api->port = place->port;
    api->door = api_door(api);
    pthread_mutex_init(&api->lock, NULL);
    hw_status status = start_parts(job, place, api);
    if (status != HW_OK) {
        hw_api_stop(api);
        return status;
    }
    *out = api;
    return HW_OK;
}

void hw_api_stop(hw_api *api)
{
    if (!api) return;
    api_events_stop(api);
    hw_http_stop(api->http);
    api_workers_stop(api);
    pthread_mutex_destroy(&api->lock);
    hw_seal_wipe(api, sizeof *api);
    free(api);
}

int hw_api_port(const hw_api *api)
{
    return api->port;
}

const char *hw_api_first_use_code(const hw_api *api)
{
    return api->first_use[0] ? api->first_use : NULL;
}
