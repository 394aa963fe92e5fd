// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of gcode: the words of a line, heights of the stock.
#ifndef HW_GCODE_INTERNAL_H
#define HW_GCODE_INTERNAL_H

#include "gcode/gcode.h"

enum { LINE_LONGEST = 80, LINE_WORDS = 10 };

typedef struct gcode_word {
    char letter;
    double value;
    bool has_point;
} gcode_word;

/// One line: nothing but a comment, or a percent sign, or words.
typedef struct gcode_line {
    const char *comment; // without brackets, or NULL
    bool is_percent;
    gcode_word words[LINE_WORDS];
    int word_count;
} gcode_line;

/// Splits a line (without its end) into `out`; the comment lives in `room` (LINE_LONGEST + 1
/// bytes). Returns NULL, or what is wrong with it (static text).
const char *gcode_split(const char *text, int count, char *room, gcode_line *out);

/// Heights of the stock over a grid, seen from above.
typedef struct gcode_field {
    double low_x, low_y, step;
    int columns, rows;
    double *height; // row by row, m
} gcode_field;

/// Adds a fault at a line until there are HW_GCODE_FAULTS_MAX.
HW_MUST_USE hw_status gcode_fault(hw_job *job, hw_faults *faults, int line, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/// Compares one design with the stock cut from one side, and fills its map.
HW_MUST_USE hw_status gcode_compare(hw_job *job, const gcode_field *field,
                                    const hw_gcode_rules *rules, const hw_gcode_ask *ask,
                                    const int side_and_part[2], hw_arena *into, hw_gcode_map *out);

#endif
