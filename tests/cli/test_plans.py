#!/usr/bin/python3 -B
"""Plans from options and like earlier jobs; what the journal knows of a racket; labels.

    test_plans.py FOLDER_OF_PROGRAMS
"""
import pathlib
import sqlite3
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import Bench  # noqa: E402

PROGRAMS = None
LEAST = ["--pattern", "open-16x19", "--stringer", "kim", "--mains", "54lb", "--crosses", "52 lb"]


class Plans(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS, in_memory=True)
        self.addCleanup(self.bench.close)

    def pullcall(self, *words, code=0):
        result = self.bench.run("pullcall", *words)
        self.assertEqual(result.returncode, code, result.stdout + result.stderr)
        return result.stdout if code == 0 else result.stderr

    def string(self, plan, *changes):
        """A job of the plan that was finished at once, and changed with SQL."""
        daemon = self.bench.start("pullcall", "run", plan, "--new", "--pedal", "none", "--sound", "none")
        self.bench.wait_for_daemon()
        self.pullcall("tell", "abandon", "a test")
        daemon.wait(20)
        with sqlite3.connect(self.bench.journal) as journal:
            journal.execute("UPDATE event SET kind = 'finished', detail = NULL WHERE kind = 'abandoned'")
            for change in changes:
                journal.execute(change)
        journal.close()

    def plan(self, name, *options):
        path = self.bench.home / f"{name}.yaml"
        self.pullcall("plan", "new", "--job", name, *LEAST, *options, "-o", path)
        self.pullcall("check", path)
        return path

    def test_a_plan_from_options_alone(self):
        text = self.pullcall("plan", "new", *LEAST)
        self.assertRegex(text, r"\njob: open-16x19-\d{8}-\d{4}\npattern: open-16x19\nstringer: kim\nmethod: two-piece\n")
        self.assertIn("tension:\n  mains: 54lb\n  crosses: 52 lb\n", text)
        text = self.pullcall("plan", "new", *LEAST[2:], "--count", "16x20", "--sport", "tennis", "--racket", "R-1",
                             "--notes", 'a "chip"', "--mains-reel", "red", "--due", "2026-12-01")
        self.assertIn("pattern: close-16x20\n", text)
        self.assertIn('notes: "a \\"chip\\""\n', text)
        self.assertRegex(text, r"\njob: R-1-\d")

    def test_what_cannot_be_a_plan_is_refused(self):
        for options, message in ((["--mains", "54"], "a unit is missing"), (["--pattern", "open-16x99"], "did you mean"),
                                 (["--due", "tomorrow"], "expected a day"), (["--method", "both"], "two-piece"),
                                 (["--mains", "90 lb"], "range")):
            self.assertIn(message, self.pullcall("plan", "new", *LEAST, *options, code=1))
        self.assertIn("which with --pattern: ", self.pullcall("plan", "new", *LEAST[2:], "--count", "16x18", code=1))
        self.assertIn("no pattern is 3x3", self.pullcall("plan", "new", *LEAST[2:], "--count", "3x3", code=1))
        self.pullcall("plan", "old", code=2)
        path = self.plan("a")
        before = path.read_text(encoding="utf-8")
        self.pullcall("plan", "new", *LEAST, "-o", path, code=73)
        self.assertEqual(path.read_text(encoding="utf-8"), before)

    def test_as_a_racket_was_strung_before(self):
        path = self.plan("first", "--racket", "R-118", "--customer", "counter 12", "--notes", "once")
        path.write_text(path.read_text(encoding="utf-8") + "order: { first: right }\n# by hand\nadjust:\n"
                        "- { strings: mains 7-8, by: -2 lb }\n", encoding="utf-8")
        self.string(path)
        again = self.bench.home / "again.yaml"
        for like in (["--racket", "R-118"], ["--like", "first"]):
            again.unlink(missing_ok=True)
            self.pullcall("plan", "new", *like, "--mains", "56 lb", "-o", again)
            self.pullcall("check", again)
            text = again.read_text(encoding="utf-8")
            self.assertIn("# As first was strung, but for: tension/mains was 54lb.\n", text)
            for kept in ("stringer: kim", "crosses: 52 lb", "racket: R-118", "customer: counter 12", "mains: 56 lb",
                         "order: { first: right }", "- { strings: mains 7-8, by: -2 lb }"):
                self.assertIn(kept, text)
            self.assertNotIn("once", text)
        self.assertIn("it has no job", self.pullcall("plan", "new", "--like", "nothing", code=1))
        self.pullcall("plan", "new", "--racket", "R-new", *LEAST)  # strung for the first time

    def test_history_and_label(self):
        self.string(self.plan("a", "--racket", "R-1", "--customer", "ada", "--due", "2026-12-01", "--notes", "a chip"))
        self.string(self.plan("b", "--racket", "R-2", "--customer", "bo", "--due", "2026-12-05"))
        for options, there, absent in ((["--racket", "R-1"], " a ", " b "), (["--customer", "bo"], " b ", " a "),
                                       (["--due", "2026-12-03"], " a ", " b ")):
            listed = self.pullcall("jobs", *options)
            self.assertIn(there, listed)
            self.assertNotIn(absent, listed)
        self.assertIn('did you mean "R-1"', self.pullcall("jobs", "--racket", "R1", code=1))
        review = self.pullcall("review", "a")
        for fact in ("R-1", "ada", "2026-12-01", "a chip"):
            self.assertIn(fact, review)
        exported = self.pullcall("export", "--format", "csv", "--table", "jobs", "--customer", "ada")
        self.assertIn(",R-1,ada,2026-12-01,a chip,", exported)
        self.assertNotIn("R-2", exported)
        label = self.pullcall("label", "a", "-o", "-")
        for words in (">a<", ">R-1<", "54 lb", "52 lb", "kim", "job 1"):
            self.assertIn(words, label)
        for suffix in ("pdf", "png", "svg"):
            self.pullcall("label", "2", "--output", f"label.{suffix}")
            self.assertGreater((self.bench.home / f"label.{suffix}").stat().st_size, 500)
        self.pullcall("label", "c", "-o", "-", code=1)
        self.pullcall("label", "a", code=2)

    def test_a_customer_is_forgotten(self):
        plan = self.plan("a", "--customer", "ada lovelock", "--notes", "call ada lovelock")
        self.string(plan)
        self.pullcall("rack", "add", self.plan("b", "--customer", "ada lovelock"))
        self.assertIn("forgotten-1", self.pullcall("journal", "anonymise", "ada lovelock"))
        for file in self.bench.home.glob("journal.db*"):
            self.assertNotIn(b"lovelock", file.read_bytes(), file)
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            left = journal.execute("SELECT customer, notes FROM job UNION ALL SELECT customer, name FROM rack").fetchall()
        journal.close()
        self.assertEqual(left, [("forgotten-1", "call forgotten-1"), ("forgotten-1", "b")])
        self.string(self.plan("c", "--customer", "bo"))
        self.assertIn("forgotten-2", self.pullcall("journal", "anonymise", "bo"))


if __name__ == "__main__":
    PROGRAMS = sys.argv.pop()
    unittest.main()
