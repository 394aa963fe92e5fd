#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""docs/hazards.md names only tests that are run, and each of its rows names one or says that no control stands yet.

    tools/check_hazards.py               every named test exists and is in a list that some runner runs
    tools/check_hazards.py --ran build   also: it passed in the logs of ./check in that folder. Tests of the page that
                                         the short suite leaves out, and those left out by name, are told, not wrong;
                                         with HEELWRIGHT_SUITE=whole the first are wrong too

0 when it holds, else each break on a line and 1.
"""
import os
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent


def listed_tests():
    """Name -> kind of every test that a runner runs."""
    names = {path.stem: "fuzz" for path in (ROOT / "tests/fuzz").glob("fuzz_*.c")}
    listed, defined = set(), set()
    for path in (ROOT / "tests").rglob("*.c"):
        text = path.read_text()
        listed |= set(re.findall(r"cmocka_unit_test(?:_setup_teardown)?\(\s*(test_\w+)", text))
        listed |= set(re.findall(r"\{\"(test_\w+)\",", text))
        listed |= set(re.findall(r"\b[A-Z]+\((test_\w+)\)", text))  # a suite's own macro over cmocka's
        defined |= set(re.findall(r"^(?:static )?void (test_\w+)\(", text, re.M))
    names |= {name: "c" for name in listed & defined}
    for path in (ROOT / "tests/end_to_end").glob("test_*.py"):
        text = path.read_text()
        if "run_tests(globals()" in text:  # runs every function of this name in it
            names |= {name: "python" for name in re.findall(r"^def (test_\w+)", text, re.M)}
    suites = re.search(r"\[([^\]]*)\]\.map\(\(name\) => import", (ROOT / "tests/page/run.mjs").read_text())
    for stem in re.findall(r"'(\w+)'", suites.group(1)):
        text = (ROOT / f"tests/page/{stem}.mjs").read_text()
        exported = re.findall(r"^export (?:async )?function (test_\w+)|^export const (test_\w+)", text, re.M)
        names |= {one or other: "page" for one, other in exported}
    return names


def passed_tests(folder):
    """Names that passed everywhere they ran, and names left out, in the logs of ./check."""
    ok, bad, out = set(), set(), set()
    for log in pathlib.Path(folder).glob("check-*.log"):
        text = log.read_text(errors="replace")
        ok |= set(re.findall(r"^\[       OK \] (test_\w+)", text, re.M)) | set(re.findall(r"^ok: (test_\w+)", text, re.M))
        out |= set(re.findall(r"^\[  SKIPPED \] (test_\w+)", text, re.M))
        out |= set(re.findall(r"^left out: (test_\w+)", text, re.M))
        bad |= set(re.findall(r"^\[  FAILED  \] (test_\w+)", text, re.M)) | set(re.findall(r"^wrong: (test_\w+)", text, re.M))
    for code in pathlib.Path(folder).glob("check-fuzz_*-run.code"):  # what the target ended with
        (ok if code.read_text().strip() == "0" else bad).add(code.name[len("check-"):-len("-run.code")])
    return ok - bad, out


def named_rows():
    for line in (ROOT / "docs/hazards.md").read_text().splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 4 and re.match(r"[HW]\d+$", cells[0]):
            yield cells[0], cells[2], re.findall(r"`((?:test|fuzz)_\w+)`", cells[3])


def fault(name, known, ran):
    """What is wrong with one named test; None: nothing."""
    if name not in known:
        return "no runner runs a test called"
    if ran is None or name in ran[0]:
        return None
    if name in ran[1]:
        print(f"left out here: {name}")
        return None
    if known[name] == "page" and os.environ.get("HEELWRIGHT_SUITE") != "whole":
        return None  # the short suite of the page
    return "it did not pass in this check:"


def main():
    ran = passed_tests(sys.argv[2]) if sys.argv[1:2] == ["--ran"] else None
    known, wrong, seen = listed_tests(), 0, set()
    for row, control, named in named_rows():
        seen.add(row)
        for name in named:
            why = fault(name, known, ran)
            if why:
                print(f"{row}: {why} {name}")
                wrong += 1
        if not named and "no control yet" not in control:
            print(f"{row}: names no test and does not say that its control is missing")
            wrong += 1
    for number in range(1, 48):  # the trade's list, facts/standards.md 6.8
        if f"H{number:02}" not in seen:
            print(f"H{number:02} is missing")
            wrong += 1
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
