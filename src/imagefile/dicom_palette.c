// SPDX-License-Identifier: GPL-3.0-or-later
// Colour tables, plain and segmented: DICOM PS3.3 C.7.6.3.1.5, C.7.9.2.
#include "imagefile_internal.h"

enum { ENTRIES_MAX = 65536 };

typedef struct table {
    uint16_t *entries;
    int count, first, bits;
} table;

// 0 entries in the descriptor means 65,536.
static hw_status read_descriptor(hw_job *job, const dicom_set *set, uint32_t tag, table *out)
{
    int32_t count = 0, first = 0, bits = 0;
    if (!dicom_number(set, tag, 2, 0, &count) || !dicom_number(set, tag, 2, 1, &first) ||
        !dicom_number(set, tag, 2, 2, &bits) || (bits != 8 && bits != 16))
        return hw_fail(job, HW_BAD_FORMAT,
                       "the colour table's descriptor (0028,%04x) is missing or wrong",
                       (unsigned)(tag & 0xffff));
    *out = (table){.count = count ? count : ENTRIES_MAX, .first = first, .bits = bits};
    return HW_OK;
}

// 8-bit entries stand one a byte, or as 16-bit words in files that have twice the bytes.
static hw_status read_plain(hw_job *job, const dicom_set *set, hw_bytes value, table *out)
{
    size_t need = (size_t)out->count * (out->bits == 16 ? 2 : 1);
    bool is_wide = out->bits == 16 || value.count >= 2 * need;
    if (value.count < need)
        return hw_fail(job, HW_BAD_FORMAT, "the colour table has %zu bytes where %zu are due",
                       value.count, need);
    for (int i = 0; i < out->count; i++) {
        uint32_t entry = is_wide ? dicom_word(set, value, i, 2) : value.at[i];
        out->entries[i] = (uint16_t)(out->bits == 8 ? (entry & 0xff) * 257 : entry);
    }
    return HW_OK;
}

// A segmented table being expanded; words are its 16-bit values.
typedef struct segments {
    const dicom_set *set;
    hw_bytes value;
    int words, at; // all, and the next
    int filled;
    table *out;
} segments;

static uint32_t next_word(segments *from)
{
    return dicom_word(from->set, from->value, from->at++, 2);
}

static void put(segments *from, uint32_t entry)
{
    if (from->filled < from->out->count) from->out->entries[from->filled++] = (uint16_t)entry;
}

// A line from the last entry to the given one.
static void put_line(segments *from, int length, int end)
{
    int start = from->out->entries[from->filled - 1];
    for (int i = 1; i <= length; i++)
        put(from, (uint32_t)(start + (end - start) * (long)i / length));
}

static bool expand(segments *from, int count, int depth)
{
    for (int i = 0; (count < 0 || i < count) && from->filled < from->out->count; i++) {
        if (from->at + 2 > from->words) return count < 0;
        uint32_t code = next_word(from);
        int length = (int)next_word(from);
        if (code == 0) { // entries as they stand
            if (from->at + length > from->words) return false;
            for (int k = 0; k < length; k++) put(from, next_word(from));
        } else if (code == 1) { // a line
            if (from->at + 1 > from->words || from->filled < 1 || length < 1) return false;
            put_line(from, length, (int)next_word(from));
        } else if (code == 2 && depth == 0) { // `length` segments again, from a byte on
            if (from->at + 2 > from->words) return false;
            uint32_t low = next_word(from), offset = (next_word(from) << 16 | low) / 2;
            int back = from->at;
            if (offset >= (uint32_t)from->words) return false;
            from->at = (int)offset;
            if (!expand(from, length, depth + 1)) return false;
            from->at = back;
        } else {
            return false;
        }
    }
    return true;
}

static hw_status read_segmented(hw_job *job, const dicom_set *set, hw_bytes value, table *out)
{
    segments from = {.set = set, .value = value, .words = (int)(value.count / 2), .out = out};
    if (value.count > ((size_t)1 << 24) || !expand(&from, -1, 0) || from.filled != out->count)
        return hw_fail(job, HW_BAD_FORMAT, "the segmented colour table gives %d of its %d entries",
                       from.filled, out->count);
    for (int i = 0; out->bits == 8 && i < out->count; i++)
        out->entries[i] = (uint16_t)((out->entries[i] & 0xff) * 257);
    return HW_OK;
}

static hw_status read_table(hw_job *job, const dicom_set *set, int colour, hw_arena *tmp,
                            table *out)
{
    uint32_t offset = (uint32_t)colour;
    HW_TRY(read_descriptor(job, set, 0x00281101 + offset, out));
    HW_ALLOC(job, tmp, out->entries, out->count);
    const dicom_element *plain = dicom_find(set, 0x00281201 + offset);
    const dicom_element *segmented = dicom_find(set, 0x00281221 + offset);
    if (plain) return read_plain(job, set, plain->value, out);
    if (segmented) return read_segmented(job, set, segmented->value, out);
    return hw_fail(job, HW_BAD_FORMAT, "the picture has colour numbers but no colour table");
}

hw_status dicom_read_palette(hw_job *job, const dicom_set *set, hw_arena *into, dicom_palette *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    table tables[3];
    unsigned char *colours = NULL;
    for (int i = 0; i < 3; i++) HW_TRY(read_table(job, set, i, tmp.arena, &tables[i]));
    if (tables[1].count != tables[0].count || tables[2].count != tables[0].count)
        return hw_fail(job, HW_BAD_FORMAT, "the three colour tables have different lengths");
    HW_ALLOC(job, into, colours, 3 * (size_t)tables[0].count);
    for (int i = 0; i < 3 * tables[0].count; i++)
        colours[i] = (unsigned char)(tables[i % 3].entries[i / 3] >> 8);
    *out = (dicom_palette){colours, tables[0].count, tables[0].first};
    hw_scratch_end(tmp);
    return HW_OK;
}
