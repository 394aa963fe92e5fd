#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The server under a full clinic: 50 sessions of one request a second each for a minute on loopback
while visits are computed without a pause, then 10,000 requests with an eye on its memory.

    bench/server.py [SECONDS]      prints, and writes bench/server.md

The aims (issue 3): no failed request, p99 of reads at most 50 ms, memory flat. The times are the
clients', this Python's own included.
"""
import os
import pathlib
import platform
import random
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "tests/end_to_end"))
from server_tools import Client, Server  # noqa: E402

SESSIONS, PER_SECOND, REQUESTS, RATE = 50, 1.0, 10000, 250
OUT = pathlib.Path(__file__).with_suffix(".md")


def memory_kB(server):
    for line in pathlib.Path(f"/proc/{server.process.pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1])
    return 0


def same_session(server, signed):
    """A further browser of a session: signing in fifty times would measure the password hash."""
    client = Client(server)
    client.cookie, client.token = signed.cookie, signed.token
    return client


def addresses(client):
    person = client.good("GET", "/api/people")["people"][0]["id"]
    visit = client.good("GET", f"/api/people/{person}/records?kind=visit")["records"][0]
    files = client.good("GET", f"/api/records/result/{visit['id']}")["body"]["files"]
    return visit, [
        "/api/session", "/api/people?search=ma", f"/api/people/{person}",
        f"/api/people/{person}/records?kind=visit", f"/api/records/visit/{visit['id']}",
        f"/api/records/visit/{visit['id']}/history", "/api/vocabulary", "/api/clinic",
        f"/api/files/{files['visit.json']}?name=visit.json",
        f"/api/files/{files['left_orthosis.mesh']}?name=left_orthosis.mesh"]


def compute_on(client, visit, stop, done):
    """A solve at any time."""
    while not stop.is_set():
        job = client.good("POST", f"/api/visits/{visit['id']}/compute",
                          {"version": visit["version"]})["job"]
        if client.wait(job)["state"] == "done":
            done.append(time.time())


def browse(client, paths, seed, seconds, times, failures):
    chance = random.Random(seed)
    begin = time.time() + chance.random() / PER_SECOND
    for i in range(int(seconds * PER_SECOND)):
        time.sleep(max(0.0, begin + i / PER_SECOND - time.time()))
        path = chance.choice(paths)
        began = time.perf_counter()
        try:
            status = client.raw("GET", path)[0]
        except OSError as fault:
            status = str(fault)
        times.append((time.perf_counter() - began, path.split("?")[0].split("/")[2]))
        if status != 200:
            failures.append((path, status))


def share(times, part):
    ordered = sorted(times)
    return 1000 * ordered[min(len(ordered) - 1, int(part * len(ordered)))]


def full_clinic(server, seconds):
    signed = server.sign_in("quay")
    visit, _ = addresses_after_first_result(server, signed)
    _, paths = addresses(signed)
    times, failures, done, stop = [], [], [], threading.Event()
    solver = threading.Thread(target=compute_on,
                              args=(same_session(server, signed), visit, stop, done))
    solver.start()
    threads = [threading.Thread(target=browse, args=(same_session(server, signed), paths, i, seconds,
                                                     times, failures)) for i in range(SESSIONS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    stop.set()
    solver.join()
    return times, failures, len(done), os.getloadavg()[0]


def addresses_after_first_result(server, client):
    person = client.good("GET", "/api/people")["people"][0]["id"]
    visit = client.good("GET", f"/api/people/{person}/records?kind=visit")["records"][0]
    job = client.good("POST", f"/api/visits/{visit['id']}/compute", {"version": visit["version"]})
    assert client.wait(job["job"])["state"] == "done"
    return visit, person


def ten_thousand(server):
    """Resident memory each 2,000 requests, the first 2,000 to warm up."""
    client = server.sign_in("ferry")
    _, paths = addresses(client)
    seen = []
    begin = time.time()
    for i in range(REQUESTS + 2000):
        if i % 2000 == 0 and i > 0:
            seen.append(memory_kB(server))
        time.sleep(max(0.0, begin + i / RATE - time.time()))
        status = client.raw("GET", paths[i % len(paths)])[0]
        assert status == 200, (paths[i % len(paths)], status)
    seen.append(memory_kB(server))
    return seen


def surroundings():
    """A machine shared with other programs is measured above them, and that is said."""
    if os.nice(0) >= 0:
        return ""
    return f"\nServer, solver and clients ran at niceness {os.nice(0)}: other programs were busy on the machine."


def report(seconds, times, failures, solves, load, memory):
    all_times = [t for t, _ in times]
    kinds = sorted({kind for _, kind in times})
    rows = "\n".join(
        f"| {kind} | {sum(k == kind for _, k in times)} | "
        f"{share([t for t, k in times if k == kind], 0.5):.1f} | "
        f"{share([t for t, k in times if k == kind], 0.99):.1f} |" for kind in kinds)
    growth = 100 * (memory[-1] - memory[0]) / memory[0]
    return f"""# The server under a full clinic

Written by `bench/server.py` ({os.cpu_count()} cores, {platform.machine()}); clients, server and solver share
the machine, and the times include the client's own. Load average at the end of the minute: {load:.1f}.{surroundings()}

{SESSIONS} sessions, one request a second each, {seconds:.0f} s on loopback, while {solves} whole visits were computed:

| | aim | measured |
|---|---|---|
| requests | | {len(times)} |
| failed | 0 | {len(failures)} |
| p50 of reads, ms | | {share(all_times, 0.5):.1f} |
| p99 of reads, ms | 50 | {share(all_times, 0.99):.1f} |
| longest, ms | | {1000 * max(all_times):.1f} |

| reads of | count | p50, ms | p99, ms |
|---|---|---|---|
{rows}

Resident memory after 2,000 requests and each 2,000 more, MB: {', '.join(f'{m / 1024:.1f}' for m in memory)}
({growth:+.1f} % over {REQUESTS} requests).
"""


def main():
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with Server("--demo") as server:
        times, failures, solves, load = full_clinic(server, seconds)
        memory = ten_thousand(server)
    text = report(seconds, times, failures, solves, load, memory)
    print(text)
    for failure in failures[:10]:
        print("failed:", failure)
    OUT.write_text(text)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
