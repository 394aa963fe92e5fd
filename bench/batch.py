#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Scans a second and memory of `heelwright batch` over many invented scans, killed on the way and gone on with.

    bench/batch.py [COUNT] [--queue URL]      1,000 scans by default; --queue: through PostgreSQL, two workers

Memory is the resident set of all its processes together, sampled as it runs: the middle of the first
and of the last fifth of the run are compared.
"""
import csv
import os
import pathlib
import signal
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM, SCANS = ROOT / "build/release/heelwright", ROOT / "build/release/invented_scans"


def resident_mb(pid):
    """Of a process and its children."""
    total, queue = 0, [pid]
    while queue:
        at = queue.pop()
        try:
            total += int(pathlib.Path(f"/proc/{at}/statm").read_text().split()[1])
            queue += map(int, pathlib.Path(f"/proc/{at}/task/{at}/children").read_text().split())
        except (FileNotFoundError, ProcessLookupError):
            pass
    return total * os.sysconf("SC_PAGE_SIZE") / 1e6


def watch(words, pids=lambda process: [process.pid], is_time_to_die=lambda: False):
    process = subprocess.Popen([PROGRAM, *map(str, words)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    began, seen = time.time(), []
    while process.poll() is None:
        seen.append(sum(map(resident_mb, pids(process))))
        if is_time_to_die():
            process.send_signal(signal.SIGKILL)
        time.sleep(0.1 if len(seen) < 100 else 0.5)
    return process.returncode, time.time() - began, seen


def lines_of(path):
    return path.read_bytes().count(b"\n") if path.exists() else 0


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 and sys.argv[1].isdigit() else 1000
    queue = sys.argv[sys.argv.index("--queue") + 1] if "--queue" in sys.argv else None
    with tempfile.TemporaryDirectory() as folder:
        tree, out, data = (pathlib.Path(folder, name) for name in ("scans", "out.csv", "data"))
        subprocess.run([SCANS, str(count), tree], check=True)
        words, workers = ["batch", tree, "--out", out], []
        if queue:
            store = ["--data", data, "--store", queue]
            data.mkdir()
            words += store
            subprocess.run([PROGRAM, "caseload", *map(str, store), "--out", data / "x"], stdout=subprocess.DEVNULL)
            workers = [subprocess.Popen([PROGRAM, "work", *map(str, store), "--lease", "5"], stdout=subprocess.DEVNULL)
                       for _ in range(2)]
        everybody = lambda process: [process.pid, *(w.pid for w in workers)]
        kills = 0
        for after in (count // 10, count // 5):  # killed twice, with so many lines written
            code, _, _ = watch(words, is_time_to_die=lambda: lines_of(out) > after)
            kills += code == -9
            if workers:  # a worker too: its lease lapses, the other takes the file
                workers[0].kill()
                workers[0].wait()
                workers[0] = subprocess.Popen([PROGRAM, "work", *map(str, store), "--lease", "5"],
                                              stdout=subprocess.DEVNULL)
        stood = len(list(csv.DictReader(open(out, newline="", encoding="utf-8"))))
        code, seconds, seen = watch(words, everybody)
        for worker in workers:
            worker.terminate()
            worker.wait()
        rows = list(csv.DictReader(open(out, newline="", encoding="utf-8")))
        names = [row["file"] for row in rows]
        failed = sum(row["status"] != "ok" for row in rows)
        assert code == 0 and names == sorted(p.name for p in tree.iterdir()), "files are missing, or stand twice"
        fifth = max(1, len(seen) // 5)
        print(f"{count} scans, killed {kills} times; {stood} stood, {count - stood} in {seconds:.1f} s: "
              f"{(count - stood) / seconds:.1f} scans a second; {failed} failed; no line lost, none twice")
        print(f"memory: {statistics.median(seen[:fifth]):.0f} MB in the first fifth, "
              f"{statistics.median(seen[-fifth:]):.0f} MB in the last, at most {max(seen):.0f} MB")


if __name__ == "__main__":
    main()
