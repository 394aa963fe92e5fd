#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Seconds to make and to check the milling program of a pair; writes bench/milling.md.

    bench/milling.py [RUNS]   the invented person of `heelwright demo`; medians of 5 runs, or so many

The goal set is 3 s for the toolpath of a pair. Beside wall time stands the time of all cores together, which other
work on the machine does not change.
"""
import json
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
BUILD = ROOT / "build/release"
RUNS = int(sys.argv[1]) if len(sys.argv) > 1 else 5


def measure(case, scallop, folder):
    table = pathlib.Path(folder) / "mill.json"
    table.write_text(json.dumps({"heelwright_mill": 1, "choice": {"scallop_mm": scallop}}))
    runs = [json.loads(subprocess.run([BUILD / "mill_bench", case, table], capture_output=True, text=True,
                                      check=True).stdout) for _ in range(RUNS)]

    def middle(key):
        values = [run[key] for run in runs]
        return f"{statistics.median(values):.2f} ({min(values):.2f} to {max(values):.2f})"
    row = (f"| {scallop} mm | {runs[0]['lines']:,} | {middle('make_s')} | {middle('make_cpu_s')} "
            f"| {middle('all_s')} | {middle('all_cpu_s')} |")
    return row, statistics.median(run["make_s"] for run in runs)


def main():
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([BUILD / "heelwright", "demo", "--out", folder], capture_output=True, check=True)
        rows, seconds = zip(*[measure(pathlib.Path(folder) / "case.json", scallop, folder) for scallop in (0.05, 0.1)])
    goal = "met" if max(seconds) <= 3 else f"missed: {max(seconds):.1f} s by the wall"
    text = ("# Milling programs\n\nWritten by `bench/milling.py`: a pair of shells in one block, both sides; median of "
            f"{RUNS} runs (min to max), seconds.\nGoal: 3 s for the toolpath of a pair; {goal}.\n"
            f"Machine: {os.cpu_count()} cores, load average {os.getloadavg()[0]:.1f} at the end.\n\n"
            "| ridge asked for | lines | make | make, all cores' time | make and check | the same, all cores' time |\n"
            "|---|---|---|---|---|---|\n" + "\n".join(rows) + "\n")
    (ROOT / "bench/milling.md").write_text(text)
    print(text)


if __name__ == "__main__":
    main()
