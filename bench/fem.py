#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The finite elements beside a general program on the same mesh; writes bench/fem.md.

    bench/fem.py          medians of 7 runs of `build/release/fem_bench`; with calculix-ccx
                          installed (Debian), also its answer and time on the same bricks
    bench/fem.py compare  only the comparison: exit 1 where an answer differs by more than 0.5 %

Goals: preview in 0.25 s, final in 5 s.
"""
import json
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = pathlib.Path(os.environ.get("FEM_BENCH", ROOT / "build/release/fem_bench"))
ONE_THREAD = dict(os.environ, OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")
ALLOWED = 0.005  # of the largest move
ROWS = [("a slider's preview: mid-stance, 30 x 10 bricks", "preview_s", "0.25"),
        ("the final: three moments, large rotations, 60 x 15 bricks", "final_s", "5"),
        ("one linear solve of 60 x 15 bricks, from nothing", "linear_s", "")]


def moves_of(text):
    """Node number -> three moves, of lines of four numbers."""
    rows = (line.split() for line in text.splitlines())
    return {int(r[0]): [float(v) for v in r[1:]] for r in rows if len(r) == 4 and r[0].isdigit()}


def compare(nu, nv):
    """Largest difference of a move as a part of the largest move, and the other's seconds."""
    with tempfile.TemporaryDirectory() as folder:
        deck = pathlib.Path(folder) / "shell.inp"
        ours = moves_of(subprocess.run([PROGRAM, "deck", deck, str(nu), str(nv)], check=True, capture_output=True,
                                       text=True).stdout)
        start = time.monotonic()
        subprocess.run(["ccx", "shell"], cwd=folder, check=True, capture_output=True, env=ONE_THREAD)
        took = time.monotonic() - start
        theirs = moves_of((deck.with_suffix(".dat")).read_text())
    assert ours.keys() == theirs.keys()
    size = max(abs(v) for row in theirs.values() for v in row)
    return max(abs(a - b) for n in ours for a, b in zip(ours[n], theirs[n])) / size, took, size


def main():
    has_peer = shutil.which("ccx") is not None
    if sys.argv[1:] == ["compare"]:
        if not has_peer:
            print("left out: calculix-ccx is not installed")
            return 0
        worst, _, size = compare(30, 10)
        print(f"largest move {1e3 * size:.3f} mm, largest difference {100 * worst:.5f} %")
        return 0 if worst <= ALLOWED else 1
    runs = [json.loads(subprocess.run([PROGRAM, "time"], check=True, capture_output=True).stdout) for _ in range(7)]
    lines = ["# The shell under load", "", f"Written by `bench/fem.py`: median of 7 runs (min to max), {os.cpu_count()} "
             f"cores, load {os.getloadavg()[0]:.1f}.", "", "| what | ours, s | goal, s |", "|---|---|---|"]
    for name, key, goal in ROWS:
        values = [r[key] for r in runs]
        lines.append(f"| {name} | {statistics.median(values):.3f} ({min(values):.3f} to {max(values):.3f}) | {goal} |")
    if has_peer:
        worst, took, size = compare(60, 15)
        lines += ["", f"The same 60 x 15 bricks (C3D20R), supports and forces in CalculiX, a general program, one thread: "
                  f"{took:.2f} s, files included. Largest move {1e3 * size:.3f} mm; ours differ from its by at most "
                  f"{100 * worst:.4f} % of that (0.5 % allowed)."]
    (ROOT / "bench/fem.md").write_text("\n".join(lines) + "\n")
    print("\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
