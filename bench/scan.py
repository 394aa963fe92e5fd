#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading, welding, cleaning, posing and measuring one foot at 100,000, 500,000 and 2,000,000 triangles;
writes bench/scan.md.

    bench/scan.py [--program build/release/heelwright] [--data ../shared/data]

The shared foot focus_left_hires_m.obj is subdivided (each triangle in four; the rest up to the count by a
point in the middle of some triangles) and written as binary STL. Beside the program: reading the file's bytes, and
libassimp 5 loading it with aiProcess_JoinIdenticalVertices, which is reading and welding only. Whole
processes, medians of 5; for libassimp the time is taken inside the process, without starting Python.
"""
import argparse
import ctypes
import ctypes.util
import os
import pathlib
import statistics
import struct
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
RUNS = 5
JOIN_IDENTICAL_VERTICES = 0x2
PEER = """
import ctypes, sys, time
lib = ctypes.CDLL(sys.argv[1])
lib.aiImportFile.restype = ctypes.c_void_p
start = time.perf_counter()
scene = lib.aiImportFile(sys.argv[2].encode(), ctypes.c_uint(%d))
took = time.perf_counter() - start
sys.exit("not read") if not scene else print(took)
""" % JOIN_IDENTICAL_VERTICES


def read_obj(path):
    points, faces = [], []
    for line in path.read_text().splitlines():
        words = line.split()
        if words[:1] == ["v"]:
            points.append(tuple(map(float, words[1:4])))
        if words[:1] == ["f"]:
            corners = [int(w.split("/")[0]) - 1 for w in words[1:]]
            faces += [(corners[0], corners[i], corners[i + 1]) for i in range(1, len(corners) - 1)]
    return points, faces


def middle(points, *corners):
    return tuple(sum(points[c][k] for c in corners) / len(corners) for k in range(3))


def in_four(points, faces):
    between, out = {}, []

    def half(a, b):
        key = (a, b) if a < b else (b, a)
        if key not in between:
            between[key] = len(points)
            points.append(middle(points, a, b))
        return between[key]
    for a, b, c in faces:
        ab, bc, ca = half(a, b), half(b, c), half(c, a)
        out += [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return out


def grown_to(points, faces, count):
    while 4 * len(faces) <= count:
        faces = in_four(points, faces)
    extra, out = (count - len(faces)) // 2, []
    step = len(faces) / extra if extra else 0
    chosen = {int(i * step) for i in range(extra)} if extra <= len(faces) else set(range(len(faces)))
    for i, (a, b, c) in enumerate(faces):
        if i not in chosen:
            out.append((a, b, c))
            continue
        m = len(points)
        points.append(middle(points, a, b, c))
        out += [(a, b, m), (b, c, m), (c, a, m)]
    return out


def write_stl(path, points, faces):
    body = bytearray(b"subdivided shared foot".ljust(80)) + struct.pack("<I", len(faces))
    for face in faces:
        body += struct.pack("<12fH", 0, 0, 0, *(x for corner in face for x in points[corner]), 0)
    path.write_bytes(body)


def run(words):
    start = time.perf_counter()
    child = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    text = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    if status:
        sys.exit(f"{words[:2]} failed: {child.stderr.read().decode()}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024, text.decode()


def row(name, runs):
    seconds = [r[0] for r in runs]
    return (f"| {name} | {statistics.median(seconds):.3f} ({min(seconds):.3f} to {max(seconds):.3f}) "
            f"| {max(r[1] for r in runs):.0f} |")


def read_through(path):
    size, piece = 0, bytearray(1 << 20)
    with open(path, "rb", buffering=0) as file:
        while got := file.readinto(piece):
            size += got
    return size


def bench(asked, count, folder):
    path = pathlib.Path(folder) / "foot.stl"
    # In a process of its own: what a program starts from counts into its peak memory.
    child = os.fork()
    if child == 0:
        points, faces = read_obj(pathlib.Path(asked.data) / "feet/focus_left_hires_m.obj")
        faces = grown_to(points, faces, count)
        write_stl(path, points, faces)
        os._exit(0)
    if os.waitpid(child, 0)[1] != 0:
        sys.exit("the file to read could not be written")
    start = time.perf_counter()
    size = read_through(path)
    yield f"| {(size - 84) // 50:,} triangles: read the bytes ({size / 1e6:.0f} MB; limit) | {time.perf_counter() - start:.4f} | |"
    base = [asked.program, "foot", str(path), "--json", "--loading", "hanging"]
    yield row("heelwright: read, weld, clean, pose, measure", [run(base) for _ in range(RUNS)])
    yield row("the same with 95 % intervals", [run(base + ["--uncertainty"]) for _ in range(RUNS)])
    library = ctypes.util.find_library("assimp")
    if library:
        peers = [run([sys.executable, "-c", PEER, library, str(path)]) for _ in range(RUNS)]
        yield row("libassimp: read and weld", [(float(p[2]), p[1]) for p in peers])


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", default=str(ROOT / "build/release/heelwright"))
    parser.add_argument("--data", default=str(ROOT / "../shared/data"))
    parser.add_argument("--out", default=str(ROOT / "bench/scan.md"))
    asked = parser.parse_args()
    lines = ["# One foot at three sizes", "", "Written by `bench/scan.py`; see there for what is measured.",
             "Goal for 500,000 triangles: 0.5 s, no longer than a general library takes to load and weld.",
             f"Machine: {os.cpu_count()} cores, load average {os.getloadavg()[0]:.1f} at the start.", "",
             "| what | seconds, median (range) of 5 | peak MB |", "|---|---|---|"]
    with tempfile.TemporaryDirectory() as folder:
        for count in (100_000, 500_000, 2_000_000):
            lines += bench(asked, count, folder)
            print("\n".join(lines[-4:]))
    pathlib.Path(asked.out).write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
