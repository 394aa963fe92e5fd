#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Wall time and memory of whole commands on a scan; writes bench/visit.md.

    bench/visit.py SCAN...     medians of 5 runs; the program is build/release/heelwright

The goal set for a visit on an 89,000-triangle OBJ is 2 s and 500 MB. The physical limit beside it is reading the
file's bytes. Times are of whole processes on whatever else the machine does: compare within one call only.
"""
import json
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = ROOT / "build/release/heelwright"
RUNS = 5


def run_once(words):
    """Seconds and peak MB of one run."""
    start = time.perf_counter()
    child = subprocess.Popen([PROGRAM, *words], stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    if status:
        sys.exit(f"{words} failed")
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def measure(name, words):
    runs = [run_once(words) for _ in range(RUNS)]
    seconds = [r[0] for r in runs]
    return (f"| {name} | {statistics.median(seconds):.3f} ({min(seconds):.3f} to {max(seconds):.3f}) "
            f"| {max(r[1] for r in runs):.0f} |")


def bench(scan, folder):
    side = "right" if "right" in scan.name else "left"
    case = pathlib.Path(folder) / "case.json"
    case.write_text(json.dumps({
        "heelwright_case": 1, "visit_date": "2026-03-02", "person": {"code": "BENCH"}, "mass_kg": 75,
        "feet": {side: {"scan": {"file": str(scan.resolve()), "loading": "hanging"},
                        "heel_pain": {"first_step_pain_0_10": 6}}}}))
    start = time.perf_counter()
    scan.read_bytes()
    yield f"| {scan.name}: read the bytes (limit) | {time.perf_counter() - start:.4f} | |"
    yield measure(f"{scan.name}: foot", ["foot", str(scan), "--json"])
    yield measure(f"{scan.name}: load", ["load", str(case), "--json"])
    yield measure(f"{scan.name}: orthosis", ["orthosis", str(case), "--out", folder + "/o"])
    yield measure(f"{scan.name}: visit", ["visit", str(case), "--out", folder + "/v"])


def main():
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for name in sys.argv[1:]:
            rows += bench(pathlib.Path(name), folder)
    text = ("# Whole commands\n\nWritten by `bench/visit.py`: median of 5 runs (min to max), peak resident memory.\n\n"
            "| command | seconds | MB |\n|---|---|---|\n" + "\n".join(rows) + "\n")
    (ROOT / "bench/visit.md").write_text(text)
    print(text)


if __name__ == "__main__":
    main()
