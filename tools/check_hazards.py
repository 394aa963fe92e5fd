#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""docs/hazards.md names only tests that exist, and each of its rows names one or says that no control stands yet.

    tools/check_hazards.py           0 when it holds, else each break on a line and 1
"""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent


def known_tests():
    """Every test that some runner runs: cmocka's lists, Python's and the browser's functions, fuzz targets."""
    names = {path.stem for path in (ROOT / "tests/fuzz").glob("fuzz_*.c")}
    for path in (ROOT / "tests").rglob("*.c"):
        text = path.read_text()
        for name in re.findall(r"^static void (test_\w+)\(", text, re.M):
            if len(re.findall(rf"\b{name}\b", text)) > 1:  # defined, and in a list that is run
                names.add(name)
    for path in (ROOT / "tests/end_to_end").glob("*.py"):
        names |= set(re.findall(r"^def (test_\w+)", path.read_text(), re.M))
    for path in (ROOT / "tests/page").glob("*.mjs"):
        names |= set(re.findall(r"\btest_\w+", path.read_text()))
    return names


def main():
    known, wrong, rows = known_tests(), 0, 0
    for line in (ROOT / "docs/hazards.md").read_text().splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) != 4 or not re.match(r"[HW]\d+$", cells[0]):
            continue
        rows += 1
        named = re.findall(r"`((?:test|fuzz)_\w+)`", cells[3])
        for name in named:
            if name not in known:
                print(f"{cells[0]}: no test is called {name}")
                wrong += 1
        if not named and "no control yet" not in cells[2]:
            print(f"{cells[0]}: names no test and does not say that its control is missing")
            wrong += 1
    if rows < 47:
        print(f"only {rows} rows were found")
        wrong += 1
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
