// SPDX-License-Identifier: GPL-3.0-or-later
//
// api: the HTTP door. One table of routes; each parses, calls one function of app or store, writes.
// Here stand sessions, roles, lockout, the checks on Host, Origin and token, the events, and the
// workers that take jobs. docs/security.md says what they are to keep out.
//
//     hw_api *api = NULL;
//     HW_TRY(hw_api_start(job, &(hw_api_place){.store = store, .address = "127.0.0.1"}, &api));
//     if (hw_api_first_use_code(api)) puts(hw_api_first_use_code(api));
//     ...
//     hw_api_stop(api);
//
// No rule, unit factor or SQL stands here.
#ifndef HW_API_H
#define HW_API_H

#include "app/app.h"
#include "sandbox/sandbox.h"
#include "store/store.h"

typedef struct hw_api hw_api;

typedef struct hw_api_place {
    hw_store *store;     // outlives the server
    const char *address; // to listen at
    int port;            // 0: any free one
    const char *hosts;   // more names by which it may be called, "clinic.local,heel"; or NULL
    const char *certificate, *key; // PEM; NULL: no TLS
    const char *ui;                // folder of the page
    const char *backups;           // folder for backups
    int workers; // jobs at once in this process; 0: others compute, it keeps what guests deliver
    void (*log)(void *user, const char *line); // a line a request, nothing personal; NULL: none
    void *log_user;
} hw_api_place;

/// Serves from now on.
///
///   fails   as hw_http_start and hw_store_list
HW_MUST_USE hw_status hw_api_start(hw_job *job, const hw_api_place *place, hw_api **out);

/// Ends streams, lets requests end, asks running jobs to stop (another worker takes them up).
void hw_api_stop(hw_api *api);

/// The port it listens at: the one the system chose where 0 was asked for.
int hw_api_port(const hw_api *api);

/// The code that makes the first owner; NULL when there are users.
const char *hw_api_first_use_code(const hw_api *api);

/// The table of routes as JSON: for the tests and the documents.
HW_MUST_USE hw_status hw_api_routes(hw_job *job, hw_arena *into, hw_bytes *out);

/// hw_app_batch through the store's queue: `heelwright work` anywhere does the files, each of which must lie
/// at the same path there. Without a worker it waits.
HW_MUST_USE hw_status hw_api_batch(hw_job *job, hw_store *store, const hw_app_batch_ask *ask,
                                   hw_arena *into, hw_app_batch_sum *out);

/// Takes jobs until asked to stop, one at a time: what `heelwright work` does.
///
///   name      of the worker, unique a thread: see hw_store_worker
///   lease_s   how long a job of a killed worker waits for another, s: HW_API_LEASE_S
///   job       job->cancelled ends the loop; its scratch is used
///   fails     HW_CANCELLED asked to stop; the store's failures, after ten in a row
HW_MUST_USE hw_status hw_api_work(hw_job *job, hw_store *store, const char *name, int lease_s);

/// Takes jobs as a guest, which holds no key of the clinic's: see hw_guest_open. Likewise.
HW_MUST_USE hw_status hw_api_work_as_guest(hw_job *job, hw_guest *guest, int lease_s);

enum { HW_API_LEASE_S = 12, HW_API_DEMO_USERS = 4, HW_API_PASSPHRASE = 40 };

typedef struct hw_api_demo_user {
    const char *login, *role;
    char passphrase[HW_API_PASSPHRASE];
} hw_api_demo_user;

/// Fills an empty store with an invented clinic: one user a role, an invented person with a visit.
///
///   users   who may sign in, with the passphrases just made up
///   fails   HW_CLASH the store has users;  as the store
HW_MUST_USE hw_status hw_api_demo(hw_job *job, hw_store *store,
                                  hw_api_demo_user users[static HW_API_DEMO_USERS]);

#endif
