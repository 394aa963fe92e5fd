#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The page: unit tests of its pure parts, its types, and visits in a real browser: the short suite of
tests/page/run.mjs, all of it under HEELWRIGHT_SUITE=whole.

Prints "tally: PASSED FAILED SKIPPED" as its last line. Left out by name: all where node or node_modules is
missing, the browser's where chromium or the built program is, those on the shared open data (HEELWRIGHT_DATA)
where it is. Pictures of every area go to HEELWRIGHT_SCREENS (/tmp/heelwright-screens).
"""
import os
import pathlib
import re
import shutil
import subprocess

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
PROGRAM = os.environ.get("HEELWRIGHT_PROGRAM", str(ROOT / "build/release/heelwright"))
LONGEST_S = 1800 # against hanging


def run(*words):
    env = {**os.environ, "HEELWRIGHT_PROGRAM": PROGRAM}
    try:
        done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, timeout=LONGEST_S, env=env)
    except subprocess.TimeoutExpired as late:
        return 1, f"{late.stdout or ''}\nended: {' '.join(words)} took over {LONGEST_S} s"
    return done.returncode, done.stdout + done.stderr


def types():
    code, said = run("node", "node_modules/typescript/bin/tsc", "--noEmit", "-p", "ui/jsconfig.json")
    if code:
        print(said)
    return (0, 1, 0) if code else (1, 0, 0)


def units():
    code, said = run("npm", "run", "--silent", "unit")
    ok = re.search(r"^# pass (\d+)", said, re.M)
    bad = re.search(r"^# fail (\d+)", said, re.M)
    if code:
        print(said)
    return (int(ok.group(1)) if ok else 0, int(bad.group(1)) if bad else 1, 0)


def browser():
    _, said = run("node", "tests/page/run.mjs")
    print(said)
    found = re.search(r"^tally: (\d+) (\d+) (\d+)$", said, re.M)
    return tuple(map(int, found.groups())) if found else (0, 1, 0)


def main():
    total = [0, 0, 0]
    if not shutil.which("node") or not (ROOT / "node_modules/typescript").is_dir():
        for name in ("types of the page", "unit tests of the page", "the page in a browser"):
            print(f"left out: {name}: no node or no node_modules (npm ci --ignore-scripts)")
        print("tally: 0 0 3")
        return
    if not (ROOT / "ui/vendor/preact.js").is_file():
        run("tools/vendor.sh")
    for part in (types, units, browser):
        total = [a + b for a, b in zip(total, part())]
    print("tally: {} {} {}".format(*total))


main()
