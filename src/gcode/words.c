// SPDX-License-Identifier: GPL-3.0-or-later
// One line of a program. Numbers are read digit by digit: no exponent, no comma, no country's
// habits.
#include "gcode_internal.h"

#include <string.h>

static bool is_plain(char c)
{
    return c == ' ' || (c && strchr("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,:/+-=", c));
}

static const char *split_comment(const char *text, int count, char *room, gcode_line *out)
{
    if (text[count - 1] != ')') return "a comment is not closed at the line's end";
    for (int i = 1; i < count - 1; i++) {
        if (!is_plain(text[i])) return "a comment holds a sign that not every control shows";
        room[i - 1] = text[i];
    }
    room[count - 2] = 0;
    out->comment = room;
    return NULL;
}

// A decimal number of at most 5 digits before and 4 after the point.
static const char *read_number(const char **at, const char *end, gcode_word *word)
{
    enum { WHOLE = 5, DECIMALS = 4 };
    double value = 0.0, unit = 1.0;
    int whole = 0, decimals = 0;
    bool is_negative = *at < end && **at == '-';
    if (is_negative) (*at)++;
    for (; *at < end && **at >= '0' && **at <= '9'; (*at)++, whole++)
        value = 10.0 * value + (**at - '0');
    if (*at < end && **at == '.') {
        word->has_point = true;
        for ((*at)++; *at < end && **at >= '0' && **at <= '9'; (*at)++, decimals++)
            value = 10.0 * value + (**at - '0'), unit *= 10.0;
        if (decimals == 0) return "a number ends with its point";
    }
    if (whole == 0) return "a word has no number";
    if (whole > WHOLE || decimals > DECIMALS)
        return "a number has more than 5 digits or more than 4 decimals";
    word->value = (is_negative ? -value : value) / unit;
    return NULL;
}

static const char *split_words(const char *text, int count, gcode_line *out)
{
    const char *at = text, *end = text + count;
    while (at < end) {
        gcode_word word = {.letter = *at};
        if (*at < 'A' || *at > 'Z') return "a word does not begin with a capital letter";
        if (out->word_count == LINE_WORDS) return "the line has too many words";
        at++;
        const char *wrong = read_number(&at, end, &word);
        if (wrong) return wrong;
        out->words[out->word_count++] = word;
        if (at == end) break;
        if (*at != ' ' || at + 1 == end) return "words are not parted by one blank";
        at++;
    }
    return NULL;
}

const char *gcode_split(const char *text, int count, char *room, gcode_line *out)
{
    *out = (gcode_line){0};
    if (count == 0) return "the line is empty";
    if (count > LINE_LONGEST) return "the line is longer than 80 signs";
    if (count == 1 && text[0] == '%') {
        out->is_percent = true;
        return NULL;
    }
    if (text[0] == '(') return split_comment(text, count, room, out);
    return split_words(text, count, out);
}
