// SPDX-License-Identifier: GPL-3.0-or-later
// The clinic's own text file: the wording of a known scale, or a questionnaire of its own.
#include "clinic.h"
#include "scores.h"
#include <stdio.h>
#include <string.h>

enum { LONGEST_LINE = 400, LONGEST_FILE = 64 * 1024, KEYS = 9 };

typedef enum key {
    KEY_SCALE = 0,
    KEY_NAME,
    KEY_LOW,
    KEY_HIGH,
    KEY_BETTER,
    KEY_SCORE,
    KEY_LEAST,
    KEY_MATTERS,
    KEY_SOURCE,
} key;

static const char *const key_words[KEYS] = {
    "scale", "name",           "lowest answer",       "highest answer", "better",
    "score", "least answered", "change that matters", "source"};

typedef struct reader {
    hw_job *job;
    hw_arena *into;
    hw_faults *faults;
    int line;
    const char *values[KEYS];
    const char **items; // HW_SCALE_ITEMS
    int item_count;
} reader;

static hw_status fault(reader *at, const char *sentence, const char *what)
{
    char place[24];
    snprintf(place, sizeof place, "line %d", at->line);
    return hw_faults_add(at->job, at->faults, place, "%s%s%.60s", sentence, what ? ": " : "",
                         what ? what : "");
}

static char *trimmed(char *text)
{
    while (*text == ' ' || *text == '\t') text++;
    size_t length = strlen(text);
    while (length > 0 && strchr(" \t\r", text[length - 1])) text[--length] = 0;
    return text;
}

static hw_status read_item(reader *at, char *text)
{
    if (!text[0]) return fault(at, "an item without words", NULL);
    if (at->item_count == HW_SCALE_ITEMS) return fault(at, "more than 40 items", NULL);
    return hw_text_copy(at->job, at->into, text, &at->items[at->item_count++]);
}

static hw_status read_pair(reader *at, char *line)
{
    char *colon = strchr(line, ':');
    if (!colon) return fault(at, "neither \"key: value\" nor \"- item\"", line);
    *colon = 0;
    const char *word = trimmed(line), *value = trimmed(colon + 1);
    for (int i = 0; i < KEYS; i++) {
        if (!hw_text_same(key_words[i], word)) continue;
        if (at->values[i]) return fault(at, "said twice", word);
        if (!value[0]) return fault(at, "says nothing", word);
        return hw_text_copy(at->job, at->into, value, &at->values[i]);
    }
    return fault(at, "not a key of a questionnaire", word);
}

static hw_status read_line(reader *at, char *line)
{
    line = trimmed(line);
    if (!line[0] || line[0] == '#') return HW_OK;
    return line[0] == '-' ? read_item(at, trimmed(line + 1)) : read_pair(at, line);
}

static hw_status read_lines(reader *at, hw_bytes text)
{
    char line[LONGEST_LINE];
    size_t used = 0;
    at->line = 1;
    for (size_t i = 0; i <= text.count; i++) {
        const char c = i < text.count ? ((const char *)text.at)[i] : '\n';
        if (c == 0) return fault(at, "a zero byte: not a text", NULL);
        if (c != '\n' && used + 1 == sizeof line)
            return fault(at, "a line of more than 398 bytes", NULL);
        if (c != '\n') {
            line[used++] = c;
            continue;
        }
        line[used] = 0, used = 0;
        HW_TRY(read_line(at, line));
        at->line++;
    }
    return HW_OK;
}

static hw_status need_number(reader *at, key which, double *out)
{
    const char *text = at->values[which];
    if (!text || !hw_text_number(text, strlen(text), out))
        return hw_faults_add(at->job, at->faults, key_words[which], "must be a number");
    return HW_OK;
}

static hw_status need_word(reader *at, key which, const char *const words[], int count, int *out)
{
    for (int i = 0; i < count && at->values[which]; i++)
        if (hw_text_same(at->values[which], words[i])) {
            *out = i;
            return HW_OK;
        }
    return hw_faults_add(at->job, at->faults, key_words[which], "must be %s or %s", words[0],
                         words[count - 1]);
}

// A known scale keeps its scoring: only words may come from a file.
static hw_status use_known(reader *at, const hw_scale *scale)
{
    for (int i = KEY_NAME; i < KEYS; i++)
        if (at->values[i])
            HW_TRY(hw_faults_add(at->job, at->faults, key_words[i],
                                 "is fixed for this scale; leave it out"));
    if (at->item_count != scale->item_count)
        HW_TRY(hw_faults_add(at->job, at->faults, "items", "%d; this scale has %d", at->item_count,
                             scale->item_count));
    return HW_OK;
}

static hw_status check_own(reader *at, const hw_scale *scale)
{
    if (at->item_count < 1)
        HW_TRY(hw_faults_add(at->job, at->faults, "items", "none; each is a line \"- words\""));
    if (!(scale->item_high > scale->item_low))
        HW_TRY(hw_faults_add(at->job, at->faults, "highest answer", "must be over the lowest"));
    const int least = scale->values[0].least_answered;
    if (least < 1 || least > at->item_count)
        HW_TRY(hw_faults_add(at->job, at->faults, "least answered", "must be 1 to %d",
                             at->item_count));
    return HW_OK;
}

static hw_status make_own(reader *at, const hw_scale **out)
{
    static const char *const better[] = {"lower", "higher"};
    static const char *const scorings[] = {"percent", "sum", "mean"};
    hw_scale *scale = NULL;
    double least = 0.0, matters = 0.0;
    int is_higher = 0, scoring = 0;
    HW_ALLOC(at->job, at->into, scale, 1);
    scale->key = at->values[KEY_SCALE], scale->name = at->values[KEY_NAME];
    if (!scale->name) HW_TRY(hw_faults_add(at->job, at->faults, "name", "is missing"));
    HW_TRY(need_number(at, KEY_LOW, &scale->item_low));
    HW_TRY(need_number(at, KEY_HIGH, &scale->item_high));
    HW_TRY(need_word(at, KEY_BETTER, better, 2, &is_higher));
    HW_TRY(need_word(at, KEY_SCORE, scorings, 3, &scoring));
    HW_TRY(need_number(at, KEY_LEAST, &least));
    if (at->values[KEY_MATTERS]) HW_TRY(need_number(at, KEY_MATTERS, &matters));
    scale->item_count = scale->least_items = at->item_count;
    scale->higher_is_better = is_higher, scale->wording = HW_WORDING_CLINICS;
    scale->note = "the clinic's own";
    scale->values[0] = (hw_scale_value){
        .name = scorings[scoring],
        .scoring = (hw_scoring)scoring,
        .count = at->item_count,
        .least_answered = least >= 1.0 && least <= HW_SCALE_ITEMS ? (int)least : 0,
        .matters = at->values[KEY_MATTERS] ? hw_known(matters) : (hw_maybe){0},
        .source = at->values[KEY_SOURCE] ? at->values[KEY_SOURCE] : "the clinic's own file"};
    HW_TRY(check_own(at, scale));
    *out = scale;
    return HW_OK;
}

hw_status hw_questionnaire_read(hw_job *job, hw_bytes text, hw_arena *into, hw_questionnaire *out,
                                hw_faults *faults)
{
    reader at = {.job = job, .into = into, .faults = faults};
    hw_questionnaire read = {0};
    if (text.count > LONGEST_FILE)
        return hw_fail(job, HW_BAD_INPUT, "a questionnaire of more than 64 kB");
    HW_ALLOC(job, into, at.items, HW_SCALE_ITEMS);
    HW_TRY(read_lines(&at, text));
    const char *scale = at.values[KEY_SCALE];
    if (!scale) {
        HW_TRY(
            hw_faults_add(job, faults, "scale", "is missing: a known one, or a key of your own"));
        return hw_faults_status(job, faults);
    }
    read.scale = hw_scale_by_key(scale), read.is_own = !read.scale;
    if (read.is_own)
        HW_TRY(make_own(&at, &read.scale));
    else
        HW_TRY(use_known(&at, read.scale));
    HW_TRY(hw_faults_status(job, faults));
    read.items = at.items;
    *out = read;
    return HW_OK;
}
