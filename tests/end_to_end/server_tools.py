# SPDX-License-Identifier: GPL-3.0-or-later
"""A server of our own and clients for it: shared by test_server.py and bench/server.py."""
import http.client
import json
import os
import pathlib
import re
import signal
import shutil
import socket
import ssl
import subprocess
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
PROGRAM = os.environ.get("HEELWRIGHT_PROGRAM", ROOT / "build/release/heelwright")


def routes():
    return json.loads(subprocess.run([PROGRAM, "serve", "--routes"], capture_output=True, text=True,
                                     check=True).stdout)


class Server:
    """One server process over a folder; its request log goes to a file."""

    def __init__(self, *words, folder=None):
        self.home = None if folder else tempfile.TemporaryDirectory()
        self.folder = folder or self.home.name
        self.log = pathlib.Path(self.folder, "log.txt")
        self.errors = open(self.log, "ab")
        self.process = subprocess.Popen(
            [PROGRAM, "serve", "--data", self.folder, "--port", "0", *words],
            stdout=subprocess.PIPE, stderr=self.errors, text=True)
        self.said, self.port, self.is_tls = "", 0, "--tls-cert" in words
        for line in self.process.stdout:
            self.said += line
            found = re.search(r" serves at \S+?:(\d+)/", line)
            if found:
                self.port = int(found.group(1))
            if self.port and ("Code for" in line or "--demo" in words or found is None):
                break
            if self.port and not self.expects_code():
                break
        assert self.port, f"the server did not start: {self.said} {self.log.read_text()}"
        found = re.search(r"first owner: (\S+)", self.said)
        self.code = found.group(1) if found else None
        self.passphrases = dict(re.findall(r"(\S+)\s+passphrase (\S+)", self.said))

    def expects_code(self):
        with Client(self) as client:
            return client.ask("GET", "/api/session")[1]["first_use"]

    def stop(self, how=signal.SIGTERM):
        if self.process.poll() is None:
            self.process.send_signal(how)
        code = self.process.wait(30)
        self.process.stdout.close()
        self.errors.close()
        return code

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.stop()
        if self.home:
            self.home.cleanup()

    def sign_in(self, login):
        client = Client(self)
        status, session = client.ask("POST", "/api/session",
                                     {"login": login, "passphrase": self.passphrases[login]})
        assert status == 200, session
        return client


class Client:
    """One browser: cookie, token and a connection that stays."""

    def __init__(self, server):
        self.server, self.cookie, self.token = server, None, ""
        self.origin = f"http{'s' if server.is_tls else ''}://127.0.0.1:{server.port}"
        self.connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
        if server.is_tls:  # a certificate of the test's own
            self.connection = http.client.HTTPSConnection(
                "127.0.0.1", server.port, timeout=60, context=ssl._create_unverified_context())
        self.headers = {}

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.connection.close()

    def raw(self, method, path, body=None, headers=None):
        """Status, headers, bytes."""
        given = {"Origin": self.origin, "X-Heelwright-Token": self.token}
        if self.cookie:
            given["Cookie"] = self.cookie
        if body is not None and not isinstance(body, (bytes, bytearray)):
            body = json.dumps(body).encode()
            given["Content-Type"] = "application/json"
        elif body is not None:
            given["Content-Type"] = "application/octet-stream"
        given.update(headers or {})
        given = {k: v for k, v in given.items() if v is not None}
        try:
            self.connection.request(method, path, body, given)
            reply = self.connection.getresponse()
        except (http.client.RemoteDisconnected, BrokenPipeError, ConnectionResetError):
            self.connection.close()  # an idle connection the server let go: once more
            self.connection.request(method, path, body, given)
            reply = self.connection.getresponse()
        data = reply.read()
        for cookie in reply.headers.get_all("Set-Cookie") or []:
            self.cookie = cookie.split(";")[0]
        return reply.status, reply.headers, data

    def ask(self, method, path, body=None, headers=None):
        """Status and JSON."""
        status, head, data = self.raw(method, path, body, headers)
        if "json" not in (head.get("Content-Type") or ""):
            return status, data
        tree = json.loads(data)
        if isinstance(tree, dict) and "token" in tree:
            self.token = tree["token"]
        return status, tree

    def good(self, method, path, body=None):
        status, tree = self.ask(method, path, body)
        assert status == 200, (method, path, status, tree)
        return tree

    def wait(self, job, seconds=60):
        end = time.time() + seconds
        while time.time() < end:
            seen = self.good("GET", f"/api/jobs/{job}")
            if seen["state"] not in ("waiting", "running"):
                return seen
            time.sleep(0.1)
        raise AssertionError(f"job {job} did not end: {seen}")


def send_raw(server, data, seconds=5, half_close=False):
    """The first line of the answer to bytes as they stand, '' when there is none."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=seconds) as wire:
        try:
            wire.sendall(data)
            if half_close:
                wire.shutdown(socket.SHUT_WR)
        except OSError:
            pass
        got = b""
        try:
            while b"\r\n" not in got:
                piece = wire.recv(4096)
                if not piece:
                    break
                got += piece
        except OSError:
            pass
    return got.split(b"\r\n")[0].decode("latin-1")


class Postgres:
    """A database server of our own, in a folder, without a network port."""
    TOOLS = pathlib.Path("/usr/lib/postgresql/15/bin")

    def __init__(self):
        self.home = tempfile.TemporaryDirectory()
        self.folder = self.home.name
        self.who = "postgres" if os.getuid() == 0 else None  # it refuses to run as root
        if self.who:
            shutil.chown(self.folder, self.who)
        self.run("initdb", "-D", f"{self.folder}/db", "-A", "trust", "-U", "postgres")
        self.run("pg_ctl", "-D", f"{self.folder}/db", "-w", "-l", f"{self.folder}/log", "-o",
                 f"-c listen_addresses='' -k {self.folder}", "start")
        self.url = f"postgresql://postgres@/postgres?host={self.folder}"

    @staticmethod
    def is_here():
        return (Postgres.TOOLS / "initdb").exists()

    def run(self, tool, *words):
        subprocess.run([self.TOOLS / tool, *words], check=True, user=self.who, cwd="/tmp",
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def ask(self, text, who="postgres"):
        """What a statement prints, and whether it was allowed."""
        done = subprocess.run([self.TOOLS / "psql", "-XAtq", "-v", "ON_ERROR_STOP=1", "-h", self.folder,
                               "-U", who, "-d", "postgres", "-c", text], capture_output=True, text=True)
        return done.stdout.strip() if done.returncode == 0 else None

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.run("pg_ctl", "-D", f"{self.folder}/db", "-m", "immediate", "stop")
        self.home.cleanup()
