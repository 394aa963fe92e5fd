// SPDX-License-Identifier: GPL-3.0-or-later
// The parsers of paths, queries and cookies: whatever is taken must be harmless and must mean one
// thing only.
#include "httpd/httpd.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size);

static bool is_harmless(const char *segment)
{
    if (!segment[0] || strcmp(segment, ".") == 0 || strcmp(segment, "..") == 0) return false;
    for (const char *at = segment; *at; at++)
        if (*at == '/' || *at == '\\' || ((unsigned char)*at < 0x20) || *at == 0x7f) return false;
    return hw_http_is_utf8(segment);
}

// Encoded again, each byte as %XX, it must read as the same segments.
static void check_again(hw_job *job, hw_arena *into, const hw_http_path *path)
{
    hw_writer writer = hw_writer_begin(into);
    hw_bytes text = {0};
    hw_http_path again = {0};
    for (int i = 0; i < path->count; i++) {
        hw_writer_print(&writer, "/");
        for (const char *at = path->segments[i]; *at; at++)
            hw_writer_print(&writer, "%%%02X", (unsigned)(unsigned char)*at);
    }
    if (hw_writer_end(job, &writer, &text) != HW_OK) return;
    if (hw_http_path_read(job, (const char *)text.at, into, &again) != HW_OK) abort();
    if (again.count != path->count) abort();
    for (int i = 0; i < path->count; i++)
        if (strcmp(again.segments[i], path->segments[i]) != 0) abort();
}

static void check_query(hw_job *job, hw_arena *into, const char *text)
{
    const char *value = NULL;
    if (hw_http_query_read(job, text, "name", into, &value) != HW_OK || !value) return;
    if (!hw_http_is_utf8(value)) abort();
    for (const char *at = value; *at; at++)
        if ((unsigned char)*at < 0x20) abort();
}

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    hw_job job;
    hw_arena *into = hw_arena_new((size_t)16 << 20);
    if (!into || hw_job_open(&job, (size_t)16 << 20) != HW_OK) abort();
    char *text = malloc(size + 1); // of its exact size, so that an overrun is seen
    char cookie[9];
    hw_http_path path = {0};
    if (!text) abort();
    memcpy(text, data, size);
    text[size] = 0;
    if (hw_http_path_read(&job, text, into, &path) == HW_OK) {
        for (int i = 0; i < path.count; i++)
            if (!is_harmless(path.segments[i])) abort();
        if (path.count > 0) check_again(&job, into, &path);
    }
    check_query(&job, into, text);
    if (hw_http_cookie_read(text, "hw", cookie, sizeof cookie) &&
        (strlen(cookie) >= sizeof cookie || strchr(cookie, ';')))
        abort();
    free(text);
    hw_job_close(&job);
    hw_arena_free(into);
    return 0;
}
