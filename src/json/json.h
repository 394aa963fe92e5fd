// SPDX-License-Identifier: GPL-3.0-or-later
//
// json: a tree read from bytes, and a writer. It owns jansson.
//
//     const hw_json *root = NULL;
//     HW_TRY(hw_json_read(job, bytes, into, &root));
//     const hw_json *mass = hw_json_get(root, "mass_kg");
//
//     hw_json_out out = hw_json_begin(into);
//     hw_json_open(&out, NULL, '{');
//     hw_json_number(&out, "foot_length_mm", 264.2, 1);
//     hw_json_close(&out);
//     HW_TRY(hw_json_end(job, &out, &bytes));
//
// What is absent is absent: no default is ever made up here.
#ifndef HW_JSON_H
#define HW_JSON_H

#include "base/base.h"

typedef enum hw_json_kind {
    HW_JSON_NULL,
    HW_JSON_BOOL,
    HW_JSON_NUMBER,
    HW_JSON_TEXT,
    HW_JSON_LIST,
    HW_JSON_OBJECT,
} hw_json_kind;

typedef struct hw_json {
    hw_json_kind kind;
    bool truth;
    double number;
    const char *text;            // UTF-8
    int count;                   // of a list or object
    const struct hw_json *items; // count
    const char *const *keys;     // count, of an object, in the file's order
} hw_json;

/// A tree in `into`.
///
///   fails   HW_BAD_FORMAT with line and column: not JSON, a key twice, numbers out of range, text
///           after the end, a zero byte in a text, deeper than 2,048; HW_NO_MEMORY
HW_MUST_USE hw_status hw_json_read(hw_job *job, hw_bytes bytes, hw_arena *into,
                                   const hw_json **out);

/// The value of `key`, or NULL when `object` is no object (or NULL) or has no such key.
const hw_json *hw_json_get(const hw_json *object, const char *key);

/// The text of `key`, or `otherwise` when there is none or it is no text.
const char *hw_json_text_at(const hw_json *object, const char *key, const char *otherwise);

/// "nothing", "true or false", "a number", "a text", "a list", "an object": for sentences.
const char *hw_json_kind_word(hw_json_kind kind);

enum { HW_JSON_DEPTH_MAX = 32 };

/// A JSON text being written, two blanks a level.
typedef struct hw_json_out {
    hw_writer writer;
    char closers[HW_JSON_DEPTH_MAX];
    bool is_empty[HW_JSON_DEPTH_MAX];
    int depth;
} hw_json_out;

/// `key` is NULL inside a list and at the root.
hw_json_out hw_json_begin(hw_arena *into);
void hw_json_open(hw_json_out *out, const char *key, char bracket); // '{' or '['
/// Closes the innermost open list or object.
void hw_json_close(hw_json_out *out);
void hw_json_text(hw_json_out *out, const char *key, const char *text); // NULL text -> null
/// true or false.
void hw_json_bool(hw_json_out *out, const char *key, bool truth);
/// null: known to be absent.
void hw_json_null(hw_json_out *out, const char *key);
/// A whole number.
void hw_json_int(hw_json_out *out, const char *key, long value);

/// With `decimals` places at most, trailing zeros cut, never -0; a value that is not finite is
/// null.
void hw_json_number(hw_json_out *out, const char *key, double value, int decimals);
/// value * factor as hw_json_number writes it, null where it is unknown.
void hw_json_maybe(hw_json_out *out, const char *key, hw_maybe value, double factor, int decimals);

/// {"median": , "p05": , "p95": }, or null with "<key>_why" beside it.
void hw_json_band(hw_json_out *out, const char *key, hw_band band, double factor, int decimals);

/// JSON that is already text (a stored record's body), as it stands.
void hw_json_raw(hw_json_out *out, const char *key, hw_bytes json);

/// A tree as it was read, numbers exactly. No deeper than HW_JSON_DEPTH_MAX less what is open: see
/// hw_json_depth.
void hw_json_tree(hw_json_out *out, const char *key, const hw_json *value);

/// 1 for a text or number, 1 more for each list or object around it; looks no deeper than
/// HW_JSON_DEPTH_MAX + 1.
int hw_json_depth(const hw_json *value);

/// Whether two trees say the same: the order of keys does not count. Absent (NULL) equals absent.
bool hw_json_same(const hw_json *a, const hw_json *b);

/// The text, ending in a line feed.
///
///   fails   HW_NO_MEMORY
HW_MUST_USE hw_status hw_json_end(hw_job *job, hw_json_out *out, hw_bytes *bytes);

#endif
