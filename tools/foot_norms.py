#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Writes src/foot/norms_table.h: percentiles of foot measures by sex from the ANSUR II columns.

    tools/foot_norms.py [--data ../shared/data] [--out src/foot/norms_table.h]

The data are in the public domain (work of the US Government); only derived percentiles are kept.
"""
import argparse
import csv
import gzip

SHARES = [1, 2.5, 5, 10, 25, 50, 75, 90, 95, 97.5, 99]
COLUMNS = [("HW_MEASURE_FOOT_LENGTH", "footlength"), ("HW_MEASURE_TRUNCATED_LENGTH", "balloffootlength"),
           ("HW_MEASURE_BALL_BREADTH", "footbreadthhorizontal"), ("HW_MEASURE_HEEL_BREADTH", "heelbreadth"),
           ("HW_MEASURE_BALL_GIRTH", "balloffootcircumference")]


def quantile(values, share):
    """Linear between order statistics of whole millimetres, each spread evenly over its millimetre."""
    values = sorted(values)
    place = share / 100 * (len(values) - 1)
    at = values[round(place)]
    below = sum(v < at for v in values)
    same = sum(v == at for v in values)
    return at - 0.5 + (share / 100 * len(values) - below) / same


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--data", default="../shared/data")
    parser.add_argument("--out", default="src/foot/norms_table.h")
    asked = parser.parse_args()
    with gzip.open(f"{asked.data}/anthropometry/ansur2_foot_columns.csv.gz", "rt") as file:
        rows = list(csv.DictReader(file))
    groups = [[r for r in rows if r["Gender"] == word] for word in ("Male", "Female")]
    text = ["// SPDX-License-Identifier: GPL-3.0-or-later",
            "// Written by tools/foot_norms.py from the public ANSUR II files; nothing here is typed by hand.",
            f"// {len(groups[0])} men, {len(groups[1])} women.",
            f"static const double norm_shares[] = {{{', '.join(f'{s:g}' for s in SHARES)}}};", "",
            "static const struct norm_row {", "    hw_measure which;",
            f"    double at[HW_NORM_GROUPS][{len(SHARES)}]; // m", "} norm_rows[] = {"]
    for which, column in COLUMNS:
        text.append(f"    {{{which},")
        lines = []
        for group in groups:
            values = [float(r[column]) for r in group]
            lines.append("{" + ", ".join(f"{quantile(values, s) / 1000:.5f}" for s in SHARES) + "}")
        text.append("     {" + ",\n      ".join(lines) + "}},")
    text.append("};")
    with open(asked.out, "w") as out:
        out.write("\n".join(text) + "\n")


if __name__ == "__main__":
    main()
