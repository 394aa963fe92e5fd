#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The invented clinic's caseload, judged from outside: its tables recounted by Python and R, the export without
people attacked by somebody who has the clinic's own tables, its papers read by poppler and qpdf.
Prints "tally: PASSED FAILED SKIPPED" as its last line.
"""
import collections
import csv
import json
import math
import pathlib
import re
import shutil
import statistics
import subprocess
import sys
import tempfile

from server_tools import PROGRAM, Server
from suite import LeftOut, run_tests

K = 5  # of docs/deidentified.md


class Clinic:
    """The demo clinic once: its folder, what a server of it answers, its tables in both forms."""
    made = None

    def __init__(self):
        self.home = tempfile.TemporaryDirectory()
        self.folder = pathlib.Path(self.home.name)
        with Server("--demo", "--quiet", "--workers", "0", folder=self.home.name) as server:
            with server.sign_in("quay") as client:
                self.books = client.ask("GET", "/api/caseload")[1]
                people = client.ask("GET", "/api/people?search=HB-0178")[1]["people"]
                self.record = client.ask("GET", f"/api/people/{people[0]['id']}/treatment-record")
                self.refused = client.ask("POST", "/api/caseload/export", {"table": "heels.csv"})[0]
        self.tables, self.files = {}, {}
        for words in ([], ["--deidentified"]):
            out = self.folder / ("without" if words else "with")
            done = subprocess.run([PROGRAM, "caseload", "--data", self.home.name, "--out", out, *words],
                                  capture_output=True, text=True)
            assert done.returncode == 0, done.stderr
            for file in out.iterdir():
                self.files[(bool(words), file.name)] = file
                if file.suffix == ".csv":
                    with open(file, newline="", encoding="utf-8") as text:
                        self.tables[(bool(words), file.name)] = list(csv.reader(text))

    def rows(self, name, without=False):
        head, *rows = self.tables[(without, name)]
        return [dict(zip(head, row)) for row in rows]


def clinic():
    if Clinic.made is None:
        Clinic.made = Clinic()
    return Clinic.made


def test_every_column_of_every_table_stands_in_the_dictionary():
    for without in (False, True):
        told = collections.defaultdict(list)
        for row in clinic().rows("dictionary.csv", without):
            assert row["meaning"] and row["kind"], row
            told[row["table"]].append(row["column"])
        for (which, name), table in clinic().tables.items():
            if which == without:
                assert table[0] == told[name], (name, table[0], told[name])
                assert all(len(row) == len(table[0]) for row in table)


def wilson(k, n):
    """Wilson 1927, as every textbook has it; check values in facts/standards.md 10.4."""
    z, p = 1.959963984540054, k / n
    middle, half = (p + z * z / 2 / n), z * math.sqrt(p * (1 - p) / n + z * z / 4 / n / n)
    return (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)


def test_the_summary_is_what_the_heels_and_scores_say():
    heels, scores = clinic().rows("heels.csv"), collections.defaultdict(list)
    for row in clinic().rows("scores.csv"):
        scores[row["code"], row["side"]].append((float(row["week"]), float(row["first_step_pain"])))
    assert len(heels) > 25
    groups = collections.defaultdict(list)
    for heel in heels:
        mine = scores[heel["code"], heel["side"]]
        assert len(mine) == int(heel["ratings"]) and mine == sorted(mine) and mine[0][0] == 0
        followed = len(mine) > 1
        assert heel["better"] == ("" if not followed else "yes" if mine[0][1] - mine[-1][1] >= 1.9 - 1e-9 else "no")
        gone = [week for week, score in mine if score <= 2]
        assert (heel["weeks_until_gone"] == "") == (not gone)
        for group in ("all", heel["first_treatment"]):
            groups[group].append((heel, mine))
    for row in clinic().rows("summary.csv"):
        mine = groups[row["group"]]
        followed = [(heel, of) for heel, of in mine if len(of) > 1]
        better = sum(heel["better"] == "yes" for heel, _ in followed)
        assert (int(row["heels"]), int(row["followed"]), int(row["better"])) == (len(mine), len(followed), better), row
        assert int(row["lost"]) == sum(len(of) == 1 for _, of in mine)
        low, high = wilson(better, len(followed))
        assert abs(float(row["better_low"]) - low) < 6e-5 and abs(float(row["better_high"]) - high) < 6e-5
        assert abs(float(row["median_change"]) - statistics.median(of[-1][1] - of[0][1] for _, of in followed)) < 0.006


R_SCRIPT = r"""
library(survival)
heels <- read.csv(commandArgs(TRUE)[1]); heels <- heels[heels$ratings > 1, ]
heels$event <- !is.na(heels$weeks_until_gone)
heels$time <- ifelse(heels$event, heels$weeks_until_gone, heels$weeks_followed)
fit <- survfit(Surv(time, event) ~ 1, data = heels, conf.type = "log")
s <- summary(fit)
cat("median", unname(summary(fit)$table["median"]), "\n")
for (i in seq_along(s$time)) cat("step", s$time[i], s$surv[i], s$n.risk[i], "\n")
top <- names(sort(-table(heels$first_treatment[heels$first_treatment != ""])))[1:2]
two <- heels[heels$first_treatment %in% top, ]
cat("logrank", survdiff(Surv(time, event) ~ first_treatment, data = two)$chisq, "\n")
cat("early", survdiff(Surv(time, event) ~ first_treatment, data = two, rho = 1)$chisq, "\n")
n <- sum(heels$better == "yes"); cat("wilson", prop.test(n, nrow(heels), correct = FALSE)$conf.int, "\n")
"""


def test_the_clinics_curve_agrees_with_r():
    """Kaplan and Meier, its median, the log-rank test and Wilson's interval: R's survival and stats."""
    if not shutil.which("Rscript"):
        raise LeftOut("R is not installed")
    script = clinic().folder / "judge.R"
    script.write_text(R_SCRIPT)
    done = subprocess.run(["Rscript", script, clinic().files[False, "heels.csv"]], capture_output=True, text=True)
    if "there is no package called" in done.stderr:
        raise LeftOut("R's survival is not installed")
    assert done.returncode == 0, done.stderr
    told = [line.split() for line in done.stdout.splitlines()]
    all_heels = clinic().books["caseload"]["all"]
    steps = [tuple(map(float, line[1:])) for line in told if line[0] == "step"]
    ours = [(s["week"], s["share"], s["at_risk"]) for s in all_heels["still_in_pain"]]
    assert len(steps) == len(ours) > 2
    for theirs, mine in zip(steps, ours):
        assert abs(theirs[0] - mine[0]) < 0.006 and abs(theirs[1] - mine[1]) < 6e-5 and theirs[2] == mine[2]
    by_name = {line[0]: line[1:] for line in told}
    assert abs(float(by_name["median"][0]) - all_heels["median_weeks_until_gone"]) < 0.06
    assert abs(float(by_name["logrank"][0]) - clinic().books["caseload"]["largest_two"]["chi2"]) < 6e-5
    assert abs(float(by_name["early"][0]) - clinic().books["caseload"]["largest_two"]["early_chi2"]) < 6e-5
    for theirs, key in zip(by_name["wilson"], ("low", "high")):
        assert abs(float(theirs) - all_heels["better"][key]) < 6e-4


def test_nobody_stands_alone_in_the_export_without_people():
    heels = clinic().rows("deid_heels.csv", True)
    shown = collections.defaultdict(set)
    for row in heels:
        shown[row["year"], row["age_band"], row["sex"]].add(row["person"])
    assert heels and all(len(people) >= K for people in shown.values()), {k: len(v) for k, v in shown.items()}
    given = collections.defaultdict(set)
    for row in clinic().rows("treatments.csv"):
        given[row["act"]].add(row["code"])
    acts = {row["act"] for row in clinic().rows("deid_treatments.csv", True)} | {row["first_treatment"] for row in heels}
    for act in acts - {"", "other"}:
        assert len(given[act]) >= K, (act, len(given[act]))
    everything = "".join(file.read_text() for (without, name), file in clinic().files.items()
                         if without and name != "dictionary.csv")
    names = {word for row in clinic().rows("recalls.csv") for word in row["name"].split() if len(word) > 3}
    for secret in [row["code"] for row in clinic().rows("heels.csv")] + sorted(names - {"(invented)"}):
        assert secret not in everything, secret
    assert not re.search(r"\d{4}-\d\d-\d\d", everything), "a date"


def test_the_export_without_people_keeps_no_order_of_the_clinic():
    """Who has the clinic's list must not read the export off by row numbers."""
    with_people = [row["last_score"] for row in clinic().rows("heels.csv")]
    last = {}
    for row in clinic().rows("deid_scores.csv", True):
        last[int(row["heel"])] = row["first_step_pain"]
    same = sum(float(a) == float(b) for a, b in zip(with_people, (last[i] for i in sorted(last))))
    assert same < 0.6 * len(last), f"{same} of {len(last)} rows in the clinic's order"
    assert list(last) == list(range(1, len(last) + 1))


def test_exports_are_the_owners_and_stand_in_the_audit():
    assert clinic().refused == 403
    with Server("--quiet", "--workers", "0", "--demo", folder=clinic().home.name) as server:
        server.passphrases = dict(re.findall(r"(\S+)\s+passphrase (\S+)",
                                             pathlib.Path(clinic().home.name, "invented-sign-in.txt").read_text()))
        owner = next(name for name in server.passphrases if name not in ("quay", "ferry", "slipway"))
        with server.sign_in(owner) as client:
            kinds = [row["kind"] for row in client.ask("GET", "/api/audit")[1]["audit"]]
    assert kinds.count("export") == 2, collections.Counter(kinds)


def paper_text(path):
    for tool in ("qpdf", "pdftotext", "pdffonts", "pdfinfo"):
        if not shutil.which(tool):
            raise LeftOut(f"{tool} is not installed")
    done = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    for line in subprocess.run(["pdffonts", path], capture_output=True, text=True).stdout.splitlines()[2:]:
        assert line.split()[-5] == "yes", f"not embedded: {line}"
    assert "Tagged:          yes" in subprocess.run(["pdfinfo", path], capture_output=True, text=True).stdout
    return " ".join(subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True).stdout.split())


def test_the_audit_report_shows_no_small_group():
    text = paper_text(clinic().files[False, "audit.pdf"])
    at = -1
    for part in ("Audit of", "Outcome", "By treatment", "Beside published", "Adverse events", "Over time", "What the books hold"):
        assert text.find(part) > at, part
        at = text.find(part)
    assert "say nothing about which treatment works" in text
    for row in clinic().rows("summary.csv"):
        if 0 < int(row["followed"]) < K:
            assert f"{row['better']} of {row['followed']}:" not in text, row


def test_the_treatment_record_says_who_what_when_and_which_foot():
    status, body = clinic().record[:2]
    path = clinic().folder / "record.pdf"
    path.write_bytes(body if isinstance(body, bytes) else bytes(body))
    text = paper_text(path)
    assert status == 200 and "Treatment record of HB-0178" in text and "INVENTED" in text
    for word in ("radial shockwave", "2000 pulses", "2.5 bar", "bruise over the heel", "left", "Ratings", "Signature", "page 1 of"):
        assert word in text, word


if __name__ == "__main__":
    sys.exit(run_tests(globals()))
