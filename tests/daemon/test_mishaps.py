#!/usr/bin/python3 -B
"""Going back with work undone, on the real daemon: refused or carried out, never a wrong place, nothing lost.

    test_mishaps.py FOLDER_OF_PROGRAMS
"""
import pathlib
import sqlite3
import subprocess
import sys
import unittest

from programs import DEMO, Bench

PROGRAMS = None
NONSENSE = ["", " ", "cross", "cros 9", "cross 0", "cross -1", "cross 99", "cross 9.5", "cross 9 left", "cross nine", "main", "main 4",
            "main 4 middle", "main 0 left", "main 9 left", "main 4 left left", "9", "cross 99999999999999999999", "x" * 300, "ä 9", "cross 9;"]


class MishapTest(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS, in_memory=True)
        self.addCleanup(self.bench.close)

    def start(self):
        daemon = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon(20)
        hand = self.bench.connect()
        self.addCleanup(hand.close)
        return daemon, hand

    def rows(self, sql):
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            rows = journal.execute(sql).fetchall()
        journal.close()
        return rows

    def begin(self):
        daemon, hand = self.start()
        self.assertTrue(hand.ask({"do": "load", "file": str(DEMO)})["ok"])
        return daemon, hand

    def until(self, hand, words):
        """Presses until a call begins with these words."""
        for _ in range(200):
            answer = hand.ask({"do": "next"})
            if answer.get("text", "").startswith(words):
                return answer
        self.fail(f"no call \"{words}\"")

    def check_place(self, hand):
        """The daemon and the journal agree where the job is, and what is said there."""
        status = hand.ask({"do": "status"})
        (kind, call), = self.rows("SELECT kind, call FROM event ORDER BY job DESC, seq DESC LIMIT 1")
        found = self.rows(f"SELECT coalesce(place, n), text FROM call WHERE n = {call} ORDER BY job DESC LIMIT 1")
        if found:
            self.assertEqual((status["call"], status["text"]), found[0], kind)
        else:
            self.assertEqual(status["call"], status["calls"] + 1)
        return status

    def finish(self, hand):
        """Goes on to the end of the job; how often each cross is pulled on the way."""
        for _ in range(400):
            status = self.check_place(hand)
            if status["call"] >= status["calls"]:
                break
            self.assertTrue(hand.ask({"do": "next"})["ok"])
        status = hand.ask({"do": "status"})
        self.assertEqual((status["mains_left"], status["crosses_left"]), (0, 0))
        hand.ask({"do": "next"})
        self.assertEqual(self.rows("SELECT kind FROM event ORDER BY job DESC, seq DESC LIMIT 1"), [("finished",)])


class Refused(MishapTest):
    def test_nonsense(self):
        _, hand = self.begin()
        self.until(hand, "Cross twelve")
        before = hand.ask({"do": "status"})["call"], len(self.bench.events())
        for text in NONSENSE:
            answer = hand.ask({"do": "redo", "string": text})
            self.assertFalse(answer["ok"], text)
            self.assertTrue(answer["error"])
            status = self.check_place(hand)
            self.assertEqual((status["call"], len(self.bench.events())), before, text)
        for request in ({"do": "redo"}, {"do": "redo", "string": 9}, {"do": "redo", "string": ["cross 9"]}):
            self.assertFalse(hand.ask(request)["ok"])
        told = self.bench.run("pullcall", "tell", "redo", "cross", "99")
        self.assertEqual(told.returncode, 1)
        self.assertIn("this frame has 19 crosses", told.stderr)
        self.assertEqual(self.bench.run("pullcall", "tell", "redo").returncode, 2)

    def test_without_a_job(self):
        _, hand = self.start()
        for request in ({"do": "redo", "string": "cross 9"}, {"do": "slipped"}, {"do": "broke"}):
            self.assertEqual(hand.ask(request), {"ok": False, "error": "no job is running"})

    def test_at_the_first_call_and_past_the_last(self):
        _, hand = self.begin()
        self.assertFalse(hand.ask({"do": "redo", "string": "cross 9"})["ok"])
        hand.ask({"do": "next"})
        self.assertFalse(hand.ask({"do": "redo", "string": "main 1 left"})["ok"])
        self.check_place(hand)

    def test_at_the_last_calls(self):
        """Refused or carried out; never something in between."""
        _, hand = self.begin()
        self.until(hand, "Tie off cross")
        while True:
            status = self.check_place(hand)
            calls = status["calls"]
            answer = hand.ask({"do": "redo", "string": "cross 9"})
            status = self.check_place(hand)
            if answer["ok"]:
                self.assertGreater(status["calls"], calls)
                self.finish(hand)
                break
            self.assertEqual(status["calls"], calls)
            if status["call"] == calls:
                break
            hand.ask({"do": "next"})


class Said(MishapTest):
    def test_what_cannot_be_done_is_said(self):
        _, hand = self.begin()
        hand.ask({"do": "next"})
        for verb in ("choices", "next"):
            hand.ask({"do": verb})
        answer = hand.ask({"do": "again"})
        self.assertEqual(answer["state"], "paused")
        self.assertTrue(answer["said"].startswith("That cannot be done"), answer["said"])
        self.assertEqual(self.rows("SELECT count(*) FROM mishap"), [(0,)])


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main(verbosity=2)
