// SPDX-License-Identifier: GPL-3.0-or-later
#include "crew_tests.h"
#include "near.h"
#include "sandbox/sandbox.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PIECES = 200, CRASHES = 3, HANGS = 7, FAILS = 11, LONG = 13, LONG_BYTES = 1 << 20 };

static hw_status work(hw_job *job, void *with, int piece, hw_arena *into, hw_bytes *out)
{
    (void)with;
    const char *text = NULL;
    char *bytes = NULL;
    if (piece == CRASHES) _exit(9);
    if (piece == HANGS) pause();
    if (piece == FAILS) return hw_fail(job, HW_BAD_FORMAT, "piece %d is no scan", piece);
    if (piece == LONG) { // far more than a socket holds
        HW_ALLOC(job, into, bytes, LONG_BYTES);
        memset(bytes, 'x', LONG_BYTES);
        *out = (hw_bytes){(unsigned char *)bytes, LONG_BYTES};
        return HW_OK;
    }
    HW_TRY(hw_text_format(job, into, &text, "%d squared is %d", piece, piece * piece));
    *out = (hw_bytes){(const unsigned char *)text, strlen(text)};
    return HW_OK;
}

typedef struct seen {
    int count, failed, stop_at;
} seen;

static hw_status take(hw_job *job, void *with, int piece, hw_status status, hw_bytes bytes)
{
    seen *of = with;
    char wanted[64];
    assert_int_equal(piece, of->count++);
    if (of->stop_at && of->count == of->stop_at)
        return hw_fail(job, HW_IO_FAILED, "the disk is full");
    of->failed += status != HW_OK;
    if (piece == CRASHES) assert_non_null(strstr((const char *)bytes.at, "broke off"));
    if (piece == HANGS) assert_non_null(strstr((const char *)bytes.at, "longer than 1 seconds"));
    if (piece == FAILS) assert_string_equal((const char *)bytes.at, "piece 11 is no scan");
    if (piece == LONG) assert_int_equal(bytes.count, LONG_BYTES);
    if (status != HW_OK || piece == LONG) return HW_OK;
    snprintf(wanted, sizeof wanted, "%d squared is %d", piece, piece * piece);
    assert_string_equal((const char *)bytes.at, wanted);
    return HW_OK;
}

void test_crew__answers_come_in_order_and_a_crash_costs_its_piece(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    for (int processes = 1; processes <= 3; processes += 2) {
        seen of = {0};
        const hw_crew crew = {processes, PIECES, 1, (size_t)64 << 20, work, take, &of};
        CHECK_OK(&room.job, hw_crew_run(&room.job, &crew));
        assert_int_equal(of.count, PIECES);
        assert_int_equal(of.failed, 3);
    }
    hw_test_close(&room);
}

static bool at_once(void *user)
{
    (void)user;
    return true;
}

void test_crew__it_stops_when_asked_and_when_the_taker_fails(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    seen of = {.stop_at = 2};
    const hw_crew crew = {2, PIECES, 1, (size_t)64 << 20, work, take, &of};
    CHECK_FAILS(&room.job, hw_crew_run(&room.job, &crew), HW_IO_FAILED, "full");
    room.job.cancelled = at_once;
    CHECK_FAILS(&room.job, hw_crew_run(&room.job, &crew), HW_CANCELLED, "stopped");
    hw_test_close(&room);
}
