// SPDX-License-Identifier: GPL-3.0-or-later
// Measures by the table of foot.h: keys end in the unit they are written in.
#include "json_parts.h"

#include <stdio.h>

static const struct {
    const char *suffix;
    double factor; // from SI
    int decimals;
} kinds[] = {
    [HW_MEASURE_IS_LENGTH] = {"_mm", HW_MM_PER_M, 1},   [HW_MEASURE_IS_INDEX] = {"", 1.0, 3},
    [HW_MEASURE_IS_ANGLE] = {"_deg", 180.0 / HW_PI, 1}, [HW_MEASURE_IS_AREA] = {"_cm2", 1e4, 1},
    [HW_MEASURE_IS_VOLUME] = {"_cm3", 1e6, 0},
};

const char *json_measure_key(hw_measure which, const char *more, char text[static 64])
{
    const hw_measure_row *row = &hw_measure_rows()[which];
    snprintf(text, 64, "%s%s%s", row->key, more, kinds[row->kind].suffix);
    return text;
}

void json_measure(hw_json_out *out, const char *key, hw_measure which, hw_maybe value)
{
    hw_measure_kind kind = hw_measure_rows()[which].kind;
    hw_json_maybe(out, key, value, kinds[kind].factor, kinds[kind].decimals);
}

void json_measure_half_width(hw_json_out *out, const char *key, hw_measure which, hw_maybe value)
{
    hw_measure_kind kind = hw_measure_rows()[which].kind;
    hw_json_maybe(out, key, value, kinds[kind].factor, kinds[kind].decimals + 1);
}

static void sizes(hw_json_out *out, const hw_foot_measures *of)
{
    hw_mondopoint size = hw_foot_mondopoint(of);
    hw_json_open(out, "mondopoint", '{');
    hw_json_int(out, "length", size.length);
    if (size.breadth) hw_json_int(out, "breadth", size.breadth);
    hw_json_close(out);
    hw_shoe_sizes about = hw_foot_shoe_sizes(of);
    hw_json_open(out, "shoe_sizes_about", '{');
    hw_json_number(out, "eu", about.eu, 1);
    hw_json_number(out, "uk", about.uk, 1);
    hw_json_number(out, "us_men", about.us_men, 1);
    hw_json_number(out, "us_women", about.us_women, 1);
    hw_json_text(out, "note",
                 "approximations from foot length with an allowance of about 13 mm, to the nearest "
                 "half; makers differ");
    hw_json_close(out);
}

static void percentiles(hw_json_out *out, const hw_foot_measures *of)
{
    hw_json_open(out, "percentile", '{');
    for (int i = 0; i < HW_MEASURES; i++) {
        hw_maybe men = hw_foot_percentile(of, (hw_measure)i, HW_NORM_MEN);
        if (!men.known) continue;
        hw_json_open(out, hw_measure_rows()[i].key, '{');
        hw_json_number(out, "men", men.value, 0);
        hw_json_number(out, "women", hw_foot_percentile(of, (hw_measure)i, HW_NORM_WOMEN).value, 0);
        hw_json_close(out);
    }
    hw_json_text(out, "population", hw_foot_norm_population());
    hw_json_close(out);
}

static void reasons(hw_json_out *out, const hw_foot_measures *of)
{
    hw_json_open(out, "unknown_because", '{');
    for (int i = 0; i < HW_MEASURES; i++)
        if (of->why[i]) hw_json_text(out, hw_measure_rows()[i].key, of->why[i]);
    hw_json_close(out);
}

void json_measures(hw_json_out *out, const hw_foot_measures *of)
{
    char key[64];
    for (int i = 0; i < HW_MEASURES; i++)
        json_measure(out, json_measure_key((hw_measure)i, "", key), (hw_measure)i,
                     hw_foot_measure_of(of, (hw_measure)i));
    if (of->foot_length_m.known) sizes(out, of);
    percentiles(out, of);
    reasons(out, of);
}
