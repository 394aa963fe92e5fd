#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""`heelwright image` on open ultrasound files, judged by other programs: DCMTK's and OpenJPEG's own.

All pixels must be theirs; lengths those of shared/data/ultrasound/README.md. What is hostile must end in one sentence.
"""
import json
import os
import pathlib
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib

from suite import LeftOut, run_tests

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
PROGRAM = ROOT / "build/release/heelwright"
DATA = os.environ.get("HEELWRIGHT_DATA")


def run(*words):
    return subprocess.run([PROGRAM, "image", *map(str, words)], capture_output=True, text=True, timeout=120)


def shared(name):
    if not DATA:
        raise LeftOut("no shared open data")
    return pathlib.Path(DATA) / "ultrasound" / name


def tool(*words):
    if not shutil.which(words[0]):
        raise LeftOut(f"{words[0]} is not installed")
    subprocess.run([str(word) for word in words], check=True, capture_output=True, timeout=60)


def png_pixels(path):
    """Columns, rows and the bytes of an 8-bit RGB PNG: a second reader, of 20 lines."""
    data, at, packed, head = path.read_bytes(), 8, b"", None
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at:at + 8])
        body = data[at + 8:at + 8 + length]
        head, packed, at = body if kind == b"IHDR" else head, packed + (body if kind == b"IDAT" else b""), at + 12 + length
    columns, rows, bits, colour = struct.unpack(">IIBB", head[:10])
    assert (bits, colour) == (8, 2), (bits, colour)
    raw, wide = zlib.decompress(packed), 3 * columns
    out, above = bytearray(), bytes(wide)
    for row in range(rows):
        way, line = raw[row * (wide + 1)], bytearray(raw[row * (wide + 1) + 1:(row + 1) * (wide + 1)])
        for i in range(wide):
            left, up, corner = line[i - 3] if i > 2 else 0, above[i], above[i - 3] if i > 2 else 0
            guess = left + up - corner
            near = min((abs(guess - left), 0, left), (abs(guess - up), 1, up), (abs(guess - corner), 2, corner))[2]
            line[i] = (line[i] + (0, left, up, (left + up) // 2, near)[way]) & 255
        out += line
        above = bytes(line)
    return columns, rows, bytes(out)


def pnm_pixels(path):
    """The same of a binary PNM file; grey becomes three equal bytes."""
    data, at, words = path.read_bytes(), 0, []
    while len(words) < 4:
        end = data.index(b"\n", at)
        words += data[at:end].split(b"#")[0].split()
        at = end + 1
    columns, rows = int(words[1]), int(words[2])
    pixels = data[at:]
    return columns, rows, pixels if words[0] == b"P6" else bytes(v for v in pixels for _ in range(3))


def ours(path, folder, *words):
    done = run(path, "--picture", folder, *words)
    assert done.returncode == 0, done.stderr
    return png_pixels(pathlib.Path(folder, "image.png"))


def test_shared_all_pixels_are_those_of_dcmtk():
    with tempfile.TemporaryDirectory() as folder:
        theirs = pathlib.Path(folder, "theirs.ppm")
        for name in ("ExplVR_BigEnd.dcm", "OBXXXX1A_rle.dcm", "color-pl.dcm", "examples_rgb_color.dcm",
                     "examples_ybr_color.dcm"):
            tool("dcmj2pnm", "+op", shared(name), theirs)
            assert ours(shared(name), folder) == pnm_pixels(theirs), name
        tool("dcmj2pnm", "+op", "+F", "17", shared("examples_ybr_color.dcm"), theirs)
        assert ours(shared("examples_ybr_color.dcm"), folder, "--frame", "17") == pnm_pixels(theirs)


def test_shared_pixels_encoded_anew_by_dcmtk_are_the_same():
    with tempfile.TemporaryDirectory() as folder:
        anew = pathlib.Path(folder, "anew.dcm")
        for name, encoders in (("examples_rgb_color.dcm", (["dcmcjpls"], ["dcmcrle"])),
                               ("color-pl.dcm", (["dcmcjpls"], ["dcmconv", "+ti"], ["dcmconv", "+tb"]))):
            plain = ours(shared(name), folder)
            for encoder in encoders:
                tool(*encoder, shared(name), anew)
                assert ours(anew, folder) == plain, (name, encoder)
        tool("dcmcjpls", "+en", "+md", "2", shared("examples_rgb_color.dcm"), anew)  # with loss: within 2
        pairs = zip(ours(anew, folder)[2], ours(shared("examples_rgb_color.dcm"), folder)[2])
        assert max(abs(a - b) for a, b in pairs) <= 2
        tool("dcmcjpeg", "+e1", shared("examples_rgb_color.dcm"), anew)
        done = run(anew)
        assert done.returncode == 1 and "lossless JPEG" in done.stderr, done.stderr


def test_shared_jpeg_2000_is_as_openjpeg_decodes_it():
    data = shared("examples_jpeg2k.dcm").read_bytes()
    at, stream = data.index(b"\xe0\x7f\x10\x00OB\0\0\xff\xff\xff\xff") + 12, b""
    while data[at:at + 4] == b"\xfe\xff\x00\xe0":  # items; the first is the offset table
        length = struct.unpack("<I", data[at + 4:at + 8])[0]
        stream, at = stream + data[at + 8:at + 8 + length], at + 8 + length
    with tempfile.TemporaryDirectory() as folder:
        bare, theirs = pathlib.Path(folder, "bare.j2k"), pathlib.Path(folder, "theirs.ppm")
        bare.write_bytes(stream)
        tool("opj_decompress", "-i", bare, "-o", theirs)
        assert ours(shared("examples_jpeg2k.dcm"), folder) == pnm_pixels(theirs)


def test_shared_screen_grabs_as_tiff_and_jpeg():
    with tempfile.TemporaryDirectory() as folder:
        plain = ours(shared("examples_rgb_color.dcm"), folder)
        tiff, jpeg = pathlib.Path(folder, "grab.tif"), pathlib.Path(folder, "grab.jpg")
        tool("dcmj2pnm", "+ot", shared("examples_rgb_color.dcm"), tiff)
        assert ours(tiff, folder) == plain
        tool("dcmj2pnm", "+oj", "+Jq", "95", shared("examples_rgb_color.dcm"), jpeg)
        columns, rows, pixels = ours(jpeg, folder)
        assert (columns, rows) == plain[:2]
        assert sum(abs(a - b) for a, b in zip(pixels, plain[2])) / len(pixels) < 4  # with loss
        for path in (tiff, jpeg):
            path.write_bytes(path.read_bytes()[:-3000])
            done = run(path)
            assert done.returncode == 1 and done.stderr.count("\n") == 1, (path, done.stderr)


def test_shared_lengths_and_refusals():
    label = run(shared("OBXXXX1A_rle.dcm"), "--caliper", "459.5,290.5,498.5,301.5", "--json")
    assert json.loads(label.stdout)["caliper"]["length_mm"] == 10.628, label.stdout
    for name, caliper, why in (
            ("gdcm-US-ALOKA-16.dcm", "300,200,400,200", "different regions"),
            ("examples_ybr_color.dcm", "100,100,150,150", "shrunk or cut"),
            ("examples_rgb_color.dcm", "10,10,40,40", "has no scale"),
            ("msk_gastroc_medial_b.png", "10,10,40,40", "has no scale")):
        done = run(shared(name), "--caliper", caliper, "--json")
        assert done.returncode == 1 and why in done.stderr and not done.stdout, (name, done.stderr)
    grab = run(shared("msk_gastroc_lateral_a.png"), "--ruler", "795,59.5,795,521.5,40", "--caliper", "400,100,400,215.5",
               "--json")
    assert json.loads(grab.stdout)["caliper"]["length_mm"] == 10.0


def test_shared_damage_is_one_sentence():
    whole = shared("OBXXXX1A_rle.dcm").read_bytes()
    jpeg = shared("examples_ybr_color.dcm").read_bytes()
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder, "bad.dcm")
        for count in (0, 131, 132, 400, 2000, len(whole) // 2, len(whole) - 9):
            path.write_bytes(whole[:count])
            done = run(path)
            assert done.returncode == 1 and done.stderr.count("\n") == 1, (count, done.stderr)
        path.write_bytes(jpeg[:40000] + bytes(3000) + jpeg[43000:])
        done = run(path)
        assert done.returncode == 1 and done.stderr.count("\n") == 1, done.stderr


def grey_dicom(rows, columns, spacing):
    """An ultrasound picture without regions, with the pixel spacing given: explicit little endian, made up."""
    def element(group, number, kind, value):
        value += (b"\0" if kind == b"UI" else b" ") * (len(value) % 2)
        length = struct.pack("<2xI" if kind == b"OW" else "<H", len(value))
        return struct.pack("<HH", group, number) + kind + length + value
    def short(value):
        return struct.pack("<H", value)
    us = b"1.2.840.10008.5.1.4.1.1.6.1"
    meta = element(2, 2, b"UI", us) + element(2, 3, b"UI", b"1.2.3") + element(2, 16, b"UI", b"1.2.840.10008.1.2.1")
    body = element(8, 0x16, b"UI", us) + element(8, 0x60, b"CS", b"US") + element(0x28, 2, b"US", short(1))
    body += element(0x28, 4, b"CS", b"MONOCHROME2") + element(0x28, 0x10, b"US", short(rows))
    body += element(0x28, 0x11, b"US", short(columns)) + element(0x28, 0x30, b"DS", spacing)
    for number, value in ((0x100, 8), (0x101, 8), (0x102, 7), (0x103, 0)):
        body += element(0x28, number, b"US", short(value))
    body += element(0x7FE0, 0x10, b"OW", bytes(i % 251 for i in range(rows * columns)))
    return bytes(128) + b"DICM" + element(2, 0, b"UL", struct.pack("<I", len(meta))) + meta + body


def test_a_pixel_spacing_counts_only_when_a_person_confirms_it():
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "spacing.dcm"
        file.write_bytes(grey_dicom(120, 160, b"0.2\\0.1"))
        about = json.loads(run(file, "--json").stdout)
        assert about["pixel_spacing"] == {"between_rows_mm": 0.2, "between_columns_mm": 0.1, "is_calibrated": False}
        refused = run(file, "--caliper", "10,10,110,10")
        assert refused.returncode == 1 and "only when you confirm" in refused.stderr, refused.stderr
        across = run(file, "--spacing-confirmed", "--caliper", "10,10,110,10")
        assert across.returncode == 0 and across.stdout.count("caliper 10.00 mm") == 1, across.stdout + across.stderr
        down = run(file, "--spacing-confirmed", "--caliper", "10,10,10,60")
        assert "caliper 10.00 mm" in down.stdout and "pixel spacing of the file" in down.stdout, down.stdout


def test_wrong_use_of_picture_options():
    for words in (["--caliper", "1,2,3"], ["--caliper", "1,2,3,x"], ["--ruler", "1,2,3,4"], ["--frame", "0"],
                  ["--edges", "soft"], ["--box", "1,2,3,4,5"], ["--thickness", "3"], ["--side", "left"]):
        assert run("no.dcm", *words).returncode == 2, words


if __name__ == "__main__":
    sys.exit(run_tests(globals()))
