// SPDX-License-Identifier: GPL-3.0-or-later
// Guests: workers on machines that hold no key of the clinic's. A guest has a pair of its own; the
// clinic registers its open half and seals the key of each new job to it. It reads its jobs and the
// files they name, computes, and delivers a parcel that a worker of the clinic's keeps.
//
//     HW_TRY(hw_guest_join(job, &place, into, &line));               // on the guest, once
//     HW_TRY(hw_store_guest_add(job, store, "attic", line, user, into, &added)); // at the clinic
//     HW_TRY(hw_guest_keep(job, &place, added.line));                // on the guest, once
//     HW_TRY(hw_guest_open(job, &place, &guest));
//     while (hw_guest_claim(job, guest, &worker, into, &task) == HW_OK) {
//         ... hw_guest_file(job, guest, &task, hash, into, &scan);
//         ... hw_guest_renew(job, guest, &task.claim, 0.4, "shaping", &is_cancelled);
//         hw_guest_deliver(job, guest, &task.claim, &parcel);
//     }
//
// Lines are public and carry a check against slips; who brings them must be believed:
// docs/security.md.
#ifndef HW_STORE_GUEST_H
#define HW_STORE_GUEST_H

#include "store/store_job.h"

enum {
    HW_STORE_GUESTS_MAX = 32, // registered at a time
    HW_STORE_GUEST_NAME = 64, // bytes of a name
    HW_STORE_PIECES_MAX = 64, // files of a parcel
    HW_STORE_LINE_MAX = 200,  // bytes of a line and its zero
};

// -- at the clinic

/// A registered worker.
typedef struct hw_store_guest {
    char id[HW_STORE_ID];
    const char *name;
    const char *line;     // the clinic's, for the guest to keep
    int64_t added_ms;     // UTC, since 1970
    const char *added_by; // id of the user; "" from the shell
    int64_t withdrawn_ms; // 0: registered
    const char *withdrawn_by;
} hw_store_guest;

typedef struct hw_store_guests {
    hw_store_guest *guests; // in the order they were registered
    int count;
} hw_store_guests;

/// Registers a guest by the line it printed: jobs asked for from now on are sealed to it as well.
///
///   name    printable, up to HW_STORE_GUEST_NAME bytes
///   fails   HW_BAD_INPUT a name or line that is none;  HW_CLASH its key is registered already, or
///           there are HW_STORE_GUESTS_MAX
HW_MUST_USE hw_status hw_store_guest_add(hw_job *job, hw_store *store, const char *name,
                                         const char *line, const char *who, hw_arena *into,
                                         hw_store_guest *out);

/// From now on no job is sealed to it and nothing it delivers is kept.
///
///   fails   HW_NOT_FOUND;  HW_CLASH it was withdrawn already
HW_MUST_USE hw_status hw_store_guest_withdraw(hw_job *job, hw_store *store, const char *id,
                                              const char *who);

/// All that were ever registered.
HW_MUST_USE hw_status hw_store_guest_list(hw_job *job, hw_store *store, hw_arena *into,
                                          hw_store_guests *out);

/// A file of a parcel.
typedef struct hw_store_piece {
    const char *name; // letters, digits, '.', '_', '-'; up to 63; no dot in front
    hw_bytes bytes;
} hw_store_piece;

/// What a guest made of a job.
typedef struct hw_store_parcel {
    const char *failed; // why it cannot be done, for a person; then nothing else counts. NULL: done
    hw_bytes about;     // JSON, the caller's own
    hw_store_piece *pieces;
    int count;
    const char *guest; // name of who delivered it; set when read
} hw_store_parcel;

/// Opens what was delivered of a job that is_delivered and held by this claim.
///
///   fails   HW_CLASH lease lost;  HW_BAD_FORMAT it does not open or is not whole;  HW_NO_ACCESS
///           its guest was withdrawn
HW_MUST_USE hw_status hw_store_job_parcel(hw_job *job, hw_store *store, const hw_store_claim *claim,
                                          hw_arena *into, hw_store_parcel *out);

/// Throws a parcel away: the job waits anew, the tries it had still count.
///
///   fails   HW_CLASH lease lost
HW_MUST_USE hw_status hw_store_job_refuse(hw_job *job, hw_store *store, const hw_store_claim *claim,
                                          const char *sentence);

// -- on the guest's machine

typedef struct hw_guest hw_guest;

/// Where a guest keeps what it has, and where the jobs are.
typedef struct hw_guest_place {
    const char *url;       // as hw_store_place; its role needs the least rights of docs/server.md
    const char *key_file;  // its own pair, mode 0600
    const char *line_file; // the clinic's line
    int64_t (*now_ms)(void *user); // NULL: the system's clock
    void *user;
} hw_guest_place;

/// Makes the guest's pair where there is none yet, and says the line the clinic is to register.
///
///   fails   HW_BAD_FORMAT a key file that is none
HW_MUST_USE hw_status hw_guest_join(hw_job *job, const hw_guest_place *place, hw_arena *into,
                                    const char **line);

/// Keeps the clinic's line, over an older one.
///
///   fails   HW_BAD_INPUT no line, or one made for another guest;  HW_NOT_FOUND no pair yet
HW_MUST_USE hw_status hw_guest_keep(hw_job *job, const hw_guest_place *place, const char *line);

/// Connects; reads nothing yet.
///
///   fails   HW_NOT_FOUND it has not joined, or no such SQLite file;  as hw_guest_keep, hw_sql_open
HW_MUST_USE hw_status hw_guest_open(hw_job *job, const hw_guest_place *place, hw_guest **out);

/// May be called with NULL.
void hw_guest_close(hw_guest *guest);

/// The id it is registered by.
const char *hw_guest_id(const hw_guest *guest);

/// As hw_store_job_claim, of jobs sealed to this guest; worker->name is not used: "guest-ID" is.
HW_MUST_USE hw_status hw_guest_claim(hw_job *job, hw_guest *guest, const hw_store_worker *worker,
                                     hw_arena *into, hw_store_task *out);

/// As hw_store_job_renew and hw_store_job_get, of jobs sealed to this guest.
HW_MUST_USE hw_status hw_guest_renew(hw_job *job, hw_guest *guest, const hw_store_claim *claim,
                                     double progress, const char *sentence, bool *is_cancelled);
/// What became of a job, asked by its worker.
HW_MUST_USE hw_status hw_guest_look(hw_job *job, hw_guest *guest, const char *id, hw_arena *into,
                                    hw_store_task *out);

/// As hw_store_job_spoilt.
bool hw_guest_job_spoilt(hw_guest *guest, int number, char id[HW_STORE_ID]);

/// A file the job names. Fails as hw_store_file_get; HW_BAD_INPUT a file the job does not name.
HW_MUST_USE hw_status hw_guest_file(hw_job *job, hw_guest *guest, const hw_store_task *task,
                                    const char *hash, hw_arena *into, hw_bytes *out);

/// Leaves what was made of the job, whole or not at all; the lease ends with it.
///
///   fails   HW_CLASH lease lost;  HW_CANCELLED nobody wants it;  HW_BAD_INPUT a piece's name, too
///           many or too large ones;  HW_BAD_FORMAT `about` is no JSON
HW_MUST_USE hw_status hw_guest_deliver(hw_job *job, hw_guest *guest, const hw_store_claim *claim,
                                       const hw_store_parcel *parcel);

#endif
