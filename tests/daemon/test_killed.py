#!/usr/bin/python3 -B
"""SIGKILL of the real daemon at 200 random moments: no acknowledged press is lost, and each start goes on at the very
call.

    test_killed.py FOLDER_OF_PROGRAMS
"""
import pathlib
import random
import sqlite3
import subprocess
import sys
import threading
import unittest

from programs import DEMO, Bench

KILLS = 200
SEED = 20261125
PROGRAMS = None


class Killed(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS)
        self.addCleanup(self.bench.close)

    def start(self):
        daemon = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        return daemon

    def press_until_killed(self, daemon, seconds, dice):
        """Presses as fast as it answers; returns the answers that came."""
        killer = threading.Timer(seconds, daemon.kill)
        answers = []
        killer.start()
        try:
            with self.bench.connect() as hand:
                while True:
                    verb = "back" if dice.random() < 0.25 else "next"
                    answer = hand.ask({"do": verb, "count": dice.randrange(1, 30)} if verb == "back" else {"do": verb})
                    if answer is None:
                        break
                    if answer["ok"]:
                        answers.append((verb, answer.get("call")))
        except OSError:
            pass
        killer.join()
        daemon.wait()
        return answers

    def test_no_acknowledged_press_is_lost(self):
        dice = random.Random(SEED)
        acknowledged = 0
        place = None
        for kill in range(KILLS):
            daemon = self.start()
            with self.bench.connect() as hand:
                status = hand.ask({"do": "status"})
                if status["state"] == "idle":
                    self.assertTrue(hand.ask({"do": "load", "file": str(DEMO)})["ok"])
                elif place is not None:
                    # A press may have been written and not answered: that one may be in.
                    self.assertIn(status["call"], place, f"kill {kill}, seed {SEED}")
            answers = self.press_until_killed(daemon, dice.uniform(0.0, 0.06), dice)
            acknowledged += len(answers)
            written = len(self.bench.events(["next", "back", "resume"]))
            self.assertGreaterEqual(written, acknowledged, f"kill {kill}, seed {SEED}")
            self.assertLessEqual(written, acknowledged + kill + 1)
            with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
                self.assertEqual(journal.execute("PRAGMA integrity_check").fetchone(), ("ok",))
                last = journal.execute("SELECT call FROM event ORDER BY job DESC, seq DESC LIMIT 1").fetchone()[0]
            journal.close()
            place = {last}
        self.assertGreater(acknowledged, KILLS)
        print(f"{KILLS} kills, {acknowledged} acknowledged presses, none lost", file=sys.stderr)


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main(verbosity=1)
