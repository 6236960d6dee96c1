#!/usr/bin/python3 -B
"""The manners of every command: help, usage, exit codes, wrong files, output that cannot be written.

    test_commands.py FOLDER_OF_PROGRAMS
"""
import json
import os
import pathlib
import pty
import re
import resource
import signal
import struct
import fcntl
import subprocess
import sys
import termios
import time
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import DEMO, PATIENCE_S, SOURCE, Bench, shown_until, wait_until  # noqa: E402

PROGRAMS = None
COMMANDS = ["check", "steps", "draw", "run", "load", "tell", "watch", "pedals", "voices", "pattern", "jobs",
            "review", "export", "journal"]
ACTIONS = set("cut-out inspect cut mount lock set-tension feed clamp unclamp pull release knot weave draw tie-off "
              "dismount check trim straighten".split())


class Commands(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS)
        self.addCleanup(self.bench.close)

    def pullcall(self, *arguments, **options):
        return self.bench.run("pullcall", *arguments, **options)

    def write(self, name, content):
        path = self.bench.home / name
        if isinstance(content, bytes):
            path.write_bytes(content)
        else:
            path.write_text(content, encoding="utf-8")
        return path

    def refused(self, content, message, name="plan.yaml"):
        result = self.pullcall("check", self.write(name, content))
        self.assertEqual(result.returncode, 1, result.stderr)
        self.assertEqual(result.stdout, "")
        self.assertIn(message, result.stderr)

    # ---- manners ----

    def test_help_is_on_standard_output(self):
        for command in [[]] + [[name] for name in COMMANDS]:
            result = self.pullcall(*command, "--help")
            self.assertEqual((result.returncode, result.stderr), (0, ""), command)
            self.assertTrue(result.stdout.startswith("Usage: pullcall"), command)
            self.assertLessEqual(max(map(len, result.stdout.splitlines())), 90, command)
        self.assertEqual(self.pullcall("help", "run").stdout, self.pullcall("run", "-h").stdout)
        for arguments in (["-h"], ["help"], []):
            self.assertEqual(self.pullcall(*arguments).stdout, self.pullcall("--help").stdout)

    def test_wrong_usage_is_one_line_and_2(self):
        wrong = [["rnu"], ["check"], ["steps"], ["steps", "a", "b"], ["steps", "--jsn", "a"], ["draw"], ["draw", DEMO], ["draw", DEMO, "-o", "x.gif"],
                 ["draw", DEMO, "-o", "x.svg", "--at", "0"], ["draw", DEMO, "-o", "x.svg", "--card", "--at", "1"], ["run"], ["tell"],
                 ["tell", "dance"], ["tell", "back", "0"], ["tell", "back", "x"], ["tell", "next", "2"],
                 ["tell", "abandon"], ["watch", "x"], ["pedals", "x"], ["voices", "x"], ["voices", "record-list"], ["voices", "--rate", "180"], ["load"],
                 ["jobs", "x"], ["export"], ["export", "--format", "yaml"], ["export", "--format", "csv", "--since", "May"],
                 ["journal"], ["journal", "burn"], ["journal", "backup"], ["journal", "anonymise"], ["run", DEMO, "--pedal", "hand"], ["run", DEMO, "--sound", "wav:"]]
        for arguments in wrong:
            result = self.pullcall(*arguments)
            self.assertEqual((result.returncode, result.stdout), (2, ""), arguments)
            self.assertEqual(len(result.stderr.splitlines()), 1, (arguments, result.stderr))
        self.assertIn('did you mean "run"?', self.pullcall("rnu").stderr)
        self.assertIn("did you mean --json?", self.pullcall("steps", "--jsn", "a").stderr)
        self.assertIn("--json takes no value", self.pullcall("steps", "--json=x", "a").stderr)
        self.assertIn("--bench needs a value", self.pullcall("steps", "a", "--bench").stderr)
        self.assertIn("unknown option -x", self.pullcall("steps", "-x", "a").stderr)
        self.assertIn('did you mean "pause"?', self.pullcall("tell", "pauze").stderr)
        self.assertEqual(self.bench.run("pullcalld", "job.yaml").returncode, 2)

    def test_a_number_out_of_range_is_named(self):
        for rate in ("79", "451", "fast", "165x", ""):
            result = self.bench.run("pullcall-speaker", "--rate", rate, "--say", "one", "--sound", "device:none")
            self.assertEqual((result.returncode, result.stdout), (2, ""), rate)
            self.assertIn(f'--rate takes a number from 80 to 450, not "{rate}"', result.stderr)

    def test_full_disk_is_not_success(self):
        with open("/dev/full", "w", encoding="utf-8") as full:
            result = subprocess.run([PROGRAMS / "pullcall", "steps", DEMO], env=self.bench.environment, stdout=full,
                                    stderr=subprocess.PIPE, text=True, timeout=30, check=False)
        self.assertEqual(result.returncode, 74)
        self.assertIn("No space left on device", result.stderr)

    def test_wrong_words_are_named(self):
        self.assertIn('unknown journal command "burn"', self.pullcall("journal", "burn").stderr)
        self.assertIn("--since takes a day such as 2026-11-25, not \"2026-02-31\"",
                      self.pullcall("jobs", "--since", "2026-02-31").stderr)

    def test_a_journal_is_created_by_a_job_a_rack_or_a_reel_alone(self):
        other = self.bench.home / "other.db"
        for arguments in (["journal", "anonymise", "mira"], ["journal", "merge", other], ["rack", "move", "a", "1"], ["rack", "drop", "a"],
                          ["reel", "set", "red", "3 m"]):
            result = self.pullcall(*arguments)
            self.assertEqual((result.returncode, result.stdout), (1, ""), arguments)
            self.assertIn("there is no journal", result.stderr)
            self.assertIn("install -D BACKUP ", result.stderr)
            self.assertFalse(self.bench.journal.exists(), arguments)

    def test_without_a_journal_the_lists_are_empty(self):
        for command, empty in (("rack", "nothing waits on the rack\n"), ("reel", "no reels\n")):
            result = self.pullcall(command, "list")
            self.assertEqual((result.returncode, result.stdout, result.stderr), (0, empty, ""))
        self.assertFalse(self.bench.journal.exists())

    def test_a_drill_of_what_there_is_not(self):
        self.assertIn('unknown skill "weaving": did you mean "weave"?', self.pullcall("drill", "weaving").stderr)
        result = self.pullcall("drill", "weave", "nopattern")
        self.assertRegex(result.stderr, r'^pullcall: there is no pattern "nopattern" in \., /')

    def test_nothing_runs(self):
        for arguments in (["tell", "next"], ["watch"], ["load", DEMO]):
            result = self.pullcall(*arguments)
            self.assertEqual(result.returncode, 1, arguments)
            self.assertIn("no pullcalld", result.stderr)

    # ---- check ----

    def test_bundled_files_are_without_fault(self):
        files = [*SOURCE.glob("patterns/*.yaml"), *SOURCE.glob("voice/*.yaml"), *SOURCE.glob("demo/*.yaml")]
        self.assertGreater(len(files), 11)
        result = self.pullcall("check", *files)
        self.assertEqual((result.returncode, result.stderr), (0, ""))

    def test_every_wrong_file_is_refused_in_its_place(self):
        plan = DEMO.read_text(encoding="utf-8")
        at = lambda line, column: f"plan.yaml:{line}:{column}: error: "
        end = len(plan.splitlines()) + 1
        self.refused(plan + "colour: red\n", at(end, 1) + 'unknown key "colour"')
        self.refused(plan + "detail: quick\n", at(end, 1) + 'duplicate key "detail"')
        self.refused(plan.replace("54 lb", "54 stone"), at(6, 19) + 'unit "stone" is not known here')
        self.refused(plan.replace("54 lb", "54"), at(6, 19) + "a unit is missing")
        self.refused(plan.replace("mains 7-8", "mains 7-9"), "there is no main 9")
        self.refused(plan.replace("54 lb", "70 lb"), "outside the maker's range")
        self.refused(plan.replace("lead: 1", "lead: 4"), "expected a whole number from 1 to 3")
        self.refused(plan.replace("open-16x19", "open-16x91"), at(3, 10) + 'there is no pattern "open-16x91"')
        self.refused(plan.replace("  mains:", "\tmains:"), ":9:1: error: a tab")
        self.refused(b"a" * 10_000_000, "larger than 256 KiB")
        self.refused("a: " + "[" * 10_000, "nested too deep")
        self.refused("a: &x [1]\nb: [*x, *x]\n", "anchors, aliases and tags are not used here")
        self.refused(b"job: a\0b\n", ":1:7: error: a NUL byte")
        self.refused(b"job: caf\xe9\n", ":1:9: error: not UTF-8")
        self.refused("", "the file is empty")

    def test_what_is_often_typed_works_or_is_shown(self):
        """Each slip of the hand is taken for what it means, or answered with the line to write."""
        plan = DEMO.read_text(encoding="utf-8")
        for typed in ("54lb", "54 lbs", "54 LB", "24.5Kg"):
            result = self.pullcall("check", self.write("plan.yaml", plan.replace("54 lb", typed)))
            self.assertEqual((result.returncode, result.stdout, result.stderr), (0, "1 job plan, 64 calls on a lock-out machine with fixed clamps: no faults\n", ""), typed)
        bare = "".join(line for line in plan.splitlines(True) if not line.startswith(("string:", "  mains: ", "  crosses: ")))
        for content, message in (
                (plan.replace("{ mains: 54 lb, crosses: 52 lb }", "54/52"), 'write both with their unit: "tension: { mains: 54 lb'),
                (plan.replace("54 lb", "24,5 kg"), 'write "24.5 kg", with a point'),
                (bare + "string: poly\n", 'write "string: { mains: { name: poly }, crosses: { name: poly } }"'),
                (plan.replace("job: ridge", "job: club: ridge"), ":2:10: error: a colon inside a value: write the value in quotes"),
                (plan.replace("stringer:", " stringer:"), "indented too far"),
                (plan.replace("job:", "Job:", 1), 'unknown key "Job": did you mean "job"?'),
                (plan.replace("open-16x19", "open-16x19.yaml"), 'there is no pattern "open-16x19.yaml" (did you mean "open-16x19"?)'),
                (plan.replace("54 lb", "170 lb"), "170 lb is not plausible: expected 4.5 to 112.4 lb"),
                (plan.replace("54 lb", "70 lb"), "48.6 to 61.7 lb"),
                (plan.replace("open-16x19", "16x19").replace("54 lb", "54"), 'there is no pattern "16x19" (did you mean "open-16x19" or "open-16x19-bridge-8" or "shared-16x19"?)'),
                (bare.replace("two-piece", "one-piece") + "string: { mains: { name: poly } }\n", 'with "method: one-piece" write "string: { whole: {'),
                (plan.replace("two-piece", "hybrid"), 'write "method: two-piece", and both strings'),
                (plan.replace("detail: bench", "detail: Bench"), 'write "bench", not "Bench"'),
                ("voice: { language: nl }\n", 'there is no phrasebook "nl": expected de, en, es, fr or it'),
                ("hello: there\n", "neither a job plan")):
            self.refused(content, message)
        result = self.pullcall("check", self.write("plan.yaml", plan.replace("job: ridge-court-0042", "job: club #12")))
        self.assertEqual((result.returncode, result.stdout), (0, "1 job plan, 64 calls on a lock-out machine with fixed clamps: no errors, 1 warning\n"))
        self.assertIn('plan.yaml:2:6: warning: the value ends before #', result.stderr)
        self.assertIn('write "club #12" in quotes', result.stderr)
        comma = self.pullcall("check", self.write("plan.yaml", plan.replace("mains: 54 lb", "mains: 24,5 kg"))).stderr
        self.assertEqual(comma.count("error:"), 1, comma)
        self.assertEqual(self.pullcall("draw", "open-16x19", "-o", "bed.svg").returncode, 0)
        self.assertIn("the job has 64", self.pullcall("draw", DEMO, "-o", "bed.svg", "--at", "999").stderr)
        for arguments, message in ((["run", DEMO, "--bench", DEMO], "this is a job plan, not a bench file"),
                                   (["run", SOURCE / "patterns/open-16x19.yaml"], 'this is a pattern; a job plan names it: "pattern: open-16x19"')):
            result = self.pullcall(*arguments)
            self.assertEqual(result.returncode, 1, arguments)
            self.assertIn(message, result.stderr)

    def test_a_pattern_in_place_of_a_plan_gets_the_least_plan(self):
        for command in ("steps", "run", "load"):
            said = self.pullcall(command, "open-16x19").stderr
            self.assertIn("open-16x19 is a pattern; a job plan names it", said)
            plan = said[said.index("job: NAME"):]
            self.assertEqual(self.pullcall("check", self.write("plan.yaml", plan)).stderr, "")

    def test_help_says_what_can_be_told_and_how_jobs_are_sorted(self):
        tell = re.search("^  tell .*", self.pullcall("--help").stdout, re.M)[0]
        for word in ("redo", "slipped", "broke", "why", "choices"):
            self.assertIn(word, tell)
        self.assertIn("the open ones first, then the oldest", " ".join(self.pullcall("jobs", "--help").stdout.split()))

    def test_one_figure_says_how_much_string_is_needed(self):
        plan = DEMO.read_text(encoding="utf-8")
        needed = float(re.search(r"cut (\d+\.\d\d) m", self.pullcall("steps", DEMO).stdout)[1])
        for on_hand, word in ((needed + 0.01, None), (needed - 0.1, "warning"), (needed - 0.31, "error")):
            text = re.sub("on_hand: [0-9.]+ m", f"on_hand: {on_hand:.2f} m", plan, count=1)
            said = self.pullcall("check", self.write("plan.yaml", text)).stderr
            if word is None:
                self.assertEqual(said, "")
            else:
                self.assertIn(f"{word}: {on_hand:.2f} m on hand, but the mains need {needed:.2f} m (an estimate, 30 cm of it a margin)", said)

    def test_check_says_what_it_found(self):
        patterns = sorted(SOURCE.glob("patterns/*.yaml"))
        result = self.pullcall("check", DEMO, *patterns)
        self.assertEqual((result.returncode, result.stdout, result.stderr),
                         (0, f"1 job plan, 64 calls on a lock-out machine with fixed clamps; {len(patterns)} patterns: no faults\n", ""))

    def pattern_new(self, columns, typed):
        """What `pattern new` shows in a terminal so wide, and how it ended; Ctrl-C ends it at the latest."""
        pid, terminal = pty.fork()
        if pid == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
            os.chdir(self.bench.home)
            os.execve(PROGRAMS / "pullcall", ["pullcall", "pattern", "new"], self.bench.environment)
        shown = shown_until(terminal, rb": \Z")
        for line in typed:
            os.write(terminal, line.encode() + b"\n")
            shown += shown_until(terminal, rb": \Z|Written: \S+\r\n")
            if b"Written: " in shown:
                break
        os.write(terminal, b"\x03")
        _, status = os.waitpid(pid, 0)
        os.close(terminal)
        return shown.decode().replace("\r\n", "\n"), status

    def test_pattern_new_in_a_terminal(self):
        shown, _ = self.pattern_new(40, ["open-16x19", "?", "club-16x19", "Club", "", "17", "16", "19"])
        self.assertIn('there is a pattern "open-16x19" already', " ".join(shown.split()))
        self.assertLessEqual(max(map(len, shown.splitlines())), 40 + len("club-16x19"))  # a question, and what is typed
        self.assertIn("an odd number of mains", shown)
        # Interrupted there, it is taken up again there.
        kept = (self.bench.home / "pattern-new.answers").read_text(encoding="utf-8")
        self.assertEqual(kept.splitlines()[1:], ["club-16x19", "Club", "tennis", "16", "19"])
        shown, _ = self.pattern_new(80, ["my-frame", "y", "18", "17", "6", "7H 9H 7T 9T", "", "", "what", "back", "", "y"])
        self.assertEqual(" ".join(shown.split()).count("crosses 19). Go on with them?"), 2)
        self.assertIn("Holes of one side at the head", shown)
        self.assertIn("yes (or y) goes on, no (or n) asks", " ".join(shown.split()))
        self.assertEqual(shown.count("Is this how the frame is drilled?"), 3)
        self.assertIn("End where the crosses start", shown)
        shown, status = self.pattern_new(80, ["y"] + [""] * 10)
        self.assertIn("Written: club-16x19.yaml", shown)
        self.assertEqual(self.pullcall("check", self.bench.home / "club-16x19.yaml").returncode, 0)
        self.assertFalse((self.bench.home / "pattern-new.answers").exists())

    def give_up(self, *typed, **options):
        """What `pattern new` shows and prints where Ctrl-D follows some answers."""
        master, terminal = pty.openpty()
        process = subprocess.Popen([PROGRAMS / "pullcall", "pattern", "new"], env=self.bench.environment, cwd=self.bench.home,
                                   stdin=terminal, stdout=subprocess.PIPE, stderr=terminal, text=True, **options)
        os.close(terminal)
        shown = shown_until(master, rb": \Z")
        for line in typed:
            os.write(master, line.encode() + b"\n")
            shown += shown_until(master, rb": \Z")
        os.write(master, b"\x04")
        shown += shown_until(master, rb"Nothing was written\..*\n\Z")
        printed = process.communicate(timeout=PATIENCE_S)[0]
        os.close(master)
        self.assertEqual(process.returncode, 1)
        return " ".join(shown.decode().split()), printed

    def test_answers_that_cannot_be_kept_are_printed(self):
        kept = self.bench.home / "pattern-new.answers"
        shown, printed = self.give_up()
        self.assertTrue(shown.endswith("Nothing was written."), shown)
        self.assertEqual((printed, kept.exists()), ("", False))
        no_room = lambda: (signal.signal(signal.SIGXFSZ, signal.SIG_IGN), resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0)))
        with self.subTest("a full disk"):
            self.assertIn("The answers so far are in pattern-new.answers", self.give_up("club-16x19", "Club")[0])
            before = kept.read_text(encoding="utf-8")
            shown, printed = self.give_up("y", "squash", preexec_fn=no_room)
            self.assertIn("warning: the answers cannot be kept in pattern-new.answers: File too large", shown)
            self.assertIn("The answers so far are not in pattern-new.answers (File too large), but here;", shown)
            self.assertEqual(printed, before.replace("# Not asked yet:\n", "") + "squash\n")
            self.assertEqual(kept.read_text(encoding="utf-8"), before)
        kept.unlink()
        with self.subTest("no file can be made"):
            (self.bench.home / "pattern-new.answers.new").mkdir()
            shown, printed = self.give_up("club-16x19")
            warned = shown.index("warning: the answers cannot be kept in pattern-new.answers: Is a directory")
            self.assertLess(warned, shown.index("Name of the pattern"))
            self.assertEqual(printed.splitlines()[1:], ["club-16x19"])
            # What was printed does what a kept file does.
            kept.write_text(printed, encoding="utf-8")
            self.assertIn("Title", self.give_up("y")[0])

    def test_journal_says_what_is_the_matter_in_one_line(self):
        def told(*words, code, journal=self.bench.journal):
            result = self.pullcall(*words, "--journal", journal)
            self.assertEqual((result.returncode, result.stdout), (code, ""))
            self.assertEqual(len(result.stderr.splitlines()), 1, result.stderr)
            return result.stderr

        empty = self.write("empty.db", "")
        self.assertIn(f"no job has been strung yet: the journal {empty} is empty", told("review", code=1, journal=empty))
        self.assertEqual(empty.stat().st_size, 0)
        self.assertEqual(self.pullcall("run", DEMO, "--pedal", "keys", "--sound", "none").returncode, 0)
        self.assertIn("a backup is not written to standard output", told("journal", "backup", "-", code=2))
        self.assertFalse((self.bench.home / "-").exists())
        self.assertIn("cannot write the backup nowhere/b.db: No such file", told("journal", "backup", "nowhere/b.db", code=74))
        self.assertIn('the name "nobody" is nowhere in it', told("journal", "anonymise", "nobody", code=1))

    def test_pattern_list_shows_all_by_sport(self):
        result = self.pullcall("pattern", "list")
        self.assertEqual((result.returncode, result.stderr), (0, ""))
        for path in SOURCE.glob("patterns/*.yaml"):
            self.assertRegex(result.stdout, rf"\d+ x \d+ +{path.stem}  ")
        lines = result.stdout.splitlines()
        self.assertLess(lines.index("tennis"), lines.index("squash"))
        own = self.bench.home / ".local" / "share" / "pullcall" / "patterns"
        own.mkdir(parents=True)
        text = (SOURCE / "patterns/open-16x19.yaml").read_text(encoding="utf-8")
        (own / "mine.yaml").write_text(text.replace("open-16x19", "mine"), encoding="utf-8")
        (own / "open-16x19.yaml").write_text(text, encoding="utf-8")
        self.write("here.yaml", text.replace("open-16x19", "here"))
        self.write("other.yaml", "job: x\n")
        result = self.pullcall("pattern", "list")
        self.assertEqual([result.stdout.count(f" {name} ") for name in ("here", "mine", "open-16x19", "other")], [1, 1, 1, 0])
        self.assertEqual(result.stderr, "")

    def test_the_least_plan_of_the_readme_works(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        plan = re.search(r"least\s+that it needs:\n\n(.*?)\n\n[a-z]", readme, re.S)[1]
        more = re.search(r"has them all\):\n\n(.*?)\n\n", readme, re.S)[1]
        for text in (plan, plan + "\n" + more):
            text = re.sub("^    ", "", text, flags=re.M)
            result = self.pullcall("check", self.write("plan.yaml", text))
            self.assertEqual((result.returncode, result.stderr), (0, ""), text)

    def test_pattern_counts_are_explained(self):
        text = (SOURCE / "patterns/open-16x19.yaml").read_text(encoding="utf-8")
        self.refused(text.replace("crosses: 19", "crosses: 20", 1),
                     "20 crosses, but 19 holes a side are left for crosses: 7H 9H 11H-18H 17T-11T 9T 7T",
                     "open-16x19.yaml")
        self.refused(text.replace("7H,", "7X,", 1), "expected a hole such as 7H", "open-16x19.yaml")
        self.refused(text.replace("7H,", "29H,", 1), "there is no hole 29H", "open-16x19.yaml")

    def test_what_cannot_be_opened(self):
        result = self.pullcall("check", "/no/such/file", self.bench.home)
        self.assertEqual(result.returncode, 1)
        self.assertIn("/no/such/file: error: No such file or directory", result.stderr)
        self.assertIn("Is a directory", result.stderr)
        if os.geteuid() != 0:  # root may read everything
            path = self.write("locked.yaml", "job: x\n")
            path.chmod(0)
            self.assertIn("Permission denied", self.pullcall("check", path).stderr)

    def test_standard_input(self):
        result = self.pullcall("check", "-", input="job: x\n", stdin=None)
        self.assertIn("<standard input>:", result.stderr)
        result = self.pullcall("steps", "--json", "-", input=DEMO.read_text(encoding="utf-8"), stdin=None)
        self.assertEqual(json.loads(result.stdout)["job"], "ridge-court-0042")

    # ---- steps ----

    def test_steps_json_keeps_the_contract(self):
        steps = json.loads(self.pullcall("steps", "--json", DEMO).stdout)
        self.assertEqual((steps["pattern"], steps["method"]), ("open-16x19", "two-piece"))
        mains, crosses = steps["mains"], steps["crosses"]
        self.assertEqual((mains["count"], mains["start"], mains["end"]), (16, "throat", "throat"))
        self.assertEqual(mains["holes"][7], {"main": 8, "head": "10H", "throat": "10T"})
        self.assertEqual((crosses["count"], crosses["start"]), (19, "head"))
        self.assertEqual([hole["hole"] for hole in crosses["holes"]],
                         ["7H", "9H", *(f"{n}H" for n in range(11, 19)), *(f"{n}T" for n in range(17, 10, -1)), "9T",
                          "7T"])
        self.assertEqual([move["n"] for move in steps["moves"]], list(range(1, len(steps["moves"]) + 1)))
        self.assertTrue({move["do"] for move in steps["moves"]} <= ACTIONS)
        self.assertEqual([call["n"] for call in steps["calls"]], list(range(1, len(steps["calls"]) + 1)))
        covered = [n for call in steps["calls"] for n in range(call["moves"][0], call["moves"][1] + 1)]
        self.assertEqual(covered, [move["n"] for move in steps["moves"]])
        pulls = [move for move in steps["moves"] if move["do"] == "pull"]
        self.assertEqual(sum(move["string"] == "main" for move in pulls), 16)
        self.assertEqual([n for move in pulls for n in move.get("pulls", [])], list(range(1, 20)))
        seven = next(move for move in pulls if (move["string"], move["number"]) == ("main", 7))
        self.assertEqual(seven["tension"]["value"], 52)  # 54 lb, adjusted by -2
        self.assertAlmostEqual(seven["tension"]["newton"], 52 * 4.4482216152605, 2)  # NIST SP 811

    def test_the_makers_range_is_the_same_wherever_it_is_shown(self):
        """22 to 28 kg are 48.502 to 61.729 lb (NIST SP 811): what is shown is never outside."""
        facts = " ".join(self.pullcall("steps", DEMO).stdout.split())
        self.assertIn("22 kg – 28 kg (48.6 – 61.7 lb)", facts)
        self.refused(DEMO.read_text(encoding="utf-8").replace("54 lb", "48 lb"), "range of open-16x19, 48.6 to 61.7 lb")

    def test_no_line_breaks_between_a_number_and_its_unit(self):
        for detail in ("learner", "bench", "quick"):
            plan = self.write("plan.yaml", re.sub("detail: .*", f"detail: {detail}", DEMO.read_text(encoding="utf-8")))
            text = self.pullcall("steps", plan).stdout
            self.assertNotRegex(text, r"\d\n *(lb|kg|mm|m)\b")
            self.assertRegex(text, r"\d (lb|kg|mm|m)\b")

    def test_steps_are_in_the_language_of_the_bench_alone(self):
        bench = self.write("bench.yaml", "voice: { language: de }\nspeak: { left: Lehrling, right: Meister }\n")
        for plan in (DEMO, self.one_piece("one.yaml")):
            shown = self.pullcall("steps", plan, "--bench", bench).stdout
            self.assertRegex(shown, r"\nLöcher, auf beiden Seiten gleich\n  Längssaite +1 ")
            self.assertRegex(" ".join(shown.split()), r"\b1\d Zange setzen Längssaite 1 Lehrling bei 1H;")
            left = set(re.findall(r"[a-z_-]+", shown.lower())) & (ACTIONS | set("string main mains cross crosses head throat hole "
                "left right over under first last pulls from to at with loop as_set prepare finish eyes bed".split()))
            self.assertEqual(left, set())
            english, german = (json.loads(self.pullcall("steps", "--json", plan, *option).stdout) for option in ([], ["--bench", bench]))
            self.assertEqual(english["moves"], german["moves"])

    def test_steps_table_fits_the_page(self):
        result = self.pullcall("steps", DEMO)
        self.assertEqual((result.returncode, result.stderr), (0, ""))
        self.assertLessEqual(max(map(len, result.stdout.splitlines())), 80)
        for words in ("Wear eye protection", "7H   9H  11H", "Main four left", "Tie-off: 8T left, 8T right"):
            self.assertIn(words, result.stdout)

    def test_every_tension_that_is_pulled_is_among_the_facts(self):
        """With what is added before a knot, which in one piece may be on one side only."""
        plan = re.sub(r"^adjust:.*\n", "", DEMO.read_text(encoding="utf-8"), flags=re.M)
        plan = re.sub(r"^tension:.*", "tension: { mains: 25 kg, crosses: 24 kg }\nadjust: [ { strings: mains 7-8, by: -2 lb } ]\ntie_off_extra: 8 %",
                      plan, flags=re.M)
        for path in (self.write("extra.yaml", plan), self.one_piece("one-extra.yaml", plan=plan)):
            shown = " ".join(self.pullcall("steps", path).stdout.split("\nHoles, ")[0].split())
            steps = json.loads(self.pullcall("steps", "--json", path).stdout)
            pulled = {f"{move['tension']['value']:g}" for move in steps["moves"] if move["do"] == "pull"}
            self.assertIn("26", pulled)  # main 8: 25 kg less 2 lb, and 8 % more
            for value in pulled:
                self.assertRegex(value, r"^\d+(\.\d)?$")
                self.assertIn(f": {value} kg (", shown)
        self.assertIn("Mains 8 left: 24.1 kg", shown)
        self.assertIn("Mains 8 right: 26 kg", shown)

    def one_piece(self, name, more="", plan=None):
        plan = (plan or DEMO.read_text(encoding="utf-8")).replace("two-piece", "one-piece", 1)
        lines = [line for line in plan.splitlines() if not line.startswith(("string:", "  mains: ", "  crosses: ", "order:"))]
        return self.write(name, "\n".join(lines) + "\n" + more)

    def test_a_route_is_the_plans_only_if_it_can_take_it(self):
        """The best of this frame breaks off four times, which no plan takes unless it names it."""
        plan = re.sub(r"^pattern: .*", "pattern: shared-16x19", DEMO.read_text(encoding="utf-8"), flags=re.M)
        for more, taken in (("", None), ("order: { route: 2 }\n", 2)):
            path = self.one_piece("routes.yaml", more, plan=plan)
            shown = self.pullcall("steps", "--routes", path).stdout
            routes = json.loads(self.pullcall("steps", "--routes", "--json", path).stdout)
            self.assertGreater(routes["routes"][0]["breaks"], 2)
            self.assertEqual(routes.get("route"), taken)
            self.assertEqual(shown.count("(this plan's)"), taken is not None)
            self.assertEqual("This plan takes none of them" in shown, taken is None)
            self.assertEqual("[route-breaks]" in self.pullcall("check", path).stderr, taken is None)

    def test_one_piece_json_shows_the_route(self):
        steps = json.loads(self.pullcall("steps", "--json", self.one_piece("one.yaml")).stdout)
        self.assertEqual(steps["method"], "one-piece")
        way = [(step["string"], step["number"]) for step in steps["route"]["steps"]]
        self.assertEqual(way, [*(("cross", n) for n in range(2, 20)), ("main", 8), ("cross", 1)])
        self.assertEqual(steps["route"]["breaks"], 2)
        woven = [move for move in steps["moves"] if move["do"] == "weave"]
        self.assertEqual([(move["string"], move["number"]) for move in woven], way)
        self.assertEqual(woven[18]["weave"]["travel"], "throat-to-head")
        self.assertEqual((woven[18]["from"], woven[18]["to"]), ("10T", "10H"))
        self.assertEqual(set(steps["lengths"]), {"short_mm", "long_mm", "total_mm"})
        cut = [move for move in steps["moves"] if move["do"] == "cut"]
        self.assertEqual([(move["subject"], move["length_mm"]) for move in cut], [("whole", steps["lengths"]["total_mm"])])

    def test_steps_routes(self):
        plan = self.one_piece("one.yaml")
        result = self.pullcall("steps", "--routes", plan)
        self.assertEqual((result.returncode, result.stderr), (0, ""))
        self.assertIn("crosses 2–19, main 8 left from 10T to 10H, cross 1", result.stdout)
        routes = json.loads(self.pullcall("steps", "--routes", "--json", plan).stdout)
        self.assertEqual([route["breaks"] for route in routes["routes"]], [2, 2, 2, 2])
        self.assertEqual(sorted(route["steps"][-1]["number"] for route in routes["routes"]), [1, 3, 4, 5])
        result = self.pullcall("steps", "--routes", DEMO)
        self.assertEqual((result.returncode, result.stdout), (1, ""))
        self.assertIn("two-piece work has no routes", result.stderr)

    # ---- run in a terminal ----

    def start_in_terminal(self):
        pid, terminal = pty.fork()
        if pid == 0:
            os.chdir(self.bench.home)
            os.execve(PROGRAMS / "pullcall", ["pullcall", "run", str(DEMO), "--sound", "none", "--pedal", "keys"],
                      dict(self.bench.environment, TERM="xterm"))
        return pid, terminal

    def in_terminal(self, columns, rows, keys):
        """What the terminal gets while the keys are pressed; ("size", columns, rows) resizes it."""
        pid, terminal = self.start_in_terminal()
        def resize(columns, rows):
            fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        resize(columns, rows)
        os.set_blocking(terminal, False)
        shown = b""
        for key in [*keys, None]:
            # Until it has drawn what came before, and a pause that makes two presses of two keys.
            begun, before = time.monotonic(), len(shown)
            while time.monotonic() < begun + 10:
                try:
                    shown += os.read(terminal, 65536)
                except BlockingIOError:
                    time.sleep(0.02)
                except OSError:
                    break
                if key and len(shown) > before and time.monotonic() > begun + 0.4:
                    break
            if isinstance(key, tuple):
                resize(*key[1:])
            elif key:
                os.write(terminal, key)
        _, status = os.waitpid(pid, 0)
        os.close(terminal)
        return os.waitstatus_to_exitcode(status), shown.decode()

    def test_tell_says_how_a_run_ended(self):
        for words, told in ((["stop"], "ridge-court-0042 is kept at call 1 of "), (["abandon", "string broke"], "ridge-court-0042 is closed at call 1 of ")):
            run = self.bench.start("pullcall", "run", DEMO, "--pedal", "none", "--sound", "none")
            self.bench.wait_for_daemon()
            wait_until(lambda: self.pullcall("tell", "where").returncode == 0, "no job is running")
            self.pullcall("tell", "next")
            self.assertEqual(self.pullcall("tell", *words).stdout[:len(told)], told)
            self.assertEqual(run.wait(PATIENCE_S), 0)

    def test_steps_name_adjustments(self):
        self.assertIn("Mains 7–8: 52 lb", self.pullcall("steps", DEMO).stdout)

    def test_run_in_terminals(self):
        for columns, rows in ((80, 24), (40, 12)):
            code, shown = self.in_terminal(columns, rows, [b" ", b" ", ("size", 40, 12), b"p", ("size", 80, 24), b"q"])
            self.assertEqual(code, 0, shown)
            # The terminal as it was, and in it how the run ended.
            self.assertRegex(shown, r"\033\[\?25h\033\[\?1049lridge-court-0042 is kept at call 2 of \d+\..*--resume 1\r\n$")
            for words in ("not begun", "call 2 of ", "PAUSED", "next: "):
                self.assertIn(words, shown)
            self.bench.journal.unlink()

    def echoes(self, terminal):
        return bool(termios.tcgetattr(terminal)[3] & termios.ECHO)

    def test_terminal_is_the_shells_while_stopped(self):
        enter, leave = rb"\033\[\?1049h", rb"\033\[\?1049l"
        pid, terminal = self.start_in_terminal()
        shown_until(terminal, b"not begun")
        self.assertFalse(self.echoes(terminal))
        os.kill(pid, signal.SIGTSTP)
        self.assertTrue(os.WIFSTOPPED(os.waitpid(pid, os.WUNTRACED)[1]))
        shown_until(terminal, leave)
        self.assertTrue(self.echoes(terminal))
        os.kill(pid, signal.SIGCONT)
        shown_until(terminal, enter + b".*not begun")
        self.assertFalse(self.echoes(terminal))
        # Stopped without a warning; the shell then does as it likes with the terminal.
        os.kill(pid, signal.SIGSTOP)
        os.waitpid(pid, os.WUNTRACED)
        mode = termios.tcgetattr(terminal)
        mode[3] |= termios.ECHO | termios.ICANON
        termios.tcsetattr(terminal, termios.TCSANOW, mode)
        os.kill(pid, signal.SIGCONT)
        shown_until(terminal, enter + b".*not begun")
        self.assertFalse(self.echoes(terminal))
        os.write(terminal, b"q")
        shown_until(terminal, leave)
        self.assertEqual(os.waitpid(pid, 0)[1], 0)
        self.assertTrue(self.echoes(terminal))
        os.close(terminal)

    def test_terminal_is_given_back_by_what_kills(self):
        for number in (signal.SIGQUIT, signal.SIGABRT):
            self.bench.journal.unlink(missing_ok=True)
            pid, terminal = self.start_in_terminal()
            shown_until(terminal, b"not begun")
            if number == signal.SIGQUIT:
                os.write(terminal, b"\x1c")
            else:
                os.kill(pid, number)
            shown_until(terminal, rb"\033\[\?1049l")
            self.assertEqual(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), -number)
            self.assertTrue(self.echoes(terminal))
            os.close(terminal)

    def test_in_the_background_a_run_does_without_keys(self):
        script = ('"$0" run "$1" --sound none >heard 2>&1 & while ! "$0" tell next; do sleep 0.1; done; '
                  '"$0" tell stop; wait $!; echo code $?')
        pid, terminal = pty.fork()
        if pid == 0:
            os.chdir(self.bench.home)
            os.execve("/bin/sh", ["sh", "-mc", script, str(PROGRAMS / "pullcall"), str(DEMO)], self.bench.environment)
        shown_until(terminal, b"code 0")
        self.assertEqual(os.waitpid(pid, 0)[1], 0)
        os.close(terminal)
        self.assertIn("keys cannot be read: the program runs in the background", (self.bench.home / "heard").read_text())

    def test_plan_on_standard_input_leaves_no_keys(self):
        result = self.pullcall("run", "-", "--pedal", "keys", "--sound", "none")
        self.assertEqual((result.returncode, result.stdout), (2, ""))
        self.assertEqual(len(result.stderr.splitlines()), 1, result.stderr)

    def test_broken_pipe_is_quiet(self):
        script = f"'{PROGRAMS}/pullcall' steps '{DEMO}' | head -n 1"
        result = subprocess.run(["/bin/sh", "-c", script], env=self.bench.environment, capture_output=True, text=True,
                                timeout=30, check=False)
        self.assertEqual(result.stderr, "")


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main(verbosity=1)
