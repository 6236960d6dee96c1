#!/usr/bin/python3 -B
"""Plans from options and like earlier jobs; what the journal knows of a racket; labels.

    test_plans.py FOLDER_OF_PROGRAMS
"""
import os
import pathlib
import pty
import re
import shlex
import sqlite3
import subprocess
import sys
import termios
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import PATIENCE_S, Bench  # noqa: E402

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
        daemon.wait(PATIENCE_S)
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

    def talk(self, *words, answers):
        """A command in a terminal, where each prompt gets the next answer. What was shown, and the answers that were left over."""
        master, terminal = pty.openpty()
        termios.tcsetwinsize(terminal, (24, 80))
        left, shown = list(answers), ""
        with subprocess.Popen([PROGRAMS + "/pullcall", *words], env=self.bench.environment, cwd=self.bench.home, stdin=terminal,
                              stdout=terminal, stderr=terminal, start_new_session=True) as process:
            os.close(terminal)
            while True:
                try:
                    part = os.read(master, 65536)
                except OSError:
                    break
                shown += part.decode()
                if shown.endswith(": ") and left:
                    os.write(master, left.pop(0).encode() + b"\n")
                elif shown.endswith(": "):
                    process.kill()
                    break
            process.wait(PATIENCE_S)
        os.close(master)
        shown = shown.replace("\r\n", "\n")
        self.assertLessEqual(max(map(len, shown.splitlines())), 80, shown)
        return shown, left

    def runs(self, shown):
        """Follows what is printed: the job begins."""
        command = shlex.split(re.search(r"To go on: pullcall (run .+)\n", shown)[1])
        done = subprocess.run([PROGRAMS + "/pullcall", *command, "--sound", "none", "--pedal", "keys"], input=b" ", check=True,
                              env=self.bench.environment, cwd=self.bench.home, capture_output=True)
        self.assertIn("is kept at call 1 of ", done.stdout.decode())
        return (self.bench.home / command[1]).read_text(encoding="utf-8")

    def test_a_plan_is_asked_for_and_strung(self):
        """From `plan new` to a running job in ten answers at most, the command to run among them; then the same racket in two."""
        answers = ["open-16x19", "kim", "", "54 lb", "52 lb", "co-polyester 1.25", "", "R-118", ""]
        shown, left = self.talk("plan", "new", answers=answers)
        self.assertEqual(left, [])
        self.assertLessEqual(len(answers) + 1, 10)
        text = self.runs(shown)
        self.assertRegex(text, r"\njob: R-118-\d{8}-\d{4}\npattern: open-16x19\nstringer: kim\nmethod: two-piece\n")
        self.assertIn("    name: co-polyester 1.25\n", text)

        shown, left = self.talk("plan", "new", "--racket", "R-118", "--output", "my plan.yaml", answers=[""])
        self.assertIn("Written: 'my plan.yaml'\n", shown)
        self.assertIn("racket: R-118\n\nThe maker's own", shown)  # all that will be written is shown
        self.assertEqual(left, [])
        self.runs(shown)
        shown, left = self.talk("plan", "new", "--racket", "R-118", "--output", "again.yaml", answers=["mains 56 lb", ""])
        self.assertEqual(left, [])
        names = {re.search(r"Written: (R-118-\S+)\.yaml", self.talk("plan", "new", "--racket", "R-118", answers=[""])[0])[1] for _ in range(3)}
        self.assertEqual(len(names), 3)  # within a minute
        text = self.runs(shown)
        self.assertRegex(text, r"# As job 2, R-118-[-\d]+, begun on \d+ \w+ \d{4} and not finished yet, but for: tension/mains was 54 lb\.\n")
        self.assertIn("  mains: 56 lb\n", text)

    def test_anything_can_be_changed_or_added_at_the_end(self):
        shown = self.talk("plan", "new", answers=[
            "open-16x91", "open-16x19", "?", "kim", "", "54", "54/52", "54 lb", "back", "55 lb", "52 lb", "", "", "",
            "due: tomorrow", "due 2026-12-01", "notes", 'a "chip"', "tension", "mains 150 lb", "job -club", "job club", ""])[0]
        for words in ('did you mean "open-16x19"', "Who strings it.", "a unit is missing", 'unit "/52" is not known here', "Tension of the mains [54 lb]: ", "expected a day",
                      "150 lb is not plausible", "Written: club.yaml\nTo go on: pullcall run club.yaml\n"):
            self.assertIn(words, shown)
        text = (self.bench.home / "club.yaml").read_text(encoding="utf-8")
        for line in ("mains: 55 lb", "due: 2026-12-01", 'notes: "a \\"chip\\""'):
            self.assertIn(line, text)
        shown, _ = self.talk("plan", "new", answers=["open-16x19", "kim"])
        self.assertNotRegex(shown, r"\[-")  # no name that is offered begins with a dash
        shown, _ = self.talk("plan", "new", answers=["yes", "", "54 lb", "52 lb", "", "", "-118", ""])  # taken up again
        self.assertRegex(shown, r"Written: 118-\d{8}-\d{4}\.yaml")

    def test_answers_about_another_racket_are_not_offered(self):
        kept = self.bench.home / "plan-new.answers"
        first = ["plan", "new", "--racket", "R-50", "--customer", "Jones"]
        shown, _ = self.talk(*first, answers=["open-16x19", "ada", ""])  # and interrupted
        before = kept.read_text(encoding="utf-8")
        shown, _ = self.talk("plan", "new", "--racket", "R-60", "--customer", "King", answers=["open-16x18", "kim", "", "54 lb", "52 lb", "", "", "", ""])
        self.assertNotIn("Go on", shown)
        self.assertIn("customer Jones). They", shown)
        text = (self.bench.home / re.search(r"Written: (\S+)", shown)[1]).read_text(encoding="utf-8")
        for words in ("open-16x18", "kim", "King"):
            self.assertIn(words, text)
        self.assertEqual(kept.read_text(encoding="utf-8"), before)
        for again in (first, ["plan", "new"]):
            shown, _ = self.talk(*again, answers=[""])
            self.assertRegex(" ".join(shown.split()), r"pattern open-16x19, stringer ada, .*racket R-50, customer Jones\)\. Go on with them\? \[yes\]:")
            self.assertIn("Tension of the mains", shown)
        shown, _ = self.talk("plan", "new", answers=["", "54 lb", "52 lb", "", "", "", ""])
        self.assertRegex(shown, r"Written: R-50-")
        self.assertFalse(kept.exists())

    def test_a_name_and_a_length_of_an_earlier_job_are_not_used_again(self):
        plan = self.plan("first", "--racket", "R-118")
        text = plan.read_text(encoding="utf-8").replace("\nracket", "\nstring: { mains: { on_hand: 9 m }, crosses: { on_hand: 9 m } }\nracket")
        plan.write_text(text, encoding="utf-8")
        self.string(plan)
        self.assertNotIn("on_hand", self.pullcall("plan", "new", "--like", "first"))
        new = self.bench.run("pullcall", "plan", "new", *LEAST, "--racket", "R-188")
        self.assertIn('racket R-188 was not strung before: nothing is taken over; did you mean "R-118"?', new.stderr)
        waits = self.bench.home / "waits.yaml"
        waits.write_text(new.stdout, encoding="utf-8")
        self.pullcall("rack", "add", waits)
        name = re.search("job: (.*)", new.stdout)[1]
        again = re.search("job: (.*)", self.pullcall("plan", "new", *LEAST, "--racket", "R-188"))[1]
        self.assertNotEqual(name, again)

    def test_a_check_knows_the_reels(self):
        plan = self.plan("reels", "--mains-reel", "blue", "--crosses-reel", "blue")
        self.assertEqual(self.bench.run("pullcall", "check", plan).stderr, "")  # there is no journal
        self.pullcall("reel", "add", "blue", "9 m")
        checked = self.bench.run("pullcall", "check", plan)
        self.assertEqual(checked.returncode, 0)
        self.assertRegex(checked.stderr, r"warning: reel blue has 9\.00 m left, and this job cuts 1\d\.\d\d m \[reel-short\]")
        self.pullcall("reel", "set", "blue", "90 m")
        self.assertEqual(self.bench.run("pullcall", "check", plan).stderr, "")
        plan.write_text(plan.read_text(encoding="utf-8").replace("blue", "bleu"), encoding="utf-8")
        self.assertIn('error: no reel "bleu"; did you mean "blue"? [reel-unknown]', self.pullcall("check", plan, code=1))
        self.assertIn("reel blue exists: pullcall reel set blue LENGTH changes", self.bench.run("pullcall", "reel", "add", "blue", "9 m").stderr)

    def test_what_cannot_be_a_plan_is_refused(self):
        for options, message in ((["--mains", "54"], "--mains: error: a unit is missing"), (["--pattern", "open-16x99"], "did you mean"),
                                 (["--pattern", "open-16x20"], '(did you mean "close-16x20"?)'),
                                 (["--pattern", "18x20"], '(did you mean "dense-18x20"?)'),
                                 (["--method", "one-piece", "--mains-reel", "red"], '--mains-reel: error: this needs "method two-piece"'),
                                 (["--due", "tomorrow"], "expected a day"), (["--method", "both"], "two-piece"),
                                 (["--mains", "90 lb"], "range")):
            told = self.pullcall("plan", "new", *LEAST, *options, code=1)
            self.assertIn(message, told)
            self.assertEqual(told.count(": error: "), 1, told)  # of the option at fault, and of no other
        choice = self.pullcall("plan", "new", *LEAST[2:], "--count", "16x18", code=1)
        for words in ("several patterns are 16x18: say which with --pattern NAME", "racquetball\n  16 x 18  racquetball-16x18",
                      "open-16x18  ", "18 + 18 holes a side, 6 in the bridge, head 645 cm2,", "mains skip 9H 9T; unused 7H 7T"):
            self.assertIn(words, choice)
        self.assertIn("no pattern is 3x3", self.pullcall("plan", "new", *LEAST[2:], "--count", "3x3", code=1))
        self.assertIn("no squash pattern is 16x18", self.pullcall("plan", "new", *LEAST[2:], "--count", "16x18", "--sport", "squash", code=1))
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
            self.assertRegex(text, r"# As job 1, first, strung on \d+ \w+ \d{4}, but for: tension/mains was 54lb\.\n")
            for kept in ("stringer: kim", "crosses: 52 lb", "racket: R-118", "customer: counter 12", "mains: 56 lb",
                         "order:\n  first: right\n", "- { strings: mains 7-8, by: -2 lb }"):
                self.assertIn(kept, text)
            self.assertNotIn("once", text)
            again.unlink()
            self.pullcall("plan", "new", *like, "--detail", "quick", "--due", "2026-12-01", "--mains-string", "nylon", "-o", again)
            self.assertRegex(again.read_text(encoding="utf-8"),
                             r", but for: detail was not given, string/mains/name was not given\.\n")
            again.unlink()
            self.pullcall("plan", "new", *like, "-o", again)
            self.assertRegex(again.read_text(encoding="utf-8"), r"# As job 1, first, strung on \d+ \w+ \d{4}\.\n")
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
        card = self.pullcall("draw", "--card", self.bench.home / "a.yaml", "-o", "-")
        for words in (">Racket R-1, ada<", ">Notes: a chip<"):
            self.assertIn(words, card)
        label = self.pullcall("label", "a", "-o", "-")
        for words in (">a<", ">R-1<", "54 lb", "52 lb", "kim", "job 1"):
            self.assertIn(words, label)
        for suffix in ("pdf", "png", "svg"):
            self.pullcall("label", "2", "--output", f"label.{suffix}")
            self.assertGreater((self.bench.home / f"label.{suffix}").stat().st_size, 500)
        self.pullcall("label", "c", "-o", "-", code=1)
        daemon = self.bench.start("pullcall", "run", self.plan("a-again", "--job", "a", "--racket", "R-3"), "--pedal", "none",
                                  "--sound", "none")
        self.bench.wait_for_daemon()
        self.pullcall("tell", "next")
        self.pullcall("tell", "stop")
        daemon.wait(PATIENCE_S)
        self.assertIn("not finished", self.pullcall("label", "3", "-o", "-", code=1))
        self.assertIn(">R-1<", self.pullcall("label", "a", "-o", "-"))
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


    def test_the_rack_takes_all_plans_or_none(self):
        """The fault of one plan hides no other's; the plan of a job that is open is on the rack by itself, and no fault."""
        ridge, club = self.plan("ridge", "--racket", "R-1"), self.plan("club")
        subprocess.run([PROGRAMS + "/pullcall", "run", ridge, "--sound", "none", "--pedal", "keys"], input=b"  ", check=True,
                       env=self.bench.environment, cwd=self.bench.home, capture_output=True)
        for name, line in (("late", "due: never\n"), ("odd", "racet: R-2\nnotes: #3\n")):
            path = self.bench.home / f"{name}.yaml"
            path.write_text(club.read_text(encoding="utf-8").replace("job: club", f"job: {name}") + line, encoding="utf-8")
        told = self.pullcall("rack", "add", ridge, club, "late.yaml", "odd.yaml", "absent.yaml", club, code=1)
        for fault in ("ridge.yaml:3:6: warning: job 1 is open and already on the rack", "late.yaml:10:6: error: expected a day",
                      'odd.yaml:10:1: error: unknown key "racet"', "absent.yaml: error: No such file", "club.yaml:3:6: error: job club is there twice",
                      "none was added: mend what is at fault, then add them all again"):
            self.assertIn(fault, told)
        self.assertNotIn("club", self.pullcall("rack", "list"))
        self.assertEqual(self.pullcall("rack", "add", ridge, club), "1 added\n")
        other = self.bench.home / "other.yaml"  # another racket may have that name
        other.write_text(ridge.read_text(encoding="utf-8").replace("R-1", "R-2"), encoding="utf-8")
        self.assertEqual(self.pullcall("rack", "add", other), "1 added\n")
        self.assertEqual(self.pullcall("rack", "list").count("ridge"), 2)
        self.assertIn("job ridge is on the rack already", self.pullcall("rack", "add", other, code=1))

    def test_all_faults_of_a_plan_are_told_at_once(self):
        plan = self.bench.home / "slips.yaml"
        plan.write_text("job: slips\npattern: open-16x19\nstringr: kim\nstringer: kim\nmethod: two-piece\n"
                        "tension: { mains: 54 lb, crosses: 90 lb }\nadjust: [ { strings: crosses 30, by: 1 lb } ]\n"
                        "string: { mains: { on_hand: 2 m } }\nnotes: #3\ndue: soon\n", encoding="utf-8")
        faults = self.pullcall("check", plan, code=1)
        for fault in (':3:1: error: unknown key "stringr"', ":6:35: error: 90 lb for cross 1 is outside the maker's range",
                      "error: there is no cross 30", "error: 2.00 m on hand, but the mains need 6.34 m",
                      'which begins a comment: write "#3" in quotes', "expected a text, but nothing is there", ":10:6: error: expected a day"):
            self.assertIn(fault, faults)
        self.assertEqual(len(faults.splitlines()), 7)
        # What follows from a fault is not told: a key that is misspelt is not missing, and without a method nobody knows
        # which lengths of string there should be.
        plan.write_text("job: slips\npattern: open-16x19\nstringr: kim\nmethod: two-peice\n"
                        "tension: { mains: 54, crosses: 52 lb }\nstring: { whole: { name: x } }\n", encoding="utf-8")
        faults = self.pullcall("check", plan, code=1)
        for fault in ('did you mean "stringer"?', 'not "two-peice"', "a unit is missing"):
            self.assertIn(fault, faults)
        self.assertEqual(len(faults.splitlines()), 3)


if __name__ == "__main__":
    PROGRAMS = sys.argv.pop()
    unittest.main()
