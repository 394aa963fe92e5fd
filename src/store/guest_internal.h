// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_STORE_GUEST_INTERNAL_H
#define HW_STORE_GUEST_INTERNAL_H

#include "store/store_internal.h"

enum { HW_GUEST_MARK = (HW_STORE_ID - 1) / 2 }; // bytes of an id

/// What a clinic and one guest share, the same from either side.
typedef struct hw_guest_keys {
    hw_seal_key jobs;    // seals the keys of jobs, to the guest
    hw_seal_key parcels; // seals the lists of what is in a parcel, to the clinic
    hw_seal_key line;    // proves the clinic's line
} hw_guest_keys;

/// A guest: its store is a connection and the clinic's id, no key of the clinic's.
struct hw_guest {
    hw_store *store;
    char id[HW_STORE_ID];
    hw_guest_keys keys;
};

// guest_line.c
HW_MUST_USE hw_status hw_guest_keys_of(hw_job *job, const unsigned char secret[32],
                                       const unsigned char open[32], hw_guest_keys *out);

/// "heelwright-worker.1.KEY.CHECK"
HW_MUST_USE hw_status hw_guest_line_write(hw_job *job, const unsigned char open[32], hw_arena *into,
                                          const char **out);
HW_MUST_USE hw_status hw_guest_line_read(hw_job *job, const char *line, unsigned char open[32]);

/// The clinic's line as it reads.
typedef struct hw_clinic_line {
    char store_id[HW_STORE_ID], guest[HW_STORE_ID];
    unsigned char open[32];
    unsigned char proof[HW_SEAL_HASH];
} hw_clinic_line;

/// "heelwright-clinic.1.STORE.GUEST.KEY.PROOF"; `store` has the clinic's pair.
HW_MUST_USE hw_status hw_clinic_line_write(hw_job *job, const hw_store *store, const char *guest,
                                           const hw_guest_keys *keys, hw_arena *into,
                                           const char **out);

/// Reads it with the guest's secret, and proves it.
HW_MUST_USE hw_status hw_clinic_line_read(hw_job *job, const char *line,
                                          const unsigned char secret[32], hw_clinic_line *out,
                                          hw_guest_keys *keys);

// guests.c
/// A registered guest, as the clinic knows it. Wipe `keys` when they were used.
typedef struct hw_guest_known {
    const char *name;
    bool is_withdrawn;
    hw_guest_keys keys;
    unsigned char open[32];
} hw_guest_known;

/// What is known of it, and the keys shared with it. `name` lives in `into`.
///
///   fails   HW_NOT_FOUND
HW_MUST_USE hw_status hw_guest_find(hw_job *job, hw_store *store, const char *id, hw_arena *into,
                                    hw_guest_known *out);

/// By the index alone: nothing is opened.
bool hw_guest_is_withdrawn(const hw_store *store, const char *id);

/// The next guest that was ever registered, after number `*at` of the index; false when there is
/// none.
bool hw_guest_next(const hw_store *store, int *at, const char **id);

#endif
