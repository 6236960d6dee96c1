"""Runs the programs in folders of their own, and talks to the control socket without any of their code."""
import json
import os
import pathlib
import re
import select
import shutil
import socket
import sqlite3
import subprocess
import tempfile
import time

SOURCE = pathlib.Path(__file__).resolve().parents[2]
DEMO = SOURCE / "demo" / "ridge-court.yaml"

# So long a test waits for what must come: far longer than it takes on a busy machine.
PATIENCE_S = 60


class Bench:
    """A home, a runtime folder and a journal that vanish at the end. In memory, where the machine has a place for
    that, no press waits for the disk."""

    def __init__(self, programs, in_memory=False):
        self.programs = pathlib.Path(programs)
        memory = "/dev/shm" if in_memory and os.access("/dev/shm", os.W_OK) else None
        self.home = pathlib.Path(tempfile.mkdtemp(prefix="pullcall-test-", dir=memory))
        self.runtime = self.home / "runtime"
        self.runtime.mkdir(mode=0o700)
        self.journal = self.home / "journal.db"
        self.environment = dict(os.environ, HOME=str(self.home), XDG_RUNTIME_DIR=str(self.runtime),
                                PULLCALL_JOURNAL=str(self.journal), LC_ALL="C.UTF-8")
        for name in ("PULLCALL_PATTERNS", "PULLCALL_VOICE", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "NOTIFY_SOCKET"):
            self.environment.pop(name, None)
        self.running = []

    def close(self):
        for process in self.running:
            if process.poll() is None:
                process.kill()
            process.wait()
            for stream in (process.stdin, process.stdout, process.stderr):
                if stream:
                    stream.close()
        shutil.rmtree(self.home)

    def start(self, *arguments, **options):
        program, *rest = arguments
        options.setdefault("stdin", subprocess.DEVNULL)
        options.setdefault("stdout", subprocess.DEVNULL)
        process = subprocess.Popen([self.programs / program, *map(str, rest)], env=self.environment, cwd=self.home,
                                   **options)
        self.running.append(process)
        return process

    def run(self, *arguments, **options):
        program, *rest = arguments
        options.setdefault("stdin", subprocess.DEVNULL)
        return subprocess.run([self.programs / program, *map(str, rest)], env=self.environment, cwd=self.home,
                              capture_output=True, text=True, timeout=PATIENCE_S, check=False, **options)

    @property
    def socket_path(self):
        return self.runtime / "pullcall" / "control"

    def connect(self):
        return Connection(self.socket_path)

    def wait_for_daemon(self):
        wait_until(self.is_answering, "no daemon answers")

    def is_answering(self):
        try:
            with self.connect() as connection:
                return connection.ask({"do": "status"})["ok"]
        except OSError:
            return False

    def events(self, kinds=None):
        """The journal's events in order, as (kind, call)."""
        with sqlite3.connect(f"file:{self.journal}?mode=ro", uri=True) as journal:
            rows = journal.execute("SELECT kind, call FROM event ORDER BY job, seq").fetchall()
        journal.close()
        return [row for row in rows if kinds is None or row[0] in kinds]


class Connection:
    def __init__(self, path):
        self.socket = socket.socket(socket.AF_UNIX)
        self.socket.settimeout(PATIENCE_S)
        try:
            self.socket.connect(str(path))
        except OSError:
            self.socket.close()
            raise
        self.reader = self.socket.makefile("rb")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        self.reader.close()
        self.socket.close()

    def send(self, data):
        self.socket.sendall(data)

    def line(self):
        line = self.reader.readline()
        return json.loads(line) if line else None

    def ask(self, request):
        self.send(json.dumps(request).encode() + b"\n")
        return self.line()


def wait_until(true, what):
    end = time.monotonic() + PATIENCE_S
    while not true():
        if time.monotonic() > end:
            raise AssertionError(what)
        time.sleep(0.02)


def shown_until(terminal, mark):
    """What the terminal gets from now on, up to the mark, a regular expression."""
    shown = b""
    end = time.monotonic() + PATIENCE_S
    while not re.search(mark, shown, re.DOTALL):
        if not select.select([terminal], [], [], max(0, end - time.monotonic()))[0]:
            raise AssertionError((mark, shown[-200:]))
        shown += os.read(terminal, 65536)
    return shown
