#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Keeps the architecture: which folder may include which, and units in names.

    tools/check_layers.py            0 when docs/layers.txt holds, else each break on a line and 1

Rules: a folder includes lower layers and itself; of another folder x only x/x.h; of outside headers
each belongs to one folder (OWNERS); below `record` no identifier carries a clinician's unit but in
base/units.h and the module `clinic`.
"""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
INCLUDE = re.compile(r'^\s*#\s*include\s+(["<])([^">]+)[">]', re.M)
COMMENT = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"', re.S)
UNIT_WORD = re.compile(r"\b(?!hw_)\w+_(?:mm|cm|deg|kPa|mg|mL)\b")

# The folders that may include an outside header whose name starts so.
OWNERS = {"jansson": "json", "cairo": "pdf", "pango": "pdf", "qpdf": "pdf", "zlib": "meshfile",
          "zip": "meshfile", "libxml": "meshfile", "sqlite3": "sql", "libpq": "sql",
          "png": "imagefile", "turbojpeg": "imagefile", "tiffio": "imagefile", "openjpeg": "imagefile", "charls": "imagefile",
          "Rmath": "stats", "suitesparse": "fem", "cblas": "fem", "nlopt": "stats orthosis", "sodium": "seal", "microhttpd": "httpd", "gnutls": "httpd", "seccomp": "sandbox",
          "sys/wait": "sandbox", "sys/resource": "sandbox", "sys/prctl": "sandbox",
          "fcntl": "files sandbox httpd", "unistd": "files sandbox httpd", "sys/stat": "files"}


def read_layers():
    """Layer number of each folder, lowest 0."""
    level = {}
    for number, line in enumerate((ROOT / "docs/layers.txt").read_text().splitlines()):
        for folder in line.split("#")[0].split():
            level[folder] = number
    return level


def breaks_of_include(folder, target, level):
    other, _, header = target.partition("/")
    if other == folder:
        return None
    if other not in level:
        return f"'{target}' is in no folder of docs/layers.txt"
    if header != f"{other}.h":
        return f"'{target}' is not the header of {other}; include {other}/{other}.h"
    if level[other] >= level[folder]:
        return f"{folder} may not include {other}: it is not in a lower layer"
    return None


def breaks_of_file(path, level):
    folder = path.parent.name
    text = path.read_text()
    if "SPDX-License-Identifier: GPL-3.0-or-later" not in text.split("\n", 1)[0]:
        yield "the first line is not the SPDX line"
    for kind, target in INCLUDE.findall(text):
        if kind == '"' and "/" in target:
            problem = breaks_of_include(folder, target, level)
            if problem:
                yield problem
        elif kind == "<":
            for prefix, owners in OWNERS.items():
                if re.match(rf"{prefix}(?:[-/.\d]|$)", target) and folder not in owners.split():
                    yield f"<{target}> belongs to {owners}"
    if level[folder] < level["record"] and folder != "clinic" and path.name != "units.h":
        bare = COMMENT.sub(" ", text)
        for word in sorted(set(UNIT_WORD.findall(bare))):
            yield f"'{word}': SI below record, units of the clinic stand at the edges"


def main():
    level = read_layers()
    count = 0
    for path in sorted((ROOT / "src").glob("*/*.[ch]")):
        if path.parent.name not in level:
            print(f"{path.relative_to(ROOT)}: folder is not in docs/layers.txt")
            count += 1
            continue
        for problem in breaks_of_file(path, level):
            print(f"{path.relative_to(ROOT)}: {problem}")
            count += 1
    return 1 if count else 0


if __name__ == "__main__":
    sys.exit(main())
