#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The server from outside: rights, sizes, origins for every route of its own table; hostile files,
slow clients, killed workers; and whether anything personal is written where it should not be.

Prints "tally: PASSED FAILED SKIPPED" as its last line. HEELWRIGHT_PROGRAM names another build.
"""
import datetime
import gzip
import json
import pathlib
import shutil
import signal
import socket
import ssl
import struct
import subprocess
import sys
import tempfile
import threading
import time

from server_tools import PROGRAM, Client, Postgres, Server, routes, send_raw
from suite import LeftOut, run_tests

ROLES = {"owner": "harbour", "clinician": "quay", "assistant": "ferry", "maker": "slipway"}
NOBODY = "0123456789abcdef"
ALL = {}  # one server with the invented clinic, for the tests that do not need their own


def demo():
    if "server" not in ALL:
        ALL["server"] = Server("--demo")
        ALL["who"] = {role: ALL["server"].sign_in(login) for role, login in ROLES.items()}
    return ALL["server"]


def who(role):
    demo()
    return ALL["who"][role]


def filled(route):
    """An address of the route that names nothing that is there."""
    return (route["path"].replace("{kind}", "visit").replace("{hash}", "0" * 64)
            .replace("{id}", NOBODY))


def body_of(route):
    return {"json": {}, "bytes": b"x", "none": None}[route["body"]]


def change():
    return who("owner").good("GET", "/api/audit")["change"]


def first_visit():
    """Person and visit of the demo."""
    clinician = who("clinician")
    person = [p for p in clinician.good("GET", "/api/people")["people"]
              if p["body"]["code"] == "HB-0042"][0]
    visit = clinician.good("GET", f"/api/people/{person['id']}/records?kind=visit")["records"][0]
    return person, visit


def new_person(client, code, **more):
    return client.good("POST", "/api/people", {"body": {"code": code, **more}, "why": "test"})["id"]


def new_visit(client, whose, **more):
    body = {"heelwright_case": 1, "visit_date": "2026-03-02", "person": {"birth_year": 1979},
            "mass_kg": 82, "feet": {"left": {"measures": {"foot_length_mm": 255},
                                             "heel_pain": {"first_step_pain_0_10": 6}}}}
    body.update(more)
    made = client.good("POST", f"/api/people/{whose}/records/visit", {"body": body, "why": "test"})
    return made["id"], made["version"], body


# -- every route of the table

def test_table_every_route_without_a_session_is_refused():
    with Client(demo()) as nobody:
        for route in routes():
            if not route["who"]:
                continue
            status, reply = nobody.ask(route["method"], filled(route), body_of(route))
            assert status == 401, (route, status, reply)


def test_table_every_route_with_another_role_is_refused():
    seen = 0
    for role in ROLES:
        for route in routes():
            if not route["who"] or role in route["who"] or route["method"] == "DELETE":
                continue
            status, reply = who(role).ask(route["method"], filled(route), body_of(route))
            assert status == 403 and "role" in reply["error"], (role, route, status, reply)
            seen += 1
    assert seen > 30, seen


def test_table_every_route_is_open_to_the_roles_it_names():
    before = change()
    for role in ROLES:
        for route in routes():
            address = route["path"]
            if role not in route["who"] or "session" in address or address == "/api/events" \
                    or address == "/api/backup":
                continue
            status, reply = who(role).ask(route["method"], filled(route), body_of(route))
            assert status not in (401, 405, 500, 503), (role, route, status, reply)
            if status == 403:  # a finer rule said no, not the table
                assert "your role" not in reply["error"] or "{kind}" in address, (role, route, reply)
    assert change() == before, "an empty request changed something"


def test_table_every_change_from_a_foreign_page_is_refused():
    port = demo().port
    owner = who("owner")
    foreign = ["http://evil.example", f"http://evil.example:{port}", "null",
               f"http://127.0.0.1:{port + 1}", f"https://127.0.0.1:{port}",
               f"http://127.0.0.1:{port}.evil.example", f"http://localhost:{port}"]
    before = change()
    for route in routes():
        for origin in foreign:
            status, _ = owner.ask(route["method"], filled(route), body_of(route),
                                  {"Origin": origin})
            assert status == 403, (route, origin, status)
        for site in ("cross-site", "same-site"):
            status, _ = owner.ask(route["method"], filled(route), body_of(route),
                                  {"Origin": None, "Sec-Fetch-Site": site})
            assert status == 403, (route, site, status)
        if route["method"] != "GET":  # neither header: no browser of ours
            status, _ = owner.ask(route["method"], filled(route), body_of(route), {"Origin": None})
            assert status == 403, (route, status)
    assert change() == before


def test_table_every_route_under_a_wrong_host_is_refused():
    port = demo().port
    owner = who("owner")
    names = ["evil.example", f"evil.example:{port}", f"127.0.0.1:{port}.evil.example",
             f"127.0.0.1.:{port}", f"LOCALHOST:{port}", f"127.0.0.1:{port + 1}", "127.0.0.1",
             f"[::2]:{port}", ":", ""]
    for route in routes():
        for name in names:
            status, _ = owner.ask(route["method"], filled(route), body_of(route),
                                  {"Host": name, "Origin": None, "Sec-Fetch-Site": "same-origin"})
            assert status in (400, 421), (route, name, status)
        line = send_raw(demo(), f"{route['method']} {filled(route)} HTTP/1.0\r\n\r\n".encode())
        assert " 400 " in line, (route, line)


def test_table_every_change_without_its_own_token_is_refused():
    owner, other = who("owner"), who("clinician")
    before = change()
    for route in routes():
        if route["method"] == "GET" or not route["who"]:
            continue
        for token in (None, "", "0" * 64, other.token, owner.token[:-1], owner.token + "0"):
            status, reply = owner.ask(route["method"], filled(route), body_of(route),
                                      {"X-Heelwright-Token": token})
            assert status == 403 and "token" in reply["error"], (route, token, status, reply)
    assert change() == before


def head_of(route, client, length):
    kind = "application/octet-stream" if route["body"] == "bytes" else "application/json"
    return (f"{route['method']} {filled(route)} HTTP/1.1\r\nHost: 127.0.0.1:{demo().port}\r\n"
            f"Origin: {client.origin}\r\nCookie: {client.cookie}\r\n"
            f"X-Heelwright-Token: {client.token}\r\nContent-Type: {kind}\r\n{length}\r\n\r\n").encode()


def test_table_every_route_refuses_more_than_its_limit():
    owner = who("owner")
    for route in routes():
        over = route["limit_bytes"] + 1
        line = send_raw(demo(), head_of(route, owner, f"Content-Length: {max(over, 70000)}"))
        assert " 413 " in line, (route, line)
        if route["method"] != "GET" and over < 20000:  # not told: counted
            data = b"%x\r\n%s\r\n0\r\n\r\n" % (over, b" " * over)
            line = send_raw(demo(), head_of(route, owner, "Transfer-Encoding: chunked") + data)
            assert " 413 " in line, (route, line)


def test_table_every_cut_body_changes_nothing():
    owner = who("owner")
    before = change()
    for route in routes():
        if route["method"] == "GET" or route["body"] == "none":
            continue
        line = send_raw(demo(), head_of(route, owner, "Content-Length: 200") + b'{"body": {"co',
                        seconds=0.3, half_close=True)
        assert " 200 " not in line, (route, line)
        if route["body"] == "json":
            for text in (b'{"body": {"co', b"[]", b"7", b'{"a": 1, "a": 2}', b"\xff\xfe", b"{} x",
                         b'{"a":' * 40 + b"1" + b"}" * 40):
                status, reply = owner.ask(route["method"], filled(route), text,
                                          {"Content-Type": "application/json"})
                assert status in (400, 401, 413, 429), (route, text, status, reply)
    assert change() == before


def test_table_every_body_must_be_of_its_kind():
    owner = who("owner")
    for route in routes():
        if route["body"] == "none" or route["method"] == "GET":
            continue
        for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", None):
            status, _ = owner.ask(route["method"], filled(route), b"{}", {"Content-Type": kind})
            assert status == 415, (route, kind, status)


def test_table_unknown_addresses_and_methods_are_refused():
    owner = who("owner")
    for method, address, want in (("GET", "/api", 404), ("GET", "/api/nothing", 404),
                                  ("DELETE", "/api/people", 405), ("PATCH", "/api/clinic", 405),
                                  ("POST", "/index.html", 405), ("GET", "/api/people/", 400),
                                  ("GET", "//api/people", 400), ("GET", "/API/people", 404),
                                  ("GET", "/api/records/user/" + NOBODY, 404),
                                  ("GET", "/api/records/session_code/" + NOBODY, 404),
                                  ("GET", "/api/records/clinic/clinic", 404)):
        status, _ = owner.ask(method, address)
        assert status == want, (method, address, status)


# -- the page's files and headers

def test_page_is_served_with_strict_headers_and_nothing_above_it():
    with tempfile.TemporaryDirectory() as ui:
        pathlib.Path(ui, "lib").mkdir()
        for name in ("index.html", "app.css", "lib/a.js", ".hidden.js", "secret.txt", "mark.svg"):
            pathlib.Path(ui, name).write_text("x")
        pathlib.Path(ui).parent.joinpath("above.js").write_text("above")
        with Server("--ui", ui) as server, Client(server) as page:
            for name, kind in (("", "text/html"), ("index.html", "text/html"),
                               ("app.css", "text/css"), ("lib/a.js", "text/javascript"),
                               ("mark.svg", "image/svg+xml")):
                status, head, data = page.raw("GET", "/" + name)
                assert status == 200 and data == b"x" and head["Content-Type"].startswith(kind)
                check_headers(head)
            for name in (".hidden.js", "secret.txt", "lib", "lib/", "../above.js", "%2e%2e/above.js",
                         "..%2fabove.js", "lib/..%5c..%5cabove.js", "lib/%00.js", "absent.js"):
                status, head, data = page.raw("GET", "/" + name)
                assert status in (400, 404) and b"above" not in data, (name, status)
                check_headers(head)
    for path in ("/api/session", "/api/people", "/api/nothing"):
        check_headers(who("owner").raw("GET", path)[1])


def check_headers(head):
    """Source: ASVS 14.4 / 5.0 3.4 and facts/standards.md 7.2."""
    policy = head["Content-Security-Policy"]
    for part in ("default-src 'none'", "script-src 'self'", "style-src 'self'", "base-uri 'none'",
                 "frame-ancestors 'none'", "form-action 'self'",
                 "require-trusted-types-for 'script'"):
        assert part in policy, policy
    assert "unsafe" not in policy and "*" not in policy and "http" not in policy
    assert head["X-Content-Type-Options"] == "nosniff"
    assert head["Referrer-Policy"] == "no-referrer"
    assert head["Cross-Origin-Opener-Policy"] == "same-origin"
    assert head["Cross-Origin-Resource-Policy"] == "same-origin"
    assert head["Cache-Control"] == "no-store"


# -- signing in

def test_first_use_makes_one_owner_with_the_printed_code():
    with Server("--workers", "0") as server, Client(server) as page:
        assert server.code
        wish = {"login": "first", "name": "First Owner", "passphrase": "twelve letters at least"}
        session = page.good("GET", "/api/session")
        assert session["first_use"] is True and session["user"] is None
        assert page.ask("POST", "/api/first-use", {**wish, "code": "guess"})[0] == 403
        for bad in ("short", "aaaaaaaaaaaaaaaa", "x" * 129):
            status, reply = page.ask("POST", "/api/first-use",
                                     {**wish, "code": server.code, "passphrase": bad})
            assert status == 422, reply
        # 64 letters of any script are welcome (ASVS 2.1.2)
        long = "łódź пята 足 🦶 " * 5
        session = page.good("POST", "/api/first-use",
                            {**wish, "code": server.code, "passphrase": long})
        assert session["user"]["role"] == "owner" and session["first_use"] is False
        with Client(server) as late:
            assert late.ask("POST", "/api/first-use", {**wish, "code": server.code})[0] == 403
        server.stop()
        with Server("--workers", "0", folder=server.folder) as again, Client(again) as page:
            assert again.code is None
            session = page.good("POST", "/api/session", {"login": "FIRST", "passphrase": long})
            assert session["user"]["name"] == "First Owner"
            assert "passphrase_hash" not in json.dumps(page.good("GET", "/api/users"))


def test_sessions_have_strict_cookies_and_end_when_told():
    server = demo()
    with Client(server) as page:
        wish = {"login": "quay", "passphrase": server.passphrases["quay"]}
        status, head, _ = page.raw("POST", "/api/session", wish)
        assert status == 200
        name, *rest = head["Set-Cookie"].split("; ")
        assert len(name) == len("hw_session=") + 64  # 256 bits, in hex
        assert rest == ["Path=/", "HttpOnly", "SameSite=Strict"], rest
        first = page.cookie
        page.ask("POST", "/api/session", wish)
        assert page.cookie != first, "a sign-in must make a new session"
        page.good("GET", "/api/session")
        cookie = page.cookie
        page.good("DELETE", "/api/session")
        page.cookie = cookie
        assert page.ask("GET", "/api/people")[0] == 401
        for cookie in (first[:-1], "hw_session=", "hw_session=" + "0" * 64, first + "; " + first):
            page.cookie = cookie
            assert page.ask("GET", "/api/people")[0] == 401, cookie


def test_guessing_is_slowed_down_without_locking_others_out():
    with Server("--demo", "--workers", "0") as server, Client(server) as page:
        took = {}
        for login in ("nobody-here", "quay"):
            for attempt in range(4):
                began = time.time()
                status, reply = page.ask("POST", "/api/session",
                                         {"login": login, "passphrase": "wrong wrong wrong"})
                took.setdefault(login, []).append(time.time() - began)
                assert status == 401, (login, attempt, status)
                said = reply["error"]
        status, head, data = page.raw("POST", "/api/session",
                                      {"login": "QUAY", "passphrase": server.passphrases["quay"]})
        assert status == 429 and int(head["Retry-After"]) >= 1, "even the right one must wait now"
        assert said == "login and passphrase do not fit together"
        # an unknown login takes as long as a known one, within the noise of one hash
        assert min(took["nobody-here"]) > 0.4 * min(took["quay"]), took
        server.sign_in("ferry")
        time.sleep(1.2)
        server.sign_in("quay")


def test_an_owner_makes_users_and_shuts_them_out_at_once():
    server, owner = demo(), who("owner")
    wish = {"login": "buoy", "name": "Buoy Tender", "role": "clinician",
            "passphrase": "a long enough passphrase"}
    made = owner.good("POST", "/api/users", wish)
    assert owner.ask("POST", "/api/users", {**wish, "login": "BUOY"})[0] == 422
    assert owner.ask("POST", "/api/users", {**wish, "login": "b2", "role": "king"})[0] == 422
    assert owner.ask("POST", "/api/users", {**wish, "login": "b2", "permissions": ["all"]})[0] == 422
    server.passphrases["buoy"] = wish["passphrase"]
    # the owner knows this passphrase: it opens nothing but the setting of another
    user = server.sign_in("buoy")
    assert user.good("GET", "/api/session")["user"]["must_set_passphrase"] is True
    for address in ("/api/people", "/api/vocabulary", "/api/events"):
        status, reply = user.ask("GET", address)
        assert status == 403 and "of your own" in reply["error"], (address, reply)
    word = {"person": NOBODY, "rule": "x", "reason": "x", "login": "buoy", "passphrase": wish["passphrase"]}
    assert "of their own yet" in who("clinician").ask("POST", "/api/second", word)[1]["error"]
    change = {"old": wish["passphrase"], "new": wish["passphrase"]}
    assert user.ask("POST", "/api/session/passphrase", change)[0] == 422
    made = user.good("POST", "/api/session/passphrase", {**change, "new": "words known to nobody else"}) and made
    wish["passphrase"] = server.passphrases["buoy"] = "words known to nobody else"
    made["version"] += 1
    assert user.good("GET", "/api/session")["user"]["must_set_passphrase"] is False
    person = new_person(user, "HB-BUOY")
    injection = {"body": {"act": "corticosteroid injection", "foot": "left", "date": "2026-03-02"}}
    treatment = f"/api/people/{person}/records/treatment"
    assert user.ask("POST", treatment, injection)[0] == 403, "no permission for injections"
    assert user.ask("POST", treatment, {"body": {"act": "radial shockwave"}})[0] in (200, 422)
    rights = owner.good("PUT", f"/api/users/{made['id']}",
                        {"version": made["version"], "permissions": ["injection"]})
    user.good("POST", treatment, injection)
    stale = owner.ask("PUT", f"/api/users/{made['id']}",
                      {"version": made["version"], "active": False})
    assert stale[0] == 409, stale
    owner.good("PUT", f"/api/users/{made['id']}", {"version": rights["version"], "active": False})
    assert user.ask("GET", "/api/people")[0] == 401
    with Client(server) as page:
        assert page.ask("POST", "/api/session", {"login": "buoy",
                                                 "passphrase": wish["passphrase"]})[0] == 401
    me = owner.good("GET", "/api/session")["user"]["id"]
    mine = [u for u in owner.good("GET", "/api/users")["users"] if u["id"] == me][0]
    status, reply = owner.ask("PUT", f"/api/users/{me}", {"version": mine["version"], "active": False})
    assert status == 422 and "owner" in reply["error"], reply


# -- records

def test_records_clash_history_and_undo():
    clinician, assistant = who("clinician"), who("assistant")
    person = new_person(clinician, "HB-CLASH", name="Clash")
    visit, version, body = new_visit(clinician, person)
    address = f"/api/records/visit/{visit}"
    mine = clinician.good("PUT", address, {"version": version, "body": {**body, "mass_kg": 83},
                                           "why": "scales"})
    status, reply = assistant.ask("PUT", address, {"version": version,
                                                   "body": {**body, "mass_kg": 84}, "why": "late"})
    assert status == 409 and reply["current"]["body"]["mass_kg"] == 83, reply
    assert reply["current"]["version"] == mine["version"] == 2
    undone = clinician.good("POST", address + "/undo", {"version": 2, "to": 1})
    assert undone["version"] == 3
    row = clinician.good("GET", address)
    assert row["body"] == body and row["why"] == "undone to version 1"
    assert clinician.good("GET", address + "?version=2")["body"]["mass_kg"] == 83
    history = clinician.good("GET", address + "/history")["history"]
    assert [h["version"] for h in history] == [1, 2, 3] and history[1]["why"] == "scales"
    assert clinician.ask("POST", address + "/undo", {"version": 3, "to": 9})[0] == 404
    status, reply = clinician.ask("POST", "/api/people", {"body": {"code": "hb-clash"}})
    assert status == 422 and reply["faults"][0]["key"] == "code"


def test_a_visit_is_checked_as_it_will_be_computed():
    clinician = who("clinician")
    person = new_person(clinician, "HB-FAULTS")
    body = {"heelwright_case": 1, "visit_date": "2026-03-02", "mass_kg": 820,
            "feet": {"left": {"lunge_deg": 310, "shoe_size": 42}}}
    status, reply = clinician.ask("POST", f"/api/people/{person}/records/visit", {"body": body})
    keys = {fault["key"] for fault in reply["faults"]}
    assert status == 422 and {"mass_kg", "feet.left.lunge_deg", "feet.left.shoe_size"} <= keys, reply
    assert clinician.good("GET", f"/api/people/{person}/records?kind=visit")["records"] == []


def test_a_visit_is_signed_as_saved_in_ones_own_name():
    clinician = who("clinician")
    login = clinician.good("GET", "/api/session")["user"]["login"]
    person = new_person(clinician, "HB-SIGNED")
    visit, version, body = new_visit(clinician, person)
    address = f"/api/records/visit/{visit}"
    signed = {"by": login, "on": datetime.datetime.now(datetime.timezone.utc).date().isoformat(), "version": version}

    def put(at, change):
        return clinician.ask("PUT", address, {"version": at, "body": {**body, **change}})
    assert put(version, {"signed": {**signed, "by": "somebody"}})[0] >= 400
    assert put(version, {"signed": {**signed, "on": "2020-01-01"}})[0] >= 400
    assert put(version, {"signed": signed, "mass_kg": 80})[0] >= 400, "signed with an edit"
    status, kept = put(version, {"signed": signed})
    assert status == 200, kept
    status, reply = put(kept["version"], {"signed": signed, "mass_kg": 80})
    assert status >= 400 and "no longer signed" in reply["error"], reply
    assert put(kept["version"], {"mass_kg": 80})[0] == 200
    rule = {"rule": "sw-after-steroid", "reason": "agreed", "clinician": login}
    at = kept["version"] + 1
    assert put(at, {"overruled": [{**rule, "second": login}]})[0] >= 400, "one's own second"
    assert put(at, {"overruled": [{**rule, "second": "nobody"}]})[0] >= 400
    assert put(at, {"overruled": [{**rule, "clinician": "nobody", "second": login}]})[0] >= 400


def test_a_second_clinician_agrees_by_their_own_passphrase_to_just_this():
    clinician, passphrases = who("clinician"), demo().passphrases
    login = clinician.good("GET", "/api/session")["user"]["login"]
    person = new_person(clinician, "HB-SECOND")
    visit, version, body = new_visit(clinician, person)
    word = {"person": person, "rule": "sw-after-steroid", "reason": "agreed by both"}
    row = {"rule": word["rule"], "reason": word["reason"], "clinician": login, "second": "harbour"}

    def put(at, overruled, page=clinician):
        return page.ask("PUT", f"/api/records/visit/{visit}", {"version": at, "body": {**body, "overruled": overruled}})

    def agree(second, passphrase, page=clinician, **more):
        return page.ask("POST", "/api/second", {**word, "login": second, "passphrase": passphrase, **more})
    status, reply = put(version, [row])
    assert status >= 400 and "has not agreed" in reply["error"], reply
    assert agree("harbour", "not the passphrase")[0] == 403
    assert agree("nobody", "not the passphrase")[0] == 403
    status, reply = agree("ferry", passphrases["ferry"])
    assert status == 403 and "must be a clinician" in reply["error"], reply
    assert agree(login, passphrases[login])[0] >= 400, "one's own second"
    assert who("assistant").ask("POST", "/api/second", {**word, "login": "harbour", "passphrase": passphrases["harbour"]})[0] == 403
    assert clinician.good("GET", "/api/session")["user"], "a wrong second does not sign the first out"
    assert agree("HARBOUR", passphrases["harbour"])[1] == {"second": "harbour"}
    # to just this: another reason, rule, session or person is not agreed to
    assert put(version, [{**row, "reason": "another"}])[0] >= 400
    assert put(version, [{**row, "rule": "sw-fluoroquinolone"}])[0] >= 400
    other = demo().sign_in(login)
    assert put(version, [row], other)[0] >= 400
    elsewhere = new_person(clinician, "HB-SECOND-2")
    there, at, there_body = new_visit(clinician, elsewhere)
    assert clinician.ask("PUT", f"/api/records/visit/{there}", {"version": at, "body": {**there_body, "overruled": [row]}})[0] >= 400
    status, kept = put(version, [row])
    assert status == 200, kept
    # what stands needs no new word; by the same word it may be taken back and set again
    status, kept = clinician.ask("PUT", f"/api/records/visit/{visit}", {"version": kept["version"], "body": {**body, "mass_kg": 81, "overruled": [row]}})
    assert status == 200, kept


def test_an_assistant_writes_findings_and_releases_nothing():
    clinician, assistant = who("clinician"), who("assistant")
    person = new_person(assistant, "HB-ASSIST")
    visit, version, body = new_visit(assistant, person)
    address = f"/api/records/visit/{visit}"
    for key, value in (("overruled", [{"rule": "x"}]), ("chosen", ["tape"]), ("released", True),
                       ("signed", "x")):
        status, reply = assistant.ask("PUT", address, {"version": version,
                                                       "body": {**body, key: value}})
        assert status == 403 and key in reply["error"], (key, status, reply)
    chosen = clinician.good("PUT", address, {"version": version,
                                             "body": {**body, "chosen": ["tape"]}})
    kept = assistant.good("PUT", address, {"version": chosen["version"],
                                           "body": {**body, "chosen": ["tape"], "mass_kg": 80}})
    assert assistant.ask("PUT", address, {"version": kept["version"], "body": body})[0] == 403
    for kind in ("treatment", "device", "trial", "result"):
        status, _ = assistant.ask("POST", f"/api/people/{person}/records/{kind}", {"body": {}})
        assert status == 403, kind
    assert clinician.ask("POST", f"/api/people/{person}/records/result", {"body": {}})[0] == 403


def test_another_persons_scan_cannot_enter_a_visit():
    clinician = who("clinician")
    _, visit = first_visit()
    person = new_person(clinician, "HB-SWAP")
    body = {"heelwright_case": 1, "visit_date": "2026-03-02",
            "feet": {"left": {"scan": visit["body"]["feet"]["left"]["scan"]}}}
    status, reply = clinician.ask("POST", f"/api/people/{person}/records/visit", {"body": body})
    assert status == 422 and "this person's" in reply["error"], reply


def test_a_person_is_erased_by_the_owner_alone():
    clinician, owner = who("clinician"), who("owner")
    person = new_person(clinician, "HB-GONE", name="Gone Girl")
    visit, _, _ = new_visit(clinician, person)
    assert clinician.ask("POST", f"/api/people/{person}/erase", {"why": "asked"})[0] == 403
    assert owner.ask("POST", f"/api/people/{person}/erase", {})[0] == 422
    owner.good("POST", f"/api/people/{person}/erase", {"why": "asked for it"})
    assert clinician.ask("GET", f"/api/records/visit/{visit}")[0] == 404
    assert clinician.ask("GET", f"/api/people/{person}")[0] == 404
    assert clinician.good("GET", "/api/people?search=Gone")["people"] == []


def test_a_score_code_opens_one_form_once():
    server, clinician = demo(), who("clinician")
    person = new_person(clinician, "HB-FORM")
    code = clinician.good("POST", f"/api/people/{person}/code", {})["code"]
    with Client(server) as tablet:
        assert tablet.good("POST", "/api/score-form", {"code": code}) == {"taken": False}
        assert tablet.ask("GET", f"/api/people/{person}")[0] == 401
        scores = {"first_step_pain_0_10": 4}
        assert tablet.good("POST", "/api/score-form", {"code": code, "scores": scores})["taken"]
        assert tablet.ask("POST", "/api/score-form", {"code": code, "scores": scores})[0] == 403
        for guess in range(4):
            tablet.ask("POST", "/api/score-form", {"code": f"aaaaaaa{guess}"})
        assert tablet.ask("POST", "/api/score-form", {"code": "aaaaaaaa"})[0] == 429
    rows = clinician.good("GET", f"/api/people/{person}/records?kind=score")["records"]
    assert len(rows) == 1 and rows[0]["body"]["scores"] == scores
    assert rows[0]["body"]["entered_by"] == "person"


# -- files, computing, devices

def scan_of(visit, side):
    scan = visit["body"]["feet"][side]["scan"]
    return who("clinician").raw("GET", f"/api/files/{scan['file']}?name={scan['name']}")[2]


def test_a_whole_visit_from_upload_to_files():
    clinician = who("clinician")
    _, visit = first_visit()
    person = new_person(clinician, "HB-WHOLE")
    feet = {}
    for side in ("left", "right"):
        kept = clinician.good("PUT", f"/api/people/{person}/files?name={side}.ply",
                              scan_of(visit, side))
        assert kept["triangles"] > 10000
        feet[side] = {**visit["body"]["feet"][side],
                      "scan": {**visit["body"]["feet"][side]["scan"], "file": kept["file"],
                               "name": kept["name"]}}
    made, version, _ = new_visit(clinician, person, **{**visit["body"], "feet": feet})
    job = clinician.good("POST", f"/api/visits/{made}/compute", {"version": version})["job"]
    done = clinician.wait(job)
    assert done["state"] == "done", done
    files = done["result"]["files"]
    assert {"visit.json", "walk.json", "plan.pdf", "left_foot.mesh", "right_orthosis.mesh",
            "HB-WHOLE-left.stl", "HB-WHOLE-right.3mf"} <= set(files), sorted(files)
    row = clinician.good("GET", f"/api/records/result/{made}")
    assert row["body"] == done["result"] and row["body"]["visit_version"] == version
    status, head, data = clinician.raw("GET", f"/api/files/{files['plan.pdf']}?name=plan.pdf")
    assert status == 200 and data.startswith(b"%PDF") and "attachment" in head["Content-Disposition"]
    told = clinician.good("GET", f"/api/files/{files['visit.json']}?name=visit.json")
    assert "HB-WHOLE" in json.dumps(told), "the code of the person's record stands in the case"
    mesh = clinician.raw("GET", f"/api/files/{files['left_foot.mesh']}?name=left_foot.mesh")[2]
    magic, points, triangles = struct.unpack_from("<4sII", mesh)
    assert magic == b"HWM1" and len(mesh) == 12 + 12 * points + 12 * triangles
    ALL["whole"] = (person, made, files)


def test_a_maker_sees_released_devices_and_nothing_else():
    if "whole" not in ALL:
        test_a_whole_visit_from_upload_to_files()
    clinician, maker = who("clinician"), who("maker")
    person, visit, files = ALL["whole"]
    name = "HB-WHOLE-left.stl"
    device = {"code": "HB-WHOLE", "foot": "left", "visit": visit, "files": {name: files[name]},
              "notes": "not for the workshop"}
    address = f"/api/people/{person}/records/device"
    for bad in ({"files": {name: files["plan.pdf"]}}, {"files": {"x-NOT-RELEASED.stl": files[name]}},
                {"foot": "both"}, {"sealed_files": {}}):
        status, reply = clinician.ask("POST", address, {"body": {**device, **bad}})
        assert status == 422, (bad, reply)
    made = clinician.good("POST", address, {"body": device, "why": "issued"})
    seen = maker.good("GET", "/api/devices?code=hb-whole")["devices"]
    assert [d["id"] for d in seen] == [made["id"]] and "notes" not in seen[0]
    sealed = seen[0]["sealed_files"][name]
    assert sealed != files[name], "it is sealed with the device's own key"
    status, _, stl = maker.raw("GET", f"/api/files/{sealed}?name={name}&device={made['id']}")
    assert status == 200
    assert stl == clinician.raw("GET", f"/api/files/{files[name]}?name={name}")[2]
    for wrong in (f"/api/files/{files[name]}?name=a.stl", f"/api/files/{sealed}?name=a.stl",
                  f"/api/files/{files['plan.pdf']}?name=a.pdf&device={made['id']}",
                  f"/api/files/{sealed}?name=a.stl&device={NOBODY}"):
        assert maker.ask("GET", wrong)[0] == 404, wrong
    row = clinician.good("GET", f"/api/records/device/{made['id']}")
    status, reply = clinician.ask("PUT", f"/api/records/device/{made['id']}",
                                  {"version": row["version"],
                                   "body": {**row["body"], "sealed_files": {}}})
    assert status == 422 and "remake" in reply["error"], reply


def test_newer_trials_replace_older_and_jobs_can_be_stopped():
    clinician = who("clinician")
    _, visit = first_visit()
    address = f"/api/visits/{visit['id']}/compute"
    jobs = []
    for cup in (10, 11, 12, 13, 14, 15):
        body = json.loads(json.dumps(visit["body"]))
        body["feet"]["left"]["orthosis"] = {"heel_cup_mm": cup}
        jobs.append(clinician.good("POST", address, {"version": visit["version"], "case": body,
                                                     "parts": ["orthosis"]})["job"])
    ends = [clinician.wait(job)["state"] for job in jobs]
    assert ends[-1] == "done" and ends.count("done") <= 3 and "cancelled" in ends, ends
    job = clinician.good("POST", address, {"version": visit["version"]})["job"]
    clinician.good("POST", f"/api/jobs/{job}/cancel", {})
    assert clinician.wait(job)["state"] in ("cancelled", "done")
    job = clinician.good("POST", address, {"version": visit["version"], "case": body,
                                           "parts": ["orthosis", "left-alone"]})["job"]
    files = clinician.wait(job)["result"]["files"]  # while a slider moves: this foot, no papers
    assert sorted(files) == ["left_foot.mesh", "left_orthosis.mesh", "press.json", "visit.json"], files
    for bad in ({"version": 99}, {"version": 1, "parts": ["all"]}, {"version": 1, "parts": []},
                {"version": visit["version"], "parts": ["orthosis", "left-alone"]},
                {"version": 1, "case": 7}, {"version": 1.5}):
        status, reply = clinician.ask("POST", address, bad)
        assert status in (404, 422), (bad, status, reply)


def test_events_tell_those_who_may_know():
    server, clinician = demo(), who("clinician")
    _, visit = first_visit()
    heard = {"clinician": b"", "maker": b""}
    session = server.sign_in("quay")

    def hear(role, client):
        with socket.create_connection(("127.0.0.1", server.port), timeout=4) as wire:
            wire.sendall((f"GET /api/events HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
                          f"Cookie: {client.cookie}\r\n\r\n").encode())
            try:
                while piece := wire.recv(65536):
                    heard[role] += piece
            except OSError:
                pass
    threads = [threading.Thread(target=hear, args=one)
               for one in (("clinician", session), ("maker", who("maker")))]
    for thread in threads:
        thread.start()
    time.sleep(0.3)
    job = clinician.good("POST", f"/api/visits/{visit['id']}/compute",
                         {"version": visit["version"], "parts": ["plan"]})["job"]
    clinician.wait(job)
    time.sleep(0.5)
    session.good("DELETE", "/api/session")
    for thread in threads:
        thread.join()
    told = heard["clinician"].decode()
    assert "event: job" in told and job in told and '"state": "done"' in told, told[:2000]
    assert "event: change" in told and '"kind": "result"' in told
    assert told.endswith("\r\n0\r\n\r\n"), "signing out ends the stream"
    assert b"event:" not in heard["maker"], heard["maker"]


# -- what is hostile

def hostile_files():
    yield "billion facets", bytes(80) + struct.pack("<I", 1_000_000_000) + bytes(5000)
    yield "lying PLY", (b"ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\n"
                        b"property float x\nproperty float y\nproperty float z\n"
                        b"element face 4000000000\nproperty list uchar int vertex_indices\n"
                        b"end_header\n" + bytes(1000))
    yield "gzip bomb", gzip.compress(bytes(1 << 30), 9)
    yield "nested gzip", gzip.compress(gzip.compress(gzip.compress(bytes(1 << 20))))
    yield "noise", bytes((i * 7919 + i // 251) % 256 for i in range(100000))
    yield "endless numbers", b"v " + b"1" * 5_000_000
    yield "an executable", pathlib.Path(PROGRAM).read_bytes()[:2_000_000]
    yield "empty", b""


def test_hostile_files_are_refused_and_the_server_lives():
    clinician = who("clinician")
    person = new_person(clinician, "HB-HOSTILE")
    address = f"/api/people/{person}/files?name=x.stl"
    before = change()
    for name, content in hostile_files():
        began = time.time()
        status, reply = clinician.ask("PUT", address, content)
        assert 400 <= status < 500, (name, status, reply)
        assert len(reply["error"]) > 10 and time.time() - began < 30, (name, reply)
        clinician.good("GET", "/api/session")
    for name in ("", "?name=", "?name=a/b.stl", "?name=..%2fx", "?name=a&name=b", "?name=%00"):
        status, _ = clinician.ask("PUT", f"/api/people/{person}/files{name}", b"x")
        assert status in (400, 422), (name, status)
    assert change() == before


def test_an_endless_file_is_cut_off():
    clinician = who("clinician")
    person = new_person(clinician, "HB-ENDLESS")
    head = (f"PUT /api/people/{person}/files?name=x.stl HTTP/1.1\r\n"
            f"Host: 127.0.0.1:{demo().port}\r\nOrigin: {clinician.origin}\r\n"
            f"Cookie: {clinician.cookie}\r\nX-Heelwright-Token: {clinician.token}\r\n"
            "Content-Type: application/octet-stream\r\nTransfer-Encoding: chunked\r\n\r\n").encode()
    piece = b"100000\r\n" + bytes(1 << 20) + b"\r\n"
    sent = 0
    with socket.create_connection(("127.0.0.1", demo().port), timeout=20) as wire:
        wire.sendall(head)
        try:
            while sent < 400:
                wire.sendall(piece)
                sent += 1
        except OSError:
            pass
    assert sent < 300, "256 MB is the limit"
    clinician.good("GET", "/api/session")


def test_slow_clients_hold_up_nobody():
    server, clinician = demo(), who("clinician")
    wires = []
    try:
        for i in range(100):
            wire = socket.create_connection(("127.0.0.1", server.port), timeout=5)
            wire.sendall(b"GET /api/session HTTP/1.1\r\nHo" if i % 2 else
                         b"POST /api/session HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nOrigin: %s\r\n"
                         b"Content-Type: application/json\r\nContent-Length: 900\r\n\r\n{"
                         % (server.port, clinician.origin.encode()))
            wires.append(wire)
        slowest = 0.0
        for _ in range(50):
            for wire in wires[:20]:
                wire.sendall(b"s")
            began = time.time()
            clinician.good("GET", "/api/people")
            slowest = max(slowest, time.time() - began)
        assert slowest < 0.5, slowest
    finally:
        for wire in wires:
            wire.close()


# -- what is written where

def test_nothing_personal_in_logs_or_in_the_clear():
    planted = {"name": "Zebulon Quackenbush", "code": "HBX-77123", "born": "1961-07-13",
               "file": "quackenbush_heel", "note": "whispers-about-gout",
               "passphrase": "correct horse quackery"}
    with Server("--demo") as server:
        clinician = server.sign_in("quay")
        person = new_person(clinician, planted["code"], name=planted["name"], born=planted["born"])
        visit, version, body = new_visit(clinician, person, notes=planted["note"])
        for search in (planted["name"], planted["born"], planted["code"]):
            found = clinician.good("GET", "/api/people?search=" + search.replace(" ", "%20"))
            assert [p["id"] for p in found["people"]] == [person], search
        clinician.ask("PUT", f"/api/people/{person}/files?name={planted['file']}.stl", b"no scan")
        clinician.ask("PUT", f"/api/records/visit/{visit}",
                      {"version": version, "body": {**body, "mass_kg": planted["name"]}})
        clinician.ask("GET", f"/api/people/{planted['name'].split()[0]}")
        clinician.ask("GET", f"/{planted['name'].split()[0]}.html")
        clinician.good("POST", "/api/second", {"person": person, "rule": planted["note"], "reason": planted["name"],
                                               "login": "harbour", "passphrase": server.passphrases["harbour"]})
        with Client(server) as page:
            page.ask("POST", "/api/session", {"login": planted["name"].split()[1],
                                              "passphrase": planted["passphrase"]})
        job = clinician.good("POST", f"/api/visits/{visit}/compute", {"version": version})["job"]
        assert clinician.wait(job)["state"] == "done"
        secrets = [clinician.cookie.split("=")[1], clinician.token, *server.passphrases.values()]
        server.stop()
        words = [part.encode() for value in planted.values() for part in value.split()
                 if len(part) > 5 and part not in ("correct",)]
        looked = 0
        for path in pathlib.Path(server.folder).rglob("*"):
            # The invented clinic keeps its made-up passphrases on purpose; a clinic of one's own has no such file.
            if not path.is_file() or path.name == "invented-sign-in.txt":
                continue
            data = path.read_bytes()
            looked += len(data)
            for word in words + [s.encode() for s in secrets]:
                assert word.lower() not in data.lower(), f"{word} stands in {path.name}"
        assert looked > 100000
        lines = server.log.read_text().splitlines()
        assert len(lines) > 10
        assert any("GET /api/people/{id} 404" in line for line in lines), lines[-5:]
        assert not any("search=" in line for line in lines)


# -- workers

def bring_key(source, folder):
    """What another machine needs of a shared store: the key, and the head last seen."""
    for name in ("clinic.key", "clinic.key.head"):
        shutil.copy(pathlib.Path(source, name), folder)


def start_workers(folders, *words):
    """A worker a folder; a folder without a key gets the first one's, as on another machine."""
    workers = []
    for folder in folders:
        if not pathlib.Path(folder, "clinic.key").exists():
            bring_key(folders[0], folder)
        workers.append(subprocess.Popen([PROGRAM, "work", "--data", folder, "--lease", "3", *words],
                                        stdout=subprocess.PIPE, text=True))
    for worker in workers:
        assert "takes jobs" in worker.stdout.readline()
    return workers


def end_workers(workers):
    for worker in workers:
        if worker.poll() is None:
            worker.kill()
            worker.wait()
        worker.stdout.close()


def order_visits(client, count, part="orthosis"):
    person = client.good("GET", "/api/people")["people"][0]["id"]
    first = client.good("GET", f"/api/people/{person}/records?kind=visit")["records"][0]
    jobs = []
    for _ in range(count):
        visit, version, _ = new_visit(client, person, **first["body"])
        jobs.append((visit, client.good("POST", f"/api/visits/{visit}/compute",
                                        {"version": version, "parts": [part]})["job"]))
    return jobs


def kill_one_in_mid_job(client, workers, jobs):
    end = time.time() + 20
    while time.time() < end and not any(
            client.good("GET", f"/api/jobs/{job}")["state"] == "running" for _, job in jobs):
        time.sleep(0.02)
    workers[0].kill()
    workers[0].wait()


def each_done_once(client, jobs):
    for visit, job in jobs:
        assert client.wait(job, 60)["state"] == "done"
        assert client.good("GET", f"/api/records/result/{visit}")["version"] == 1, "written twice"


def test_two_workers_one_killed_every_job_is_done_once():
    with Server("--demo", "--workers", "0") as server:
        workers = start_workers([server.folder, server.folder])
        try:
            clinician = server.sign_in("quay")
            jobs = order_visits(clinician, 4)
            kill_one_in_mid_job(clinician, workers, jobs)
            each_done_once(clinician, jobs)
            workers[1].send_signal(signal.SIGTERM)
            assert workers[1].wait(20) == 0
        finally:
            end_workers(workers)


def test_postgres_two_servers_and_workers_of_other_machines():
    if not Postgres.is_here():
        raise LeftOut("PostgreSQL 15 is not installed")
    with Postgres() as database, tempfile.TemporaryDirectory() as far, \
            tempfile.TemporaryDirectory() as further:
        store = ("--store", database.url)
        with Server("--demo", "--workers", "0", *store) as server:
            workers = start_workers([server.folder, far], *store)
            try:
                clinician = server.sign_in("quay")
                jobs = order_visits(clinician, 4)
                kill_one_in_mid_job(clinician, workers, jobs)
                bring_key(server.folder, further)
                with Server("--workers", "0", *store, folder=further) as second:
                    second.passphrases = server.passphrases
                    other = second.sign_in("quay")
                    person = new_person(clinician, "HB-SHARED", name="Seen From Both")
                    found = other.good("GET", "/api/people?search=both")["people"]
                    assert [p["id"] for p in found] == [person]
                    status, reply = other.ask("PUT", f"/api/people/{person}",
                                              {"version": 9, "body": {"code": "HB-SHARED"}})
                    assert status == 409 and reply["current"]["version"] == 1, reply
                each_done_once(clinician, jobs)
            finally:
                end_workers(workers)


def least_rights():
    """The statements of docs/server.md, as they stand there."""
    page = pathlib.Path(__file__).parents[2].joinpath("docs", "server.md").read_text()
    return page.split("```sql\n")[1].split("```")[0]


def join(owner, name, folder):
    """A guest as the documents say: its line to the clinic, the clinic's line back."""
    line = subprocess.run([PROGRAM, "work", "--data", folder, "--join"], capture_output=True, text=True,
                          check=True).stdout.strip()
    added = owner.good("POST", "/api/workers", {"name": name, "line": line})["worker"]
    subprocess.run([PROGRAM, "work", "--data", folder, "--clinic", added["line"]], check=True,
                   stdout=subprocess.DEVNULL)
    return added["id"]


def start_guest(folder, url):
    worker = subprocess.Popen([PROGRAM, "work", "--data", folder, "--lease", "3", "--store", url],
                              stdout=subprocess.PIPE, text=True)
    assert worker.stdout.readline().startswith("guest-")
    return worker


def until(what, seconds=20):
    end = time.time() + seconds
    while not what():
        assert time.time() < end, "waited in vain"
        time.sleep(0.02)


def test_postgres_guests_compute_without_the_clinics_key_and_one_is_killed():
    if not Postgres.is_here():
        raise LeftOut("PostgreSQL 15 is not installed")
    with Postgres() as database, tempfile.TemporaryDirectory() as attic, \
            tempfile.TemporaryDirectory() as cellar, \
            Server("--demo", "--workers", "0", "--store", database.url) as server:
        assert database.ask(least_rights()) is not None
        url = database.url.replace("postgres@", "heelwright_guest@")
        owner, clinician = server.sign_in("harbour"), server.sign_in("quay")
        ids = [join(owner, "attic", attic), join(owner, "cellar", cellar)]
        workers = []
        try:
            jobs = order_visits(clinician, 1) + order_visits(clinician, 1, "foot")
            workers.append(start_guest(attic, url))
            until(lambda: clinician.good("GET", f"/api/jobs/{jobs[0][1]}")["progress"] > 0.05)
            workers[0].kill()
            workers[0].wait()
            assert not any(clinician.good("GET", f"/api/jobs/{job}")["state"] == "done"
                           for _, job in jobs), "killed in mid-job"
            workers.append(start_guest(cellar, url))
            each_done_once(clinician, jobs)
            results = [clinician.good("GET", f"/api/records/result/{visit}") for visit, _ in jobs]
            for result in results:
                assert result["why"] == "computed by the guest worker cellar", result
            # what a guest has: its own pair, the clinic's line; and no more of the database
            secret = pathlib.Path(server.folder, "clinic.key").read_bytes()
            for folder in (attic, cellar):
                assert sorted(p.name for p in pathlib.Path(folder).iterdir()) == \
                    ["worker.clinic", "worker.key"]
                assert not any(secret in p.read_bytes() for p in pathlib.Path(folder).iterdir())
                assert pathlib.Path(folder, "worker.key").stat().st_mode & 0o777 == 0o600
            assert database.ask("SELECT COUNT(*) FROM job", "heelwright_guest") is not None
            for table in ("entry", "data_key", "meta", "parcel"):
                assert database.ask(f"SELECT COUNT(*) FROM {table}", "heelwright_guest") is None, table
            assert database.ask("DELETE FROM job", "heelwright_guest") is None
            assert database.ask("UPDATE job SET body = ''", "heelwright_guest") is None
            assert database.ask("SELECT COUNT(*) FROM parcel") == "0", "kept parcels are gone"
            # withdrawn, they get nothing; a worker with the clinic's key makes the same bytes
            for one in ids:
                owner.good("POST", f"/api/workers/{one}/withdraw", {})
            later = order_visits(clinician, 1)
            time.sleep(1)
            assert clinician.good("GET", f"/api/jobs/{later[0][1]}")["state"] == "waiting"
            workers += start_workers([server.folder], "--store", database.url)
            each_done_once(clinician, later)
            own = clinician.good("GET", f"/api/records/result/{later[0][0]}")
            assert own["why"] == "computed"
            assert any("scan" in foot for foot in clinician.good(
                "GET", f"/api/records/visit/{later[0][0]}")["body"]["feet"].values())
            # a file's name is a hash of its bytes
            assert own["body"]["files"] == results[0]["body"]["files"]
            assert len(own["body"]["files"]) > 3
            assert [w["withdrawn_by"] for w in owner.good("GET", "/api/workers")["workers"]] == \
                [w["registered_by"] for w in owner.good("GET", "/api/workers")["workers"]]
            assert owner.good("GET", "/api/verify")["holds"] is True
        finally:
            end_workers(workers)


# -- backup and the end

def test_backup_restores_elsewhere_and_verifies():
    server, owner = demo(), who("owner")
    made = owner.good("POST", "/api/backup", {})
    backup = pathlib.Path(server.folder, "backups", made["file"])
    assert backup.stat().st_size > 10000
    assert owner.good("GET", "/api/verify")["holds"] is True
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(pathlib.Path(server.folder, "clinic.key"), folder)  # the head comes anew
        done = subprocess.run([PROGRAM, "restore", backup, "--data", folder],
                              capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        done = subprocess.run([PROGRAM, "verify", "--data", folder], capture_output=True, text=True)
        assert done.returncode == 0 and " 0 faults" in done.stdout, done.stdout + done.stderr
        again = subprocess.run([PROGRAM, "restore", backup, "--data", folder], capture_output=True)
        assert again.returncode == 1, "a place that is not empty"
        with Server("--workers", "0", folder=folder) as other:
            other.passphrases = server.passphrases
            people = other.sign_in("quay").good("GET", "/api/people")["people"]
            assert "HB-0042" in {p["body"]["code"] for p in people}


def test_the_open_network_needs_tls():
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run([PROGRAM, "serve", "--data", folder, "--port", "0", "--open-network"],
                              capture_output=True, text=True, timeout=20)
        assert done.returncode == 1 and "--tls-cert" in done.stderr, done.stderr


def test_tls_cookies_are_bound_to_the_host_and_old_versions_refused():
    if not shutil.which("openssl"):
        raise LeftOut("openssl is not installed")
    with tempfile.TemporaryDirectory() as folder:
        pair = [f"{folder}/cert.pem", f"{folder}/key.pem"]
        subprocess.run(["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
                        "-subj", "/CN=localhost", "-out", pair[0], "-keyout", pair[1]],
                       check=True, capture_output=True)
        with Server("--demo", "--workers", "0", "--open-network", "--host", "clinic.local",
                    "--tls-cert", pair[0], "--tls-key", pair[1]) as server:
            with Client(server) as page:
                _, head, _ = page.raw("POST", "/api/session",
                                      {"login": "quay", "passphrase": server.passphrases["quay"]})
                cookie = head["Set-Cookie"]
                assert cookie.startswith("__Host-hw_session=") and cookie.endswith("; Secure")
                assert "max-age" in head["Strict-Transport-Security"]
                assert page.ask("GET", "/api/people")[0] == 200
                for host, want in (("clinic.local", 200), ("192.0.2.7", 200), ("evil.example", 421),
                                   ("192.0.2.7.evil.example", 421), ("...", 421), ("1.2.3", 421)):
                    status, _ = page.ask("GET", "/api/session", headers={
                        "Host": f"{host}:{server.port}", "Origin": None})
                    assert status == want, (host, status)
            assert " 200 " not in send_raw(server, b"GET / HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n"
                                           % server.port, seconds=2)
            old = ssl._create_unverified_context()
            old.set_ciphers("ALL:@SECLEVEL=0")
            old.minimum_version = old.maximum_version = ssl.TLSVersion.TLSv1_1
            with socket.create_connection(("127.0.0.1", server.port), timeout=5) as wire:
                try:
                    old.wrap_socket(wire)
                    raise AssertionError("TLS 1.1 was taken")
                except (ssl.SSLError, OSError):
                    pass


def test_zz_a_stopped_server_ends_cleanly():
    server = demo()
    began = time.time()
    assert server.stop() == 0
    assert time.time() - began < 15
    server.home.cleanup()


def stop_server():
    if "server" in ALL and ALL["server"].process.poll() is None:
        ALL["server"].stop()


if __name__ == "__main__":
    sys.exit(run_tests(globals(), stop_server))
