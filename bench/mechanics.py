#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Times of the foot model; writes bench/mechanics.md.

    bench/mechanics.py       the least of 15 runs of `build/release/mechanics time`, and the median

Core time is that of the process alone, so that other programs' turns do not count, though their use of caches and of
a core's other half does: hence the least. Wall time is what a person waits, and means little on a busy machine.

Goals beside them: a stance in 0.1 ms on one core, 200 tissue sets with eight changes in 0.2 s and the causes in 1 s on
two cores. The peer is a finite-difference prototype in C on such a machine: 0.49 ms a stance.
"""
import json
import os
import pathlib
import statistics
import subprocess

ROOT = pathlib.Path(__file__).resolve().parent.parent
RUNS = 15
ROWS = [("one stance of 33 instants, core time", "stance_core_s", 1e3, "ms", "0.1 ms"),
        ("200 tissue sets, today and eight changes, core time", "ensemble_core_s", 1.0, "s", "0.4 s (0.2 s on two cores)"),
        ("the same, wall", "ensemble_s", 1.0, "s", "0.2 s"),
        ("causes: Shapley values over eight findings, 50 sets, core time", "causes_core_s", 1.0, "s", "2 s (1 s on two cores)"),
        ("the same, wall", "causes_s", 1.0, "s", "1 s")]


def main():
    runs = [json.loads(subprocess.run([ROOT / "build/release/mechanics", "time"], check=True, capture_output=True).stdout)
            for _ in range(RUNS)]
    lines = ["# The foot model", "", f"Written by `bench/mechanics.py`: the least of {RUNS} runs, and the median; {os.cpu_count()} "
             f"cores, load average {os.getloadavg()[0]:.0f}: " + ("a busy machine, on which wall times mean little."
             if os.getloadavg()[0] > os.cpu_count() / 2 else "a quiet machine."), "",
             "| what | ours | goal |", "|---|---|---|"]
    for name, key, factor, unit, goal in ROWS:
        values = [factor * r[key] for r in runs]
        lines.append(f"| {name} | {min(values):.3f} {unit} (median {statistics.median(values):.3f}) | {goal} |")
    lines += ["", f"Newton iterations a stance: {runs[0]['iterations']:.0f}. Peer: 0.49 ms, 1,116 residual evaluations."]
    (ROOT / "bench/mechanics.md").write_text("\n".join(lines) + "\n")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
