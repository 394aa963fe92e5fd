# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs the test_ functions of a file and prints what ./check reads: "left out: ..." lines and the tally at the end."""
import sys
import time
import traceback


class LeftOut(Exception):
    """Raised by a test that cannot run here, with the reason."""


def run_tests(tests, at_end=None):
    """The exit code of all functions test_... in `tests` (a module's globals), or of those a word of argv is in."""
    tally = {"ok": 0, "wrong": 0, "left out": 0}
    wanted = sys.argv[1:]
    for name, test in list(tests.items()):
        if not name.startswith("test_") or (wanted and not any(word in name for word in wanted)):
            continue
        began = time.time()
        try:
            test()
            state = "ok"
        except LeftOut as reason:
            state = "left out"
            print(f"left out: {name}: {reason}")
        except Exception:
            state = "wrong"
            traceback.print_exc()
        tally[state] += 1
        print(f"{state}: {name} ({time.time() - began:.1f} s)", flush=True)
    if at_end:
        at_end()
    if not any(tally.values()):
        print(f"wrong: no test of this file is named like {wanted}")
        tally["wrong"] = 1
    print(f"tally: {tally['ok']} {tally['wrong']} {tally['left out']}")
    return 1 if tally["wrong"] else 0
