// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of the clinic as CSV (RFC 4180), their columns as the data dictionary has them. Internal to app.
#ifndef HW_APP_CSV_H
#define HW_APP_CSV_H

#include "base/base.h"

/// One column of one table; the header of the table is made of these rows.
typedef struct csv_column {
    const char *table; // "heels.csv"
    const char *name, *kind, *unit, *meaning;
} csv_column;

/// Columns of all tables, those of a table together, in their order.
const csv_column *csv_columns(int *count);

typedef struct csv {
    hw_writer writer;
    int columns, at; // of this table; fields of the row so far
} csv;

/// The table of this name with its header.
csv csv_begin(const char *table, hw_arena *into);

void csv_text(csv *to, const char *text); // NULL: empty
void csv_int(csv *to, long value);
void csv_maybe(csv *to, hw_maybe value, int decimals); // unknown: empty
void csv_date(csv *to, hw_date date);                  // unknown: empty

/// Ends a row; it must have as many fields as there are columns.
void csv_row(csv *to);

HW_MUST_USE hw_status csv_end(hw_job *job, csv *to, hw_bytes *out);

/// A quoted field as it stands: for tables of their own.
void csv_quoted(hw_writer *to, const char *text);

/// dictionary.csv, of the tables named (NULL at the end).
HW_MUST_USE hw_status csv_dictionary(hw_job *job, const char *const *tables, hw_arena *into,
                                     hw_bytes *out);

#endif
