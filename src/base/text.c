// SPDX-License-Identifier: GPL-3.0-or-later
#include "text.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

hw_status hw_text_copy(hw_job *job, hw_arena *into, const char *text, const char **out)
{
    size_t length = strlen(text);
    char *copy = NULL;
    HW_ALLOC(job, into, copy, length + 1);
    memcpy(copy, text, length);
    *out = copy;
    return HW_OK;
}

hw_status hw_text_format(hw_job *job, hw_arena *into, const char **out, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length < 0) return hw_fail(job, HW_BAD_INPUT, "a text could not be formatted");
    char *copy = NULL;
    HW_ALLOC(job, into, copy, (size_t)length + 1);
    va_start(arguments, format);
    vsnprintf(copy, (size_t)length + 1, format, arguments);
    va_end(arguments);
    *out = copy;
    return HW_OK;
}

static int lower(char c)
{
    return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : (unsigned char)c;
}

bool hw_text_same(const char *a, const char *b)
{
    while (*a && lower(*a) == lower(*b)) a++, b++;
    return lower(*a) == lower(*b);
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

// Exactly representable, so that one rounding is all a short decimal number gets.
static const double exact_powers[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                      1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                      1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

static const char *read_digits(const char *at, const char *end, unsigned long long *digits,
                               int *kept, int *dropped)
{
    for (; at < end && *at >= '0' && *at <= '9'; at++) {
        if (*kept < 18) {
            *digits = *digits * 10 + (unsigned long long)(*at - '0');
            *kept += *digits > 0; // leading zeros cost nothing
        } else {
            ++*dropped;
        }
    }
    return at;
}

static const char *read_exponent(const char *at, const char *end, int *exponent)
{
    if (at == end || (*at != 'e' && *at != 'E')) return at;
    const char *start = at++;
    bool negative = at < end && *at == '-';
    if (at < end && (*at == '-' || *at == '+')) at++;
    if (at == end || *at < '0' || *at > '9') return start;
    int value = 0;
    for (; at < end && *at >= '0' && *at <= '9'; at++)
        if (value < 10000) value = 10 * value + (*at - '0');
    *exponent += negative ? -value : value;
    return at;
}

bool hw_text_number(const char *text, size_t length, double *out)
{
    const char *at = text, *end = text + length;
    while (at < end && is_blank(*at)) at++;
    while (end > at && is_blank(end[-1])) end--;
    bool negative = at < end && *at == '-';
    if (at < end && (*at == '-' || *at == '+')) at++;
    unsigned long long digits = 0;
    int kept = 0, dropped = 0, exponent = 0;
    const char *first = at;
    at = read_digits(at, end, &digits, &kept, &dropped);
    long seen = at - first;
    exponent = dropped;
    if (at < end && *at == '.') {
        const char *fraction = ++at;
        int lost = 0;
        at = read_digits(at, end, &digits, &kept, &lost);
        seen += at - fraction;
        exponent -= (int)(at - fraction) - lost;
    }
    if (seen == 0) return false;
    at = read_exponent(at, end, &exponent);
    if (at != end) return false;
    double value = (double)digits;
    if (digits && exponent < 0 && exponent >= -22)
        value /= exact_powers[-exponent];
    else if (digits && exponent > 0 && exponent <= 22)
        value *= exact_powers[exponent];
    else if (digits && exponent != 0)
        value *= pow(10.0, (double)exponent);
    if (!isfinite(value)) return false;
    *out = negative ? -value : value;
    return true;
}

hw_writer hw_writer_begin(hw_arena *into)
{
    return (hw_writer){.into = into};
}

static bool reserve(hw_writer *writer, size_t more)
{
    if (writer->failed) return false;
    if (writer->count + more < writer->capacity) return true;
    size_t capacity = writer->capacity ? writer->capacity : 4096;
    while (capacity <= writer->count + more) capacity *= 2;
    char *wider = hw_arena_take(writer->into, capacity, 1);
    if (!wider) {
        writer->failed = true;
        return false;
    }
    if (writer->count) memcpy(wider, writer->at, writer->count);
    writer->at = wider;
    writer->capacity = capacity;
    return true;
}

void hw_writer_bytes(hw_writer *writer, const void *bytes, size_t count)
{
    if (count == 0 || !reserve(writer, count)) return;
    memcpy(writer->at + writer->count, bytes, count);
    writer->count += count;
}

void hw_writer_print(hw_writer *writer, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length < 0 || !reserve(writer, (size_t)length + 1)) return;
    va_start(arguments, format);
    vsnprintf(writer->at + writer->count, (size_t)length + 1, format, arguments);
    va_end(arguments);
    writer->count += (size_t)length;
}

hw_status hw_writer_end(hw_job *job, hw_writer *writer, hw_bytes *out)
{
    if (!reserve(writer, 1))
        return hw_fail(job, HW_NO_MEMORY, "a file grew beyond the job's memory");
    writer->at[writer->count] = 0;
    *out = (hw_bytes){(const unsigned char *)writer->at, writer->count};
    return HW_OK;
}
