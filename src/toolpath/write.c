// SPDX-License-Identifier: GPL-3.0-or-later
// The program's text: a head for the person at the machine, the safety preamble, each tool's work,
// stops for tool and turn, a safe end. Subset and rules: docs/milling.md, after facts 3.3.
#include "toolpath_internal.h"

#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double per_min = 60.0;

// What the machine will remember, so that only what changes is written.
typedef struct pen {
    hw_writer text;
    const hw_toolpath_ask *ask;
    const hw_mill_tool *tool;
    long at[3]; // um; what was written last
    long feed;  // mm/min; 0: none since the last stop
    int lines;
    double safe;
} pen;

static void end_line(pen *with)
{
    hw_writer_print(&with->text, with->ask->machine->ends_lines_with_cr ? "\r\n" : "\n");
    with->lines++;
}

static void line(pen *with, const char *text)
{
    hw_writer_print(&with->text, "%s", text);
    end_line(with);
}

// Capitals, digits and a few signs: what every control can show. Anything else is a dash.
static void plain(char *text)
{
    for (; *text; text++) {
        if (*text >= 'a' && *text <= 'z') *text = (char)(*text - 'a' + 'A');
        if (!strchr("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .,:/+-=", *text)) *text = '-';
    }
}

__attribute__((format(printf, 2, 3))) static void comment(pen *with, const char *format, ...)
{
    enum { LONGEST = 76 };
    char text[LONGEST];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    plain(text);
    hw_writer_print(&with->text, "(%s)", text);
    end_line(with);
}

static long um(double m)
{
    return lround(hw_mm_from_m(m) * 1000.0);
}

static long mm_per_min(double m_per_s)
{
    return (long)floor(hw_mm_from_m(m_per_s) * per_min + 1e-6);
}

// -- moves

static void coordinates(pen *with, const long to[3])
{
    static const char letters[] = "XYZ";
    for (int k = 0; k < 3; k++) {
        if (with->at[k] == to[k]) continue;
        hw_writer_print(&with->text, " %c%s%ld.%03ld", letters[k], to[k] < 0 ? "-" : "",
                        labs(to[k]) / 1000, labs(to[k]) % 1000);
        with->at[k] = to[k];
    }
}

static void rapid(pen *with, const long to[3])
{
    if (with->at[0] == to[0] && with->at[1] == to[1] && with->at[2] == to[2]) return;
    hw_writer_print(&with->text, "G0");
    coordinates(with, to);
    end_line(with);
}

// The tool's feed, less where its downward part would be faster than it may plunge.
static long feed_to(const pen *with, const long to[3])
{
    long full = mm_per_min(with->tool->feed_m_per_s), slow = mm_per_min(with->tool->plunge_m_per_s);
    double dx = (double)(to[0] - with->at[0]), dy = (double)(to[1] - with->at[1]);
    double dz = (double)(to[2] - with->at[2]), length = sqrt(dx * dx + dy * dy + dz * dz);
    if (dz >= 0.0 || -dz * (double)full <= (double)slow * length) return full;
    long feed = (long)floor((double)slow * length / -dz * 0.999);
    return feed > 100 ? feed - feed % 50 : feed; // few different ones
}

static void cut(pen *with, const long to[3])
{
    if (with->at[0] == to[0] && with->at[1] == to[1] && with->at[2] == to[2]) return;
    long feed = feed_to(with, to);
    hw_writer_print(&with->text, "G1");
    coordinates(with, to);
    if (feed != with->feed) hw_writer_print(&with->text, " F%ld", feed);
    with->feed = feed;
    end_line(with);
}

static void feed_down(pen *with, const long to[3])
{
    long feed = mm_per_min(with->tool->feed_m_per_s);
    hw_writer_print(&with->text, "G1");
    coordinates(with, to);
    if (feed != with->feed) hw_writer_print(&with->text, " F%ld", feed);
    with->feed = feed;
    end_line(with);
}

static void retract(pen *with)
{
    rapid(with, (const long[3]){with->at[0], with->at[1], um(with->safe)});
}

static void way(pen *with, const mill_way *of)
{
    if (of->count == 0) return;
    const long first[2] = {um(of->points[0].x), um(of->points[0].y)};
    rapid(with, (const long[3]){first[0], first[1], um(with->safe)});
    // Down through air at full feed, then on as a plunge.
    double air = fmax(of->air, of->points[0].z);
    if (air < with->safe) feed_down(with, (const long[3]){first[0], first[1], um(air)});
    for (int i = 0; i < of->count; i++)
        cut(with, (const long[3]){um(of->points[i].x), um(of->points[i].y), um(of->points[i].z)});
    retract(with);
}

// -- stops

static void start_tool(pen *with, const hw_mill_tool *tool)
{
    const hw_mill_machine *machine = with->ask->machine;
    double dwell = machine->spindle_start_s * (machine->dwells_in_ms ? 1000.0 : 1.0);
    hw_writer_print(&with->text, "T%d M6", tool->number);
    end_line(with);
    hw_writer_print(&with->text, "S%.0f M3", tool->spindle_per_min);
    end_line(with);
    hw_writer_print(&with->text, "G4 P%.3f", dwell);
    end_line(with);
    // After a stop nobody knows where the tip is: height first, then place.
    with->at[0] = with->at[1] = with->at[2] = LONG_MIN / 4;
    with->feed = 0;
    with->tool = tool;
    hw_writer_print(&with->text, "G0 Z%ld.%03ld", um(with->safe) / 1000, um(with->safe) % 1000);
    with->at[2] = um(with->safe);
    end_line(with);
}

static const char *cutter_word(const hw_mill_tool *tool)
{
    return tool->cutter == HW_CUTTER_BALL ? "BALL" : "FLAT";
}

// A stop for a person: another tool, and where the block is to lie otherwise, that too.
static void change_tool(pen *with, const hw_mill_tool *tool, bool turns_block)
{
    line(with, "M5");
    line(with, "M9");
    comment(with, "CHANGE TO TOOL %d %s DIAMETER %.3f, SET ITS LENGTH TO Z0 ON THE BED",
            tool->number, cutter_word(tool), hw_mm_from_m(2.0 * tool->radius_m));
    if (turns_block)
        comment(with, "TURN THE BLOCK OVER ABOUT X ONTO BOTH PINS. SIDE 2 UP. CLEAN THE BED");
    line(with, "M0");
    start_tool(with, tool);
}

// -- the whole

static void tool_line(pen *with, const hw_mill_tool *tool)
{
    comment(with, "TOOL %d %s DIAMETER %.3f REACH %.1f", tool->number, cutter_word(tool),
            hw_mm_from_m(2.0 * tool->radius_m), hw_mm_from_m(tool->reach_m));
}

static void head(pen *with, const hw_toolpath_part *parts, int part_count)
{
    const hw_toolpath_ask *ask = with->ask;
    const hw_mill_block *block = ask->block;
    comment(with, "HEELWRIGHT MILLING PROGRAM");
    comment(with, "CODE %s  DATE %s", ask->code, ask->date);
    if (!ask->is_released) comment(with, "NOT RELEASED: DO NOT MILL");
    for (int i = 0; i < part_count; i++) comment(with, "PART %d: %s", i + 1, parts[i].label);
    comment(with, "MACHINE %s", ask->machine->name);
    comment(with, "BLOCK %s, %s", block->name, block->material);
    comment(with, "BLOCK SIZE X %.1f Y %.1f Z %.1f: MEASURE Z", hw_mm_from_m(block->length_m),
            hw_mm_from_m(block->width_m), hw_mm_from_m(block->height_m));
    comment(with, "X0 Y0 MIDDLE OF LEFT PIN, Z0 TOP OF THE BED. MM AND MM PER MIN");
    tool_line(with, ask->rough);
    tool_line(with, ask->finish);
    comment(with, "SIDES TO CUT: %d", ask->side_count);
    comment(with, "DRY RUN ABOVE THE BLOCK FIRST. EYES, EARS, DUST: LOCAL RULES GO FIRST");
}

static void side_work(pen *with, const hw_toolpath_part *parts, int part_count,
                      const mill_ways *work, const char *what)
{
    for (int i = 0; i < part_count; i++) {
        comment(with, "%s %s", what, parts[i].label);
        for (int k = 0; k < work[i].count; k++) way(with, &work[i].ways[k]);
    }
}

hw_status write_program(hw_job *job, const hw_toolpath_part *parts, int part_count,
                        const hw_toolpath_ask *ask, const mill_work *work, hw_arena *into,
                        hw_toolpath *out)
{
    pen with = {.text = hw_writer_begin(into), .ask = ask, .safe = out->safe_z_m};
    line(&with, "%");
    head(&with, parts, part_count);
    line(&with, "G21 G17 G90 G94 G40 G49 G80");
    line(&with, "G54");
    for (int side = 0; side < ask->side_count; side++) {
        if (side > 0)
            change_tool(&with, ask->rough, true);
        else
            start_tool(&with, ask->rough);
        comment(&with, "SIDE %d", side + 1);
        side_work(&with, parts, part_count, work->rough[side], "ROUGHING");
        change_tool(&with, ask->finish, false);
        side_work(&with, parts, part_count, work->finish[side], "FINISHING");
    }
    line(&with, "M5");
    line(&with, "M9");
    line(&with, "M30");
    line(&with, "%");
    out->line_count = with.lines;
    return hw_writer_end(job, &with.text, &out->program);
}
