// SPDX-License-Identifier: GPL-3.0-or-later
// What the handlers share: who asks, what was asked, how an answer is written.
#ifndef HW_API_INTERNAL_H
#define HW_API_INTERNAL_H

#include "api/api.h"
#include "httpd/httpd.h"
#include "seal/seal.h"
#include "json/json.h"
#include <pthread.h>

enum {
    LOGIN_BYTES = 65,
    NAME_BYTES = 129,
    SECRET_BYTES = 65, // 32 random bytes as hex
    SESSIONS = 512,
    GUESSERS = 1024,
    CODES = 256,
    AGREEMENTS = 64,
    ARGS_MAX = 2,
};

/// A role is a bit, so that a route can name several.
typedef enum api_role {
    ROLE_NONE = 0,
    ROLE_OWNER = 1,
    ROLE_CLINICIAN = 2,
    ROLE_ASSISTANT = 4,
    ROLE_MAKER = 8,
} api_role;

enum {
    ROLES_ANYONE = 0, // no session needed
    ROLES_TREATING = ROLE_OWNER | ROLE_CLINICIAN,
    ROLES_MEDICAL = ROLES_TREATING | ROLE_ASSISTANT,
    ROLES_ALL = ROLES_MEDICAL | ROLE_MAKER,
};

enum { MAY_INJECT = 1, MAY_FOCUSED_SHOCKWAVE = 2 };

typedef struct api_user {
    char id[HW_STORE_ID];
    char login[LOGIN_BYTES];
    char name[NAME_BYTES];
    unsigned role, permissions;
    bool
        is_lent; // their passphrase was given by somebody else: it opens nothing but the change of it
    int64_t version;
} api_user;

typedef struct api_session {
    bool is_used;
    char secret[SECRET_BYTES]; // the cookie
    char token[SECRET_BYTES];  // against requests of other pages
    char tag[HW_STORE_ID];     // names it where the secret must not stand
    api_user user;
    int64_t began_ms, used_ms;
} api_session;

/// Whose patience counts: of one login or code from one address, or of the address as a whole.
typedef enum api_guess { GUESS_ONE = 0, GUESS_ADDRESS } api_guess;

/// Who has been guessing: a login from an address, or an address.
typedef struct api_guesser {
    char key[LOGIN_BYTES + 64];
    int failures;
    int64_t until_ms, last_ms;
} api_guesser;

/// A one-time code of a waiting-room form.
typedef struct api_code {
    char code[16];
    char person[HW_STORE_ID], issuer[HW_STORE_ID];
    int64_t until_ms; // 0: free
} api_code;

/// A second clinician's word on an overrule: api/second.c.
typedef struct api_agreement {
    unsigned char digest[HW_SEAL_HASH];
    int64_t until_ms; // 0: free
} api_agreement;

struct hw_api {
    hw_store *store;
    hw_http *http;
    hw_http_door door;
    const char *ui, *backups, *hosts;
    bool is_tls, is_open; // is_open: for the clinic's network, not only this machine
    int port;
    void (*log)(void *user, const char *line);
    void *log_user;

    pthread_mutex_t lock; // of all below
    api_session sessions[SESSIONS];
    api_guesser guessers[GUESSERS];
    api_code codes[CODES];
    api_agreement agreements[AGREEMENTS];
    char first_use[32]; // "": there are users
    char dummy_hash[HW_SEAL_PASSWORD];

    struct api_events *events;
    struct api_workers *workers;
};

struct api_route;

/// One request being answered.
typedef struct api_call {
    hw_api *api;
    const struct api_route *route;
    const hw_http_request *request;
    hw_job *job;
    hw_arena *into;
    const char *args[ARGS_MAX]; // what stood for {...}
    api_session session;        // a copy; is_used: there is one
    const hw_json *body;        // of JSON routes, else NULL
    hw_http_reply *reply;
    hw_faults faults;
    hw_bytes current; // of a clash: the row that stands, as JSON
} api_call;

typedef struct api_route {
    const char *method, *pattern;
    unsigned who; // roles; ROLES_ANYONE: no session needed
    size_t limit; // bytes of a body; 0: none
    hw_http_lane lane;
    hw_status (*answer)(api_call *call);
    const char *what;
    bool is_binary; // its body is bytes, not JSON
} api_route;

/// All routes.
const api_route *api_routes(int *count);

/// What the server below calls.
hw_http_door api_door(hw_api *api);

int64_t api_now_ms(void);  // UTC
int64_t api_tick_ms(void); // monotonic
void api_log(hw_api *api, const char *format, ...) __attribute__((format(printf, 2, 3)));

// -- reading what was sent

/// A text member of the body; `fallback` NULL: it must be there.
///
///   fails   HW_BAD_INPUT absent, not a text, longer than `most` bytes
HW_MUST_USE hw_status api_text(api_call *call, const char *key, size_t most, const char *fallback,
                               const char **out);
HW_MUST_USE hw_status api_version(api_call *call, const char *key, int64_t *out);

/// The member `body`, an object, as JSON text.
HW_MUST_USE hw_status api_body(api_call *call, const hw_json **tree, hw_bytes *text);

// -- writing the answer

hw_json_out api_begin(api_call *call); // an object is open
HW_MUST_USE hw_status api_end(api_call *call, hw_json_out *out);
HW_MUST_USE hw_status api_done(api_call *call);                // {}
HW_MUST_USE hw_status api_json(api_call *call, hw_bytes text); // JSON that is written already
void api_head(api_call *call, hw_json_out *out, const hw_store_head *head);
void api_row(api_call *call, hw_json_out *out, const char *key, const hw_store_row *row);
void api_time(hw_json_out *out, const char *key, int64_t at_ms); // "2026-03-02T09:00:00Z"
HW_MUST_USE hw_status api_written(api_call *call, const hw_store_head *head);

/// Fills reply with an error; also for replies of the server below.
void api_refuse(hw_http_reply *reply, hw_arena *into, int code, const char *sentence);
void api_security_headers(const hw_api *api, hw_http_reply *reply);

/// The HTTP code of a status: the only place where one becomes the other.
int api_code_of(hw_status status);

/// The body of an error; `call` NULL: without faults and the row that stands.
void api_error(hw_http_reply *reply, hw_job *job, hw_arena *into, const char *sentence,
               const api_call *call);

/// Refusals that the server below makes by itself.
void api_dress(void *user, hw_http_reply *reply);

// -- users and sessions

const char *api_role_word(unsigned role);
unsigned api_role_of(const char *word);
void api_permissions_write(hw_json_out *out, const api_user *user);
HW_MUST_USE hw_status api_user_read(hw_job *job, const hw_store_row *row, hw_arena *into,
                                    api_user *user, const char **hash, bool *is_active);
HW_MUST_USE hw_status api_session_begin(api_call *call, const api_user *user);
bool api_session_find(hw_api *api, const char *secret, api_session *out);
void api_session_end(hw_api *api, const char *tag);

/// Ends all sessions of a user but one ("": all).
void api_sessions_end(hw_api *api, const char *user, const char *but_tag);
bool api_session_of_tag(hw_api *api, const char *tag, api_session *out);

/// The user's record changed: sessions get the new rights, or end. Called by the events' thread.
void api_user_changed(hw_api *api, hw_job *job, hw_arena *into, const char *id);

/// Milliseconds to wait before this key may try again; 0: now.
int64_t api_guess_wait(hw_api *api, const char *key);

/// Answers 429 while this key must wait.
HW_MUST_USE hw_status api_wait_first(api_call *call, const char *key);
void api_guess_failed(hw_api *api, const char *key, api_guess kind);
void api_guess_forget(hw_api *api, const char *key);

/// Whether "login" and "passphrase" of the body are those of a user who may sign in; slowed down as sign-in is. `user`
/// is theirs where it holds.
///
///   fails   HW_NO_ACCESS too many guesses: wait
HW_MUST_USE hw_status api_prove(api_call *call, api_user *user, bool *holds);

/// What a second clinician agrees to.
typedef struct api_overrule {
    const char *person, *rule, *reason;
} api_overrule;

/// Whether this second clinician agreed to it in this session, a short while ago.
bool api_has_agreed(api_call *call, const char *second, const api_overrule *of);

/// Whether there is a user, looked up in the store.
HW_MUST_USE hw_status api_has_users(hw_job *job, hw_store *store, hw_arena *into, bool *out);

/// Sets login and name after checking them.
HW_MUST_USE hw_status api_user_set(api_call *call, api_user *user, const char *login,
                                   const char *name);

/// A user's record as JSON.
HW_MUST_USE hw_status api_user_body(hw_job *job, hw_arena *into, const api_user *user,
                                    const char *hash, bool is_active, hw_bytes *out);

/// Writes the next version of a user (version 0: a new one) and answers with its head.
HW_MUST_USE hw_status api_user_write(api_call *call, const api_user *user, const char *hash,
                                     bool is_active, const char *why);

/// The hash to keep of a new passphrase.
///
///   fails   HW_BAD_INPUT too short, too long, too easy
HW_MUST_USE hw_status api_passphrase_hash(api_call *call, const char *passphrase, const char *login,
                                          const char **hash);

/// What the clinic prints on; A4 where it has not said.
HW_MUST_USE hw_status api_paper(api_call *call, hw_paper *out);

/// Whether somebody who signs in with this name, and is not the caller, may treat.
HW_MUST_USE hw_status api_is_treating(api_call *call, const char *login, bool *out);

/// A record's writer for people: name of the user, or the id where unknown.
const char *api_user_name(api_call *call, const char *id);

// -- records

/// Hashes of the files that a case's computation reads.
typedef struct api_files {
    const char *hashes[HW_STORE_JOB_FILES];
    int count;
} api_files;

/// A visit's body and its person's become a case: the code filled in, what is the page's own left
/// out. fails: HW_BAD_INPUT a file that is not this person's
HW_MUST_USE hw_status api_case_of(api_call *call, const char *person, const hw_json *visit,
                                  hw_bytes *out, api_files *files);

/// May this user write this body over the old one (NULL: new)? Faults go to call->faults.
HW_MUST_USE hw_status api_record_check(api_call *call, const char *kind, const char *person,
                                       const hw_json *body, const hw_json *old);

/// Writes the next version of a record from the call's "version" and "why", and answers with its
/// head; at a clash the answer holds the row that stands.
HW_MUST_USE hw_status api_change(api_call *call, hw_store_write *write);

/// A new device's files must be released ones of its visit's result; an issued one's stay.
HW_MUST_USE hw_status api_device_check(api_call *call, const char *person, const hw_json *body,
                                       const hw_json *old);

/// Seals the files a new device names with the device's key; the head becomes that version's.
HW_MUST_USE hw_status api_device_files(api_call *call, hw_store_head *head, const hw_json *body);

/// HW_NOT_FOUND unless this device has a file of this hash.
HW_MUST_USE hw_status api_device_holds(api_call *call, const char *device, const char *hash);

// -- milling (milling.c)

/// The clinic's milling table with this choice (NULL: the table's own) as one JSON that hw_mill_read takes.
///
///   fails   HW_BAD_INPUT what hw_mill_read says of it
HW_MUST_USE hw_status api_mill_of(api_call *call, const hw_json *choice, hw_bytes *out);

/// A milling table that is to be kept with the clinic's settings; NULL: none is.
HW_MUST_USE hw_status api_mill_check(api_call *call, const hw_json *table);

// -- events and workers

HW_MUST_USE hw_status api_events_start(hw_job *job, hw_api *api);
void api_events_stop(hw_api *api);
HW_MUST_USE hw_status api_workers_start(hw_job *job, hw_api *api, int count);
void api_workers_stop(hw_api *api);
void api_workers_wake(hw_api *api); // a job was added
void api_job_write(hw_json_out *out, const hw_store_task *task);

/// Of one whose row was changed: failed, and why. Closes nothing.
void api_job_write_spoilt(hw_json_out *out, const char *id);

// -- the page's files

void api_page_file(hw_api *api, const hw_http_path *path, hw_job *job, hw_arena *into,
                   hw_http_reply *reply);

// -- handlers, each in the file named

hw_status answer_session(api_call *call); // login.c
hw_status answer_login(api_call *call);
hw_status answer_logout(api_call *call);
hw_status answer_first_use(api_call *call);
hw_status answer_new_passphrase(api_call *call);
hw_status answer_second(api_call *call);
hw_status answer_users(api_call *call); // users.c
hw_status answer_user_add(api_call *call);
hw_status answer_user_change(api_call *call);
hw_status answer_people(api_call *call); // people.c
hw_status answer_person_add(api_call *call);
hw_status answer_person(api_call *call);
hw_status answer_person_change(api_call *call);
hw_status answer_person_erase(api_call *call);
hw_status answer_person_code(api_call *call);
hw_status answer_score_form(api_call *call);
hw_status answer_records(api_call *call); // records.c
hw_status answer_record_add(api_call *call);
hw_status answer_record(api_call *call);
hw_status answer_record_history(api_call *call);
hw_status answer_record_change(api_call *call);
hw_status answer_record_undo(api_call *call);
hw_status answer_import(api_call *call);
hw_status answer_file_add(api_call *call); // uploads.c
hw_status answer_file(api_call *call);
hw_status answer_image_add(api_call *call); // recordings.c
hw_status answer_image(api_call *call);
hw_status answer_image_measure(api_call *call);
hw_status answer_thickness_change(api_call *call);
hw_status answer_walk_add(api_call *call);
hw_status answer_walk(api_call *call);
hw_status answer_pressure_add(api_call *call);
hw_status answer_pressure(api_call *call);
hw_status answer_compute(api_call *call); // jobs.c
hw_status answer_job(api_call *call);
hw_status answer_job_cancel(api_call *call);
hw_status answer_events(api_call *call);     // events.c
hw_status answer_vocabulary(api_call *call); // tables.c
hw_status answer_rules(api_call *call);
hw_status answer_evidence(api_call *call);
hw_status answer_trials(api_call *call);
hw_status answer_caseload(api_call *call); // caseload.c
hw_status answer_audit_report(api_call *call);
hw_status answer_export(api_call *call);
hw_status answer_treatment_record(api_call *call);
hw_status answer_course(api_call *call);
hw_status answer_scales(api_call *call);
hw_status answer_scores(api_call *call);
hw_status answer_milling(api_call *call); // milling.c
hw_status answer_clinic(api_call *call);  // keep.c
hw_status answer_clinic_change(api_call *call);
hw_status answer_audit(api_call *call);
hw_status answer_backup(api_call *call);
hw_status answer_verify(api_call *call);
hw_status answer_devices(api_call *call); // devices.c
hw_status answer_guests(api_call *call);  // guests.c
hw_status answer_guest_add(api_call *call);
hw_status answer_guest_withdraw(api_call *call);

#endif
