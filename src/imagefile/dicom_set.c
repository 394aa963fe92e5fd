// SPDX-License-Identifier: GPL-3.0-or-later
// Bytes to data elements, DICOM PS3.5 section 7. Every length is compared with the bytes that are
// left, nothing is trusted: a file that breaks off gives no picture and so no measurement.
#include "imagefile_internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    ITEM = (int)0xFFFEE000,
    ITEM_END = (int)0xFFFEE00D,
    SEQUENCE_END = (int)0xFFFEE0DD,
    DEPTH_MAX = 16,
    ELEMENTS_MAX = 100000,
};

#define OPEN_LENGTH 0xFFFFFFFFu

typedef struct cursor {
    const unsigned char *at, *end;
    bool is_explicit, is_big;
} cursor;

typedef struct head {
    uint32_t tag, length;
    char kind[3];
} head;

static uint32_t word(const unsigned char *at, int bytes, bool is_big)
{
    uint32_t value = 0;
    for (int i = 0; i < bytes; i++) value |= (uint32_t)at[is_big ? bytes - 1 - i : i] << (8 * i);
    return value;
}

static size_t left(const cursor *at)
{
    return (size_t)(at->end - at->at);
}

static bool is_delimiter(uint32_t tag)
{
    return tag == (uint32_t)ITEM || tag == (uint32_t)ITEM_END || tag == (uint32_t)SEQUENCE_END;
}

// PS3.5 7.1.2: these have two bytes of nothing and a length of four bytes.
static bool has_long_length(const char *kind)
{
    static const char *const kinds[] = {"OB", "OD", "OF", "OL", "OV", "OW", "SQ",
                                        "SV", "UC", "UN", "UR", "UT", "UV"};
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (memcmp(kind, kinds[i], 2) == 0) return true;
    return false;
}

static hw_status breaks_off(hw_job *job, uint32_t tag)
{
    return hw_fail(job, HW_BAD_FORMAT,
                   "the DICOM file breaks off inside element (%04x,%04x); send it again",
                   (unsigned)(tag >> 16), (unsigned)(tag & 0xffff));
}

static hw_status read_head(hw_job *job, cursor *at, head *out)
{
    *out = (head){0};
    if (left(at) < 8) return breaks_off(job, 0);
    out->tag = word(at->at, 2, at->is_big) << 16 | word(at->at + 2, 2, at->is_big);
    if (!at->is_explicit || is_delimiter(out->tag)) {
        out->length = word(at->at + 4, 4, at->is_big);
        at->at += 8;
        return HW_OK;
    }
    memcpy(out->kind, at->at + 4, 2);
    if (!has_long_length(out->kind)) {
        out->length = word(at->at + 6, 2, at->is_big);
        at->at += 8;
        return HW_OK;
    }
    if (left(at) < 12) return breaks_off(job, out->tag);
    out->length = word(at->at + 8, 4, at->is_big);
    at->at += 12;
    return HW_OK;
}

static hw_status skip_value(hw_job *job, cursor *at, const head *element, int depth);

// The elements of an item of undefined length, up to and with its delimiter.
static hw_status skip_open_item(hw_job *job, cursor *at, int depth)
{
    for (;;) {
        head element = {0};
        HW_TRY(read_head(job, at, &element));
        if (element.tag == (uint32_t)ITEM_END) return HW_OK;
        if (is_delimiter(element.tag)) return breaks_off(job, element.tag);
        HW_TRY(skip_value(job, at, &element, depth));
    }
}

// The items of a sequence of undefined length, up to and with its delimiter.
static hw_status skip_open_sequence(hw_job *job, cursor *at, int depth)
{
    if (depth > DEPTH_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "sequences in the DICOM file are nested deeper than %d",
                       DEPTH_MAX);
    for (;;) {
        head item = {0};
        HW_TRY(read_head(job, at, &item));
        if (item.tag == (uint32_t)SEQUENCE_END) return HW_OK;
        if (item.tag != (uint32_t)ITEM) return breaks_off(job, item.tag);
        if (item.length == OPEN_LENGTH) {
            HW_TRY(skip_open_item(job, at, depth + 1));
        } else {
            if (item.length > left(at)) return breaks_off(job, item.tag);
            at->at += item.length;
        }
    }
}

static hw_status skip_value(hw_job *job, cursor *at, const head *element, int depth)
{
    if (element->length != OPEN_LENGTH) {
        if (element->length > left(at)) return breaks_off(job, element->tag);
        at->at += element->length;
        return HW_OK;
    }
    // An unknown element of undefined length is implicit inside, PS3.5 6.2.2.
    cursor inside = *at;
    if (memcmp(element->kind, "UN", 2) == 0) inside.is_explicit = false;
    HW_TRY(skip_open_sequence(job, &inside, depth));
    at->at = inside.at;
    return HW_OK;
}

static hw_status add_element(hw_job *job, hw_arena *into, dicom_set *set, const dicom_element *one)
{
    if (set->count >= ELEMENTS_MAX)
        return hw_fail(job, HW_BAD_FORMAT, "the DICOM file has more than %d elements",
                       ELEMENTS_MAX);
    if ((set->count & (set->count - 1)) == 0 && (set->count >= 64 || set->count == 0)) {
        dicom_element *wider = NULL;
        HW_ALLOC(job, into, wider, set->count ? 2 * set->count : 64);
        if (set->count) memcpy(wider, set->elements, (size_t)set->count * sizeof *wider);
        set->elements = wider;
    }
    set->elements[set->count++] = *one;
    return HW_OK;
}

hw_status dicom_read_set(hw_job *job, hw_bytes bytes, dicom_set how, hw_arena *into, dicom_set *out)
{
    cursor at = {bytes.at, bytes.at + bytes.count, how.is_explicit, how.is_big};
    dicom_set set = {.is_explicit = how.is_explicit, .is_big = how.is_big};
    while (left(&at) > 0) {
        head found = {0};
        HW_TRY(read_head(job, &at, &found));
        if (found.tag == (uint32_t)ITEM_END) break; // of an item without length: see dicom_items
        const unsigned char *value = at.at;
        HW_TRY(skip_value(job, &at, &found, 0));
        dicom_element one = {.tag = found.tag,
                             .is_open = found.length == OPEN_LENGTH,
                             .value = {value, (size_t)(at.at - value)}};
        memcpy(one.kind, found.kind, sizeof one.kind);
        HW_TRY(add_element(job, into, &set, &one));
    }
    *out = set;
    return HW_OK;
}

// Group 2 is little-endian and explicit whatever follows; its own length is not relied on.
static hw_status read_meta(hw_job *job, cursor *at, char syntax[static HW_IMAGE_TEXT])
{
    const dicom_set plain = {.is_explicit = true};
    while (left(at) >= 8 && word(at->at, 2, false) == 2) {
        head found = {0};
        HW_TRY(read_head(job, at, &found));
        dicom_element one = {.tag = found.tag, .value = {at->at, found.length}};
        HW_TRY(skip_value(job, at, &found, 0));
        dicom_set alone = plain;
        alone.elements = &one, alone.count = 1;
        if (found.tag == 0x00020010) dicom_text(&alone, found.tag, syntax);
    }
    if (!syntax[0])
        return hw_fail(job, HW_BAD_FORMAT,
                       "the DICOM file does not say how it is written (0002,0010 is missing)");
    return HW_OK;
}

hw_status dicom_open(hw_job *job, hw_bytes file, hw_arena *into, dicom_set *out,
                     char syntax[static HW_IMAGE_TEXT])
{
    HW_ASSERT(file.count >= 132); // the caller has seen "DICM"
    cursor at = {file.at + 132, file.at + file.count, true, false};
    HW_TRY(read_meta(job, &at, syntax));
    dicom_set how = {.is_explicit = strcmp(syntax, "1.2.840.10008.1.2") != 0,
                     .is_big = strcmp(syntax, "1.2.840.10008.1.2.2") == 0};
    if (!dicom_syntax_of(syntax) || !dicom_syntax_of(syntax)->decode)
        return hw_fail(
            job, HW_BAD_FORMAT,
            "the DICOM file is written as %s (%s), which is not read; export it "
            "uncompressed, or as RLE, JPEG baseline, JPEG-LS or JPEG 2000",
            dicom_syntax_of(syntax) ? dicom_syntax_of(syntax)->name : "an unknown syntax", syntax);
    return dicom_read_set(job, (hw_bytes){at.at, left(&at)}, how, into, out);
}

hw_status dicom_items(hw_job *job, const dicom_set *set, const dicom_element *sequence, int most,
                      hw_bytes *items, int *count)
{
    bool is_explicit = set->is_explicit && memcmp(sequence->kind, "UN", 2) != 0;
    cursor at = {sequence->value.at, sequence->value.at + sequence->value.count, is_explicit,
                 set->is_big};
    *count = 0;
    while (left(&at) >= 8) {
        head item = {0};
        HW_TRY(read_head(job, &at, &item));
        if (item.tag == (uint32_t)SEQUENCE_END) break;
        if (item.tag != (uint32_t)ITEM) return breaks_off(job, sequence->tag);
        const unsigned char *value = at.at;
        if (item.length == OPEN_LENGTH) {
            HW_TRY(skip_open_item(job, &at, 1));
        } else {
            if (item.length > left(&at)) return breaks_off(job, sequence->tag);
            at.at += item.length;
        }
        if (*count >= most)
            return hw_fail(job, HW_BAD_FORMAT, "element (%04x,%04x) has more than %d items",
                           (unsigned)(sequence->tag >> 16), (unsigned)(sequence->tag & 0xffff),
                           most);
        items[(*count)++] = (hw_bytes){value, (size_t)(at.at - value)};
    }
    return HW_OK;
}

const dicom_element *dicom_find(const dicom_set *set, uint32_t tag)
{
    for (int i = 0; i < set->count; i++)
        if (set->elements[i].tag == tag) return &set->elements[i];
    return NULL;
}

uint32_t dicom_word(const dicom_set *set, hw_bytes value, int at, int bytes)
{
    HW_ASSERT((size_t)(at + 1) * (size_t)bytes <= value.count);
    return word(value.at + (size_t)at * (size_t)bytes, bytes, set->is_big);
}

bool dicom_number(const dicom_set *set, uint32_t tag, int bytes, int index, int32_t *out)
{
    const dicom_element *found = dicom_find(set, tag);
    if (!found || found->value.count < (size_t)(index + 1) * (size_t)bytes) return false;
    *out = (int32_t)dicom_word(set, found->value, index, bytes);
    return true;
}

bool dicom_double(const dicom_set *set, uint32_t tag, double *out)
{
    const dicom_element *found = dicom_find(set, tag);
    if (!found || found->value.count != sizeof *out) return false;
    uint64_t low = dicom_word(set, found->value, set->is_big, 4);
    uint64_t high = dicom_word(set, found->value, !set->is_big, 4);
    uint64_t bits = high << 32 | low;
    memcpy(out, &bits, sizeof *out);
    return isfinite(*out);
}

bool dicom_decimal(const dicom_set *set, uint32_t tag, int index, double *out)
{
    const dicom_element *found = dicom_find(set, tag);
    if (!found) return false;
    const char *at = (const char *)found->value.at, *end = at + found->value.count;
    for (; index > 0 && at < end; at++) index -= *at == '\\';
    size_t length = 0;
    while (at + length < end && at[length] != '\\' && at[length]) length++;
    return index == 0 && hw_text_number(at, length, out);
}

// Bytes that are no printable ASCII become '?': what they mean depends on the character set, and a
// name shown for comparison may not pretend.
void dicom_text(const dicom_set *set, uint32_t tag, char out[static HW_IMAGE_TEXT])
{
    const dicom_element *found = dicom_find(set, tag);
    size_t count = 0;
    for (size_t i = 0; found && i < found->value.count && count + 1 < HW_IMAGE_TEXT; i++) {
        unsigned char one = found->value.at[i];
        if (!one) break;
        out[count++] = one >= 0x20 && one < 0x7f ? (char)one : '?';
    }
    while (count > 0 && out[count - 1] == ' ') count--;
    out[count] = 0;
}
