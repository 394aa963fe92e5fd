// SPDX-License-Identifier: GPL-3.0-or-later
// The page's files, as they lie in their folder. Only known kinds, only plain names, never above.
#include "api_internal.h"

#include <string.h>

enum { PAGE_FILE_BYTES = 16 << 20 };

static const char *type_of(const char *name)
{
    static const struct {
        const char *end, *type;
    } types[] = {{".html", "text/html; charset=utf-8"},
                 {".js", "text/javascript; charset=utf-8"},
                 {".css", "text/css; charset=utf-8"},
                 {".svg", "image/svg+xml"},
                 {".png", "image/png"},
                 {".woff2", "font/woff2"},
                 {".webmanifest", "application/manifest+json"},
                 {".json", "application/json; charset=utf-8"}};
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot && i < sizeof types / sizeof *types; i++)
        if (strcmp(dot, types[i].end) == 0) return types[i].type;
    return NULL;
}

// The parser let no "..", slash or control byte through; here names are held to plain letters.
static bool is_plain(const char *segment)
{
    return segment[0] != '.' &&
           segment[strspn(segment, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
                                   "0123456789._-")] == 0;
}

// Segment by segment, each looked at: a path is never glued from what came.
static hw_status spell_path(hw_api *api, const hw_http_path *path, hw_job *job, hw_arena *into,
                            const char **out)
{
    hw_writer writer = hw_writer_begin(into);
    hw_bytes text = {0};
    hw_writer_print(&writer, "%s", api->ui);
    for (int i = 0; i < path->count; i++) {
        if (!is_plain(path->segments[i])) return hw_fail(job, HW_NOT_FOUND, "no such file");
        hw_writer_print(&writer, "/%s", path->segments[i]);
    }
    if (path->count == 0) hw_writer_print(&writer, "/index.html");
    HW_TRY(hw_writer_end(job, &writer, &text));
    *out = (const char *)text.at;
    return HW_OK;
}

// Read anew each time: what is served is what lies there.
void api_page_file(hw_api *api, const hw_http_path *path, hw_job *job, hw_arena *into,
                   hw_http_reply *reply)
{
    const char *file = NULL;
    const char *type = type_of(path->count ? path->segments[path->count - 1] : "index.html");
    hw_status status = type && api->ui ? spell_path(api, path, job, into, &file) : HW_NOT_FOUND;
    if (status == HW_OK) status = hw_file_read(job, file, PAGE_FILE_BYTES, into, &reply->body);
    if (status != HW_OK) {
        static const char none[] = "There is no such page here.\n";
        reply->code = 404;
        reply->type = "text/plain; charset=utf-8";
        reply->body = (hw_bytes){(const unsigned char *)none, sizeof none - 1};
        return;
    }
    reply->code = 200;
    reply->type = type;
}
