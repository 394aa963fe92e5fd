// SPDX-License-Identifier: GPL-3.0-or-later
#include "read_internal.h"

#include <string.h>

span next_line(span *text)
{
    span line = {text->at, text->at};
    while (line.end < text->end && *line.end != '\n' && *line.end != '\r') line.end++;
    text->at = line.end;
    if (text->at < text->end && *text->at == '\r') text->at++;
    bool crlf =
        text->at < text->end && *text->at == '\n' && (text->at == line.end || text->at[-1] == '\r');
    if (crlf) text->at++;
    return line;
}

bool token_is(span token, const char *word)
{
    const char *at = token.at;
    for (; *word && at < token.end; word++, at++) {
        char c = *at >= 'A' && *at <= 'Z' ? (char)(*at - 'A' + 'a') : *at;
        if (c != *word) return false;
    }
    return !*word && at == token.end;
}

bool token_integer(span token, long long *out)
{
    const char *at = token.at;
    bool negative = at < token.end && *at == '-';
    if (at < token.end && (*at == '-' || *at == '+')) at++;
    if (at == token.end || token.end - at > 18) return false;
    long long value = 0;
    for (; at < token.end; at++) {
        if (*at < '0' || *at > '9') return false;
        value = 10 * value + (*at - '0');
    }
    *out = negative ? -value : value;
    return true;
}

// The many spellings: nan, -nan(ind), inf, -Infinity, 1.#IND, 1.#INF, 1.#QNAN.
static bool is_not_finite(span token)
{
    while (token.at < token.end && (*token.at == '-' || *token.at == '+')) token.at++;
    if (memchr(token.at, '#', span_length(token))) return true;
    char start[4] = {0};
    for (int i = 0; i < 3 && token.at + i < token.end; i++)
        start[i] = (char)(token.at[i] | 0x20); // lower case
    return strcmp(start, "nan") == 0 || strcmp(start, "inf") == 0;
}

hw_status read_coordinate(hw_job *job, span token, double *out)
{
    if (hw_text_number(token.at, span_length(token), out)) return HW_OK;
    int shown = span_length(token) < 24 ? (int)span_length(token) : 24;
    for (int i = 0; i < shown; i++) // the sentence is shown to people: plain letters only
        if (token.at[i] < 32 || token.at[i] > 126) shown = i;
    if (shown == 0) return hw_fail(job, HW_BAD_FORMAT, "a point of the scan lacks a coordinate");
    if (is_not_finite(token))
        return hw_fail(job, HW_BAD_FORMAT,
                       "a coordinate of the scan is not a number or infinite ('%.*s')", shown,
                       token.at);
    return hw_fail(job, HW_BAD_FORMAT, "a coordinate of the scan is no number ('%.*s')", shown,
                   token.at);
}
