#!/usr/bin/python3 -B
"""A working day of two stringers at one bench: five rackets, three of them under one name, with interruptions, a kill and a
power cut. The journal must show what was done, and every way to go on that is printed is followed.

    test_day.py FOLDER_OF_PROGRAMS
"""
import csv
import io
import math
import pathlib
import re
import signal
import sqlite3
import statistics
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import Bench, wait_until  # noqa: E402

PROGRAMS = None
QUIET = ("--pedal", "keys", "--sound", "none")
PLAN = """job: {job}
pattern: {pattern}
stringer: {stringer}
method: {method}
tension: {{ {tension} }}
"""
TWO_PIECE = "mains: 54 lb, crosses: 52 lb"
RACKETS = {
    "tennis": ("club-17", "open-16x19", "kim", "two-piece", TWO_PIECE),
    "hybrid": ("club-17", "open-16x19", "ada", "two-piece", "mains: 24.5 kg, crosses: 23.5 kg"),
    "squash": ("club-17", "squash-14x18", "kim", "two-piece", "mains: 26 lbs, crosses: 26 lbs"),
    "one": ("league-3", "dense-18x20", "kim", "one-piece", "mains: 52 Lb, crosses: 50lb"),
    "badminton": ("smash-1", "badminton-22x21", "ada", "two-piece", "mains: 24 lb, crosses: 26 lb"),
}


class Day(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS, in_memory=True)
        self.addCleanup(self.bench.close)
        for name, facts in RACKETS.items():
            self.write(name, **dict(zip(("job", "pattern", "stringer", "method", "tension"), facts)))

    # ---- the bench ----

    def write(self, name, text=PLAN, **facts):
        path = self.bench.home / f"{name}.yaml"
        path.write_text(text.format(**facts), encoding="utf-8")
        return path

    def pullcall(self, *arguments, code=0, **options):
        result = self.bench.run("pullcall", *arguments, **options)
        self.assertEqual(result.returncode, code, result.stdout + result.stderr)
        return result.stdout + result.stderr

    def string(self, *arguments, presses=1, code=0):
        """Runs a job with so many presses of the space bar, after which the keys are at an end. What was printed."""
        return self.pullcall("run", *arguments, *QUIET, input=" " * presses, stdin=None, code=code)

    def finish(self, *arguments):
        """Runs a job to its end by the control socket, as fast as it answers. What was printed."""
        run = self.bench.start("pullcall", "run", *arguments, "--pedal", "none", "--sound", "none", stdout=subprocess.PIPE,
                               stderr=subprocess.STDOUT, text=True)
        self.bench.wait_for_daemon()
        with self.bench.connect() as hand:
            wait_until(lambda: "job" in hand.ask({"do": "status"}), "no job")
            place = hand.ask({"do": "status"})
            while place["call"] <= place["calls"]:
                place = hand.ask({"do": "next"})
        told = run.communicate(timeout=20)[0]
        self.assertEqual(run.returncode, 0, told)
        return told

    def query(self, sql, *values):
        journal = sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True)
        try:
            return journal.execute(sql, values).fetchall()
        finally:
            journal.close()

    def place(self, number):
        return self.query("SELECT name, stringer, pattern, call, job_state.state FROM job JOIN job_state ON job = id WHERE id = ?",
                          number)[0]

    def stands(self, number, racket, call, state="open"):
        job, pattern, stringer = RACKETS[racket][:3]
        self.assertEqual(self.place(number), (job, stringer, pattern, call, state))

    def follow(self, printed):
        """Runs every command that is printed to go on with a job: it must go on with that job, where it stands."""
        commands = set(re.findall(r"pullcall run --resume (\d+)", printed))
        for number in commands:
            before = self.place(number)
            told = self.string("--resume", number, presses=0)
            self.assertIn(f"going on with job {before[0]} ({number}), left open at call {before[3]} of ", told)
            self.assertEqual(self.place(number), before)
        return commands

    # ---- the day ----

    def test_mistakes_get_the_line_to_write(self):
        for tension, say in (
                ("tension: 54/52", 'write both with their unit: "tension: { mains: 54 lb, crosses: 52 lb }"'),
                ("tension: 54/52 lbs", 'write both with their unit: "tension: { mains: 54 lb, crosses: 52 lb }"'),
                ("tension: { mains: 24,5 kg, crosses: 23 kg }", 'write "24.5 kg", with a point'),
                ("tension: { mains: 24,5 kg, crosses: 23,5 kg }", 'write "24.5 kg", with a point'),
                ("tension: { mains: 24,5 kg, crosses: 23,5 kg }", 'write "23.5 kg", with a point'),
                ("tension: { mains: 54, crosses: 52 lb }", 'a unit is missing: expected a tension such as "54 lb"'),
                ("tension: {mains:54 lb, crosses: 52 lb}", 'write "mains: 54 lb", with a space after the colon'),
                ("tension: { mains: 54 lb crosses: 52 lb }", "expected a comma between two keys, or the closing bracket"),
                ("tension: { mains: 54 lb, crosses: 52 lb", "expected a comma between two keys, or the closing bracket"),
                ("tension:\n\tmains: 54 lb", "a tab: indent and separate with spaces"),
                (f"tension: {{ {TWO_PIECE} }}\nstring: poly", 'write "string: { mains: { name: poly }, crosses: { name: poly } }"'),
                (f"tension: {{ {TWO_PIECE} }}\nstring: {{ mains: poly }}", 'write mains: { name: poly }'),
                (f"tension: {{ {TWO_PIECE} }}\nstring: {{ mains: {{ name: poly 1,25 }} }}", 'write name: "poly 1,25", in quotes'),
                (f"tension: {{ {TWO_PIECE} }}\nstring: {{ mains: poly 1,25 }}", 'write mains: { name: "poly 1,25" }'),
                (f"tension: {{ {TWO_PIECE} }}\nstring:\n  mains: poly 1,25", 'write mains: { name: "poly 1,25" }'),
                (f"tension: {{ {TWO_PIECE} }}\nstring:\n  mains: {{ name: poly #blue }}", 'write "poly #blue" in quotes')):
            with self.subTest(tension):
                plan = self.write("slip", f"job: slip\npattern: open-16x19\nstringer: kim\nmethod: two-piece\n{tension}\n".replace(
                    "{", "{{").replace("}", "}}"))
                self.assertIn(say, self.pullcall("check", plan, code=1))
        slip = PLAN.replace("job:", "Job:")
        plan = self.write("slip", slip, job="slip", pattern="open-16x19", stringer="kim", method="two-piece", tension=TWO_PIECE)
        self.assertIn('unknown key "Job": did you mean "job"?', self.pullcall("check", plan, code=1))
        for pattern, say in (("open-16x19.yaml", 'there is no pattern "open-16x19.yaml" (did you mean "open-16x19"?)'),
                             ("open-16x91", 'did you mean "open-16x19"?'),
                             ("nothing-like-it", '"pullcall pattern list" shows those there are'),
                             ("squash", 'squash.yaml is a job plan, not the pattern "squash": give the plan another file name')):
            plan = self.write("slip", job="slip", pattern=pattern, stringer="kim", method="two-piece", tension=TWO_PIECE)
            told = self.pullcall("check", plan, code=1)
            self.assertIn(say, told)
            self.assertEqual(len(told.splitlines()), 1)
        self.assertIn("1 job plan, ", self.pullcall("check", "tennis.yaml"))

    def test_the_day(self):
        self.assertIn("no job has been strung yet", self.pullcall("run", "--resume", *QUIET, code=1))

        # Kim begins; Ada's racket has the same name, and so has Kim's squash racket. Each is a job of its own.
        told = self.string("tennis.yaml", presses=7)
        self.assertEqual(self.follow(told), {"1"})
        told = self.string("hybrid.yaml", presses=4)
        self.assertIn('; stringer: kim (this plan says ada)', told)
        self.assertIn(': "pullcall run --resume 1" goes on with it', told)
        self.assertEqual(self.follow(told), {"1", "2"})
        told = self.string("squash.yaml", presses=5)
        self.assertRegex(told, r"job club-17 \([12]\) is still open; .*pattern: open-16x19 \(this plan says \S+\)")
        self.assertIn('2 open jobs: "pullcall jobs" lists them', told)
        self.follow(told)
        self.stands(1, "tennis", 7)
        self.stands(2, "hybrid", 4)
        self.stands(3, "squash", 5)

        # Each plan goes on with its own racket, in whatever order.
        for number, racket, call in ((2, "hybrid", 4), (1, "tennis", 7), (3, "squash", 5), (2, "hybrid", 4)):
            told = self.string(f"{racket}.yaml", presses=0)
            self.assertIn(f"job club-17 ({number}) was left open at call {call} of ", told)
            self.stands(number, racket, call)

        # A name that three jobs have is never guessed at.
        for arguments in (("run", "--resume", *QUIET), ("run", "--resume", "club-17", *QUIET)):
            told = self.pullcall(*arguments, code=1)
            for line in (r"^ +1  club-17: kim, open-16x19, 54/52 lb, call 7 of ",
                         r"^ +2  club-17: ada, open-16x19, 24.5/23.5 kg, call 4 of ",
                         r"^ +3  club-17: kim, squash-14x18, 26/26 lb, call 5 of "):
                self.assertRegex(told, re.compile(line, re.M))
            self.assertEqual(len(self.follow(told)), 1)
        told = self.pullcall("abandon", "club-17", "wrong racket", code=1)
        self.assertIn("3 open jobs have the name club-17: say the number of one", told)
        self.assertIn('as in: pullcall abandon 4 "wrong racket"', self.pullcall("abandon", "club-17", code=2))
        self.assertIn('no job "club-71"; did you mean "club-17"?', self.string("--resume", "club-71", presses=0, code=1))
        self.assertIn('no job "club-71"; did you mean "club-17"?', self.pullcall("abandon", "club-71", "why", code=1))
        told = self.string("3", presses=0, code=1)
        self.assertEqual(self.follow(told), {"3"})
        self.assertRegex(self.pullcall("review", "club-17"), r"^club-17  \(job \d; other jobs of this name: \d, \d\)")

        self.kill_and_power_cut()
        self.finish_and_close()

    def kill_and_power_cut(self):
        run = self.bench.start("pullcall", "run", "one.yaml", *QUIET, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        run.stdin.write(b" " * 12)
        run.stdin.flush()
        wait_until(lambda: self.query("SELECT 1 FROM job_state WHERE job = 4 AND call = 12"), "12 presses are not written")
        run.kill()
        run.wait()
        self.assertIn("job league-3 (4) was left open at call 12 of ", self.string("one.yaml", presses=0))

        # The bench computer goes down with Ada's racket on it, which is not the one begun last.
        daemon = self.bench.start("pullcalld", "--pedal", "none", "--sound", "none", stderr=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        self.assertIn("job league-3 (4) of kim is running, at call 12 of ", self.pullcall("load", "hybrid.yaml", code=1))
        self.pullcall("tell", "stop")
        wait_until(lambda: "no job is running" in self.bench.run("pullcall", "tell", "where").stderr, "the job goes on")
        self.assertIn("job club-17 (2) was left open at call 4 of ", self.pullcall("load", "hybrid.yaml"))
        self.pullcall("tell", "next")
        self.pullcall("tell", "next")
        daemon.send_signal(signal.SIGKILL)
        daemon.communicate()
        call = self.place(2)[3]
        self.assertEqual(call, 5)

        daemon = self.bench.start("pullcalld", "--pedal", "none", "--sound", "none", stderr=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        self.assertIn('"job": "club-17", "call": 5', self.pullcall("tell", "where", "--json"))
        self.pullcall("tell", "stop")
        wait_until(lambda: "no job is running" in self.bench.run("pullcall", "tell", "where").stderr, "the job goes on")
        told = self.pullcall("load", "1", code=1)
        self.assertIn("pullcall load --resume 1", told)
        self.assertIn("going on with job club-17 (1), left open at call 7 of ", self.pullcall("load", "--resume", "1"))
        self.pullcall("tell", "stop")
        daemon.terminate()
        log = daemon.communicate(timeout=20)[1]
        self.assertIn("going on with job club-17 (2), left open at call 5 of ", log)
        for number, line in ((1, "club-17: kim,"), (3, "club-17: kim,"), (4, "league-3: kim,")):
            self.assertRegex(log, re.compile(rf"^ +{number}  {line} ", re.M))
        self.assertIn('To go on with one: "pullcall tell stop", then "pullcall load --resume NUMBER"', log)

    def finish_and_close(self):
        for number, plan in ((1, "tennis"), (2, "hybrid"), (3, "squash"), (4, "one")):
            told = self.finish(f"{plan}.yaml")
            self.assertIn(f"Where the minutes went: pullcall review {number}\n", told)
            self.assertIn(f"(job {number}" if number < 4 else "league-3", self.pullcall("review", str(number)).splitlines()[0])
        self.string("badminton.yaml", presses=3)
        self.assertEqual(self.pullcall("abandon", "smash-1", "the frame cracked").splitlines(),
                         [f"smash-1 (5) is closed at call 3 of {self.query('SELECT calls FROM job WHERE id = 5')[0][0]}."])
        self.assertIn("no job was left open", self.pullcall("run", "--resume", *QUIET, code=1))
        for number, racket in enumerate(("tennis", "hybrid", "squash", "one"), 1):
            calls = self.query("SELECT calls FROM job WHERE id = ?", number)[0][0]
            self.stands(number, racket, calls + 1, "finished")

    def test_a_slip_in_a_name_is_pointed_out(self):
        self.string("hybrid.yaml", presses=2)
        told = self.pullcall("journal", "anonymise", "ad", code=1)
        self.assertIn('no stringer "ad"; did you mean "ada"?', told)
        self.assertIn("say what: next, again, back, ", self.pullcall("tell", code=2))
        self.assertIn("league-3 (dense-18x20) in one piece, long side left\n", self.pullcall("steps", "one.yaml", "--routes"))
        self.finish("hybrid.yaml")
        self.assertRegex(self.pullcall("review"), r"^1 finished job, begun [-\d]{10}\n")
        self.string("tennis.yaml", presses=1)
        self.assertRegex(self.pullcall("review"), r"^1 finished job, begun [-\d]{10}; left out: 1 open\n")

    def test_no_spelling_of_a_name_stays_unseen(self):
        for number, stringer in enumerate(("kim", "KIM", '"ada & Kim"', "kim lee", "joakim")):
            self.write(f"name-{number}", PLAN, job=f"kim-{number}", pattern="open-16x19", stringer=stringer,
                       method="two-piece", tension=TWO_PIECE)
            self.string(f"name-{number}.yaml", presses=1)
        told = self.pullcall("journal", "anonymise", "kim")
        self.assertIn('the name is now "forgotten-1": stringer of 3 jobs, customer of 0 jobs, named in 8 notes and plans', told)
        self.assertIn('the journal still has the stringer "kim lee"; if that is the same person: '
                      'pullcall journal anonymise "kim lee"', told)
        self.assertEqual([row[0] for row in self.query("SELECT stringer FROM job ORDER BY id")],
                         ["forgotten-1", "forgotten-1", "ada & forgotten-1", "kim lee", "joakim"])
        self.assertEqual(self.query("SELECT name FROM job WHERE stringer GLOB '*forgotten*' AND "
                                    "lower(name || plan_text || plan_file) GLOB '*[^a-z]kim[^a-z]*'"), [])
        self.assertIn("going on with job forgotten-1-2 (3), left open at call 1 of ", self.string("--resume", "3", presses=0))
        told = self.pullcall("journal", "anonymise", "kim", code=1)
        self.assertIn('pullcall journal anonymise "kim lee"', told)
        self.pullcall("journal", "anonymise", "kim lee")
        self.assertEqual(self.query("SELECT count(*) FROM job WHERE stringer = 'forgotten-2'"), [(1,)])

    # ---- figures ----

    def table(self, name):
        return list(csv.DictReader(io.StringIO(self.pullcall("export", "--format", "csv", "--table", name))))

    def test_figures_keep_stringers_sports_and_detail_apart(self):
        learner = PLAN + "detail: learner\n"
        job, pattern, stringer, method, tension = RACKETS["tennis"]
        self.write("learner", learner, job="first-1", pattern=pattern, stringer=stringer, method=method, tension=tension)
        for _ in range(3):
            for plan in ("tennis", "squash", "hybrid"):
                self.finish(f"{plan}.yaml")
        self.finish("learner.yaml")
        jobs = self.stretch({("kim", "tennis", "bench"): 10, ("kim", "tennis", "learner"): 24, ("kim", "squash", "bench"): 6,
                             ("ada", "tennis", "bench"): 14})
        self.assertEqual(len(jobs), 10)
        self.assertEqual({job["state"] for job in jobs}, {"finished"})
        told = self.pullcall("review")
        for kind in ("kim: open-16x19, two-piece, bench", "ada: open-16x19, two-piece, bench", "kim: squash-14x18, two-piece, bench"):
            stringer, pattern, _, detail = re.split(r"[:,] ", kind)
            work = [int(job["work_us"]) / 1e6 for job in jobs
                    if (job["stringer"], job["pattern"], job["detail"]) == (stringer, pattern, detail)]
            self.assertEqual(len(work), 3)
            block = told[told.index(f"\n{kind}\n"):].split("\n\n")[0]
            usual = re.search(r"^  Usual +(\d+):(\d+), median of the last 3 jobs$", block, re.M)
            self.assertAlmostEqual(60 * int(usual[1]) + int(usual[2]), statistics.median(work), delta=1)
            quote = int(re.search(r"^  Quote, without pauses +(\d+) min$", block, re.M)[1])
            self.assertGreaterEqual(quote, math.floor(statistics.median(work) / 60))
            self.assertLessEqual(quote, math.ceil(max(work) / 60))
        self.assertIn("kim: open-16x19, two-piece, learner\n  Quote, without pauses        none from 1 job ", told)
        self.check_totals(jobs)

    def stretch(self, seconds):
        """Puts so many seconds between two events of the journal: days of stringing in a moment. The jobs."""
        journal = sqlite3.connect(self.bench.journal)
        for job in self.table("jobs"):
            each_us = int((seconds[job["stringer"], job["sport"], job["detail"]] + int(job["job"]) / 2) * 1e6)
            journal.execute("UPDATE event SET steady_us = steady_us + seq * ?, boot_us = boot_us + seq * ? WHERE job = ?",
                            (each_us, each_us, job["job"]))
        journal.commit()
        journal.close()
        return self.table("jobs")

    def check_totals(self, jobs):
        calls = self.table("calls")
        for job in jobs:
            work = sum(int(call["work_us"] or 0) for call in calls if call["uuid"] == job["uuid"])
            self.assertEqual(work, int(job["work_us"]))
            minutes = int(job["work_us"]) / 60e6
            self.assertAlmostEqual(float(job["work_min"]), minutes, delta=0.0051)
            shown = re.search(r"^  Work +(?:(\d+):)?(\d+):(\d+)", self.pullcall("review", job["job"]), re.M)
            hours, left, seconds = (int(part or 0) for part in shown.groups())
            self.assertAlmostEqual(3600 * hours + 60 * left + seconds, int(job["work_us"]) / 1e6, delta=1)


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main(verbosity=1)
