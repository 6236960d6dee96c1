#!/usr/bin/python3 -B
"""A trainee and a trainer, on the real daemon: what is said, what is refused, and what the journal has of it.

    test_teaching.py FOLDER_OF_PROGRAMS
"""
import re
import signal
import sqlite3
import subprocess
import sys
import time
import unittest

from programs import DEMO, SOURCE, Bench

PROGRAMS = None


class TeachingTest(unittest.TestCase):
    def setUp(self):
        self.bench = self.open_bench()

    def open_bench(self):
        bench = Bench(PROGRAMS, in_memory=True)
        self.addCleanup(bench.close)
        return bench

    def plan(self, bench, name, teach="yes"):
        path = bench.home / f"{name}.yaml"
        text = DEMO.read_text(encoding="utf-8").replace("ridge-court-0042", name)
        path.write_text(f"{text}\nteach: {teach}\n", encoding="utf-8")
        return path

    def start(self, bench=None):
        bench = bench or self.bench
        daemon = bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        bench.wait_for_daemon()
        hand = bench.connect()
        self.addCleanup(hand.close)
        return daemon, hand

    def load(self, hand, path):
        self.assertTrue(hand.ask({"do": "load", "file": str(path)})["ok"])

    def string(self, hand, path):
        """One racket without a fault, every station passed at once."""
        self.load(hand, path)
        for _ in range(400):
            if hand.ask({"do": "next"})["state"] in ("ending", "over", "idle"):
                break
        self.assertEqual(hand.ask({"do": "status"})["state"], "idle")

    def practise(self, hand, bench=None, rackets=3):
        for number in range(rackets):
            self.string(hand, self.plan(bench or self.bench, f"racket-{number}"))

    def until(self, hand, **wanted):
        """Presses until the answer has all of that."""
        for _ in range(300):
            answer = hand.ask({"do": "next"})
            if all(answer.get(key) == value for key, value in wanted.items()):
                return answer
        self.fail(f"never {wanted}")

    def rows(self, sql, bench=None):
        with sqlite3.connect(f"file:{(bench or self.bench).journal}?mode=ro", uri=True) as journal:
            rows = journal.execute(sql).fetchall()
        journal.close()
        return rows

    def events(self, bench=None, after=0):
        return self.rows(f"SELECT kind, detail FROM event WHERE job = (SELECT max(job) FROM event) AND seq > {after} "
                         "AND kind NOT IN ('announced', 'next') ORDER BY seq", bench)

    def review(self, bench=None, stringer="apprentice"):
        told = (bench or self.bench).run("pullcall", "review", "--teaching", "--stringer", stringer)
        self.assertEqual(told.returncode, 0, told.stderr)
        return told.stdout

    def levels(self, bench=None, stringer="apprentice"):
        table = self.review(bench, stringer).split("How much is said, by skill\n")[1].split("\n\n")[0]
        return {row.split()[0]: row.split()[1] for row in table.splitlines()[1:] if "always told" not in row}


class Asking(TeachingTest):
    def test_told_less_with_every_racket(self):
        _, hand = self.start()
        said = []
        for number in range(6):
            self.practise(hand, rackets=1)
            said.append(set(self.levels().values()))
        self.assertEqual(said, [{"told"}, {"short"}, {"asked"}, {"named"}, {"named"}, {"named"}])
        self.assertEqual(set(re.findall(r"^(\S+) +told .*  always told in full; not asked$", self.review(), re.M)),
                         {"skip", "tension", "tie-off"})

    def test_a_question_and_its_answers(self):
        _, hand = self.start()
        self.practise(hand)
        self.load(hand, self.plan(self.bench, "asked"))
        question = self.until(hand, level="asked")
        self.assertTrue(question["text"].endswith("?"))
        answer = hand.ask({"do": "next"})
        self.assertEqual(answer["call"], question["call"])
        self.assertNotEqual(answer["text"], question["text"])
        following = hand.ask({"do": "next"})
        self.assertEqual(following["call"], question["call"] + 1)
        self.until(hand, level="asked")
        hand.ask({"do": "again"})
        self.assertEqual([row for row in self.events() if row[0] in ("answered", "right", "wrong")][-3:],
                         [("answered", "pressed"), ("right", None), ("wrong", None)])

    def test_an_answer_comes_by_itself(self):
        _, hand = self.start()
        self.practise(hand)
        self.load(hand, self.plan(self.bench, "late"))
        question = self.until(hand, level="asked")
        for _ in range(300):
            time.sleep(0.1)
            answer = hand.ask({"do": "status"})
            if answer["text"] != question["text"]:
                break
        self.assertEqual(answer["call"], question["call"])
        self.assertEqual(self.events()[-1], ("answered", "late"))

    def test_killed_while_a_question_is_open(self):
        daemon, hand = self.start()
        self.practise(hand)
        self.load(hand, self.plan(self.bench, "killed"))
        question = self.until(hand, level="asked")
        hand.ask({"do": "next"})
        daemon.send_signal(signal.SIGKILL)
        daemon.wait()
        _, hand = self.start()
        self.assertEqual(hand.ask({"do": "status"})["state"], "paused")
        again = hand.ask({"do": "next"})
        self.assertEqual((again["call"], again["text"]), (question["call"], question["text"]))
        hand.ask({"do": "next"})
        hand.ask({"do": "next"})
        self.assertEqual(self.rows("SELECT count(*) FROM event WHERE kind = 'right' AND job = (SELECT max(job) FROM event) "
                                   f"AND call = {question['call'] + 1}"), [(1,)])

    def test_killed_at_a_station(self):
        daemon, hand = self.start()
        self.load(hand, self.plan(self.bench, "killed"))
        place = self.until(hand, station="mounted")
        daemon.send_signal(signal.SIGKILL)
        daemon.wait()
        _, hand = self.start()
        again = hand.ask({"do": "next"})
        self.assertEqual((again["call"], again.get("station")), (place["call"], "mounted"))


class Stations(TeachingTest):
    def test_two_trainers(self):
        _, hand = self.start()
        self.load(hand, self.plan(self.bench, "trained", "trainer"))
        for request in ({"do": "passed"}, {"do": "fault", "fault": "tail"}):
            self.assertRegex(hand.ask(request)["error"], r'^no station is waiting: call 1 of \d+ is under way, "')
        place = self.until(hand, station="mounted")
        look = "Look at the mounted frame. "
        said = hand.ask({"do": "status"})["said"]
        self.assertTrue(said.startswith(look) and said.endswith("The trainer looks at it now."), said)
        self.assertIn('the trainer has to say it: "pullcall tell passed"', hand.ask({"do": "next"})["error"])
        self.assertEqual(hand.ask({"do": "status"})["said"], said)
        self.assertEqual(hand.ask({"do": "again"})["said"], said)
        with self.bench.connect() as other:
            self.assertTrue(other.ask({"do": "passed"})["ok"])
            self.assertIn("no station is waiting", hand.ask({"do": "passed"})["error"])
        status = hand.ask({"do": "status"})
        self.assertEqual((status["call"], status["state"]), (place["call"], "calling"))
        self.assertEqual(self.events()[-2:], [("station", "mounted"), ("passed", "trainer")])

    def test_wrong_faults(self):
        _, hand = self.start()
        self.load(hand, self.plan(self.bench, "trained", "trainer"))
        self.until(hand, station="mounted")
        before = self.events()
        for fault, why in [("juggling", "unknown fault"),
                           *((name, f'"{name}" cannot be found yet: expected frame')
                             for name in ("misweave", "crooked", "notch", "wrong-hole", "crossed-loop", "clamp-slip", "knot", "tail", "awl", "uneven")),
                           ("fram cross 1", "did you mean \"frame\""), ("", "expected a text"),
                           ("misweave cross 99", "is not in the bed"), ("misweave cross 1", "is not in the bed"),
                           ("misweave cross", "unknown string"), ("misweave main 4", "unknown string"), ("x" * 2000, "unknown fault")]:
            answer = hand.ask({"do": "fault", "fault": fault})
            self.assertFalse(answer["ok"], fault)
            self.assertIn(why, answer["error"])
        for request in ({"do": "fault"}, {"do": "fault", "fault": 3}, {"do": "fault", "fault": ["tail"]}):
            self.assertFalse(hand.ask(request)["ok"])
        self.assertEqual(self.events(), before)
        told = self.bench.run("pullcall", "tell", "fault", "misweave", "cross", "9")
        self.assertEqual((told.returncode, told.stderr), (1, "pullcall: cross 9 is not in the bed\n"))

    def test_the_faults_that_can_be_at_each_station(self):
        _, hand = self.start()
        self.load(hand, self.plan(self.bench, "trained", "trainer"))
        can = {}
        for station in ("mounted", "centre-mains", "mains-done", "third-cross", "half-way", "before-last-knot", "finished"):
            self.until(hand, station=station)
            error = hand.ask({"do": "fault", "fault": "?"})["error"]
            can[station] = error.split("expected ")[1].replace(" or ", ", ").split(", ")
            if station == "mains-done":
                self.assertIn('"misweave" cannot be found yet', hand.ask({"do": "fault", "fault": "misweave"})["error"])
            if station == "third-cross":
                self.assertEqual(hand.ask({"do": "fault", "fault": "misweave main 4 left"})["error"],
                                 '"misweave" is a fault of a cross, not of main 4 left')
                self.assertIn("With crosses in the bed a main cannot be strung again.",
                              hand.ask({"do": "fault", "fault": "wrong-hole main 4 left"})["spoken"])
            hand.ask({"do": "passed"})
        mains, tied, crosses = ["wrong-hole", "clamp-slip", "frame"], ["knot", "tail", "awl", "uneven"], ["misweave", "notch", "crooked"]
        self.assertEqual(can["mounted"], ["frame"])
        self.assertEqual(can["centre-mains"], mains)
        self.assertEqual(set(can["mains-done"]), {*mains, "crossed-loop", *tied} - {"clamp-slip"})
        for station in ("third-cross", "half-way", "before-last-knot"):
            self.assertEqual(set(can[station]), {*mains, "crossed-loop", *tied, *crosses}, station)
        self.assertEqual(set(can["finished"]), {*mains, "crossed-loop", *tied, *crosses} - {"clamp-slip"})

    def test_a_misweave_leads_to_the_way_back(self):
        _, hand = self.start()
        self.load(hand, self.plan(self.bench, "misweave"))
        self.until(hand, station="half-way")
        told = self.bench.run("pullcall", "tell", "fault", "misweave", "cross", "7")
        self.assertEqual(told.returncode, 0, told.stderr)
        self.assertEqual(self.rows("SELECT kind, string, number FROM mishap"), [("redo", "cross", 7)])
        self.until(hand, station="half-way")  # woven again, and looked at again
        self.assertTrue(hand.ask({"do": "fault", "fault": "tail"})["ok"])
        self.assertEqual(hand.ask({"do": "status"})["station"], "half-way")
        self.until(hand, state="ending")
        report = self.review()
        self.assertIn("misweave cross 7", report)
        self.assertRegex(report, r"tail +half-way")

    def test_a_way_back_that_gave_up_the_call_before_a_station(self):
        """Killed at its first call, the job goes on there, not at the station; and it can still be called off."""
        daemon, hand = self.start()
        self.load(hand, self.plan(self.bench, "killed", "trainer"))
        for _ in range(300):
            before = hand.ask({"do": "next"})
            if not before["ok"]:
                hand.ask({"do": "passed"})
            elif before.get("text", "").startswith("Pull crosses one and two"):
                break
        after = hand.ask({"do": "next"})  # the call that leads to the station, or the one before it
        while after["state"] != "station":
            before, after = after, hand.ask({"do": "next"})
        self.assertEqual(after["station"], "third-cross")
        hand.ask({"do": "back"})
        begun = hand.ask({"do": "redo", "string": "cross 2"})
        self.assertEqual((begun["ok"], begun["call"]), (True, before["call"] + 1), begun)
        hand.close()
        daemon.kill()
        daemon.wait()
        _, hand = self.start()
        resumed = hand.ask({"do": "next"})
        self.assertEqual((resumed["state"], resumed["text"]), ("calling", begun["text"]))
        back = hand.ask({"do": "back"})
        self.assertEqual((back["state"], back["call"], back["text"]), ("calling", before["call"], before["text"]))
        self.assertEqual(hand.ask({"do": "next"})["station"], "third-cross")

    def test_a_slipped_clamp(self):
        _, hand = self.start()
        self.load(hand, self.plan(self.bench, "slipped", "trainer"))
        self.until(hand, station="mounted")
        hand.ask({"do": "passed"})
        self.until(hand, station="centre-mains")
        self.assertTrue(hand.ask({"do": "fault", "fault": "clamp-slip"})["ok"])
        self.assertEqual(self.rows("SELECT kind FROM mishap"), [("slipped",)])
        page = self.bench.home / "page.html"
        reviewed = self.bench.run("pullcall", "review", "--teaching", "--stringer", "apprentice", "--html", page)
        self.assertEqual(reviewed.returncode, 0, reviewed.stderr)
        self.assertIn("clamp-slip", page.read_text(encoding="utf-8"))


class Drills(TeachingTest):
    def drill(self, *words, misses=()):
        """The questions in order; those whose place is in `misses` are not had."""
        process = self.bench.start("pullcall", "drill", *words, "--sound", "none", "--pedal", "none",
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        asked = []
        with self.bench.connect() as hand:
            answer = hand.ask({"do": "next"})
            while answer["state"] == "calling" and len(asked) < 400:
                asked.append(answer["text"])
                self.assertTrue(answer["text"].endswith("?"))
                self.assertFalse(hand.ask({"do": "next"})["text"].endswith("?"))
                if len(asked) in misses:
                    self.assertFalse(hand.ask({"do": "again"})["text"].endswith("?"))
                answer = hand.ask({"do": "next"})
        out, errors = process.communicate(timeout=30)
        self.assertEqual((process.returncode, errors), (0, ""))
        return asked, out

    def test_unknown_words(self):
        for words, code, why in [(["juggling"], 1, "unknown skill \"juggling\": expected prepare, mount"),
                                 (["weav"], 1, "did you mean \"weave\"?"), (["weave", "juggling", "skip"], 1, "unknown skill"),
                                 (["weave", "no-such-17x18"], 1, "no-such-17x18"), (["weave", "no/such.yaml"], 1, "no/such.yaml"),
                                 ([], 2, "missing"), (["--test", "a.yaml", "b.yaml"], 2, "one job plan"),
                                 (["--test", "no/such.yaml"], 1, "no/such.yaml"), (["weave", "--seed", "x"], 2, "a number")]:
            told = self.bench.run("pullcall", "drill", *words, "--sound", "none", "--pedal", "none")
            self.assertEqual(told.returncode, code, words)
            self.assertIn(why, told.stderr)

    def test_help_names_the_skills(self):
        told = " ".join(self.bench.run("pullcall", "drill", "--help").stdout.split())
        self.assertIn("Skills: prepare, mount, tension, feed, skip, clamp, tie-off, knot, weave-start, weave, behind, finish", told)

    def test_of_a_drill_that_nobody_answered_nothing_is_said_to_be_known(self):
        for presses in (0, 1):
            process = self.bench.start("pullcall", "drill", "skip", "--sound", "none", "--pedal", "none", stdout=subprocess.PIPE, text=True)
            self.bench.wait_for_daemon()
            with self.bench.connect() as hand:
                for _ in range(presses):
                    hand.ask({"do": "next"})
                hand.ask({"do": "stop"})
            out, _ = process.communicate(timeout=30)
            self.assertTrue(out.endswith("\nNo question was answered.\n"), out)
            self.assertNotIn("--resume", out)

    def test_a_drill_of_the_file_of_a_pattern(self):
        file = self.bench.home / "club-16x19.yaml"
        file.write_text((SOURCE / "patterns" / "open-16x19.yaml").read_text(encoding="utf-8").replace("open-16x19", "club-16x19"),
                        encoding="utf-8")
        asked, out = self.drill("skip", "./club-16x19.yaml", "--seed", "7")
        self.assertEqual(asked, self.drill("skip", "open-16x19", "--seed", "7")[0])
        self.assertIn(f"{len(asked)} answered, nothing missed.", out)
        told = self.bench.run("pullcall", "drill", "./club-16x19.yaml")
        self.assertEqual((told.returncode, told.stderr),
                         (1, "pullcall: say a skill before the file, as in: pullcall drill weave ./club-16x19.yaml\n"))

    def test_what_was_missed_comes_back(self):
        asked, out = self.drill("skip", "mount", "--seed", "7", misses={2})
        self.assertEqual(len(asked), len(set(asked)) + 1)
        self.assertEqual(asked[1], asked[4])
        self.assertIn("Practise next", out)
        again, out = self.drill("skip", "mount", DEMO, "--seed", "7")
        self.assertEqual(again, asked[:4] + asked[5:])
        self.assertIn(f"{len(again)} answered, nothing missed.", out)
        other, _ = self.drill("skip", "mount", "--seed", "8")
        self.assertEqual((set(other), other == again), (set(again), False))
        self.assertFalse(self.bench.journal.exists())

    def test_the_test(self):
        process = self.bench.start("pullcall", "drill", "--test", self.plan(self.bench, "trial", "trainer"),
                                   "--sound", "none", "--pedal", "none", stdout=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        with self.bench.connect() as hand:
            self.until(hand, station="mounted")
            self.assertFalse(hand.ask({"do": "next"})["ok"])
            hand.ask({"do": "passed"})
            self.assertEqual(self.until(hand, level="named")["text"], "Feed the centre mains.")
            hand.ask({"do": "stop"})
        out, _ = process.communicate(timeout=30)
        self.assertTrue(out.startswith("Sheet for the trainer"))
        self.assertEqual(self.rows("SELECT DISTINCT detail FROM event WHERE kind = 'announced' AND detail NOT NULL"),
                         [("told",), ("named",)])


class Journals(TeachingTest):
    def test_two_benches_and_a_name_forgotten(self):
        other = self.open_bench()
        _, hand = self.start()
        self.practise(hand, rackets=2)
        _, away = self.start(other)
        self.string(away, self.plan(other, "elsewhere"))
        for connection in (hand, away):
            connection.close()
        both = [(self.bench, other), (other, self.bench)]
        for bench in (self.bench, other):
            bench.running[0].terminate()
            bench.running[0].wait()
            backup = bench.run("pullcall", "journal", "backup", bench.home / "backup.db")
            self.assertEqual(backup.returncode, 0, backup.stderr)
        for bench, theirs in both:
            merged = bench.run("pullcall", "journal", "merge", theirs.home / "backup.db")
            self.assertEqual(merged.returncode, 0, merged.stderr)
        self.assertEqual(self.levels(), self.levels(other))
        self.assertEqual(set(self.levels().values()), {"asked"})
        forgotten = self.bench.run("pullcall", "journal", "anonymise", "apprentice")
        self.assertEqual(forgotten.returncode, 0, forgotten.stderr)
        self.assertEqual(self.levels(stringer="forgotten-1"), self.levels(other))
        self.assertEqual(self.bench.run("pullcall", "review", "--teaching", "--stringer", "apprentice").returncode, 1)


if __name__ == "__main__":
    PROGRAMS = sys.argv.pop(1)
    unittest.main()
