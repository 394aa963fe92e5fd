// SPDX-License-Identifier: GPL-3.0-or-later
#include "names_internal.h"
#include <string.h>

static char lower(char letter)
{
    return letter >= 'A' && letter <= 'Z' ? (char)(letter - 'A' + 'a') : letter;
}

static bool is_blank(char letter)
{
    return letter == ' ' || letter == '\t' || letter == ',';
}

// Where `typed` goes on after `name`, or NULL when it does not begin with it.
static const char *after_name(const char *typed, const char *name)
{
    for (; *name; name++, typed++)
        if (lower(*typed) != *name) return NULL;
    return typed;
}

static const char *skip_blanks(const char *text)
{
    while (is_blank(*text)) text++;
    return text;
}

const hw_name_row *hw_name_find_whole(const hw_name_row *rows, int count, const char *typed)
{
    const char *start = skip_blanks(typed);
    for (int i = 0; i < count; i++) {
        const char *rest = after_name(start, rows[i].name);
        if (rest && *skip_blanks(rest) == 0) return &rows[i];
    }
    return NULL;
}

static size_t word_length(const char *text)
{
    size_t length = 0;
    while (text[length] && !is_blank(text[length])) length++;
    return length;
}

// "400", "400mg", "1%", "10/1000"? No: a slash joins two substances, and then a part is not known.
static bool is_strength(const char *word, size_t length)
{
    static const char *const units[] = {"",   "mg",    "g",  "mcg", "microgram", "micrograms",
                                        "ml", "units", "iu", "%",   "mg/ml",     "x"};
    size_t digits = 0;
    while (digits < length && ((word[digits] >= '0' && word[digits] <= '9') || word[digits] == '.'))
        digits++;
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        const char *rest = after_name(word + digits, units[i]);
        if (rest == word + length && (digits > 0 || units[i][0])) return true;
    }
    return false;
}

// Words that say which salt, form or rhythm, but never another substance.
// clang-format off
static const char *const forms[] = {
    "acetate", "acetonide", "hexacetonide", "phosphate", "sodium", "potassium", "calcium",
    "hydrochloride", "maleate", "etexilate", "sulfate", "sulphate", "disoproxil", "mofetil",
    "tartrate", "succinate", "mesilate", "magnesium", "tablet", "tablets", "capsule", "capsules",
    "injection", "gel", "cream", "patch", "inhaler", "spray", "drops", "solution", "daily",
    "once", "twice", "weekly", "a", "day", "od", "bd", "tds", "prn", "nocte", "mane", "slow",
    "modified", "release", "mr", "sr", "xl", "er", "low", "dose", "glargine", "aspart", "oral",
};
// clang-format on

static bool is_form(const char *word, size_t length)
{
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++)
        if (after_name(word, forms[i]) == word + length) return true;
    return false;
}

static bool only_forms(const char *rest)
{
    for (rest = skip_blanks(rest); *rest; rest = skip_blanks(rest)) {
        const size_t length = word_length(rest);
        if (!is_strength(rest, length) && !is_form(rest, length)) return false;
        rest += length;
    }
    return true;
}

const hw_name_row *hw_name_find(const hw_name_row *rows, int count, const char *typed)
{
    const char *start = skip_blanks(typed);
    const hw_name_row *found = NULL;
    size_t longest = 0; // "calcium carbonate" before "calcium"
    for (int i = 0; i < count; i++) {
        const char *rest = after_name(start, rows[i].name);
        if (!rest || (*rest && !is_blank(*rest)) || !only_forms(rest)) continue;
        const size_t length = (size_t)(rest - start);
        if (length > longest) found = &rows[i], longest = length;
    }
    return found;
}
