// SPDX-License-Identifier: GPL-3.0-or-later
// What the readers share.
#ifndef HW_GAIT_INTERNAL_H
#define HW_GAIT_INTERNAL_H

#include "gait/gait.h"

#include <string.h>

HW_MUST_USE hw_status gait_read_c3d(hw_job *job, hw_bytes bytes, hw_arena *into,
                                    hw_gait_record *out);
HW_MUST_USE hw_status gait_read_trc(hw_job *job, hw_bytes bytes, hw_arena *into,
                                    hw_gait_record *out);
HW_MUST_USE hw_status gait_read_forces(hw_job *job, hw_bytes bytes, const hw_gait_ask *ask,
                                       hw_arena *into, hw_gait_record *out);
HW_MUST_USE hw_status gait_read_table(hw_job *job, hw_bytes bytes, const hw_gait_ask *ask,
                                      hw_arena *into, hw_gait_record *out);

/// A plate or a film under a foot: loaded above 20 N (common practice) for as long as a step of
/// walking lasts.
#define GAIT_LOADED_N 20.0
#define GAIT_SHORTEST_S 0.25
#define GAIT_LONGEST_S 2.0

/// Room for a record's points in `into`; the record's counts are set before.
typedef struct gait_room {
    char (*names)[HW_GAIT_NAME];
    hw_vec3 *points;
    bool *is_seen;
    hw_vec3 *force[HW_GAIT_PLATES], *pressure[HW_GAIT_PLATES];
} gait_room;

/// Allocates by the record's counts and hangs it into the record.
///
///   fails   HW_BAD_FORMAT counts beyond HW_GAIT_MARKERS, HW_GAIT_PLATES or 2^24 values;  HW_NO_MEMORY
HW_MUST_USE hw_status gait_open_room(hw_job *job, hw_arena *into, hw_gait_record *record,
                                     gait_room *out);

/// A text cut into lines and cells. Cells of the file's bytes, not ended by a zero.
typedef struct gait_text {
    const char *at, *end;
    int line; // number of the last line taken, 1 the first
} gait_text;

typedef struct gait_cell {
    const char *at;
    size_t length;
} gait_cell;

/// The next line without its end; false at the end of the text.
bool gait_next_line(gait_text *text, gait_cell *line);

/// The next cell of a line, which is cut shorter; false when none is left. Cells are parted by one
/// tab, comma or semicolon, so that empty ones count; where `blanks`, by any run of blanks and
/// tabs.
bool gait_next_cell(gait_cell *line, bool blanks, gait_cell *cell);

bool gait_cell_number(gait_cell cell, double *out);  // false: empty or no number
bool gait_cell_is(gait_cell cell, const char *word); // letters' case ignored, blanks around it cut
void gait_cell_name(gait_cell cell, char out[static HW_GAIT_NAME]);

/// Whether nothing but these letters stands in it.
bool gait_holds_only(gait_cell line, const char *letters);

#endif
