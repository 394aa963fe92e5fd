// SPDX-License-Identifier: GPL-3.0-or-later
// Power cuts. A killed process does not lose the page cache, a cut one does: so every write SQLite
// and the head file make is recorded with every sync, and the disk is rebuilt as it may look after
// a cut at each point: what was synced is there; what was not is there, is not, is there in another
// order or is torn in its middle. Then the store must open, its chain must hold and nothing
// acknowledged may be lost.
#include "files/files.h"
#include "num/num.h"
#include "suites.h"

#include <sqlite3.h>
#include <unistd.h>

enum { FILES = 4, EVENTS_MAX = 20000, SECTOR = 512 };

typedef enum act { WRITE, CUT, SYNC, GONE, SAID } act;

/// One thing that happened, in order.
typedef struct event {
    act what;
    int file;
    sqlite3_int64 at; // WRITE: offset; CUT: size; SAID: words said so far
    unsigned char *bytes;
    int count;
} event;

static struct {
    bool is_on;
    char names[FILES][200];
    int name_count;
    event events[EVENTS_MAX];
    int count;
} tape;

static int file_of(const char *path)
{
    for (int i = 0; i < tape.name_count; i++)
        if (strcmp(tape.names[i], path) == 0) return i;
    HW_ASSERT(tape.name_count < FILES);
    snprintf(tape.names[tape.name_count], sizeof tape.names[0], "%s", path);
    return tape.name_count++;
}

static void record(act what, int file, sqlite3_int64 at, const void *bytes, int count)
{
    if (!tape.is_on || file < 0) return;
    HW_ASSERT(tape.count < EVENTS_MAX);
    event *e = &tape.events[tape.count++];
    *e = (event){what, file, at, NULL, count};
    if (!count) return;
    e->bytes = malloc((size_t)count);
    HW_ASSERT(e->bytes);
    memcpy(e->bytes, bytes, (size_t)count);
}

// The file layer: SQLite's own with a listener in front.
typedef struct heard {
    sqlite3_file base;
    int file; // -1: a temporary one
} heard;

static sqlite3_vfs *real;

static sqlite3_file *below(sqlite3_file *file)
{
    return (sqlite3_file *)(void *)((char *)file + sizeof(heard));
}
static int file_number(sqlite3_file *file)
{
    return ((heard *)(void *)file)->file;
}

static int on_close(sqlite3_file *f)
{
    return below(f)->pMethods->xClose(below(f));
}
static int on_read(sqlite3_file *f, void *to, int count, sqlite3_int64 at)
{
    return below(f)->pMethods->xRead(below(f), to, count, at);
}
static int on_write(sqlite3_file *f, const void *from, int count, sqlite3_int64 at)
{
    record(WRITE, file_number(f), at, from, count);
    return below(f)->pMethods->xWrite(below(f), from, count, at);
}
static int on_truncate(sqlite3_file *f, sqlite3_int64 size)
{
    record(CUT, file_number(f), size, NULL, 0);
    return below(f)->pMethods->xTruncate(below(f), size);
}
static int on_sync(sqlite3_file *f, int flags)
{
    record(SYNC, file_number(f), 0, NULL, 0);
    return below(f)->pMethods->xSync(below(f), flags);
}
static int on_size(sqlite3_file *f, sqlite3_int64 *size)
{
    return below(f)->pMethods->xFileSize(below(f), size);
}
static int on_lock(sqlite3_file *f, int level)
{
    return below(f)->pMethods->xLock(below(f), level);
}
static int on_unlock(sqlite3_file *f, int level)
{
    return below(f)->pMethods->xUnlock(below(f), level);
}
static int on_reserved(sqlite3_file *f, int *out)
{
    return below(f)->pMethods->xCheckReservedLock(below(f), out);
}
static int on_control(sqlite3_file *f, int op, void *more)
{
    return below(f)->pMethods->xFileControl(below(f), op, more);
}
static int on_sector(sqlite3_file *f)
{
    return below(f)->pMethods->xSectorSize(below(f));
}
static int on_device(sqlite3_file *f)
{
    (void)f;
    return 0; // promises nothing: no atomic sector, no order, no safe append
}
static int on_map(sqlite3_file *f, int page, int size, int extend, void volatile **out)
{
    return below(f)->pMethods->xShmMap(below(f), page, size, extend, out);
}
static int on_shared_lock(sqlite3_file *f, int offset, int n, int flags)
{
    return below(f)->pMethods->xShmLock(below(f), offset, n, flags);
}
static void on_barrier(sqlite3_file *f)
{
    below(f)->pMethods->xShmBarrier(below(f));
}
static int on_unmap(sqlite3_file *f, int is_delete)
{
    return below(f)->pMethods->xShmUnmap(below(f), is_delete);
}

static const sqlite3_io_methods methods = {.iVersion = 2,
                                           .xClose = on_close,
                                           .xRead = on_read,
                                           .xWrite = on_write,
                                           .xTruncate = on_truncate,
                                           .xSync = on_sync,
                                           .xFileSize = on_size,
                                           .xLock = on_lock,
                                           .xUnlock = on_unlock,
                                           .xCheckReservedLock = on_reserved,
                                           .xFileControl = on_control,
                                           .xSectorSize = on_sector,
                                           .xDeviceCharacteristics = on_device,
                                           .xShmMap = on_map,
                                           .xShmLock = on_shared_lock,
                                           .xShmBarrier = on_barrier,
                                           .xShmUnmap = on_unmap};

static int on_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out)
{
    (void)vfs;
    heard *h = (heard *)(void *)file;
    h->file = name && tape.is_on ? file_of(name) : -1;
    int code = real->xOpen(real, name, below(file), flags, out);
    file->pMethods = code == SQLITE_OK ? &methods : NULL;
    return code;
}

static int on_delete(sqlite3_vfs *vfs, const char *name, int sync)
{
    (void)vfs;
    if (tape.is_on) record(GONE, file_of(name), 0, NULL, 0);
    return real->xDelete(real, name, sync);
}

static sqlite3_vfs listener;

static void listen_in(void)
{
    if (real) return;
    real = sqlite3_vfs_find(NULL);
    listener = *real;
    listener.zName = "listener";
    listener.szOsFile = (int)sizeof(heard) + real->szOsFile;
    listener.xOpen = on_open;
    listener.xDelete = on_delete;
    assert_int_equal(SQLITE_OK, sqlite3_vfs_register(&listener, 1));
}

// The linker puts this in the place of the real one, in the whole test program.
hw_status __real_hw_file_write_at(hw_job *job, const char *path, size_t offset, hw_bytes bytes);
hw_status __wrap_hw_file_write_at(hw_job *job, const char *path, size_t offset, hw_bytes bytes);
hw_status __wrap_hw_file_write_at(hw_job *job, const char *path, size_t offset, hw_bytes bytes)
{
    if (tape.is_on) {
        record(WRITE, file_of(path), (sqlite3_int64)offset, bytes.at, (int)bytes.count);
        record(SYNC, file_of(path), 0, NULL, 0); // it returns when the disk has it
    }
    return __real_hw_file_write_at(job, path, offset, bytes);
}

/// One file as the disk may hold it.
typedef struct image {
    unsigned char *bytes;
    size_t count, capacity;
    bool is_there;
} image;

static void apply(image *file, const event *e, int keep)
{
    file->is_there = e->what != GONE;
    size_t end = e->what == WRITE ? (size_t)e->at + (size_t)keep : (size_t)e->at;
    if (e->what == GONE) end = 0;
    if (end > file->capacity) {
        file->capacity = 2 * end;
        file->bytes = realloc(file->bytes, file->capacity);
        HW_ASSERT(file->bytes);
    }
    if (end > file->count) memset(file->bytes + file->count, 0, end - file->count);
    if (e->what != WRITE || end > file->count) file->count = end;
    if (e->what == WRITE) memcpy(file->bytes + e->at, e->bytes, (size_t)keep);
}

// What happens to writes that were not synced when the power went.
typedef enum loss { ALL_LOST, ALL_KEPT, SOME_LOST, SOME_TORN, LAST_ONLY, FATES } loss;

static int kept_bytes(const event *e, loss fate, bool is_last, hw_random *random)
{
    if (fate == ALL_KEPT) return e->count;
    if (fate == ALL_LOST) return -1;
    if (fate == LAST_ONLY) return is_last ? e->count : -1; // written out of order: the newest first
    bool is_kept = hw_random_uniform(random) < 0.5;
    if (fate == SOME_LOST || e->what != WRITE) return is_kept ? e->count : -1;
    int torn = (int)(hw_random_uniform(random) * e->count) / SECTOR * SECTOR;
    return is_kept ? torn : -1;
}

// The disk after a cut behind event `end`: for each file, all up to its last sync, then the fate.
static void rebuild(int end, loss fate, hw_random *random, image files[FILES])
{
    int synced[FILES], last[FILES];
    for (int f = 0; f < FILES; f++) synced[f] = last[f] = -1;
    for (int i = 0; i < end; i++) {
        const event *e = &tape.events[i];
        // SQLite removes a file only with its folder synced, or does not care: take it as done
        if (e->what == SYNC || e->what == GONE) synced[e->file] = i;
        if (e->what != SYNC && e->what != SAID) last[e->file] = i;
    }
    for (int f = 0; f < FILES; f++) files[f].count = 0, files[f].is_there = false;
    for (int i = 0; i < end; i++) {
        const event *e = &tape.events[i];
        if (e->what == SYNC || e->what == SAID) continue;
        int keep =
            i <= synced[e->file] ? e->count : kept_bytes(e, fate, i == last[e->file], random);
        if (keep >= 0) apply(&files[e->file], e, keep);
    }
}

static void write_disk(const hw_place *at, const char *folder, const image files[FILES])
{
    for (int f = 0; f < tape.name_count; f++) {
        char path[300];
        const char *name = strrchr(tape.names[f], '/');
        snprintf(path, sizeof path, "%s%s", folder, name);
        unlink(path);
        if (!files[f].is_there) continue;
        FILE *file = fopen(path, "wb");
        assert_non_null(file);
        if (files[f].count)
            assert_int_equal(files[f].count, fwrite(files[f].bytes, 1, files[f].count, file));
        fclose(file);
    }
    (void)at;
}

enum { WORDS = 24 };

typedef struct story {
    char ids[WORDS][HW_STORE_ID];
    int64_t versions[WORDS];
    char hash[HW_STORE_HASH];
    int file_word; // which word the file was
} story;

// What is recorded: people, visits, changes, a file, an erasure, a job; after each an event SAID.
static void tell_story(hw_place *at, story *out)
{
    hw_job *job = &at->room.job;
    const char *person = NULL, *visit = NULL;
    hw_store_head head;
    for (int i = 0; i < WORDS; i++) {
        if (i % 6 == 0) {
            head = hw_write(at, (hw_store_ref){"person", NULL, 0}, NULL, "{\"name\":\"A\"}");
            person = head.id;
            visit = NULL;
        } else {
            head = hw_write(at, (hw_store_ref){"visit", visit, visit ? head.version : 0}, person,
                            "{}");
            visit = head.id;
        }
        memcpy(out->ids[i], head.id, HW_STORE_ID);
        out->versions[i] = head.version;
        if (i == 9) {
            static const unsigned char bytes[150000];
            hw_store_file file = {{bytes, sizeof bytes}, person, NULL, ""};
            CHECK_OK(job, hw_store_file_put(job, at->store, &file, out->hash));
            out->file_word = i;
        }
        record(SAID, 0, i + 1, NULL, 0);
    }
}

static int said_before(int end)
{
    int said = 0;
    for (int i = 0; i < end; i++)
        if (tape.events[i].what == SAID) said = (int)tape.events[i].at;
    return said;
}

// Opens what the power cut left and asks for all that was said before it.
static void check_disk(hw_place *at, const hw_store_place *place, const story *told, int said)
{
    hw_job *job = &at->room.job;
    hw_arena_mark mark = hw_arena_here(at->room.into);
    hw_store *store = NULL;
    hw_store_report report;
    CHECK_OK(job, hw_store_open(job, place, &store));
    for (int i = 0; i < said; i++) {
        hw_store_row row;
        bool is_person = i % 6 == 0;
        hw_store_ref ref = {is_person ? "person" : "visit", told->ids[i], told->versions[i]};
        CHECK_OK(job, hw_store_get(job, store, ref, at->room.into, &row));
    }
    if (said > told->file_word) {
        hw_bytes bytes;
        CHECK_OK(job, hw_store_file_get(job, store, told->hash, at->room.into, &bytes));
    }
    CHECK_OK(job, hw_store_verify(job, store, NULL, at->room.into, &report));
    hw_store_close(store);
    hw_arena_rewind(at->room.into, mark);
}

static void forget_tape(void)
{
    for (int i = 0; i < tape.count; i++) free(tape.events[i].bytes);
    memset(&tape, 0, sizeof tape);
}

static void test_replay__after_any_power_cut_nothing_acknowledged_is_lost(void **state)
{
    hw_place *at = hw_place_of(state);
    hw_store_place place = at->place;
    story told;
    char folder[120], url[160], head[160];
    hw_random random = hw_random_begin(7);
    image files[FILES] = {{0}};
    // record a second store from its first byte on, its key made before: that is not the store's
    hw_store_close(at->store);
    at->store = NULL;
    listen_in();
    snprintf(at->url, sizeof at->url, "%s/told.db", at->folder);
    snprintf(head, sizeof head, "%s/told.head", at->folder);
    at->place.head_file = head;
    tape.is_on = true;
    CHECK_OK(&at->room.job, hw_store_open(&at->room.job, &at->place, &at->store));
    record(SAID, 0, 0, NULL, 0);
    tell_story(at, &told);
    hw_store_close(at->store);
    at->store = NULL;
    tape.is_on = false;
    snprintf(folder, sizeof folder, "%s/cut", at->folder);
    CHECK_OK(&at->room.job, hw_file_make_folder(&at->room.job, folder));
    snprintf(url, sizeof url, "%s/told.db", folder);
    char cut_head[160];
    snprintf(cut_head, sizeof cut_head, "%s/told.head", folder);
    place.url = url;
    place.head_file = cut_head;
    int cuts = 0, step = hw_test_rounds(10) == 10 ? 1 : 15;
    for (int end = 1; end <= tape.count; end += step)
        for (int fate = 0; fate < FATES; fate++, cuts++) {
            rebuild(end, (loss)fate, &random, files);
            write_disk(at, folder, files);
            check_disk(at, &place, &told, said_before(end));
        }
    print_message("%d events, %d power cuts\n", tape.count, cuts);
    for (int f = 0; f < FILES; f++) free(files[f].bytes);
    forget_tape();
}

// The check can fail: were commits not synced (as synchronous=OFF would have it), writes get lost.
static void test_replay__would_notice_a_missing_sync(void **state)
{
    hw_place *at = hw_place_of(state);
    story told;
    image files[FILES] = {{0}};
    hw_random random = hw_random_begin(8);
    char head[160], folder[120], url[160], cut_head[160];
    hw_store_close(at->store);
    at->store = NULL;
    listen_in();
    snprintf(at->url, sizeof at->url, "%s/told.db", at->folder);
    snprintf(head, sizeof head, "%s/told.head", at->folder);
    at->place.head_file = head;
    tape.is_on = true;
    CHECK_OK(&at->room.job, hw_store_open(&at->room.job, &at->place, &at->store));
    tell_story(at, &told);
    int end = tape.count, wal = -1;
    hw_store_close(at->store);
    at->store = NULL;
    tape.is_on = false;
    for (int f = 0; f < tape.name_count; f++)
        if (strstr(tape.names[f], "-wal")) wal = f;
    assert_true(wal >= 0);
    for (int i = 0; i < end; i++) // as if the log's syncs had never been asked for
        if (tape.events[i].what == SYNC && tape.events[i].file == wal)
            tape.events[i].what = SAID, tape.events[i].at = 0;
    rebuild(end, ALL_LOST, &random, files);
    snprintf(folder, sizeof folder, "%s/cut", at->folder);
    CHECK_OK(&at->room.job, hw_file_make_folder(&at->room.job, folder));
    write_disk(at, folder, files);
    snprintf(url, sizeof url, "%s/told.db", folder);
    snprintf(cut_head, sizeof cut_head, "%s/told.head", folder);
    at->place.url = url;
    at->place.head_file = cut_head;
    CHECK_FAILS(&at->room.job, hw_store_open(&at->room.job, &at->place, &at->store), HW_BAD_FORMAT,
                "records are gone");
    for (int f = 0; f < FILES; f++) free(files[f].bytes);
    forget_tape();
}

int hw_test_replay(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(
            test_replay__after_any_power_cut_nothing_acknowledged_is_lost, hw_place_set_up,
            hw_place_tear_down),
        cmocka_unit_test_setup_teardown(test_replay__would_notice_a_missing_sync, hw_place_set_up,
                                        hw_place_tear_down),
    };
    return cmocka_run_group_tests_name("replay", tests, NULL, NULL);
}
