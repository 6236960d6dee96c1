#!/usr/bin/python3 -B
"""No place is lost and no wrong racket picked up: jobs left open, plans edited since, equal names.

    test_places.py FOLDER_OF_PROGRAMS
"""
import fcntl
import os
import pathlib
import pty
import re
import signal
import struct
import subprocess
import sys
import termios
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import DEMO, PATIENCE_S, Bench, shown_until, wait_until  # noqa: E402

PROGRAMS = None
PLAN = DEMO.read_text(encoding="utf-8")
QUIET = ("--pedal", "none", "--sound", "none")


class Places(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS)
        self.addCleanup(self.bench.close)

    def pullcall(self, *arguments, **options):
        return self.bench.run("pullcall", *arguments, **options)

    def plan(self, job, text=PLAN, file=None):
        path = self.bench.home / (file or f"{job}.yaml")
        path.write_text(text.replace("ridge-court-0042", job), encoding="utf-8")
        return path

    def string(self, *arguments, presses=0, end=("stop",)):
        """Runs a job for so many presses, and ends it. What it wrote, and the job and call where it began."""
        run = self.bench.start("pullcall", "run", *arguments, *QUIET, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        with self.bench.connect() as hand:
            began = {}
            wait_until(lambda: "job" in began or began.update(hand.ask({"do": "status"})) or "job" in began, "no job")
            for _ in range(presses):
                hand.ask({"do": "next"})
        self.pullcall("tell", *end)
        out, errors = run.communicate(timeout=20)
        self.assertEqual(run.returncode, 0, errors)
        return out + errors, began["job"], began["call"]

    def test_a_plan_goes_on_though_another_job_was_open_since(self):
        ridge, club = self.plan("ridge"), self.plan("club")
        self.string(ridge, presses=6)
        words, *began = self.string(club, presses=3)
        self.assertEqual(began, ["club", 1])
        self.assertIn('1 other job is open: "pullcall jobs" lists it\n', words)
        self.assertNotIn("still open", words)
        words, *began = self.string(ridge)
        self.assertEqual(began, ["ridge", 6])
        self.assertIn("job ridge (1) was left open at call 6 of 64: going on with it; --new begins it again", words)
        self.assertEqual(self.string(ridge, "--new")[1:], ("ridge", 1))

    def test_an_empty_list_is_an_answer_and_a_name_that_no_job_has_is_a_slip(self):
        self.string(self.plan("ridge"), presses=2)
        for command in (["jobs"], ["review"], ["review", "--quote"], ["review", "--html", "-"], ["export", "--format", "csv"],
                        ["export", "--format", "json"], ["export", "--format", "xes"]):
            for none in ("--since=2090-01-01", "--until=1999-01-01", "--due=1999-01-01", "--method=one-piece"):
                result = self.pullcall(*command, none)
                self.assertEqual((result.returncode, result.stderr), (0, ""), (command, none))
            for slip in ("--stringer=nobody", "--pattern=nobody", "--racket=nobody", "--customer=nobody"):
                result = self.pullcall(*command, slip)
                self.assertEqual((result.returncode, result.stdout), (1, ""), (command, slip))
                self.assertIn('"nobody"', result.stderr)

    def test_a_file_that_cannot_be_read_ends_every_command_alike(self):
        letter = self.bench.home / "letter.yaml"
        letter.write_text("A letter, which is long enough to be taken for nothing else.\n" * 20, encoding="utf-8")
        self.string(self.plan("ridge"), presses=2)
        for file in (self.bench.home / "none.yaml", self.bench.home, letter):
            for command in (["check", file], ["steps", file], ["steps", "--routes", file], ["draw", file, "-o", "x.svg"],
                            ["run", file, *QUIET], ["drill", "--test", file, *QUIET], ["rack", "add", file],
                            ["rack", "add", "--csv", file], ["voices", "record-list", file], ["journal", "merge", file],
                            ["steps", DEMO, "--bench", file], ["board", "--token-file", file]):
                result = self.pullcall(*command)
                self.assertEqual(result.returncode, 1, (command, result.stderr))
                self.assertIn(file.name, result.stderr)

    def test_a_number_is_never_a_name(self):
        two = self.plan("2")
        self.assertIn('2.yaml:2:6: warning: "review 2" means the job with that number, not this one', self.pullcall("check", two).stderr)
        self.string(two, presses=3)
        for arguments in (("review", "2"), ("run", "--resume", "2", *QUIET), ("abandon", "2", "wrong racket")):
            self.assertIn("no job has the number 2", self.pullcall(*arguments).stderr, arguments)
        self.string(self.plan("ridge"), presses=2)
        self.assertIn("ridge", self.pullcall("review", "2").stdout)
        self.assertEqual(self.string("--resume", "2")[1:], ("ridge", 2))
        self.assertEqual(self.string("--resume", "1")[1:], ("2", 3))

    def test_another_spelling_of_a_stringer_is_said(self):
        kim = self.plan("one", PLAN.replace("stringer: apprentice", "stringer: kim"))
        large = self.plan("two", PLAN.replace("stringer: apprentice", "stringer: Kim"))
        hint = 'new stringer "Kim"; the journal knows "kim"'
        self.assertNotIn(hint, self.pullcall("check", large).stderr)
        self.string(kim, presses=1)
        self.assertEqual(self.pullcall("check", kim).stderr, "")
        self.assertIn(hint, self.pullcall("check", large).stderr)
        self.assertIn(hint, self.string(large, presses=1)[0])
        self.assertNotIn(hint, self.pullcall("check", large).stderr)  # both have jobs now

    def test_an_edited_plan_goes_on_as_it_was_and_says_what_changed(self):
        ridge = self.plan("ridge")
        self.string(ridge, presses=12)
        self.plan("ridge", PLAN.replace("54 lb", "56 lb").replace("detail: bench\n", "") + "tie_off_extra: 5 %\n# a remark\n")
        words, *began = self.string(ridge)
        self.assertEqual(began, ["ridge", 12])
        self.assertIn("going on with it as it was begun; tension.mains: 54 lb (this plan says 56 lb); "
                      "detail: bench (this plan says nothing); tie_off_extra: nothing (this plan says 5 %); --new begins it again", words)
        self.assertLess(words.index("The plan was changed"), words.index("You stopped here"))
        self.assertIn("The plan was changed since this job began, in tension and detail and tie off extra. The job goes on as it began.", words)
        self.plan("ridge", PLAN + "# a remark\n")
        self.assertNotIn("changed", self.string(ridge)[0])

    def test_a_job_is_named_when_it_goes_on(self):
        ridge = self.plan("ridge")
        self.string(ridge, presses=12)
        self.assertRegex(self.string(ridge)[0], r"Job ridge\. .*\. You stopped here\. Press to go on\.")

    def test_load_goes_on_and_says_so(self):
        ridge = self.plan("ridge")
        self.string(ridge, presses=4)
        self.string(self.plan("club"), presses=2, end=("abandon", "for the test"))
        self.bench.start("pullcalld", *QUIET, stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        self.assertIn("going on with job ridge (1), left open at call 4 of 64", self.pullcall("load", "--resume", "ridge").stdout)
        self.assertIn('"job": "ridge", "call": 4', self.pullcall("tell", "where", "--json").stdout)
        self.pullcall("tell", "abandon", "for the test")
        self.assertIn("Press to begin", self.pullcall("load", ridge).stdout)
        for word in ("next", "next", "next", "stop"):
            self.pullcall("tell", word)
        told = []
        wait_until(lambda: told.append(self.pullcall("load", ridge)) or told[-1].returncode == 0, "the job does not end")
        self.assertIn("job ridge (3) was left open at call 3 of 64: going on with it; --new begins it again\n", told[-1].stdout)

    def daemon(self):
        daemon = self.bench.start("pullcalld", *QUIET, stderr=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        return daemon

    def test_a_daemon_takes_up_what_was_cut_off_and_not_what_was_put_away(self):
        self.string(self.plan("ridge"), presses=4)
        daemon = self.daemon()
        self.assertIn("no job is running", self.pullcall("tell", "where").stderr)
        self.pullcall("load", self.plan("club"))
        self.pullcall("tell", "next")
        self.pullcall("tell", "next")
        daemon.kill()  # as by a power cut
        log = daemon.communicate()[1]
        self.assertIn("waiting for a job; left open:\n    1  ridge: ", log)
        self.assertIn('To go on with one: "pullcall load --resume NUMBER"', log)
        for place in (2, 3):
            daemon = self.daemon()
            self.assertIn(f'"job": "club", "call": {place}', self.pullcall("tell", "where", "--json").stdout)
            self.pullcall("tell", "next")  # goes on
            self.pullcall("tell", "next")
            daemon.terminate()  # as the computer goes down
            log = daemon.communicate(timeout=20)[1]
            self.assertRegex(log, re.compile(rf"going on with job club \(2\), left open at call {place} of 64; also open:\n +1  ridge: "))
        daemon = self.daemon()
        self.pullcall("tell", "stop")
        daemon.terminate()
        daemon.communicate(timeout=20)
        self.daemon()
        self.assertIn("no job is running", self.pullcall("tell", "where").stderr)

    def test_a_review_without_crosses_has_no_column_for_them(self):
        self.string(self.plan("ridge"), presses=20)
        review = self.pullcall("review", "ridge").stdout
        self.assertRegex(review, r"\n *main +left +right\n")

    def test_only_a_job_that_may_be_meant_is_compared_with_a_new_plan(self):
        facts = "\nracket: R-1\ncustomer: counter 12\n"
        self.string(self.plan("ridge", PLAN + facts), presses=4)
        self.string(self.plan("club", PLAN + facts.replace("R-1", "R-2")), presses=2)
        words = self.string(self.plan("league", PLAN.replace("open-16x19", "open-16x18") + facts.replace("R-1", "R-3")))[0]
        self.assertIn('2 other jobs are open: "pullcall jobs" lists them\n', words)
        self.assertNotIn("still open", words)
        # The same racket in a plan that differs in all: a few of the differences are told.
        other = PLAN.replace("open-16x19", "open-16x18").replace("54 lb", "56 lb").replace("52 lb", "53 lb")
        words = self.string(self.plan("again", other + facts.replace("counter 12", "counter 13")))[0]
        self.assertRegex(words, r"job ridge \(1, racket R-1\) is still open; .*; \d+ more differences: \"pullcall run --resume 1\" goes on")
        self.assertEqual(words.count("(this plan says"), 3)

    def test_a_copy_of_a_plan_is_another_racket(self):
        first = self.plan("ridge")
        self.string(first, presses=4)
        for file in ("copy.yaml", "folder/ridge.yaml"):
            path = self.bench.home / file
            path.parent.mkdir(exist_ok=True)
            words, *began = self.string(self.plan("ridge", file=file))
            self.assertEqual(began, ["ridge", 1])
            self.assertIn(f"is still open, of {self.bench.home}/", words)
        words, *began = self.string(first.relative_to(self.bench.home))  # named in another way
        self.assertEqual(began, ["ridge", 4])

    def test_a_renamed_plan_names_the_open_job_most_like_it(self):
        """Of several open jobs, whichever was worked on last, it is the one of the same racket, and what to type goes on with it."""
        facts = "\nracket: R-1\ncustomer: counter 12"
        self.string(self.plan("ridge", PLAN + facts), presses=4)
        self.string(self.plan("club", PLAN + facts.replace("R-1", "R-2")), presses=2)
        self.string(self.plan("league", PLAN.replace("54 lb", "56 lb") + facts), presses=3)
        self.string(self.plan("other", PLAN.replace("open-16x19", "open-16x18") + facts), presses=5)
        words, *began = self.string(self.plan("renamed", PLAN + facts), presses=1)
        self.assertEqual(began, ["renamed", 1])
        self.assertIn('job ridge (1, racket R-1) is still open; job: ridge (this plan says renamed): "pullcall run --resume 1" goes on '
                      'with it; if it is this racket, stop (q) first; 4 open jobs: "pullcall jobs" lists them', words)
        self.assertEqual(self.string("--resume", "1")[1:], ("ridge", 4))
        words = self.string(self.plan("renamed", PLAN.replace("54 lb", "55 lb") + facts, file="b.yaml"))[0]
        self.assertIn("job renamed (5, racket R-1) is still open; tension.mains: 54 lb (this plan says 55 lb): ", words)

    def test_equal_names_are_told_apart_wherever_jobs_are_listed(self):
        self.string(self.plan("club-17", PLAN + "\nracket: R-118\ncustomer: counter 12"), presses=4)
        self.string(self.plan("club-17", PLAN.replace("54 lb", "56 lb"), file="b.yaml"), presses=9)
        self.pullcall("rack", "add", self.plan("club-17", PLAN + "\nracket: R-9", file="c.yaml"))
        asked = self.pullcall("run", "--resume", *QUIET).stderr
        for line in (r"^    1  club-17, racket R-118, for counter 12: apprentice, open-16x19, 54/52 lb,\n       call 4 of ",
                     r"^    2  club-17: apprentice, open-16x19, 56/52 lb, call 9 of "):
            self.assertRegex(asked, re.compile(line, re.M))
        for command, rows in ((["jobs"], (r"club-17  R-118   counter 12  call 4/6\d +\S+  apprentice  open-16x19  54/52 lb",
                                          r"club-17 +call 9/6\d +\S+  apprentice  open-16x19  56/52 lb")),
                              (["rack", "list"], (r"@\d  club-17  R-118   counter 12  apprentice .*54/52 lb", r"club-17  R-9 +apprentice .*54/52 lb",
                                                  r"club-17 +apprentice +open-16x19  56/52 lb  job 2, call 9/"))):
            listed = self.pullcall(*command).stdout
            for row in rows:
                self.assertRegex(listed, row)
            shown = self.in_a_terminal_of_80_columns(*command)
            self.assertLessEqual(max(map(len, shown.splitlines())), 80, shown)
            self.assertEqual(shown.split(), listed.split())  # nothing is cut
        for command in (["draw", "--job", "club-17", "-o", "-"], ["abandon", "club-17", "why"]):
            told = self.pullcall(*command)
            self.assertEqual((told.returncode, told.stdout), (1, ""))
            self.assertIn("2 open jobs have the name club-17: say the number of one\n", told.stderr)
            self.assertIn("\n    1  club-17, racket R-118, for counter 12: ", told.stderr)
            self.assertIn("\n    2  club-17: ", told.stderr)
        self.assertIn("<svg", self.pullcall("draw", "--job", "R-118", "-o", "-").stdout)
        self.string(self.plan("late"), presses=2)
        self.assertNotIn(" due ", self.pullcall("rack", "list").stdout)

    def in_a_terminal_of_80_columns(self, *words):
        """What a command shows there."""
        master, terminal = pty.openpty()
        termios.tcsetwinsize(terminal, (24, 80))
        with subprocess.Popen([PROGRAMS / "pullcall", *words], env=self.bench.environment, cwd=self.bench.home, stdin=terminal,
                              stdout=terminal, stderr=terminal) as process:
            process.wait(PATIENCE_S)
        os.close(terminal)
        shown = b""
        while True:
            try:
                shown += os.read(master, 65536)
            except OSError:
                break
        os.close(master)
        return shown.decode().replace("\r\n", "\n")

    def test_the_row_of_a_plan_without_mark_and_customer_fits_80_columns(self):
        self.string(DEMO, presses=9)
        for command in (["jobs"], ["rack", "list"]):
            shown = self.in_a_terminal_of_80_columns(*command).splitlines()
            self.assertEqual(len(shown), 2, shown)
            self.assertIn("call 9/64", shown[1])
            self.assertLessEqual(max(map(len, shown)), 80)

    def test_a_file_used_again_for_another_racket_begins_another_job(self):
        self.string(self.plan("ridge", PLAN + "\nracket: R-1\n"), presses=4)
        words, *began = self.string(self.plan("ridge", PLAN + "\nracket: R-2\n"))
        self.assertEqual(began, ["ridge", 1])
        self.assertIn("is still open; racket: R-1 (this plan says R-2): ", words)

    def test_a_busy_daemon_says_with_what(self):
        self.daemon()
        self.pullcall("load", self.plan("ridge"))
        self.pullcall("tell", "next")
        self.pullcall("tell", "next")
        busy = 'job ridge (1) of apprentice is running, at call 2 of 64: finish it, or leave it for later with "pullcall tell stop"\n'
        for request in ((self.plan("club"),), ("--resume", "1")):
            result = self.pullcall("load", *request)
            self.assertEqual((result.returncode, result.stderr), (1, "pullcall: " + busy))

    def test_resume_asks_which_of_several(self):
        """Two rackets of one name, and one of another."""
        self.string(self.plan("ridge"), presses=4)
        self.string(self.plan("ridge"), "--new", presses=9)
        self.string(self.plan("club"), presses=2)
        result = self.pullcall("run", "--resume", *QUIET)
        self.assertEqual(result.returncode, 1)
        for line in (r"^ +1  ridge: apprentice, open-16x19, 54/52 lb, call 4 of \d+, \d{4}-", r"^ +2  ridge:.*call 9 of ",
                     r"^ +3  club:.*call 2 of "):
            self.assertRegex(result.stderr, re.compile(line, re.M))
        self.assertIn("for example: pullcall run --resume 3", result.stderr)
        result = self.pullcall("run", "--resume", "ridge", *QUIET)
        self.assertEqual(result.returncode, 1)
        self.assertNotIn("club", result.stderr)
        self.assertEqual(self.string("--resume", "1")[1:], ("ridge", 4))
        self.assertEqual(self.string("--resume", "club")[1:], ("club", 2))

    def test_what_is_printed_to_type_names_the_journal_that_was_given(self):
        other = self.bench.home / "other bench.db"
        option = f"--journal '{other}'"
        ridge, club = (self.plan(name, PLAN + "\nracket: R-1\n") for name in ("ridge", "club"))
        words = self.string(ridge, "--journal", other, presses=4)[0]
        self.assertIn(f"ridge (R-1) is kept at call 4 of 64. To go on: pullcall run --resume 1 {option}\n", words)
        words = self.string(club, "--journal", other, presses=3)[0]
        self.assertIn(f'"pullcall run --resume 1 {option}" goes on with it', words)
        words = self.pullcall("run", "--resume", "--journal", other, *QUIET).stderr
        self.assertIn(f"for example: pullcall run --resume 2 {option}\n", words)
        self.assertIn(f'"pullcall jobs {option}" lists them', self.pullcall("abandon", "9", "why", "--journal", other).stderr)
        self.assertIn(f"run {option} --resume nobody\n", self.pullcall("run", "nobody", "--journal", other, *QUIET).stderr)
        told = self.pullcall("plan", "new", "--pattern", "open-16x19", "--stringer", "kim", "--mains", "54lb", "--crosses", "52lb", "--job", "new",
                             "--journal", other, "-o", "new.yaml").stderr
        self.assertIn(f"To go on: pullcall run {option} new.yaml\n", told)
        self.assertEqual(self.pullcall("jobs").returncode, 1)  # the usual journal was never begun
        self.bench.environment["PULLCALL_JOURNAL"] = str(other)
        self.assertIn("for example: pullcall run --resume 2\n", self.pullcall("run", "--resume", "--journal", other, *QUIET).stderr)

    def test_every_way_to_go_on_that_is_printed_works(self):
        ridge, club = (self.plan(name, PLAN + "\nracket: R-1\n") for name in ("ridge", "club"))
        self.string(ridge, presses=4)
        self.string(ridge, "--new", presses=9)
        for printed, call in ((self.string(club, presses=2)[0], 9), (self.pullcall("run", "--resume", *QUIET).stderr, 2)):
            command = re.search(r'(?:"|example: )pullcall run (--resume \d+)', printed)[1].split()
            self.assertEqual(self.string(*command)[2], call)

    def in_terminal(self, answer):
        pid, terminal = pty.fork()
        if pid == 0:
            os.chdir(self.bench.home)
            os.execve(PROGRAMS / "pullcall", ["pullcall", "run", "--resume", "--sound", "none"],
                      dict(self.bench.environment, TERM="dumb"))
        os.write(terminal, answer)
        shown = b""
        while True:
            try:
                part = os.read(terminal, 65536)
            except OSError:
                break
            shown += part
            if b"call" in part and b"press" in part.lower():
                os.write(terminal, b"q")
        os.waitpid(pid, 0)
        os.close(terminal)
        return shown.decode()

    def test_in_a_terminal_the_number_is_asked_for(self):
        self.string(self.plan("ridge"), presses=4)
        self.string(self.plan("club"), presses=2)
        shown = self.in_terminal(b"7\n1\nq")
        self.assertEqual(shown.count("Which number?"), 2)
        self.assertIn("no job has the number 7", shown)
        self.assertIn("going on with job ridge (1), left open at call 4", shown)
        self.assertIn("going on with job ridge (1)", self.in_terminal(b"ridge\nq"))
        for leave in (b"q\n", b"\n"):
            shown = self.in_terminal(leave)
            self.assertNotIn("going on", shown)
            self.assertIn("for example: pullcall run --resume", shown)

    def test_a_job_is_found_by_its_rackets_mark(self):
        first = self.plan("ridge", PLAN + "racket: R-118\n")
        self.string(first, presses=4)
        told = self.pullcall("run", "R-118", *QUIET).stderr
        command = re.search(r"pullcall run (--resume R-118)\n", told)[1].split()
        told, *began = self.string(*command)
        self.assertEqual(began, ["ridge", 4])
        self.assertIn("going on with job ridge (1, racket R-118), left open at call 4 of 64", told)
        self.assertIn("Job ridge, racket R one hundred eighteen. ", told)
        self.assertIn("ridge (R-118) is kept at call 4 of 64. To go on: pullcall run --resume 1\n", told)
        self.string(self.plan("club", PLAN + "racket: R-118\n"), presses=2)
        told = self.pullcall("abandon", "R-118", "why").stderr
        self.assertIn("2 open jobs have the racket R-118: say the number of one\n", told)
        self.assertIn("ridge, racket R-118: apprentice", told)
        told = self.string("--resume", "2", end=("abandon", "for the test"))[0]
        self.assertIn("club (R-118) is closed at call 2 of 64.", told)
        result = self.pullcall("abandon", "R-118", "it cracked")
        self.assertEqual(result.stdout, "ridge (1, racket R-118) is closed at call 4 of 64.\n", result.stderr)
        told = self.pullcall("run", "--resume", "1", *QUIET).stderr
        self.assertIn('job ridge (1) is abandoned: "pullcall review 1" shows it', told)
        self.assertIn("ridge", self.pullcall("review", "1").stdout)
        result = self.pullcall("run", "--resume", "1", "--new", *QUIET)
        self.assertEqual(result.returncode, 2)
        self.assertIn("--resume goes on with a job, --new begins one", result.stderr)

    def on_screen(self, *arguments, kill=None):
        """What the full screen of a run in a terminal shows before its first press, and what is printed after q."""
        pid, terminal = pty.fork()
        if pid == 0:
            os.chdir(self.bench.home)
            os.execve(PROGRAMS / "pullcall", ["pullcall", "run", *map(str, arguments), "--sound", "none"],
                      dict(self.bench.environment, TERM="xterm", COLUMNS="80", LINES="24"))
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        shown = shown_until(terminal, b"space")
        if kill:
            line = os.open(f"/proc/{pid}/fd/0", os.O_RDWR | os.O_NOCTTY)
            os.kill(pid, kill)
            os.waitpid(pid, 0)
            return terminal, line
        os.write(terminal, b" ")
        after = b""
        try:
            while part := os.read(terminal, 65536):
                if b"sound off" in part:
                    os.write(terminal, b"q")
                after += part
        except OSError:
            pass
        os.waitpid(pid, 0)
        os.close(terminal)
        return shown.decode().split("\033[?1049h")[1], after.decode()

    def test_the_screen_says_which_job_was_picked_up(self):
        ridge = self.plan("ridge")
        self.string(ridge, presses=12)
        self.plan("ridge", PLAN.replace("54 lb", "56 lb") + "racket: R-118\n")
        screen, after = self.on_screen(ridge)
        shown = re.sub(r"\s+", " ", re.sub(r"\033\[\S", " ", screen))
        self.assertIn("job ridge (1) was left open at call 12 of 64: going on with it as it was begun; tension.mains: 54 lb (this plan says 56 lb)", shown)
        self.assertIn("The plan was changed since this job began, in tension and racket.", shown)
        self.assertIn("You stopped here. Press to go on.", shown)
        self.assertNotIn("sound off", shown)
        pressed = [screen for screen in after.split("\033[?1049l")[0].split("\033[H") if "sound off" in screen]
        self.assertTrue(pressed)
        self.assertNotIn("left open", pressed[-1])
        self.assertIn("ridge is kept at call 12 of 64. To go on: pullcall run --resume 1", after)

    def test_a_terminal_left_by_a_killed_run_is_mended(self):
        terminal, line = self.on_screen(self.plan("ridge"), kill=signal.SIGKILL)
        with os.fdopen(line, "rb+", buffering=0) as line:
            self.assertFalse(termios.tcgetattr(line)[3] & termios.ICANON)
            subprocess.run([PROGRAMS / "pullcall", "--version"], stdin=line, stdout=line, env=self.bench.environment, check=True)
            mode = termios.tcgetattr(line)
            self.assertEqual(mode[3] & (termios.ICANON | termios.ECHO | termios.ISIG), termios.ICANON | termios.ECHO | termios.ISIG)
            self.assertEqual((mode[6][termios.VINTR], mode[6][termios.VMIN]), (b"\x03", b"\x01"))
        shown_until(terminal, rb"\033\[\?1049l")
        os.close(terminal)

    def test_abandon_without_a_daemon(self):
        self.string(self.plan("ridge"), presses=4)
        result = self.pullcall("abandon", "1", "the frame cracked")
        self.assertEqual((result.returncode, result.stdout), (0, "ridge (1) is closed at call 4 of 64.\n"), result.stderr)
        self.assertEqual(self.bench.events({"abandoned"}), [("abandoned", 4)])
        result = self.pullcall("abandon", "ridge", "again")
        self.assertEqual((result.returncode, result.stdout), (1, ""))
        self.assertIn('job ridge (1) is abandoned: "pullcall review 1" shows it', result.stderr)
        self.assertEqual(self.pullcall("abandon", "nobody", "why").returncode, 1)
        self.assertIn("no job was left open", self.pullcall("run", "--resume", *QUIET).stderr)


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main(verbosity=1)
