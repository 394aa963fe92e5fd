// SPDX-License-Identifier: GPL-3.0-or-later
// The table a clinic starts from. Feeds: 1.5 to 3 m/min in polypropylene, 3 to 6 in foam (facts
// 7.3: common practice, unsure); depth about half a flat mill's diameter; a ball takes what
// roughing left.
#include "record/record.h"

static const char table[] =
    "{\n"
    "  \"heelwright_mill\": 1,\n"
    "  \"machine\": {\"name\": \"three-axis router\", \"x_low_mm\": -30, \"x_high_mm\": 600,\n"
    "    \"y_low_mm\": -250, \"y_high_mm\": 250, \"z_high_mm\": 150,\n"
    "    \"rapid_mm_per_min\": 6000, \"feed_max_mm_per_min\": 6000, \"acceleration_mm_per_s2\": "
    "500,\n"
    "    \"spindle_min_per_min\": 6000, \"spindle_max_per_min\": 24000, \"spindle_start_s\": 5,\n"
    "    \"dwell_in\": \"s\", \"line_ends\": \"LF\"},\n"
    "  \"blocks\": [\n"
    "    {\"name\": \"shell block, pair\", \"material\": \"polypropylene\", \"length_mm\": 270,\n"
    "      \"width_mm\": 290, \"height_mm\": 60, \"pin_inset_mm\": 10, \"clamp_inset_mm\": 20},\n"
    "    {\"name\": \"shell block, single\", \"material\": \"polypropylene\", \"length_mm\": 270,\n"
    "      \"width_mm\": 150, \"height_mm\": 60, \"pin_inset_mm\": 10, \"clamp_inset_mm\": 20},\n"
    "    {\"name\": \"soft block, pair\", \"material\": \"EVA, Shore A 50\", \"length_mm\": 270,\n"
    "      \"width_mm\": 290, \"height_mm\": 60, \"pin_inset_mm\": 10, \"clamp_inset_mm\": 20},\n"
    "    {\"name\": \"cast block, pair\", \"material\": \"model foam\", \"length_mm\": 300,\n"
    "      \"width_mm\": 280, \"height_mm\": 70, \"pin_inset_mm\": 10, \"clamp_inset_mm\": 20},\n"
    "    {\"name\": \"cast block, single\", \"material\": \"model foam\", \"length_mm\": 300,\n"
    "      \"width_mm\": 150, \"height_mm\": 70, \"pin_inset_mm\": 10, \"clamp_inset_mm\": 20}],\n"
    "  \"tools\": [\n"
    "    {\"number\": 1, \"cutter\": \"flat\", \"diameter_mm\": 8, \"reach_mm\": 62, \"depth_mm\": "
    "4,\n"
    "      \"passes_apart_percent\": 50, \"feed_mm_per_min\": 3000, \"plunge_mm_per_min\": 1000,\n"
    "      \"spindle_per_min\": 12000},\n"
    "    {\"number\": 2, \"cutter\": \"ball\", \"diameter_mm\": 8, \"reach_mm\": 62, \"depth_mm\": "
    "8,\n"
    "      \"passes_apart_percent\": 10, \"feed_mm_per_min\": 3000, \"plunge_mm_per_min\": 1000,\n"
    "      \"spindle_per_min\": 14000},\n"
    "    {\"number\": 3, \"cutter\": \"flat\", \"diameter_mm\": 12, \"reach_mm\": 80, "
    "\"depth_mm\": 6,\n"
    "      \"passes_apart_percent\": 45, \"feed_mm_per_min\": 4000, \"plunge_mm_per_min\": 1500,\n"
    "      \"spindle_per_min\": 10000},\n"
    "    {\"number\": 4, \"cutter\": \"ball\", \"diameter_mm\": 12, \"reach_mm\": 80, "
    "\"depth_mm\": 12,\n"
    "      \"passes_apart_percent\": 10, \"feed_mm_per_min\": 4000, \"plunge_mm_per_min\": 1500,\n"
    "      \"spindle_per_min\": 12000},\n"
    "    {\"number\": 5, \"cutter\": \"ball\", \"diameter_mm\": 6, \"reach_mm\": 62, \"depth_mm\": "
    "6,\n"
    "      \"passes_apart_percent\": 10, \"feed_mm_per_min\": 2500, \"plunge_mm_per_min\": 800,\n"
    "      \"spindle_per_min\": 16000}],\n"
    "  \"choice\": {\"make\": \"shell\", \"block\": \"shell block, pair\", \"rough_tool\": 1,\n"
    "    \"finish_tool\": 2, \"scallop_mm\": 0.05, \"allowance_mm\": 0.5}\n"
    "}\n";

hw_bytes hw_mill_table(void)
{
    return (hw_bytes){(const unsigned char *)table, sizeof table - 1};
}
