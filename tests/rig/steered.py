"""A pullcalld on the sound bench, steered and watched through its control socket, and asked every 50 ms."""
import json
import os
import pathlib
import socket
import sqlite3
import threading
import time

import sound

ASK_EVERY_S = 0.05


class Steered:
    def __init__(self, bench, build, plan, *options):
        self.bench = bench
        self.journal = bench.home / "journal.db"
        (bench.home / "bench.yaml").write_text("voice: { rate: 260 }\n")
        self.errors = bench.home / "pullcalld.log"
        self.daemon = bench.popen(f"{build}/bin/pullcalld", "--pedal", "none", "--sound", "device", "--bench",
                                  bench.home / "bench.yaml", "--journal", self.journal, *options)
        self.path = bench.home / "run/pullcall/control"
        sound.wait_until(self.path.exists, "pullcalld's control socket")
        self.events = []  # (time it came, what it is)
        self.answers = []  # seconds from a question to its answer
        self.asking = True
        self.threads = [threading.Thread(target=run, daemon=True) for run in (self._watch, self._ask)]
        self.say("load", file=str(plan))
        for thread in self.threads:
            thread.start()

    def connect(self):
        client = socket.socket(socket.AF_UNIX)
        client.settimeout(5)
        client.connect(str(self.path))
        return client, client.makefile("r")

    def say(self, what, **more):
        client, answers = self.connect()
        with client:
            client.sendall(json.dumps({"do": what, **more}).encode() + b"\n")
            answer = json.loads(answers.readline())
        if not answer["ok"]:
            raise sound.SoundError(f"{what}: {answer['error']}")
        return answer

    def _watch(self):
        client, lines = self.connect()
        client.settimeout(None)
        client.sendall(b'{"do": "watch"}\n')
        for line in lines:
            self.events.append((time.monotonic(), json.loads(line)))

    def _ask(self):
        client, answers = self.connect()
        while self.asking:
            asked = time.monotonic()
            client.sendall(b'{"do": "status"}\n')
            answers.readline()
            self.answers.append(time.monotonic() - asked)
            time.sleep(max(0, ASK_EVERY_S - self.answers[-1]))

    def wait_event(self, after, **wanted):
        """The first event after that time with these values: when it came."""
        def find():
            return next((came for came, event in list(self.events)
                         if came >= after and wanted.items() <= event.items()), None)
        sound.wait_until(find, f"{wanted} from the daemon")
        return find()

    def children(self):
        """The process numbers of the daemon's speakers: one, or none while it is being replaced."""
        children = pathlib.Path(f"/proc/{self.daemon.pid}/task/{self.daemon.pid}/children").read_text()
        return [int(number) for number in children.split()]

    def speaker(self):
        return self.children()[0]

    def cpu_s(self):
        """Of the daemon and of all its speakers that have ended."""
        fields = pathlib.Path(f"/proc/{self.daemon.pid}/stat").read_text().rpartition(")")[2].split()
        return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")

    def own_kib(self):
        """The daemon's private memory."""
        status = pathlib.Path(f"/proc/{self.daemon.pid}/status").read_text()
        return int(status.partition("RssAnon:")[2].split()[0])

    def descriptors(self):
        return len(os.listdir(f"/proc/{self.daemon.pid}/fd"))

    def stop(self):
        """End it; the journal's (kind, call), what was announced aside."""
        self.asking = False
        self.threads[1].join()
        self.daemon.terminate()
        self.daemon.wait(10)
        with sqlite3.connect(self.journal) as journal:
            return journal.execute("SELECT kind, call FROM event WHERE kind <> 'announced' "
                                   "ORDER BY job, seq").fetchall()
