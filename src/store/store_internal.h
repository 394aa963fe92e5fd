// SPDX-License-Identifier: GPL-3.0-or-later
// How the inside of the store fits together:
//   lock.c    key file or passphrase -> master key -> one key for each purpose
//   head.c    the chain's head in its file outside the database
//   chain.c   one row of the table `entry`: sealing, its link, reading on from a change number
//   index.c   the newest version of each record, in memory; search
//   keys.c    one data key for each person and device
//   write.c   a transaction: append entries, commit, note the head
//   job*.c     the queue; guest*.c parcel.c   workers without a key of the clinic's
//   record.c file.c chunks.c erase.c verify.c backup.c restore.c export.c   what store.h promises
#ifndef HW_STORE_INTERNAL_H
#define HW_STORE_INTERNAL_H

#include "seal/seal.h"
#include "sql/sql.h"
#include "store/store.h"
#include <pthread.h>
#include <string.h>

enum {
    HW_STORE_KIND = 33,     // bytes of a kind and its zero
    HW_STORE_FIRST = 3,     // entries a new store makes for itself: clinic key, lock, worker
    HW_STORE_PAGE = 256,    // entries read at once
    HW_STORE_PENDING = 512, // entries of one transaction
    HW_STORE_SPOILT = 64,   // changed rows of jobs that are remembered, to be told of once
};

#define HW_STORE_CLINIC "clinic" // owner of what belongs to no person

// Kinds the store keeps for itself.
#define HW_KIND_KEY "key"       // id: owner; version 1 made, 2 destroyed; body: digest of the row
#define HW_KIND_LOCK "lock"     // id: clinic; body: digest of the row `lock` of `meta`
#define HW_KIND_WORKER "worker" // id: clinic; body: the clinic's pair. Else a guest: see guests.c
#define HW_KIND_FILE "file"     // id: hash; body: its key and the digest of its chunks
#define HW_KIND_JOB "job"       // id: job; version 1 added, 2 ended, 3 removed; body: digest
#define HW_KIND_ERASED "erased" // id: person; body: who erased it and why

/// One link of the chain: a row of the table `entry`.
typedef struct hw_entry {
    int64_t seq, version, at_ms;
    const char *kind, *id, *person, *owner; // owner: whose key seals the body
    hw_bytes head;                          // sealed by the clinic's key: who
    hw_bytes body;                          // sealed by the owner's key: why, body
    unsigned char link[HW_SEAL_HASH];
} hw_entry;

/// The newest version of a record, in memory.
typedef struct hw_item {
    char kind[HW_STORE_KIND];
    char id[HW_STORE_ID];
    char person[HW_STORE_ID];
    char owner[HW_STORE_ID];
    int64_t version, seq, at_ms;
    hw_seal_key *key; // of kind "key": the owner's, once it was needed
    char *search;     // of kind "person": folded name, code, birth date
} hw_item;

typedef struct hw_index {
    hw_item *items; // in the order they were first made
    int count, capacity;
    int *slots; // open addressing: item number + 1, 0 empty; a power of two, at most half full
    int slot_count;
} hw_index;

/// Where the chain stands.
typedef struct hw_chain {
    int64_t seq;
    unsigned char link[HW_SEAL_HASH];
} hw_chain;

/// A key made in the transaction under way.
typedef struct hw_new_key {
    char owner[HW_STORE_ID];
    hw_seal_key key;
} hw_new_key;

struct hw_store {
    pthread_mutex_t mutex; // over everything below
    hw_sql *sql;
    char *url;
    char *head_file;
    int64_t (*now_ms)(void *user);
    void *user;
    char store_id[HW_STORE_ID];
    hw_seal_key master, wrap_key, chain_key, head_key, name_key; // derived from master
    hw_seal_pair worker;
    const struct hw_guest *guest; // this is a guest's: none of the keys above is there. Else NULL
    hw_chain chain;               // as far as the index has read
    hw_index index;
    int head_place;                            // of the two in the head file, the one written last
    bool is_damaged;                           // opened all the same: to read only
    hw_arena_mark marks[2];                    // the job's scratch when the call began
    char spoilt[HW_STORE_SPOILT][HW_STORE_ID]; // jobs whose rows were met changed
    int spoilt_count;
    // the transaction under way
    hw_chain next;
    hw_arena *pending_into;
    hw_entry pending[HW_STORE_PENDING];
    int pending_count;
    hw_new_key new_keys[HW_STORE_WRITES_MAX];
    int new_key_count;
};

// open.c
/// A second store on the same database with the keys of the first: its own connection in one
/// consistent read, so that a long walk keeps nobody waiting. It reads past broken links.
HW_MUST_USE hw_status hw_store_shadow(hw_job *job, hw_store *store, hw_store **out);
/// An empty store struct for a place; nothing opened yet.
HW_MUST_USE hw_status hw_store_blank(hw_job *job, const hw_store_place *place, hw_store **out);
/// Opens its database, at the newest migration.
HW_MUST_USE hw_status hw_store_connect(hw_job *job, hw_store *store);

// lock.c
/// Makes or reads the row that holds the master key, and derives the others.
HW_MUST_USE hw_status hw_lock_open(hw_job *job, hw_store *store, const hw_store_place *place,
                                   bool *is_new);
/// Digest of the row as it stands, to compare with the chain.
HW_MUST_USE hw_status hw_lock_digest(hw_job *job, hw_store *store,
                                     unsigned char digest[HW_SEAL_HASH]);

// head.c
/// Reads the head file; HW_NOT_FOUND when it holds no head of this store.
HW_MUST_USE hw_status hw_head_read(hw_job *job, hw_store *store, hw_chain *out);
HW_MUST_USE hw_status hw_head_write(hw_job *job, hw_store *store, const hw_chain *head);

// chain.c
hw_bytes hw_bytes_of(const char *text);
/// The link that follows `before` when this entry comes next.
void hw_chain_link(const hw_store *store, const hw_chain *before, const hw_entry *entry,
                   unsigned char link[HW_SEAL_HASH]);
/// Where an empty chain stands.
hw_chain hw_chain_start(const hw_store *store);
/// Entries from `first` on, at most HW_STORE_PAGE.
HW_MUST_USE hw_status hw_chain_page(hw_job *job, hw_store *store, int64_t first, hw_arena *into,
                                    hw_entry **entries, int *count);
/// Brings the index up to the database, checking each link. Fails HW_BAD_FORMAT at a broken one.
HW_MUST_USE hw_status hw_chain_refresh(hw_job *job, hw_store *store);
/// Seals and appends one entry to the transaction under way; entry->kind, id, version, person,
/// owner are given, the rest is filled in.
typedef struct hw_content {
    const char *who, *why;
    hw_bytes body;
} hw_content;
HW_MUST_USE hw_status hw_chain_append(hw_job *job, hw_store *store, hw_entry *entry,
                                      const hw_content *content);
/// Opens who, why and body of an entry.
HW_MUST_USE hw_status hw_entry_open_head(hw_job *job, hw_store *store, const hw_entry *entry,
                                         hw_arena *into, const char **who);
HW_MUST_USE hw_status hw_entry_open_body(hw_job *job, hw_store *store, const hw_entry *entry,
                                         hw_arena *into, hw_content *out);
/// One entry by name, if it is there.
HW_MUST_USE hw_status hw_entry_look(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                                    hw_entry *out, bool *is_there);
/// One entry by name. HW_NOT_FOUND.
HW_MUST_USE hw_status hw_entry_find(hw_job *job, hw_store *store, hw_store_ref ref, hw_arena *into,
                                    hw_entry *out);

// index.c
hw_item *hw_index_find(const hw_index *index, const char *kind, const char *id);
HW_MUST_USE hw_status hw_index_note(hw_job *job, hw_index *index, const hw_entry *entry);
void hw_index_free(hw_index *index);
/// Folds case (Latin, Greek, Cyrillic letters) so that search finds what people type.
HW_MUST_USE hw_status hw_index_fold(hw_job *job, const char *text, hw_arena *into,
                                    const char **out);
/// Whether each word of the folded `text` is part of the item's search words.
bool hw_index_matches(const hw_item *item, const char *text);
/// Reads a person's search words out of its body.
HW_MUST_USE hw_status hw_index_person(hw_job *job, hw_store *store, const hw_entry *entry);

// keys.c
/// The data key of an owner. HW_NOT_FOUND when there is none or it was destroyed.
HW_MUST_USE hw_status hw_key_get(hw_job *job, hw_store *store, const char *owner, hw_seal_key *out);
bool hw_key_is_erased(const hw_store *store, const char *owner);
/// Makes one, within the transaction under way.
HW_MUST_USE hw_status hw_key_make(hw_job *job, hw_store *store, const char *owner, const char *who);
/// Digest of an owner's row; HW_NOT_FOUND when there is none.
HW_MUST_USE hw_status hw_key_digest(hw_job *job, hw_store *store, const char *owner,
                                    unsigned char digest[HW_SEAL_HASH]);

// write.c
void hw_store_enter(hw_job *job, hw_store *store);
/// Ends what _enter began: undoes an open transaction, gives scratch back where it failed (workers
/// ask for jobs all day), lets others in.
hw_status hw_store_leave(hw_job *job, hw_store *store, hw_status status);
/// Begins a write: one writer over all processes, the index up to date.
HW_MUST_USE hw_status hw_write_begin(hw_job *job, hw_store *store);
/// Commits, notes the head outside, brings the index up.
HW_MUST_USE hw_status hw_write_end(hw_job *job, hw_store *store);
int64_t hw_store_now(const hw_store *store);

// record.c
/// Appends records to the transaction under way.
HW_MUST_USE hw_status hw_record_append(hw_job *job, hw_store *store, const hw_store_write *writes,
                                       int count, hw_arena *into, hw_store_head *heads);
/// What can be told before the store is asked: names, sizes, JSON.
HW_MUST_USE hw_status hw_record_check(hw_job *job, const hw_store_write *writes, int count);
/// Fills a row from an entry, with or without the body.
HW_MUST_USE hw_status hw_record_row(hw_job *job, hw_store *store, const hw_entry *entry,
                                    bool with_body, hw_arena *into, hw_store_row *out);
bool hw_kind_is_ours(const char *kind);
/// Whose key seals what belongs to `person`: it must exist. "" is the clinic.
HW_MUST_USE hw_status hw_person_check(hw_job *job, hw_store *store, const char *person);
bool hw_id_is(const char *id);

#endif
