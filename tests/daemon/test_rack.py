#!/usr/bin/python3 -B
"""The rack: from `rack add` to the last knot by one key, and what goes wrong on the way.

    test_rack.py FOLDER_OF_PROGRAMS
"""
import fcntl
import os
import pathlib
import random
import select
import sqlite3
import struct
import subprocess
import sys
import termios
import threading
import unittest

from programs import DEMO, PATIENCE_S, Bench, wait_until

PROGRAMS = None
HEADER = "job,pattern,stringer,tension/mains,tension/crosses,racket,notes,string/mains/reel\n"


class Rack(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS, in_memory=True)
        self.addCleanup(self.bench.close)

    def pullcall(self, *words, code=0):
        result = self.bench.run("pullcall", *words)
        self.assertEqual(result.returncode, code, result.stdout + result.stderr)
        return result.stdout + result.stderr

    def table(self, *rows, name="rack.csv", header=HEADER):
        path = self.bench.home / name
        path.write_text(header + "".join(rows), encoding="utf-8")
        return path

    def row(self, name, racket="", notes="", reel=""):
        return f"{name},open-16x19,kim,54 lb,52 lb,{racket},{notes},{reel}\n"

    def rack(self):
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            rows = journal.execute("SELECT name, began FROM rack ORDER BY place").fetchall()
        journal.close()
        return [name + ("" if began is None else f":{began}") for name, began in rows]

    def start_daemon(self):
        self.daemon = self.bench.start("pullcalld", "--pedal", "keys", "--sound", "none", stdin=subprocess.PIPE,
                                       stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        self.hand = self.bench.connect()
        self.addCleanup(self.hand.close)

    def status(self):
        return self.hand.ask({"do": "status"})

    def waiting(self):
        return [job["job"] for job in self.status()["rack"]]

    def press(self, key=" "):
        """A key, and what is said to it."""
        self.daemon.stdin.write(key.encode())
        self.daemon.stdin.flush()

    def hears(self, words):
        wait_until(lambda: words in self.status().get("said", ""), f"not said: {words}")

    def begins(self, job):
        wait_until(lambda: self.status().get("job") == job, f"{job} does not begin")

    def string_a_and_begin_b(self):
        for name in "ab":
            self.press()
            self.hears(f"Next, job {name}")
            self.press()
            self.begins(name)
            if name == "a":
                self.finish()

    def finish(self):
        """Every call of the job under way, by the key alone."""
        while (status := self.status())["state"] != "idle":
            self.press()
            wait_until(lambda: self.status() != status, "nothing happens")

    def test_a_day_by_one_key(self):
        self.pullcall("rack", "add", "--csv", self.table(*(self.row(name) for name in "abcde")))
        self.start_daemon()
        self.hears("Five jobs on the rack")
        self.press()
        self.hears("Next, job a. Open sixteen by nineteen. Mains at fifty four pounds. Crosses at fifty two pounds.")
        self.press("p")  # as a hold does: passed over
        self.hears("Next, job b.")
        self.press("r")
        self.hears("Next, job b.")
        self.press()
        self.begins("b")
        self.assertEqual(self.rack(), ["b:1", "a", "c", "d", "e"])
        self.assertEqual(self.waiting(), ["a", "c", "d", "e"])
        for _ in range(12):
            self.press()
        wait_until(lambda: self.status()["call"] == 12, "the job does not go on")
        self.press("c")
        wait_until(lambda: self.status()["state"] == "choosing", "no choices")
        self.choose("Leave this job for later")
        self.press("r")
        wait_until(lambda: self.status()["state"] == "idle", "the job is not left")
        self.assertEqual(self.rack(), ["a", "c", "d", "e", "b:1"])
        self.assertEqual(self.waiting(), ["a", "c", "d", "e", "b"])
        for name in "acde":
            self.press()
            self.hears(f"Next, job {name}")
            self.press()
            self.begins(name)
            self.finish()
        self.hears("One job on the rack")
        self.press()
        self.hears("Next, job b, left at")
        self.press()
        self.begins("b")
        self.assertEqual(self.status()["call"], 12)
        self.finish()
        self.assertEqual(self.rack(), [])
        self.press()
        self.hears("Nothing waits on the rack")
        self.assertEqual(self.waiting(), [])
        self.assertEqual([kind for kind, _ in self.bench.events(["finished"])], ["finished"] * 5)

    def test_what_is_known_of_those_that_wait(self):
        header = "job,pattern,stringer,tension/mains,tension/crosses,racket,customer,due\n"
        rows = ["a,open-16x19,kim,54 lb,52 lb,R-1,ada,2026-12-01\n"]
        rows += [f"{name},open-16x19,kim,54 lb,52 lb,,,\n" for name in "bcdef"]
        self.start_daemon()
        self.assertEqual(self.waiting(), [])
        self.pullcall("rack", "add", "--csv", self.table(*rows, header=header))
        first = {"job": "a", "racket": "R-1", "customer": "ada", "due": "2026-12-01"}
        self.assertEqual(self.status()["rack"], [first, *({"job": name} for name in "bcde")])

    def test_a_plan_that_no_longer_compiles_is_passed(self):
        pattern = self.bench.home / "mine.yaml"
        text = pathlib.Path(PROGRAMS, "../share/pullcall/patterns/open-16x19.yaml").read_text(encoding="utf-8")
        pattern.write_text(text.replace("pattern: open-16x19", "pattern: mine"), encoding="utf-8")
        self.pullcall("rack", "add", "--csv", self.table(self.row("a").replace("open-16x19", "mine"), self.row("b")))
        pattern.unlink()
        self.start_daemon()
        self.press()
        self.hears("Job a. This one cannot be begun. There is no pattern mine")
        self.press()
        self.hears("Next, job b.")
        self.press()
        self.begins("b")

    def test_the_rack_changes_while_it_is_said(self):
        self.pullcall("rack", "add", "--csv", self.table(self.row("a"), self.row("b")))
        self.start_daemon()
        self.press()
        self.hears("Next, job a.")
        self.pullcall("rack", "drop", "a")
        self.press()
        self.hears("Next, job b.")
        self.assertEqual(self.status()["state"], "idle")
        self.press()
        self.begins("b")
        self.pullcall("rack", "add", DEMO)  # while it is strung
        self.pullcall("rack", "move", "ridge-court-0042", "@1")
        self.assertEqual(self.rack(), ["ridge-court-0042", "b:1"])

    def choose(self, words):
        """From the open choices, presses until these words are said."""
        for _ in range(12):
            said = self.status()["said"]
            if words in said:
                return
            self.press()
            wait_until(lambda: self.status()["said"] != said, "no other choice is said")
        self.fail(f"no choice: {words}")

    def test_in_a_job_the_choices_say_what_is_next(self):
        self.pullcall("rack", "add", "--csv", self.table(self.row("a"), self.row("b")))
        self.start_daemon()
        self.press()
        self.hears("Next, job a.")
        self.press()
        self.begins("a")
        self.press()
        self.press("c")
        wait_until(lambda: self.status()["state"] == "choosing", "no choices")
        self.choose("What is next on the rack.")
        self.press("r")
        self.hears("Next, job b. Open sixteen by nineteen. Mains at fifty four pounds. Crosses at fifty two pounds.")
        self.assertNotIn("Press", self.status()["said"])
        self.assertEqual((self.status()["state"], self.status()["job"]), ("choosing", "a"))
        self.press()
        self.hears("Leave this job for later")
        self.press("b")
        self.hears("Paused")
        self.assertIn("a: Next, job b", self.pullcall("tell", "rack"))
        # With nothing on the rack there is no such choice.
        self.pullcall("rack", "drop", "b")
        self.assertIn("Nothing waits on the rack", self.pullcall("tell", "rack"))
        self.press("c")
        wait_until(lambda: self.status()["state"] == "choosing", "no choices")
        with self.assertRaises(AssertionError):
            self.choose("What is next on the rack.")
        self.assertEqual(self.rack(), ["a:1"])

    def run_the_rack(self):
        self.daemon = self.bench.start("pullcall", "run", "--pedal", "keys", "--sound", "none", stdin=subprocess.PIPE)
        self.bench.wait_for_daemon()
        self.hand = self.bench.connect()
        self.addCleanup(self.hand.close)

    def test_a_run_without_a_plan_works_through_the_rack(self):
        told = self.pullcall("run", code=2)
        self.assertIn("a job plan is missing, and nothing waits on the rack", told)
        self.pullcall("rack", "add", "--csv", self.table(self.row("a"), self.row("b")))
        self.run_the_rack()
        self.hears("Two jobs on the rack")
        self.string_a_and_begin_b()
        self.press("q")
        wait_until(lambda: self.status()["state"] == "idle", "the job is not left")
        self.press("q")
        self.assertEqual(self.daemon.wait(PATIENCE_S), 0)
        self.pullcall("rack", "add", "--csv", self.table(self.row("c")))
        self.run_the_rack()
        self.hears("Two jobs on the rack")
        self.press()
        self.hears("Next, job b, left at")
        self.press()
        self.begins("b")
        self.finish()
        self.hears("One job on the rack")

    def test_others_change_the_rack_while_jobs_are_taken(self):
        """Two programs add, move and drop while the daemon takes one job after the other."""
        names = [[f"{who}{n}" for n in range(8)] for who in "ab"]
        kept = {name for name in names[0] + names[1] if name[1] not in "36"}
        self.pullcall("rack", "add", "--csv", self.table(self.row("first")))
        self.start_daemon()
        wrong = []

        def change(mine):
            pick = random.Random(mine[0])
            for name in mine:
                words = [["add", "--csv", self.table(self.row(name), name=f"{name}.csv")],
                         ["move", name, f"@{pick.randint(1, 4)}"]]
                if name not in kept:
                    words.append(["drop", name])
                for word in words:
                    for _ in range(20):
                        result = self.bench.run("pullcall", "rack", *word)
                        if "another program is using it" not in result.stderr:
                            break
                    # It may have been begun and finished in between.
                    if result.returncode and "is not on the rack" not in result.stderr:
                        wrong.append(result.stderr)

        others = [threading.Thread(target=change, args=(mine,)) for mine in names]
        for other in others:
            other.start()
        empty = 0
        while any(other.is_alive() for other in others) or empty < 3:
            self.press()
            status = self.status()
            if "job" in status:
                self.hand.ask({"do": "abandon", "reason": "enough"})
            empty = empty + 1 if "Nothing waits" in status.get("said", "") else 0
        self.assertEqual(wrong, [])
        self.assertEqual(self.rack(), [])
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            begun = [name for name, in journal.execute("SELECT name FROM job ORDER BY name")]
        journal.close()
        self.assertEqual(len(begun), len(set(begun)), "a job was begun twice")
        self.assertLessEqual(kept | {"first"}, set(begun), "a job was lost")

    def test_what_is_known_of_a_racket_is_said(self):
        self.pullcall("rack", "add", "--csv",
                      self.table(self.row("a", racket="R-118"), self.row("b", "R-118", "Mind the chip")))
        self.start_daemon()
        self.string_a_and_begin_b()
        self.hears("at fifty four pounds. Mind the chip. Press to begin.")
        self.assertIn("Last strung today at", self.status()["said"])
        self.press()
        self.begins("b")
        self.assertTrue(self.pullcall("tell", "where").startswith("b (R-118): "))

    def test_a_file_is_named_as_it_was_typed_with_line_and_column(self):
        self.pullcall("reel", "add", "red", "5 m")
        plan = self.bench.home / "reeled.yaml"
        plan.write_text("job: reeled\npattern: open-16x19\nstringer: kim\nmethod: two-piece\ntension: { mains: 25 kg, crosses: 24 kg }\n"
                        "string: { mains: { reel: red } }\n", encoding="utf-8")
        typed = plan.relative_to(self.bench.home)
        for command in (("check", typed), ("rack", "add", typed)):
            told = self.bench.run("pullcall", *command).stderr
            self.assertTrue(told.startswith("reeled.yaml:6:26: warning: reel red has 5.00 m left"), told)
        self.assertTrue(self.pullcall("rack", "add", typed, code=1).startswith("reeled.yaml:1:6: error: job reeled is on the rack already"))
        header = "job,pattern,stringer,tension/mains,tension/crosses\n"
        with open(self.table("a,open-16x19,kim,25,24 kg\n", header=header), encoding="utf-8") as rows:
            told = self.bench.run("pullcall", "rack", "add", "--csv", "-", stdin=rows).stderr
        self.assertTrue(told.startswith("<standard input>:2:18: error: a unit is missing"), told)

    def test_notes_and_reels(self):
        self.pullcall("reel", "add", "red", "5 m")
        wrong = self.bench.run("pullcall", "rack", "add", "--csv", self.table(self.row("b", reel="rad")))
        self.assertEqual(wrong.returncode, 1)
        self.assertIn('error: no reel "rad"; did you mean "red"? [reel-unknown]', wrong.stderr)
        table = self.table(self.row("a", reel="red"))
        added = self.bench.run("pullcall", "rack", "add", "--csv", table)
        self.assertEqual(added.returncode, 0)
        self.assertRegex(added.stderr, r"warning: reel red has 5\.00 m left, and this job cuts \d+\.\d\d m \[reel-short\]")
        self.start_daemon()
        self.press()
        self.hears("Next, job a")
        self.press()
        self.hears("Reel red has five")
        self.assertIn("reel red too short", self.pullcall("rack", "list"))
        needed = "reel red is to be cut by jobs that wait or are open: "
        self.assertIn(needed + "a\n", self.pullcall("reel", "remove", "red", code=1))
        self.pullcall("reel", "set", "red", "20 m")
        self.assertNotIn("too short", self.pullcall("rack", "list"))
        self.press()
        self.hears("Next, job a")
        self.press()
        self.begins("a")
        self.assertIn(needed + "a (1)\n", self.pullcall("reel", "remove", "red", code=1))
        self.pullcall("tell", "note", "grommet 4H is worn")
        self.pullcall("reel", "set", "red", "3 m")
        told = [self.pullcall("tell", "next") for _ in range(7)]
        short = [line for line in told if line.endswith("The reel is too short for this. It has three metres left.\n")]
        self.assertEqual(len(short), 1, told)
        self.assertIn("  Cut the mains", short[0])
        self.finish()
        listed = self.pullcall("reel", "list")
        self.assertRegex(listed, r"red +0\.00 m +\d\.\d\d m more was cut")
        self.assertTrue(2 < float(listed.split("0.00 m")[1].split()[0]) < 4, listed)
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            notes = journal.execute("SELECT detail, call FROM event WHERE kind = 'note'").fetchall()
        journal.close()
        self.assertEqual(notes, [("grommet 4H is worn", 1)])
        self.assertEqual(self.pullcall("reel", "remove", "red"), "")
        self.assertEqual(self.pullcall("reel", "list"), "no reels\n")
        self.assertIn('there is no reel "red"', self.pullcall("reel", "remove", "red", code=1))

    def test_a_press_goes_on_from_a_job_whose_reel_is_short(self):
        self.pullcall("reel", "add", "red", "5 m")
        self.pullcall("rack", "add", "--csv", self.table(self.row("a", reel="red"), self.row("b")))
        self.start_daemon()
        self.assertIn("Next, job a.", self.pullcall("tell", "next"))
        self.assertIn("Job a. This one cannot be begun. Reel red has five", self.pullcall("tell", "next"))
        self.assertIn("Next, job b.", self.pullcall("tell", "next"))
        self.assertTrue(self.pullcall("tell", "next").startswith("b: Job b."))

    def test_an_open_job_that_was_dropped_comes_back_as_itself(self):
        table = self.table(self.row("a", racket="R-1"))
        self.pullcall("rack", "add", "--csv", table)
        self.start_daemon()
        for _ in range(4):
            self.pullcall("tell", "next")
        self.pullcall("tell", "stop")
        self.assertEqual(self.rack(), ["a:1"])
        self.pullcall("rack", "drop", "R-1")
        self.assertEqual(self.rack(), [])
        self.pullcall("rack", "add", "--csv", table)
        self.assertEqual(self.rack(), ["a:1"])
        self.assertIn("job 1, call 2/63", self.pullcall("rack", "list"))

    def test_a_reel_needs_the_size_of_the_head(self):
        pattern = self.bench.home / "mine.yaml"
        text = pathlib.Path(PROGRAMS, "../share/pullcall/patterns/open-16x19.yaml").read_text(encoding="utf-8")
        text = "".join(line for line in text.splitlines(keepends=True) if not line.startswith(("head:", "spacing:")))
        pattern.write_text(text.replace("pattern: open-16x19", "pattern: mine"), encoding="utf-8")
        self.pullcall("reel", "add", "red", "200 m")
        told = self.pullcall("rack", "add", "--csv", self.table(self.row("a", reel="red").replace("open-16x19", "mine")))
        self.assertIn("rack.csv:2:26: warning: nothing will be taken off reel red: pattern mine does not say how large the head "
                      'is; it needs a line such as "head: { length: 330 mm, width: 247 mm }" [reel-no-size]', told)
        plan = self.bench.home / "plan.yaml"
        plan.write_text("job: b\npattern: mine\nstringer: kim\nmethod: two-piece\ntension: { mains: 54 lb, crosses: 52 lb }\n"
                        "string: { mains: { reel: red }, crosses: { reel: red } }\n", encoding="utf-8")
        told = self.pullcall("check", plan)
        self.assertIn("plan.yaml:6:26: warning: nothing will be taken off reel red", told)
        self.assertEqual(told.count("reel-no-size"), 1)
        plan.write_text(plan.read_text(encoding="utf-8").replace("mine", "open-16x19"), encoding="utf-8")
        self.assertNotIn("reel-no-size", self.pullcall("check", plan))

    def test_a_bad_table_changes_nothing(self):
        def refused(text, *messages):
            path = self.bench.home / "bad.csv"
            path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
            out = self.pullcall("rack", "add", "--csv", path, code=1)
            for message in messages:
                self.assertIn(f"bad.csv{message}", out)
            self.assertIn("nothing waits on the rack", self.pullcall("rack", "list"))
            return out

        self.pullcall("rack", "add", "--csv", self.table())  # no row is no fault
        good = "a,open-16x19,kim,54 lb,52 lb,,,\n"
        refused("job\n", ':1:1: error: column "pattern" is missing [key-missing]')
        told = refused("job,tension/main\na,54 lb\n", ':1:5: error: unknown column "tension/main": did you mean "tension/mains"?')
        self.assertEqual(told.count("error:"), 1, told)
        told = refused("job;pattern\na;open-16x19\n", ":1:1: error: expected commas between the columns, not semicolons [csv-comma]")
        self.assertEqual(told.count("error:"), 1, told)
        refused("job,job\n", ':1:5: error: duplicate column "job"')
        refused(HEADER + good + good, ":3:1: error: job a is there twice: leave it out, or give the other racket its own mark [rack-twice]")
        refused(HEADER + good.replace("54 lb", "54"), ":2:18: error: a unit is missing")
        refused(HEADER + good.replace("16x19", "16x99"), ":2:3: error: there is no pattern")
        refused(HEADER + good + "b,open-16x19\n", ":3:1: error: expected 8 fields, not 2 [csv-fields]")
        for table, fault in ((HEADER + '"a\n\nb', ":2:1: error: this quote has no end [csv-quote]"),
                             (HEADER + 'a"b,\n', ":2:2: error: a field with a quote in it must be in quotes itself [csv-quote]"),
                             ('job,"pat"tern,stringer\na,b,c\n', ":1:10: error: expected a comma or the end of the line after a field in quotes [csv-quote]"),
                             ("", ": error: nothing is in it: expected a line that names the columns [file-empty]"),
                             ("job,mains\n", ':1:5: error: unknown column "mains": did you mean "tension/mains"? [key-unknown]'),
                             ("job,ractet\n", ':1:5: error: unknown column "ractet": did you mean "racket"? [key-unknown]'),
                             ("job,colour\n", ':1:5: error: unknown column "colour": expected a key of a job plan, such as "tension/mains"; '
                                              '"pullcall help rack" tells more [key-unknown]')):
            self.assertEqual(refused(table, fault).count("error:"), 1, table)
        refused(HEADER + '"a"b,\n', ":2:4: error: expected a comma or the end of the line after a field in quotes")
        refused(HEADER + good.replace("a,", '"two\nlines",', 1), ":2:1: error: expected a text of one line")
        refused(HEADER + "x" * 500 + ",\n", ":2:1: error: longer than 399 bytes [value-length]")
        refused(HEADER.encode() + b"a\0b\n", ": error: not a text [file-open]")
        refused(HEADER.encode() + b"\xff\xfe,open-16x19,kim,54 lb,52 lb,,,\n", ":2:1: error: ")
        refused(HEADER + good * 400000, ": error: longer than 1 MiB [file-open]")
        self.assertIn("No such file", self.pullcall("rack", "add", "--csv", "none.csv", code=1))

    def test_every_bad_row_of_a_table_is_told(self):
        bad = [self.row(f"bad{n}").replace("54 lb", "54") for n in range(150)]
        told = self.pullcall("rack", "add", "--csv", self.table(*bad, self.row("a"), *bad[:75]), code=1)
        for line in [*range(2, 152), *range(153, 228)]:
            self.assertIn(f"rack.csv:{line}:", told)
        self.assertEqual(told.count("error: "), 225)
        self.assertIn("nothing waits on the rack", self.pullcall("rack", "list"))
        twice = [self.row("a")] * 120
        told = self.pullcall("rack", "add", "--csv", self.table(*twice), code=1)
        self.assertEqual(told.count("[rack-twice]"), 119)

    def test_a_row_about_an_open_job_leaves_the_lines_of_the_others_right(self):
        self.pullcall("rack", "add", "--csv", self.table(self.row("a")))
        self.start_daemon()
        for _ in range(4):
            self.pullcall("tell", "next")
        self.pullcall("tell", "stop")
        self.pullcall("reel", "add", "red", "1 m")
        told = self.pullcall("rack", "add", "--csv", self.table(self.row("a"), self.row("b", reel="red")))
        self.assertIn("rack.csv:2:1: warning: job 1 is open and already on the rack", told)
        self.assertIn("rack.csv:3:1: warning: reel red has 1.00 m left", told)

    def test_every_plain_key_of_a_plan_is_a_column(self):
        values = {"order/start": "head", "order/first": "right", "order/lead": "2", "weave/from": "throat", "weave/side": "right",
                  "weave/start": "under", "weave/behind": "0", "weave/first_pull": "1", "teach": "yes", "accept_short": "yes",
                  "checks/crosses": "6", "tie_off_extra": "5 %", "beyond_makers_range": "wanted", "detail": "learner"}
        header = "job,pattern,stringer,tension/mains,tension/crosses," + ",".join(values) + "\n"
        row = "a,open-16x19,kim,54 lb,52 lb," + ",".join(values.values()) + "\n"
        self.pullcall("rack", "add", "--csv", self.table(row, header=header))
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            plan, = journal.execute("SELECT plan_text FROM rack").fetchone()
        journal.close()
        for key, value in values.items():
            self.assertIn(f"{key.split('/')[-1]}: {value}\n", plan)

    def test_what_a_plan_may_not_say_is_at_fault_in_a_table(self):
        header = "job,pattern,stringer,method,tension/mains,tension/crosses,string/mains/name\n"
        row = "a,open-16x19,kim,one-piece,54 lb,54 lb,poly\n"
        told = self.pullcall("rack", "add", "--csv", self.table(row, header=header), code=1)
        self.assertIn("rack.csv:2:", told)
        self.assertIn("error: ", told)

    def test_a_table_without_its_option(self):
        self.assertIn("rack.csv: error: a table is added with --csv: rack add --csv ",
                      self.pullcall("rack", "add", self.table(self.row("a")), code=1))

    def test_tables_as_spreadsheets_write_them(self):
        path = self.bench.home / "sheet.csv"
        path.write_bytes(("\ufeff" + HEADER + '"a, the ""first""",open-16x19,"kim",54 lb,52 lb,,"x, y",\n\n'
                          + self.row("b")).replace("\n", "\r\n").encode("utf-8"))
        self.assertEqual(self.pullcall("rack", "add", "--csv", path), "2 added\n")
        self.assertEqual(self.rack(), ['a, the "first"', "b"])
        self.assertIn("sheet.csv:2:1: error: job a, the \"first\" is on the rack already",
                      self.pullcall("rack", "add", "--csv", path, code=1))
        self.assertEqual(self.rack(), ['a, the "first"', "b"])

    def test_two_rackets_of_one_name(self):
        header = "job,pattern,stringer,tension/mains,tension/crosses,racket,customer\n"
        baker = "smith,open-16x19,kim,24.5 kg,23.5 kg,R-118,Baker\n"
        hill = "smith,open-16x19,kim,25 kg,24 kg,R-777,Hill\n"
        plan = self.bench.home / "hill.yaml"
        plan.write_text("job: smith\npattern: open-16x19\nstringer: kim\nmethod: two-piece\nracket: R-777\ncustomer: Hill\n"
                        "tension: { mains: 25 kg, crosses: 24 kg }\n", encoding="utf-8")
        self.pullcall("rack", "add", "--csv", self.table(baker, header=header))
        told = self.pullcall("rack", "add", "--csv", self.table(hill, baker, header=header), code=1)
        self.assertIn("rack.csv:3:1: error: job smith is on the rack already, racket R-118, customer Baker: "
                      "leave it out, or give the other racket its own mark [rack-twice]", told)
        self.start_daemon()
        self.pullcall("load", plan)  # the other racket of the name is strung meanwhile
        self.assertEqual(self.rack(), ["smith:1", "smith"])
        self.finish()
        self.assertEqual(self.rack(), ["smith"])
        self.pullcall("rack", "add", "--csv", self.table(hill, header=header))
        for words in (["drop", "smith"], ["move", "smith", "@1"]):
            told = self.pullcall("rack", *words, code=1)
            self.assertIn('2 jobs on the rack fit "smith"', told)
            self.assertIn("\n  @1  smith, racket R-118, for Baker: kim, open-16x19, 24.5 kg/23.5 kg\n"
                          "  @2  smith, racket R-777, for Hill: kim, open-16x19, 25 kg/24 kg\n", told)
        self.assertEqual(self.pullcall("rack", "move", "@2", "@9"), "smith (R-777) is @2 on the rack\n")
        self.assertEqual(self.pullcall("rack", "move", "Hill", "@1"), "smith (R-777) is @1 on the rack\n")
        self.assertRegex(self.pullcall("rack", "list"), r"\n@1  smith  R-777 .*\n@2  smith  R-118 ")
        self.assertEqual(self.pullcall("rack", "drop", "R-118"), "smith (R-118) is off the rack\n")
        self.assertIn("R-777", self.pullcall("rack", "list"))

    def test_when_all_whose_time_is_known_is_done(self):
        self.pullcall("rack", "add", "--csv", self.table(*(self.row(name) for name in "abc")))
        self.start_daemon()
        for name in "abc":
            self.press()
            self.hears(f"Next, job {name}")
            self.press()
            self.begins(name)
            self.finish()
        self.pullcall("rack", "add", "--csv", self.table(self.row("d"), self.row("e").replace("kim", "max")))
        self.assertIn("\nAll but 1 whose time is not known will be done by 20", self.pullcall("rack", "list"))
        self.pullcall("rack", "drop", "e")
        self.assertIn("\nAll will be done by 20", self.pullcall("rack", "list"))

    def test_the_rack_without_a_pedal(self):
        self.pullcall("rack", "add", "--csv", self.table(*(self.row(name) for name in "abc")))
        self.start_daemon()
        self.assertIn("Next, job a.", self.pullcall("tell", "next"))
        self.assertIn("Next, job b.", self.pullcall("tell", "pause"))
        self.assertIn("Next, job b.", self.pullcall("tell", "again"))
        self.assertTrue(self.pullcall("tell", "next").startswith("b: Job b."))
        self.assertEqual(self.status()["job"], "b")
        self.assertIn("b: 1/", self.pullcall("tell", "next"))
        self.finish()
        self.assertIn("no job is running", self.pullcall("tell", "where", code=1))

    def test_a_job_that_was_only_looked_at_leaves_nothing(self):
        self.assertIn("ridge-court-0042 was not begun: nothing of it is kept.", self.look(DEMO))
        self.start_daemon()
        self.pullcall("load", DEMO)
        self.assertEqual(self.pullcall("tell", "stop"), "ridge-court-0042 was not begun: nothing of it is kept.\n")
        self.assertEqual(self.rack(), [])
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            for table in ("job", "call", "event", "cut", "script"):
                self.assertEqual(journal.execute(f"SELECT count(*) FROM {table}").fetchone(), (0,), table)
        journal.close()
        self.daemon.terminate()
        self.daemon.wait(PATIENCE_S)
        self.pullcall("rack", "add", DEMO)  # from the rack it goes back there
        self.assertIn("is kept at call 1", self.look(DEMO))
        self.assertEqual(self.rack(), ["ridge-court-0042:1"])
        self.assertIn("is kept at call 1", self.look("--resume", "1"))
        self.assertEqual(self.rack(), ["ridge-court-0042:1"])

    def look(self, *words):
        """What `run` prints when nothing but q is pressed."""
        result = self.bench.run("pullcall", "run", *words, "--pedal", "keys", "--sound", "none", input="q", stdin=None)
        self.assertEqual(result.returncode, 0, result.stderr)
        return result.stdout

    def test_the_screen_of_the_rack(self):
        self.pullcall("rack", "add", "--csv", self.table(self.row("a"), self.row("b")))
        self.bench.environment["LC_ALL"] = "C"  # without large letters, which no test can read
        master, slave = os.openpty()
        self.addCleanup(os.close, master)
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        run = self.bench.start("pullcall", "run", "--pedal", "keys", "--sound", "none", stdin=slave, stdout=slave)
        os.close(slave)
        seen = ""

        def shows(*words):
            def last():
                nonlocal seen
                while select.select([master], [], [], 0)[0]:
                    seen += os.read(master, 65536).decode()
                picture = seen[seen.rfind("\033[H"):].replace("\033[K", "").replace("\r\n", " ")
                return all(word in " ".join(picture.split()) for word in words)
            wait_until(last, f"{words} not shown")

        shows("Two jobs on the rack", "space next", "p pass over", "q stop")
        os.write(master, b" ")
        shows("Next, job a. Open sixteen by nineteen. Mains at fifty four pounds. Crosses at fifty two pounds.",
              "space take", "p pass over", "q stop")
        os.write(master, b"p")
        shows("Next, job b.", "space take")
        os.write(master, b"q")
        self.assertEqual(run.wait(PATIENCE_S), 0)

    def test_a_number_is_a_job_and_a_place_has_its_sign(self):
        self.pullcall("rack", "add", "--csv", self.table(self.row("a"), self.row("1"), self.row("c")))
        self.start_daemon()
        self.press()
        self.hears("Next, job a")
        self.press()
        self.begins("a")
        self.assertEqual(self.rack(), ["a:1", "1", "c"])
        self.assertIn('expected a place such as @1, not "2"', self.pullcall("rack", "move", "c", "2", code=2))
        self.assertEqual(self.pullcall("rack", "move", "1", "@3"), "a is @3 on the rack\n")
        self.assertEqual(self.pullcall("rack", "drop", "1"), "a is off the rack\n")
        self.assertRegex(self.pullcall("rack", "drop", "1", code=1), r'job "1" is not on the rack, which has \d+')
        self.assertRegex(self.pullcall("rack", "move", "@99", "@1", code=1), r"the rack has no place @99: it has \d+ \(@1 is the first\)")
        self.assertEqual(self.pullcall("rack", "drop", "@1"), "1 is off the rack\n")
        self.assertEqual(self.rack(), ["c"])

    def test_wrong_usage(self):
        self.pullcall("rack", "add", DEMO)
        for words in (["rack"], ["rack", "sort"], ["rack", "add"], ["rack", "move", "a"], ["rack", "move", "a", "@0"],
                      ["reel", "add", "red"], ["reel", "add", "red", "20"], ["reel", "remove"], ["reel", "set", "red", "-1 m"]):
            self.pullcall(*words, code=2)
        for words in (["rack", "drop", "nobody"], ["rack", "move", "nobody", "@1"], ["reel", "set", "red", "1 m"],
                      ["rack", "add", "none.yaml"]):
            self.pullcall(*words, code=1)
        self.assertEqual(self.rack(), ["ridge-court-0042"])


if __name__ == "__main__":
    PROGRAMS = sys.argv.pop()
    unittest.main()
