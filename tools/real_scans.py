#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs `heelwright foot FILE --json` over the shared open feet and writes docs/real-scans.md.

    tools/real_scans.py [--program build/release/heelwright] [--data DIR] [--out docs/real-scans.md]

Reference lengths come from the data's README where it states one. Beside them stands a length this
tool takes from the file itself, without any code of the program: the longer side of the smallest
rectangle around the plan view of all points less than 60 mm above the lowest one, in the file's own
axes. (Higher up a leg that leans back would count as foot; the README's boxes include it.)
"""
import argparse
import gzip
import json
import math
import os
import struct
import subprocess
import sys
import time

METRES = {"m": 1.0, "dm": 0.1, "cm": 0.01, "mm": 0.001, "inch": 0.0254}
BELOW_M = 0.06  # of the ankle

# file, side, unit, upward axis in the file (None: tilted), README's plan-view length in mm, note
FEET = [
    ("standing_scan_left_m.stl", "left", "m", "+z", 275.7, "real, standing"),
    ("standing_scan_left_m.obj", "left", "m", "+z", 275.7, "the same as OBJ"),
    ("dirty_standing_left_floor_holes_mm.stl", "left", "mm", None, 275.7,
     "the same with floor, strays and holes, one at the tip of the toes"),
    ("focus_left_hires_m.obj", "left", "m", "+z", None, "real, hanging; README's 264.7 includes the leg"),
    ("dirty_hires_left_open_mixed_winding_upsidedown_mm.stl.gz", "left", "mm", "-z", None,
     "the same, open, upside down, half of the triangles turned"),
    ("find_mean_left_m.obj", "left", "m", "+z", 262.9, "model"),
    ("find_pc1minus_right_mm.stl", "right", "mm", "+z", 267.6, "model"),
    ("find_pc2plus_toeext_left_inch.ply", "left", "inch", "+z", None, "model, toes raised"),
    ("find_inversion_left_mm_ascii.stl", "left", "mm", "+z", None, "model, inverted, leg leans back"),
    ("find_template_left_m.obj", "left", "m", "+z", None, "real, 2000 triangles"),
    ("mh_male_right_smooth_mm.stl", "right", "mm", "+y", 256.9, "artist's model"),
    ("mh_male_left_quads_cm.obj", "left", "cm", "+y", 259.0, "artist's model, 1132 quads"),
    ("mh_female_heavy_left_mm_bigendian.ply", "left", "mm", "+y", None, "artist's model"),
    ("vhm_left_leg_m.ply", "left", "m", "+y", None, "cadaver, leg 0.30 m, foot pointed"),
    ("vhm_right_foot_mm.stl", "right", "mm", "+y", None, "cadaver, foot pointed"),
    ("cloud_hires_left_rotated_m.ply", "left", "m", None, None,
     "the foot of focus_left_hires as 25,000 points with 0.2 mm noise, no triangles"),
]
OTHERS = [
    "sole_only_hires_left_mm.ply", "mh_base_whole_body_dm.obj",
    "vhm_both_lower_legs_cm_ascii.ply",
]

PLY_TYPES = {"char": "b", "uchar": "B", "int8": "b", "uint8": "B", "short": "h", "ushort": "H", "int": "i",
             "uint": "I", "int32": "i", "uint32": "I", "float": "f", "float32": "f", "double": "d",
             "float64": "d"}


def ply_points(data):
    head, body = data.split(b"end_header\n", 1)
    lines = head.decode("ascii", "replace").split("\n")
    kind, count, names, types, seen = "", 0, [], "", ""
    for words in (line.split() for line in lines):
        if words[:1] == ["format"]:
            kind = words[1]
        elif words[:1] == ["element"]:
            seen = words[1]
            count = int(words[2]) if seen == "vertex" else count
        elif words[:1] == ["property"] and seen == "vertex":
            types += PLY_TYPES[words[1]]
            names.append(words[2])
    at = [names.index(k) for k in "xyz"]
    if kind == "ascii":
        rows = (line.split() for line in body.decode("ascii").split("\n")[:count])
        return [tuple(float(r[i]) for i in at) for r in rows]
    row = struct.Struct((">" if "big" in kind else "<") + types)
    return [tuple(v[i] for i in at) for v in row.iter_unpack(body[:row.size * count])]


def stl_points(data):
    if len(data) == 84 + 50 * struct.unpack("<I", data[80:84])[0]:
        rows = struct.iter_unpack("<12fH", data[84:])
        return [r[k:k + 3] for r in rows for k in (3, 6, 9)]
    words = (line.split() for line in data.decode("ascii").split("\n"))
    return [tuple(map(float, w[1:4])) for w in words if w[:1] == ["vertex"]]


def points_of(path):
    with (gzip.open if path.endswith(".gz") else open)(path, "rb") as file:
        data = file.read()
    if ".obj" in path:
        lines = (line.split() for line in data.decode("utf-8", "replace").split("\n"))
        return [tuple(map(float, w[1:4])) for w in lines if w[:1] == ["v"]]
    return ply_points(data) if ".ply" in path else stl_points(data)


def hull(points):
    points = sorted(set(points))

    def half(seq):
        out = []
        for p in seq:
            while len(out) > 1 and ((out[-1][0] - out[-2][0]) * (p[1] - out[-2][1])
                                    - (out[-1][1] - out[-2][1]) * (p[0] - out[-2][0])) <= 0:
                out.pop()
            out.append(p)
        return out[:-1]

    return half(points) + half(points[::-1])


def longer_side(points):
    """Of the smallest rectangle around plan-view points."""
    ring = hull(points)
    best = (math.inf, 0.0)
    for a, b in zip(ring, ring[1:] + ring[:1]):
        length = math.dist(a, b)
        c, s = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        u = [p[0] * c + p[1] * s for p in ring]
        v = [p[1] * c - p[0] * s for p in ring]
        wide, deep = max(u) - min(u), max(v) - min(v)
        best = min(best, (wide * deep, max(wide, deep)))
    return best[1]


def low_rectangle_mm(path, unit, up):
    axis, sign = "xyz".index(up[1]), -1 if up[0] == "-" else 1
    points = points_of(path)
    lowest = min(sign * p[axis] for p in points)
    low = [tuple(p[i] for i in range(3) if i != axis) for p in points
           if (sign * p[axis] - lowest) * METRES[unit] < BELOW_M]
    return 1000.0 * METRES[unit] * longer_side(low)


def run(program, path):
    start = time.monotonic()
    done = subprocess.run([program, "foot", path, "--json"], capture_output=True, text=True)
    seconds = time.monotonic() - start
    return (json.loads(done.stdout) if done.returncode == 0 else None), done.stderr.strip(), seconds


def shown(value, digits=1):
    return "–" if value is None else f"{value:.{digits}f}"


def row_of(program, folder, foot):
    file, side, unit, up, readme, note = foot
    path = os.path.join(folder, file)
    got, why, seconds = run(program, path)
    if not got:
        return f"| {file} | refused: {why} |", False
    rectangle = low_rectangle_mm(path, unit, up) if up else None
    reference = readme if readme is not None else rectangle
    ours = got["foot_length_mm"]
    good = got["side"] == side and got["unit"] == unit
    cells = [file, note, f"{got['side']} {got['side_confidence']:.2f}", got["unit"],
             str(got["triangles"]), shown(readme), shown(rectangle), shown(ours),
             f"{ours - reference:+.1f}" if reference is not None else "–",
             shown(got["ball_breadth_mm"]), shown(got["heel_breadth_mm"]), shown(got["dorsum_height_mm"]),
             shown(got["arch_height_index"], 3), f"{seconds:.2f}"]
    return "| " + " | ".join(cells) + ("" if good else " WRONG SIDE OR UNIT") + " |", good


def stress_text(program, folder):
    """What becomes of the broken and odd files: none of them is a foot."""
    refused, wrong, slowest = 0, [], 0.0
    names = sorted(name for name in os.listdir(folder) if not name.startswith("README"))
    for name in names:
        got, why, seconds = run(program, os.path.join(folder, name))
        slowest = max(slowest, seconds)
        refused += got is None
        if got is not None or why.count("\n") > 0 or not why:
            wrong.append(name)
    return (f"{len(names)} files, {refused} refused in one sentence, {len(wrong)} taken for a foot or without a "
            f"sentence{': ' + ', '.join(wrong) if wrong else ''}; the slowest took {slowest:.2f} s.\n")


def other_row(program, folder, file):
    got, why, seconds = run(program, os.path.join(folder, file))
    said = why if not got else (f"read; side {got['side']} {got['side_confidence']:.2f}, unit {got['unit']}, "
                                f"length {shown(got['foot_length_mm'])}: " + " ".join(got["warnings"]))
    return f"| {file} | {said} | {seconds:.2f} |"


INTRODUCTION = """# Real scans

Written by `tools/real_scans.py`; nothing here is typed by hand. The feet are the shared open ones; their README says
where each is from. None has a measured clinical truth: what is compared is the program's foot length with the plan
view of the same file, so this checks posing and landmarks, not the scanner and not the person.

* **README**: the plan-view length stated by the data's README (its own smallest rectangle).
* **low rectangle**: the same taken by the tool from points less than 60 mm above the lowest, in the file's own axes.
  Where a leg leans back behind the heel, the README's box is longer than the foot, and this is the reference.
  A pointed or inverted foot lies tilted in its file: there the rectangle is a view from a few degrees aside.
* **difference**: ours less README, or less low rectangle where the README states none that fits.
* **ours** runs along the axis from the middle of the heel to the second metatarsal head; the rectangle's side need not.

Limit for foot dimensions from scans: 2 mm (ISO 20685-1:2018, as quoted by an apparel sizing textbook).

"""


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--program", default="build/release/heelwright")
    parser.add_argument("--data", default=os.environ.get("HEELWRIGHT_DATA"))
    parser.add_argument("--out", default="docs/real-scans.md")
    asked = parser.parse_args()
    if not asked.data:
        sys.exit("real_scans: name the folder of shared data with --data or HEELWRIGHT_DATA")
    folder = os.path.join(asked.data, "feet")
    head = ("| file | what | side | unit | triangles | README mm | low rectangle mm | ours mm | difference mm | ball mm "
            "| heel mm | instep mm | arch height index | s |\n" + "|---" * 14 + "|\n")
    rows = [row_of(asked.program, folder, foot) for foot in FEET]
    others = [other_row(asked.program, folder, file) for file in OTHERS]
    with open(asked.out, "w", encoding="utf-8") as file:
        file.write(INTRODUCTION + head + "\n".join(text for text, _ in rows))
        file.write("\n\n## Not a full foot\n\n| file | what the program says | s |\n|---|---|---|\n")
        file.write("\n".join(others) + "\n\n## Broken and odd files\n\n")
        file.write(stress_text(asked.program, os.path.join(asked.data, "mesh-stress")))
    wrong = sum(not good for _, good in rows)
    print(f"{len(rows)} feet, {wrong} with a wrong side or unit; see {asked.out}")
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
