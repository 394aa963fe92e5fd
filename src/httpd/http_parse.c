// SPDX-License-Identifier: GPL-3.0-or-later
#include "http_parse.h"

#include <string.h>

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

// Decodes [from, to) into `out`, which has room for as many bytes and a zero. False: a broken % or
// a control byte, a zero included.
static bool decode(const char *from, const char *to, bool plus_is_blank, char *out)
{
    while (from < to) {
        int c = (unsigned char)*from++;
        if (c == '%') {
            int high = from < to ? hex_digit(from[0]) : -1;
            int low = to - from >= 2 ? hex_digit(from[1]) : -1;
            if (high < 0 || low < 0) return false;
            c = 16 * high + low;
            from += 2;
        } else if (c == '+' && plus_is_blank) {
            c = ' ';
        }
        if (c < 0x20 || c == 0x7f) return false;
        *out++ = (char)c;
    }
    *out = 0;
    return true;
}

// How many bytes the character at `at` has, 0 when it is malformed. RFC 3629 section 4.
static int utf8_length(const unsigned char *at)
{
    if (at[0] < 0x80) return 1;
    int more = at[0] >= 0xf0 ? 3 : at[0] >= 0xe0 ? 2 : 1;
    if (at[0] < 0xc2 || at[0] > 0xf4) return 0;
    for (int i = 1; i <= more; i++)
        if ((at[i] & 0xc0) != 0x80) return 0; // a zero byte ends it here too
    bool is_bad = (at[0] == 0xe0 && at[1] < 0xa0) || (at[0] == 0xed && at[1] > 0x9f) ||
                  (at[0] == 0xf0 && at[1] < 0x90) || (at[0] == 0xf4 && at[1] > 0x8f);
    return is_bad ? 0 : more + 1;
}

bool hw_http_is_utf8(const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    while (*at) {
        int length = utf8_length(at);
        if (length == 0) return false;
        at += length;
    }
    return true;
}

static bool is_plain_segment(const char *segment)
{
    return segment[0] && strcmp(segment, ".") != 0 && strcmp(segment, "..") != 0 &&
           !strpbrk(segment, "/\\") && hw_http_is_utf8(segment);
}

static hw_status bad_path(hw_job *job)
{
    return hw_fail(job, HW_BAD_INPUT, "the address is malformed");
}

hw_status hw_http_path_read(hw_job *job, const char *raw, hw_arena *into, hw_http_path *out)
{
    hw_http_path path = {0};
    if (raw[0] != '/') return bad_path(job);
    for (const char *at = raw + 1; *at || at > raw + 1;) {
        const char *end = at + strcspn(at, "/");
        char *segment = NULL;
        HW_ALLOC(job, into, segment, end - at + 1);
        if (path.count == HW_HTTP_SEGMENTS_MAX || !decode(at, end, false, segment) ||
            !is_plain_segment(segment))
            return bad_path(job);
        path.segments[path.count++] = segment;
        if (!*end) break;
        at = end + 1;
    }
    *out = path;
    return HW_OK;
}

// Decodes one value of a query.
static hw_status read_value(hw_job *job, const char *from, const char *to, hw_arena *into,
                            const char **out)
{
    char *value = NULL;
    HW_ALLOC(job, into, value, to - from + 1);
    if (!decode(from, to, true, value) || !hw_http_is_utf8(value))
        return hw_fail(job, HW_BAD_INPUT, "what follows the '?' of the address is malformed");
    *out = value;
    return HW_OK;
}

hw_status hw_http_query_read(hw_job *job, const char *raw, const char *name, hw_arena *into,
                             const char **out)
{
    const char *found = NULL;
    size_t length = strlen(name);
    for (const char *at = raw; *at;) {
        const char *end = at + strcspn(at, "&");
        if ((size_t)(end - at) > length && at[length] == '=' && strncmp(at, name, length) == 0) {
            if (found) return hw_fail(job, HW_BAD_INPUT, "'%s' is given twice", name);
            HW_TRY(read_value(job, at + length + 1, end, into, &found));
        }
        at = *end ? end + 1 : end;
    }
    *out = found;
    return HW_OK;
}

bool hw_http_cookie_read(const char *header, const char *name, char *value, size_t room)
{
    const char *found = NULL;
    size_t length = strlen(name), found_length = 0;
    for (const char *at = header ? header : ""; *at;) {
        at += strspn(at, " ;");
        size_t whole = strcspn(at, ";");
        if (whole > length && at[length] == '=' && strncmp(at, name, length) == 0) {
            if (found) return false;
            found = at + length + 1;
            found_length = whole - length - 1;
        }
        at += whole;
    }
    while (found_length > 0 && found[found_length - 1] == ' ') found_length--;
    if (!found || found_length + 1 > room) return false;
    memcpy(value, found, found_length);
    value[found_length] = 0;
    return true;
}
