// SPDX-License-Identifier: GPL-3.0-or-later
#include "date.h"
#include "status.h"
#include <stdio.h>
#include <string.h>

enum { year_first = 1800, year_last = 2999, days_per_era = 146097, years_per_era = 400 };

typedef struct civil {
    int year, month, day;
} civil;

static bool is_leap(int year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int month_length(int year, int month)
{
    static const int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return lengths[month - 1] + (month == 2 && is_leap(year));
}

// Counts in years that begin in March, so that the leap day is the last of its year.
static int days_from_civil(civil date)
{
    const int year = date.month <= 2 ? date.year - 1 : date.year;
    const int month = (date.month + 9) % 12; // March is 0
    const int era = year / years_per_era;
    const int year_of_era = year - era * years_per_era;
    const int day_of_year = (153 * month + 2) / 5 + date.day - 1; // 153 days in five such months
    const int day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * days_per_era + day_of_era - 719468; // 0000-03-01 to 1970-01-01
}

static int digits(const char *text, int count)
{
    int value = 0;
    for (int i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9') return -1;
        value = 10 * value + (text[i] - '0');
    }
    return value;
}

bool hw_date_parse(const char *text, hw_date *out)
{
    if (strlen(text) != HW_DATE_TEXT - 1 || text[4] != '-' || text[7] != '-') return false;
    const civil date = {digits(text, 4), digits(text + 5, 2), digits(text + 8, 2)};
    if (date.year < year_first || date.year > year_last) return false;
    if (date.month < 1 || date.month > 12) return false;
    if (date.day < 1 || date.day > month_length(date.year, date.month)) return false;
    *out = (hw_date){days_from_civil(date), true};
    return true;
}

static civil civil_from_days(int days)
{
    // The year is off by one at most from the mean length; then walk the months.
    civil date = {1970 + (int)((double)days / 365.2425), 1, 1};
    while (days_from_civil(date) > days) date.year--;
    while (days_from_civil((civil){date.year + 1, 1, 1}) <= days) date.year++;
    int rest = days - days_from_civil(date);
    while (rest >= month_length(date.year, date.month)) {
        rest -= month_length(date.year, date.month);
        date.month++;
    }
    date.day += rest;
    return date;
}

const char *hw_date_text(hw_date date, char text[static HW_DATE_TEXT])
{
    if (!date.known) return strcpy(text, "unknown");
    const civil day = civil_from_days(date.days);
    if (day.year < year_first || day.year > year_last) return strcpy(text, "unknown");
    // A wider buffer than needed: the compiler cannot see that the year has four digits.
    char wide[40];
    (void)snprintf(wide, sizeof wide, "%04d-%02d-%02d", day.year, day.month, day.day);
    wide[HW_DATE_TEXT - 1] = 0;
    return strcpy(text, wide);
}

int hw_date_days(hw_date from, hw_date to)
{
    HW_ASSERT(from.known && to.known);
    return to.days - from.days;
}

hw_date hw_date_plus(hw_date date, int days)
{
    return date.known ? (hw_date){date.days + days, true} : date;
}

int hw_date_year(hw_date date)
{
    HW_ASSERT(date.known);
    return civil_from_days(date.days).year;
}
