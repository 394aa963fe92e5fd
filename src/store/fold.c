// SPDX-License-Identifier: GPL-3.0-or-later
// Letters of equal meaning to a search, for the scripts of two UTF-8 bytes whose case is regular:
// Latin-1, Latin Extended-A, Greek, Cyrillic. Source: Unicode's CaseFolding.txt, from memory:
// Unicode 15. Others stay as they are: they are found as typed.
#include "store/store_internal.h"

typedef struct case_range {
    unsigned first, last; // capital letters
    unsigned step;        // 1: every one; 2: every other, its small letter follows it
    unsigned add;         // to the small letter
} case_range;

static const case_range ranges[] = {
    {0x41, 0x5A, 1, 0x20},   // A-Z
    {0xC0, 0xD6, 1, 0x20},   // Latin-1, without the sign of multiplication
    {0xD8, 0xDE, 1, 0x20},   // Latin-1
    {0x100, 0x12E, 2, 1},    // Latin Extended-A
    {0x132, 0x136, 2, 1},    // likewise
    {0x139, 0x147, 2, 1},    // likewise, odd ones
    {0x14A, 0x176, 2, 1},    // likewise
    {0x179, 0x17D, 2, 1},    // likewise, odd ones
    {0x386, 0x386, 1, 0x26}, // Greek alpha with tonos
    {0x388, 0x38A, 1, 0x25}, // Greek with tonos
    {0x391, 0x3A1, 1, 0x20}, // Greek
    {0x3A3, 0x3AB, 1, 0x20}, // Greek
    {0x400, 0x40F, 1, 0x50}, // Cyrillic
    {0x410, 0x42F, 1, 0x20}, // Cyrillic
};

static unsigned fold(unsigned letter)
{
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        const case_range *range = &ranges[i];
        if (letter >= range->first && letter <= range->last &&
            (letter - range->first) % range->step == 0)
            return letter + range->add;
    }
    return letter;
}

hw_status hw_index_fold(hw_job *job, const char *text, hw_arena *into, const char **out)
{
    size_t length = strlen(text);
    unsigned char *folded = NULL;
    HW_ALLOC(job, into, folded, length + 1); // no letter here grows
    const unsigned char *from = (const unsigned char *)text;
    for (size_t i = 0; i < length; i++) {
        bool is_pair = (from[i] & 0xE0) == 0xC0 && (from[i + 1] & 0xC0) == 0x80;
        if (!is_pair) {
            folded[i] = from[i] < 0x80 ? (unsigned char)fold(from[i]) : from[i];
            continue;
        }
        unsigned letter = fold((from[i] & 0x1Fu) << 6 | (from[i + 1] & 0x3Fu));
        folded[i] = (unsigned char)(0xC0 | letter >> 6);
        folded[i + 1] = (unsigned char)(0x80 | (letter & 0x3F));
        i++;
    }
    *out = (const char *)folded;
    return HW_OK;
}
