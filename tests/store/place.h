// SPDX-License-Identifier: GPL-3.0-or-later
// A place for a store, on either database, that is gone after the test; and short words for writes.
#ifndef HW_TESTS_STORE_PLACE_H
#define HW_TESTS_STORE_PLACE_H

#include "near.h"
#include "store/store.h"

/// What one test works with. `state` of every test of the suite is one of these.
typedef struct hw_place {
    hw_test_room room;
    hw_store_place place;
    hw_store *store;
    char folder[64];
    char url[200];
    char key_file[80];
    char head_file[80];
    _Atomic int64_t now_ms; // the test's clock
    bool is_server;
} hw_place;

/// cmocka set-ups: a fresh, open store. The second skips the test where PostgreSQL is missing.
int hw_place_set_up(void **state);
int hw_place_set_up_server(void **state);
int hw_place_tear_down(void **state);

/// Closes and opens again, by the same key. A failure fails the test.
void hw_place_reopen(hw_place *at);

/// Writes one record and returns its head; `id` NULL for a new one.
hw_store_head hw_write(hw_place *at, hw_store_ref ref, const char *person, const char *body);

/// A guest of that name ("attic"): its pair and line in the test's folder, registered and open. Close
/// it. `id` (HW_STORE_ID bytes) may be NULL.
hw_guest *hw_place_guest(hw_place *at, const char *name, char *id);

/// Where that guest keeps what it has.
hw_guest_place hw_place_of_guest(hw_place *at, const char *name);

/// A person "Marta Brise", HB-0042, born 1979-05-17 (invented), and returns its id.
const char *hw_write_person(hw_place *at);

/// A statement straight into the database, behind the store's back; how many rows it touched.
long hw_behind(hw_place *at, const char *sql);

/// Whether one of `count` texts stands in any file of the test's folder or, with a server, in the
/// server's data or its log, which writes down every statement. Says which.
bool hw_stands_somewhere(hw_place *at, const char *const *texts, int count);

/// The PostgreSQL dies without writing anything down, and is started again.
void hw_place_crash_server(void);

/// Ends the PostgreSQL the set-up started, if any.
void hw_place_stop_server(void);

#endif
