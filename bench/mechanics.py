#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Times of the foot model; writes bench/mechanics.md.

    bench/mechanics.py       medians of 7 runs of `build/release/mechanics time`

Core time is that of the process alone, so that other programs on the machine do not count; wall time is what a person
waits, and means little on a busy machine.

Goals beside them: a stance in 0.1 ms on one core, 200 tissue sets with eight changes in 0.2 s and the causes in 1 s on
two cores. The peer is a finite-difference prototype in C on such a machine: 0.49 ms a stance.
"""
import json
import os
import pathlib
import statistics
import subprocess

ROOT = pathlib.Path(__file__).resolve().parent.parent
ROWS = [("one stance of 33 instants, core time", "stance_core_s", 1e3, "ms", "0.1 ms"),
        ("200 tissue sets, today and eight changes, core time", "ensemble_core_s", 1.0, "s", "0.4 s (0.2 s on two cores)"),
        ("the same, wall", "ensemble_s", 1.0, "s", "0.2 s"),
        ("causes: Shapley values over five findings, 50 sets, core time", "causes_core_s", 1.0, "s", "2 s (1 s on two cores)"),
        ("the same, wall", "causes_s", 1.0, "s", "1 s")]


def main():
    runs = [json.loads(subprocess.run([ROOT / "build/release/mechanics", "time"], check=True, capture_output=True).stdout)
            for _ in range(7)]
    lines = ["# The foot model", "", f"Written by `bench/mechanics.py`: median of 7 runs, {os.cpu_count()} cores; programs "
             f"waiting for them besides (load average): {os.getloadavg()[0]:.0f}.", "",
             "| what | ours | goal |", "|---|---|---|"]
    for name, key, factor, unit, goal in ROWS:
        values = [factor * r[key] for r in runs]
        lines.append(f"| {name} | {statistics.median(values):.2f} {unit} ({min(values):.2f} to {max(values):.2f}) "
                     f"| {goal} |")
    lines += ["", f"Newton iterations a stance: {runs[0]['iterations']:.0f}. Peer: 0.49 ms, 1,116 residual evaluations."]
    (ROOT / "bench/mechanics.md").write_text("\n".join(lines) + "\n")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
