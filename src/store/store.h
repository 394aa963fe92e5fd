// SPDX-License-Identifier: GPL-3.0-or-later
//
// store: sealed records with their history, files, jobs; backup, erasure, proof that nothing was
// changed behind its back. One database (a SQLite file or PostgreSQL), one file of the chain's head
// outside it. docs/security.md says what this protects and what not.
//
//     hw_store *store = NULL;
//     HW_TRY(hw_store_open(job, &(hw_store_place){.url = "clinic.db", .key_file = "clinic.key"},
//                          &store));
//     hw_store_write write = {.kind = "visit", .person = person, .body = json, .who = user};
//     hw_store_head head;
//     HW_TRY(hw_store_put(job, store, &write, 1, into, &head));        // head.id, head.version 1
//     HW_TRY(hw_store_get(job, store, (hw_store_ref){"visit", head.id, 0}, into, &row));
//
// A record is (kind, id) with versions 1, 2, 3 ...: nothing is overwritten, undo is a new version
// with an older body. A call that returned HW_OK is on the disk. Every call may be made from
// several threads (each with its own job); several processes may share a database.
//
// It knows nothing of what a body means, but for a person's "name", "code", "born" (the search) and
// "hold" (no erasure). Who may do what is the caller's business.
#ifndef HW_STORE_H
#define HW_STORE_H

#include "base/base.h"
#include "store/store_guest.h" // IWYU pragma: export
#include "store/store_job.h"   // IWYU pragma: export
#include "store/store_keep.h"  // IWYU pragma: export
#include "store/store_types.h" // IWYU pragma: export

/// Opens a store, makes it where there is none, checks the whole chain and builds the index.
///
///   fails   HW_NO_ACCESS wrong key or passphrase;  HW_NOT_FOUND the key file of an existing store
///           is missing;  HW_BAD_FORMAT the chain is broken or behind its head (why: which row);
///           HW_IO_FAILED no database, or a PostgreSQL that does not sync
///   cost    O(all records) once: figures in docs/security.md
HW_MUST_USE hw_status hw_store_open(hw_job *job, const hw_store_place *place, hw_store **out);

/// May be called with NULL. No other call may be under way.
void hw_store_close(hw_store *store);

/// Writes `count` new versions (up to HW_STORE_WRITES_MAX) in one transaction: all or none.
///
///   heads   count, what was written, texts in `into`
///   fails   HW_CLASH some expected_version is not the newest;  HW_BAD_INPUT a kind, id or person
///           that cannot be;  HW_BAD_FORMAT a body that is not JSON;  HW_NOT_FOUND the person was
///           erased or is unknown;  HW_NO_ACCESS the store is open to read only
HW_MUST_USE hw_status hw_store_put(hw_job *job, hw_store *store, const hw_store_write *writes,
                                   int count, hw_arena *into, hw_store_head *heads);

/// One version of a record; version 0 is the newest.
///
///   fails   HW_NOT_FOUND, also when its person was erased;  HW_BAD_FORMAT the row was tampered
///   with
HW_MUST_USE hw_status hw_store_get(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                                   hw_store_row *out);

/// The newest versions that fit the query, in the order they were first made. Erased ones are left
/// out.
HW_MUST_USE hw_status hw_store_list(hw_job *job, hw_store *store, const hw_store_query *query,
                                    hw_arena *into, hw_store_rows *out);

/// All versions of a record, oldest first, with bodies (erased: heads only).
///
///   fails   HW_NOT_FOUND
HW_MUST_USE hw_status hw_store_history(hw_job *job, hw_store *store, hw_store_ref ref,
                                       hw_arena *into, hw_store_rows *out);

/// What changed after `query->since` (a change number; 0: all), oldest first: heads only, with
/// `who`, at most `query->limit` (0: 1,000). Kinds of the store itself ("file", "erased", "worker")
/// are among them; this is the audit as well as the news for a browser. out->change is where to go
/// on.
HW_MUST_USE hw_status hw_store_changes(hw_job *job, hw_store *store, const hw_store_query *query,
                                       hw_arena *into, hw_store_rows *out);

/// The newest change number. Reads the database: other processes' writes count.
HW_MUST_USE hw_status hw_store_change(hw_job *job, hw_store *store, int64_t *out);

/// Seals a file for a person (or device, or the clinic) and keeps it as rows. The same bytes for
/// the same owner have the same hash and are kept once.
///
///   hash    hex, HW_STORE_HASH bytes with its zero
///   fails   HW_BAD_INPUT more than HW_STORE_FILE_BYTES;  HW_NOT_FOUND the person was erased
HW_MUST_USE hw_status hw_store_file_put(hw_job *job, hw_store *store, const hw_store_file *file,
                                        char hash[HW_STORE_HASH]);

/// The bytes of a file, followed by a zero byte that is not counted.
///
///   fails   HW_NOT_FOUND, also when erased;  HW_BAD_FORMAT a row was tampered with
HW_MUST_USE hw_status hw_store_file_get(hw_job *job, hw_store *store, const char *hash,
                                        hw_arena *into, hw_bytes *out);

/// Whose file it is, without reading it: `person` "" is the clinic's. For the door's rights.
///
///   fails   HW_NOT_FOUND
HW_MUST_USE hw_status hw_store_file_owner(hw_job *job, hw_store *store, const char *hash,
                                          hw_arena *into, hw_store_head *out);

#endif
