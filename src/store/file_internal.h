// SPDX-License-Identifier: GPL-3.0-or-later
// Bytes of any length as sealed chunks of a stream, rows of a table: of files, of parcels.
#ifndef HW_STORE_FILE_INTERNAL_H
#define HW_STORE_FILE_INTERNAL_H

#include "store/store_internal.h"

#include <stdio.h>

enum {
    HW_FILE_FACTS = HW_SEAL_KEY + HW_SEAL_STREAM_HEADER + HW_SEAL_HASH + 8,
    HW_FILE_PASS = HW_SEAL_HASH + HW_SEAL_KEY + HW_SEAL_STREAM_HEADER + 8,
    HW_FILE_IDENTITY = 8 + HW_STORE_ID + HW_STORE_HASH,
};

/// What opens sealed chunks: of a file, its entry keeps it, sealed.
typedef struct hw_file_facts {
    hw_seal_key key;
    unsigned char header[HW_SEAL_STREAM_HEADER];
    unsigned char digest[HW_SEAL_HASH]; // of all sealed chunks
    int64_t byte_count;
} hw_file_facts;

/// Which table, and whose rows of it: the hash of a file, the id of a parcel's job.
typedef struct hw_chunks {
    bool is_parcel;
    const char *id;
    hw_bytes identity; // what each chunk is bound to
} hw_chunks;

/// Sealed in memory, before the database is asked for anything.
typedef struct hw_sealed {
    hw_file_facts facts;
    unsigned char *bytes; // all chunks one behind the other; free() them
    int64_t chunk_count;
} hw_sealed;

// chunks.c
int64_t hw_chunk_count(int64_t byte_count);

/// Seals by a fresh key; the digest is keyed by `sum_key`.
HW_MUST_USE hw_status hw_chunks_seal(hw_job *job, const hw_seal_key *sum_key, hw_bytes identity,
                                     hw_bytes bytes, hw_sealed *out);

/// Adds the rows, within the transaction under way.
HW_MUST_USE hw_status hw_chunks_add(hw_job *job, hw_store *store, const hw_chunks *of,
                                    const hw_sealed *sealed);

/// Opens all of them; takes the store's lock for a few at a time, not for the whole.
///
///   fails   HW_BAD_FORMAT a chunk is missing, changed or of another stream
HW_MUST_USE hw_status hw_chunks_open(hw_job *job, hw_store *store, const hw_chunks *of,
                                     const hw_file_facts *facts, hw_arena *into, hw_bytes *out);

/// Digest and number of the rows as they stand, any too many included, in the read under way.
HW_MUST_USE hw_status hw_chunks_sum(hw_job *job, hw_store *store, const hw_chunks *of,
                                    const hw_seal_key *sum_key, unsigned char digest[HW_SEAL_HASH],
                                    int64_t *count);

// file.c
hw_bytes hw_file_identity(const hw_store *store, const char *id, char text[HW_FILE_IDENTITY]);
HW_MUST_USE hw_status hw_file_facts_of(hw_job *job, hw_store *store, const hw_entry *entry,
                                       hw_file_facts *out);

/// What lets a guest read one file of this person: hash, key, header, byte count. Within the
/// transaction under way.
///
///   fails   HW_NOT_FOUND; HW_BAD_INPUT another person's
HW_MUST_USE hw_status hw_file_pass(hw_job *job, hw_store *store, const char *hash,
                                   const char *person, unsigned char pass[HW_FILE_PASS]);

/// The file of that hash by one of the passes: hash, then as hw_store_file_get.
///
///   fails   HW_BAD_INPUT none of the passes is for this file
HW_MUST_USE hw_status hw_file_by_pass(hw_job *job, hw_store *store, hw_bytes passes,
                                      const char *hash, hw_arena *into, hw_bytes *out);

#endif
