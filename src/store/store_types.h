// SPDX-License-Identifier: GPL-3.0-or-later
// The store's plain structs: where it is, what is written, what is read.
#ifndef HW_STORE_TYPES_H
#define HW_STORE_TYPES_H

#include "base/base.h"
#include <stdint.h>

typedef struct hw_store hw_store;

enum {
    HW_STORE_ID = 17,         // bytes of an id and its zero: 16 lower-case hex
    HW_STORE_HASH = 65,       // bytes of a file's hash and its zero: 64 lower-case hex
    HW_STORE_WRITES_MAX = 64, // writes of one transaction
    HW_STORE_BODY_BYTES = 16 << 20,
    HW_STORE_FILE_BYTES = 1 << 29,
};

/// Where a store is and what opens it.
typedef struct hw_store_place {
    const char *url;        // a file's name (SQLite) or postgresql://...
    const char *key_file;   // made with the store, mode 0600; not used when there is a passphrase
    const char *passphrase; // NULL: the key file
    const char *head_file;  // NULL: "<key_file>.head", without key file "<url>.head"
    int64_t (*now_ms)(void *user); // UTC, since 1970; NULL: the system's clock
    void *user;
    bool is_first_here; // this machine has no head file yet: takes the chain as it stands (a server
                        // or worker joining a shared database)
    bool is_damaged_ok; // a broken chain opens, to read only: see hw_store_verify
} hw_store_place;

/// What is to become the next version of a record.
typedef struct hw_store_write {
    const char *kind;   // lower-case letters and '_': "visit"
    const char *id;     // 16 hex, or "clinic"; NULL: a new random one
    const char *person; // id; NULL or "": of the clinic; a person's own record: NULL or its id
    int64_t expected_version; // the one it builds on; 0: a new record
    hw_bytes body;            // a JSON text
    const char *who;          // id of the user; stays readable when the person is erased
    const char *why;          // may be NULL; sealed with the body
} hw_store_write;

/// One version of one record. version 0: the newest.
typedef struct hw_store_ref {
    const char *kind;
    const char *id;
    int64_t version;
} hw_store_ref;

/// All about a version but its body. Texts are never NULL.
typedef struct hw_store_head {
    const char *kind;
    const char *id;
    const char *person; // "" of the clinic
    int64_t version;
    int64_t change; // its place in the order of all writes, from 1
    int64_t at_ms;  // UTC, since 1970
    const char *who;
    const char *why; // "" where only heads were asked for, or erased
    bool is_erased;  // its key is destroyed: no body any more
} hw_store_head;

typedef struct hw_store_row {
    hw_store_head head;
    hw_bytes body; // followed by a zero byte that is not counted
} hw_store_row;

typedef struct hw_store_rows {
    hw_store_row *rows;
    int count;
    int64_t change; // the newest change number when it was read
} hw_store_rows;

/// Which records. Zero-initialised: all.
typedef struct hw_store_query {
    const char *kind;   // NULL: any
    const char *person; // NULL: any
    const char *text;   // of people only: each word is part of name, code or birth date; NULL: any
    int64_t since;      // only those whose newest version came after this change
    int skip;           // this many first ones
    int limit;          // 0: no limit
    bool is_heads_only; // no body, no `why`
} hw_store_query;

/// A file to keep.
typedef struct hw_store_file {
    hw_bytes bytes;
    const char *person; // NULL or "": of the clinic
    const char *device; // id of a device, whose key seals it then: it outlives the person; or NULL
    const char *who;
} hw_store_file;

#endif
