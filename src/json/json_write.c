// SPDX-License-Identifier: GPL-3.0-or-later
#include "json/json.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void write_quoted(hw_writer *writer, const char *text)
{
    hw_writer_bytes(writer, "\"", 1);
    for (const unsigned char *at = (const unsigned char *)text; *at; at++) {
        if (*at == '"' || *at == '\\')
            hw_writer_print(writer, "\\%c", *at);
        else if (*at == '\n')
            hw_writer_bytes(writer, "\\n", 2);
        else if (*at < 0x20)
            hw_writer_print(writer, "\\u%04x", *at);
        else
            hw_writer_bytes(writer, at, 1);
    }
    hw_writer_bytes(writer, "\"", 1);
}

// Comma, new line, indent and key: all that stands before a value.
static void lead_in(hw_json_out *out, const char *key)
{
    if (out->depth > 0) {
        bool *is_empty = &out->is_empty[out->depth - 1];
        hw_writer_print(&out->writer, "%s\n%*s", *is_empty ? "" : ",", 2 * out->depth, "");
        *is_empty = false;
    }
    if (key) {
        write_quoted(&out->writer, key);
        hw_writer_bytes(&out->writer, ": ", 2);
    }
}

hw_json_out hw_json_begin(hw_arena *into)
{
    return (hw_json_out){.writer = hw_writer_begin(into)};
}

void hw_json_open(hw_json_out *out, const char *key, char bracket)
{
    HW_ASSERT(out->depth < HW_JSON_DEPTH_MAX && (bracket == '{' || bracket == '['));
    lead_in(out, key);
    hw_writer_bytes(&out->writer, &bracket, 1);
    out->closers[out->depth] = bracket == '{' ? '}' : ']';
    out->is_empty[out->depth++] = true;
}

void hw_json_close(hw_json_out *out)
{
    HW_ASSERT(out->depth > 0);
    out->depth--;
    if (!out->is_empty[out->depth]) hw_writer_print(&out->writer, "\n%*s", 2 * out->depth, "");
    hw_writer_bytes(&out->writer, &out->closers[out->depth], 1);
}

void hw_json_text(hw_json_out *out, const char *key, const char *text)
{
    lead_in(out, key);
    if (text)
        write_quoted(&out->writer, text);
    else
        hw_writer_print(&out->writer, "null");
}

void hw_json_bool(hw_json_out *out, const char *key, bool truth)
{
    lead_in(out, key);
    hw_writer_print(&out->writer, "%s", truth ? "true" : "false");
}

void hw_json_raw(hw_json_out *out, const char *key, hw_bytes json)
{
    while (json.count > 0 && json.at[json.count - 1] == '\n') json.count--;
    lead_in(out, key);
    hw_writer_bytes(&out->writer, json.at, json.count);
}

void hw_json_null(hw_json_out *out, const char *key)
{
    hw_json_text(out, key, NULL);
}

void hw_json_int(hw_json_out *out, const char *key, long value)
{
    lead_in(out, key);
    hw_writer_print(&out->writer, "%ld", value);
}

void hw_json_number(hw_json_out *out, const char *key, double value, int decimals)
{
    if (!isfinite(value)) {
        hw_json_null(out, key);
        return;
    }
    char text[400];
    int length = snprintf(text, sizeof text, "%.*f", decimals, value);
    if (strchr(text, '.')) {
        while (text[length - 1] == '0') text[--length] = 0;
        if (text[length - 1] == '.') text[--length] = 0;
    }
    lead_in(out, key);
    hw_writer_print(&out->writer, "%s", strcmp(text, "-0") == 0 ? "0" : text);
}

void hw_json_maybe(hw_json_out *out, const char *key, hw_maybe value, double factor, int decimals)
{
    if (value.known)
        hw_json_number(out, key, value.value * factor, decimals);
    else
        hw_json_null(out, key);
}

void hw_json_band(hw_json_out *out, const char *key, hw_band band, double factor, int decimals)
{
    if (!band.known) {
        char why_key[100];
        snprintf(why_key, sizeof why_key, "%s_why", key);
        hw_json_null(out, key);
        hw_json_text(out, why_key, band.why);
        return;
    }
    hw_json_open(out, key, '{');
    hw_json_number(out, "median", band.median * factor, decimals);
    hw_json_number(out, "p05", band.p05 * factor, decimals);
    hw_json_number(out, "p95", band.p95 * factor, decimals);
    hw_json_close(out);
}

hw_status hw_json_end(hw_job *job, hw_json_out *out, hw_bytes *bytes)
{
    HW_ASSERT(out->depth == 0);
    hw_writer_bytes(&out->writer, "\n", 1);
    return hw_writer_end(job, &out->writer, bytes);
}
