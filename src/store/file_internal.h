// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_STORE_FILE_INTERNAL_H
#define HW_STORE_FILE_INTERNAL_H

#include "store/store_internal.h"

#include <stdio.h>

enum {
    HW_FILE_FACTS = HW_SEAL_KEY + HW_SEAL_STREAM_HEADER + HW_SEAL_HASH + 8,
    HW_FILE_IDENTITY = 8 + HW_STORE_ID + HW_STORE_HASH,
};

/// What the entry of a file keeps, sealed.
typedef struct hw_file_facts {
    hw_seal_key key;
    unsigned char header[HW_SEAL_STREAM_HEADER];
    unsigned char digest[HW_SEAL_HASH]; // of all sealed chunks
    int64_t byte_count;
} hw_file_facts;

/// A file being opened.
typedef struct hw_file_progress {
    const hw_file_facts *facts;
    unsigned char *to;
    int64_t chunk; // the next one
    int64_t byte_count;
} hw_file_progress;

hw_bytes hw_file_identity(const hw_store *store, const char *id, char text[HW_FILE_IDENTITY]);
int64_t hw_file_chunks(int64_t byte_count);
HW_MUST_USE hw_status hw_file_facts_of(hw_job *job, hw_store *store, const hw_entry *entry,
                                       hw_file_facts *out);
/// Some chunks from number `first` on: (number, sealed).
HW_MUST_USE hw_status hw_file_chunk_page(hw_job *job, hw_store *store, const char *id,
                                         int64_t first, hw_arena *into, hw_sql_rows *out);

#endif
