#!/usr/bin/python3 -B
"""What a status says about the bed, call by call, against the moves of `pullcall steps --json`; and what is said of the
place, the time and the pattern.

    test_status.py FOLDER_OF_PROGRAMS
"""
import itertools
import json
import math
import subprocess
import sys
import unittest

from programs import SOURCE, Bench

PLAN = """job: {pattern}-{detail}
pattern: {pattern}
stringer: apprentice
method: {method}
detail: {detail}
tension: {{ mains: {tension}, crosses: {tension} }}
"""
TENSIONS = ("10 kg", "12 kg", "14 kg", "23 kg")  # one of them suits every bundled pattern
PATTERNS = sorted(path.stem for path in (SOURCE / "patterns").glob("*.yaml"))


class Status(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(sys.argv[1], in_memory=True)
        self.addCleanup(self.bench.close)
        self.bench.start("pullcalld", "--pedal", "none", "--sound", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()

    def write_plan(self, **facts):
        """The plan's file, and its steps."""
        plan = self.bench.home / "plan.yaml"
        for tension in TENSIONS:
            plan.write_text(PLAN.format(tension=tension, **facts), encoding="utf-8")
            steps = self.bench.run("pullcall", "steps", plan, "--json")
            if steps.returncode == 0:
                return plan, json.loads(steps.stdout)
        raise AssertionError(steps.stderr)

    def follow(self, plan, steps):
        """Every call of a job: the strings that are in are those of the moves before it."""
        strings = {"left": set(), "right": set(), "crosses": set()}
        with self.bench.connect() as daemon:
            self.assertTrue(daemon.ask({"do": "load", "file": str(plan)})["ok"])
            daemon.ask({"do": "next"})
            for call, after in itertools.zip_longest(steps["calls"], steps["calls"][1:]):
                status = daemon.ask({"do": "status"})
                self.assertEqual(status["call"], call["n"])
                self.assertEqual({key: set(value) for key, value in status["in_bed"].items()}, strings, call)
                self.assertEqual(status.get("next"), after and after["text"])
                first, last = call["moves"]
                for move in steps["moves"][first - 1:last]:
                    if move["do"] in ("feed", "weave"):
                        strings["crosses" if move["string"] == "cross" else move["side"]].add(move["number"])
                daemon.ask({"do": "next"})
            daemon.ask({"do": "abandon", "reason": "test"})
        self.assertEqual(status["mains"], len(strings["left"]) + len(strings["right"]))
        self.assertEqual(status["crosses"], len(strings["crosses"]))
        self.assertEqual(status["crosses_start"], steps["crosses"]["start"])

    def test_strings_in_the_bed_of_every_pattern(self):
        details = itertools.cycle(("learner", "bench", "quick"))
        for pattern, method in itertools.product(PATTERNS, ("two-piece", "one-piece\norder: { route: 1 }")):
            detail = next(details)
            with self.subTest(pattern=pattern, method=method, detail=detail):
                self.follow(*self.write_plan(pattern=pattern, method=method, detail=detail))

    def test_what_is_said(self):
        plan, _ = self.write_plan(pattern="squash-14x18", method="two-piece\nracket: R-118", detail="bench")
        self.bench.run("pullcall", "rack", "add", plan)
        with self.bench.connect() as daemon:
            told = daemon.ask({"do": "rack"})["said"]
            self.assertIn("racket R one hundred eighteen. Squash fourteen by eighteen. ", told)
            told = daemon.ask({"do": "load", "file": str(plan)})["said"]
            self.assertIn("bench, racket R one hundred eighteen. Fourteen mains", told)
            while not (status := daemon.ask({"do": "next"}))["text"].startswith("Count mains"):
                self.assertNotIn("pace", status)  # the first job of this pattern
            self.assertRegex(daemon.ask({"do": "where"})["said"], "Count mains and skips. Eighteen crosses to go.")
            told = daemon.ask({"do": "where"})
            minutes = math.ceil(told["left_s"] / 60)
            words = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen".split()
            self.assertIn(f"About {words[minutes]} minutes.", told["said"])
            daemon.ask({"do": "stop"})
            self.assertIn("Count mains and skips. You stopped here.", daemon.ask({"do": "load", "open": "R-118"}).get("said", ""))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], "-v"])
