#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The papers of a visit as a printer and a reader that cannot see would meet them.

Judged by poppler and qpdf, not by our own code. Prints "tally: PASSED FAILED SKIPPED" as its last line.
"""
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import traceback

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
PROGRAM = ROOT / "build/release/heelwright"


class LeftOut(Exception):
    pass


def need(*tools):
    for tool in tools:
        if not shutil.which(tool):
            raise LeftOut(f"{tool} is not installed")


def run(*words, timeout=120):
    return subprocess.run([PROGRAM, *map(str, words)], capture_output=True, text=True,
                          timeout=timeout)


def demo(folder, change=None):
    """The invented person's visit, its case changed by `change`, into folder/out."""
    done = run("demo", "--out", folder)
    assert done.returncode == 0, done.stderr
    path = pathlib.Path(folder, "case.json")
    case = json.loads(path.read_text())
    if change:
        change(case)
        path.write_text(json.dumps(case))
    out = pathlib.Path(folder, "out")
    done = run("visit", path, "--out", out)
    assert done.returncode == 0, done.stderr
    return out


def text_of(pdf, page=None):
    """One line of text: how lines are broken does not matter here."""
    where = ["-f", str(page), "-l", str(page)] if page else []
    done = subprocess.run(["pdftotext", *where, pdf, "-"], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return " ".join(done.stdout.split())


def pages_of(pdf):
    info = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True).stdout
    return int(re.search(r"Pages:\s+(\d+)", info).group(1))


def check_file(pdf, most_pages):
    """Well-formed, tagged, every font embedded with its letters readable."""
    done = subprocess.run(["qpdf", "--check", pdf], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    info = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True).stdout
    assert re.search(r"Tagged:\s+yes", info), info
    assert 1 <= pages_of(pdf) <= most_pages, info
    fonts = subprocess.run(["pdffonts", pdf], capture_output=True, text=True).stdout.splitlines()[2:]
    assert fonts, "no font"
    for line in fonts:
        embedded, _subset, unicode_map = line.split()[-5:-2]
        assert embedded == "yes" and unicode_map == "yes", line


def check_order(text, words):
    at = -1
    for word in words:
        found = text.find(word, at + 1)
        assert found > at, f"'{word}' does not follow in: {text[max(at, 0):at + 400]}"
        at = found


def structure_of(pdf):
    """The words of the structure tree, in its order: what a screen reader says."""
    done = subprocess.run(["pdfinfo", "-struct-text", pdf], capture_output=True, text=True)
    return done.stdout


def smallest_letters(pdf):
    """Sizes of letters, points, from poppler's own layout: words with their boxes."""
    done = subprocess.run(["pdftotext", "-bbox", pdf, "-"], capture_output=True, text=True).stdout
    return [float(b) - float(a) for a, b in re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)"',
                                                       done)]


def test_patient_sheet_can_be_handed_out():
    need("qpdf", "pdfinfo", "pdftotext", "pdffonts")
    with tempfile.TemporaryDirectory() as folder:
        pdf = demo(folder) / "patient.pdf"
        check_file(pdf, 2)
        for page in (1, 2):
            text = text_of(pdf, page)
            for word in ("HB-0042", "left heel", "2 March 2026", "INVENTED"):
                assert word in text, f"page {page} lacks {word}"
        check_order(text_of(pdf), ["Your heel: what to do", "This week", "Let pain guide you",
                                   "When to call", "Your exercises and aids", "Toes-back stretch",
                                   "Heel raise on a step", "NOT YET", "Next dates",
                                   "Review at the clinic", "13 April 2026"])
        # Doses as in facts/clinical.md 5.1: 10 repetitions of 10 s, 3 sets a day, 8 weeks.
        assert "Hold 10 seconds, 10 times. Do this 3 times a day" in text_of(pdf)
        assert "for 8 weeks" in text_of(pdf)
        order = structure_of(pdf)
        check_order(order, ["Your heel", "When to call", "Figure", "Next dates"])
        assert order.count("Figure") == 5, order.count("Figure")


def test_patient_sheet_is_in_large_type_and_grey():
    """Leaflets in 12 points or more (facts/standards.md, print); the page's own foot is smaller."""
    need("pdftotext", "pdftoppm")
    with tempfile.TemporaryDirectory() as folder:
        pdf = demo(folder) / "patient.pdf"
        # A word's box is the font's whole height: 1.16 times its size for this family.
        small = [h for h in smallest_letters(pdf) if h < 12.0 * 1.1]
        whole = len(smallest_letters(pdf))
        assert len(small) < 0.15 * whole, (len(small), whole)
        ppm = subprocess.run(["pdftoppm", "-r", "40", "-singlefile", pdf], capture_output=True).stdout
        pixels = ppm[ppm.index(b"\n255\n") + 5:]
        worst = max(max(pixels[i:i + 3]) - min(pixels[i:i + 3]) for i in range(0, len(pixels) - 2, 3))
        assert min(pixels) < 60 and worst < 25, f"colour: {worst}"


def test_an_unanswered_red_flag_gives_no_exercises():
    need("pdftotext", "pdfinfo")

    def forget(case):
        del case["red_flags"]["fever"]

    with tempfile.TemporaryDirectory() as folder:
        pdf = demo(folder, forget) / "patient.pdf"
        text = text_of(pdf)
        assert pages_of(pdf) == 1 and "NOT RELEASED: do not hand this out" in text, text
        assert "When to call" in text and "Toes-back" not in text and "seconds" not in text


def test_feet_that_do_not_feel_are_looked_at_daily():
    need("pdftotext")

    def numb(case):
        case["feet"]["left"]["monofilament"] = "not felt"

    with tempfile.TemporaryDirectory() as folder:
        text = text_of(demo(folder, numb) / "patient.pdf")
        assert "skin of both feet every day" in text, text
    with tempfile.TemporaryDirectory() as folder:
        assert "skin of both feet every day" not in text_of(demo(folder) / "patient.pdf")


def nothing_against(case):
    """Everything asked of the invented person, and nothing speaks against an injection or shockwave."""
    case["past_treatments"], case["medicines"], case["conditions"] = [], [], []
    case["person"].pop("hba1c_percent")
    case["person"].update({key: "no" for key in ("pacemaker", "frail", "systemic_infection")})
    for foot in case["feet"].values():
        foot.update({key: "no" for key in (
            "open_wound", "skin_infection", "fragile_skin", "tumour_in_field", "suspected_rupture",
            "suspected_stress_fracture", "open_growth_plate", "implant_at_heel", "past_ulcer")})
        foot["squeeze_test"] = "negative"


def test_consent_names_one_heel_and_its_risks_with_sources():
    need("qpdf", "pdfinfo", "pdftotext", "pdffonts")
    with tempfile.TemporaryDirectory() as folder:
        assert not (demo(folder) / "consent.pdf").exists(), "held treatments need no consent yet"
    with tempfile.TemporaryDirectory() as folder:
        pdf = demo(folder, nothing_against) / "consent.pdf"
        check_file(pdf, 8)
        acts = []
        for page in range(1, pages_of(pdf) + 1):
            text = text_of(pdf, page)
            check_order(text, ["Consent record of HB-0042, left heel", "What is proposed", "left heel",
                               "What it did for others", "What can go wrong", "What can be done instead",
                               "Talked about", "Person:", "Clinician:"])
            assert "right" not in text.split("Talked")[0], "the other foot has no part in it"
            acts.append(text)
        injection = [t for t in acts if "corticosteroid injection" in t.split("What it did")[0]]
        assert len(injection) == 1
        # facts/clinical.md 7.3, both figures with their standing
        assert "2.4 of 100" in injection[0] and "[memory]" in injection[0]
        assert "no count found" in injection[0] and "does not mean rare" in injection[0]
        wave = [t for t in acts if "radial shockwave, left" in t]
        assert wave and "NICE IPG311" in wave[0]


def test_order_sheet_says_which_side_and_every_parameter():
    need("qpdf", "pdfinfo", "pdftotext", "pdffonts")
    with tempfile.TemporaryDirectory() as folder:
        out = demo(folder)
        pdf = out / "order.pdf"
        check_file(pdf, 2)
        feet = json.loads((out / "visit.json").read_text())["feet"]
        for page, side in ((1, "left"), (2, "right")):
            text, made = text_of(pdf, page), feet[side]["orthosis"]
            other = "RIGHT" if side == "left" else "LEFT"
            assert f"{side.upper()} FOOT" in text and f"{other} FOOT" not in text
            for key in ("thickness_mm", "heel_cup_mm", "arch_fill_mm", "heel_expansion_mm"):
                assert f"{made['order'][key]:.1f} mm" in text, key
            assert f"{made['thickness_min_mm']:.1f} mm" in text
            outer = text.index("outer side |") if side == "left" else text.index("| outer side")
            assert outer > 0 and "exclusive use of person HB-0042" in text
        assert "4.0 deg varus (inner side raised)" in text_of(pdf, 1)
        assert "NOT RELEASED" not in text_of(pdf)


def test_an_order_that_is_not_released_says_so_on_every_page():
    need("pdftotext", "pdfinfo")

    def forget(case):
        del case["red_flags"]["fever"]

    with tempfile.TemporaryDirectory() as folder:
        pdf = demo(folder, forget) / "order.pdf"
        for page in (1, 2):
            assert "NOT RELEASED: do not make this device" in text_of(pdf, page)


def main():
    tally = {"ok": 0, "wrong": 0, "left out": 0}
    for name, test in list(globals().items()):
        if not name.startswith("test_"):
            continue
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
        print(f"{state}: {name}")
    print(f"tally: {tally['ok']} {tally['wrong']} {tally['left out']}")
    return 1 if tally["wrong"] else 0


if __name__ == "__main__":
    sys.exit(main())
