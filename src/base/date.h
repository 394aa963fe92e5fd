// SPDX-License-Identifier: GPL-3.0-or-later
// Calendar days. No clock, no time of day, no time zone: a visit has a date, as typed.
#ifndef HW_BASE_DATE_H
#define HW_BASE_DATE_H

#include <stdbool.h>

/// A day of the Gregorian calendar, counted from 1970-01-01. Zero-initialised it is unknown.
typedef struct hw_date {
    int days; // since 1970-01-01; counts only where known
    bool known;
} hw_date;

enum { HW_DATE_TEXT = 11 }; // bytes of "2026-03-02" and its zero

/// Reads exactly "YYYY-MM-DD" with a day that exists, years 1800 to 2999; nothing before or behind
/// it. False, and `out` untouched, for anything else.
bool hw_date_parse(const char *text, hw_date *out);

/// Writes "YYYY-MM-DD", or "unknown", into `text` and returns it.
const char *hw_date_text(hw_date date, char text[static HW_DATE_TEXT]);

/// Days from `from` to `to`, negative when `to` is earlier. Both must be known.
int hw_date_days(hw_date from, hw_date to);

/// The day `days` later (earlier when negative); unknown stays unknown.
hw_date hw_date_plus(hw_date date, int days);

/// The year it lies in. Must be known.
int hw_date_year(hw_date date);

#endif
