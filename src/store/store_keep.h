// SPDX-License-Identifier: GPL-3.0-or-later
// Keeping and ending: verification, erasure, retention, backup, restore, export.
#ifndef HW_STORE_KEEP_H
#define HW_STORE_KEEP_H

#include "store/store_types.h"

/// A place in the chain, to be kept outside (printed, on a stick): whoever rolls the whole store
/// back, head file included, is found out only by it.
typedef struct hw_store_mark {
    int64_t change;
    char link[HW_STORE_HASH]; // hex
} hw_store_mark;

typedef struct hw_store_report {
    int64_t records, files, jobs, keys; // rows looked at, all versions
    int fault_count;                    // all of them
    const char **faults;                // sentences, the first 100: which row, what is wrong
    int listed;                         // how many of `faults` there are
    hw_store_mark mark;
} hw_store_report;

/// Walks everything: chain, records, keys, files, jobs; against the head file and, where not NULL,
/// an exported mark.
///
///   fails   HW_BAD_FORMAT at least one fault: `why` is the first, `out` is filled all the same
///   cost    reads the whole database
HW_MUST_USE hw_status hw_store_verify(hw_job *job, hw_store *store, const hw_store_mark *exported,
                                      hw_arena *into, hw_store_report *out);

/// The newest place in the chain.
HW_MUST_USE hw_status hw_store_mark_now(hw_job *job, hw_store *store, hw_store_mark *out);

/// Erases a person for good: destroys the key of all that is theirs (devices excepted: they have
/// their own), removes their files and jobs, leaves a tombstone in the chain. Copies in backups
/// stay readable to whoever holds backup and key until those are thrown away.
///
///   fails   HW_NOT_FOUND;  HW_NO_ACCESS the person's record says "hold": true;  HW_BAD_INPUT no
///   why
HW_MUST_USE hw_status hw_store_erase(hw_job *job, hw_store *store, const char *person,
                                     const char *who, const char *why);

/// Until when an adult's or child's record is kept: 8 years after the last contact; of those seen
/// under 18, the 25th birthday, or the 26th when 17 at the last contact, if that is later. Unknown
/// where a date is unknown. Source: standards.md 7.1 (retention schedule of England's health
/// records code).
hw_date hw_store_keep_until(hw_date born, hw_date last_contact);

/// A backup in one file "heelwright-<change>.backup" in `folder` (made when absent): all rows as
/// they stand, still sealed, re-read and compared before it bears its name. The key file is NOT in
/// it. Writers and readers go on meanwhile.
///
///   name    the file's path, in `into`
HW_MUST_USE hw_status hw_store_backup(hw_job *job, hw_store *store, const char *folder,
                                      hw_arena *into, const char **name);

/// Fills an empty place (either database) from a backup, then opens and verifies it.
///
///   place   with the key file or passphrase of the store that was backed up
///   fails   HW_CLASH the place is not empty;  HW_BAD_FORMAT not a backup, cut or changed;
///           HW_NO_ACCESS wrong key
HW_MUST_USE hw_status hw_store_restore(hw_job *job, const char *backup, const hw_store_place *place,
                                       hw_store **out);

/// Everything in the clear for another system: records/<kind>-<id>.json with all its versions,
/// files/<hash>, index.json. `person` NULL: all; else of one person. Whoever has the folder can
/// read it.
HW_MUST_USE hw_status hw_store_export(hw_job *job, hw_store *store, const char *person,
                                      const char *folder);

/// Opens the store from now on by another passphrase, or (NULL) by the random key file `key_file`.
/// Records stay as they are: only the master key is wrapped anew.
HW_MUST_USE hw_status hw_store_lock_change(hw_job *job, hw_store *store, const char *passphrase,
                                           const char *key_file);

#endif
