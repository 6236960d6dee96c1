#!/usr/bin/python3 -B
"""Whole jobs through the real programs: keys, commands, strangers, signals.

    test_end_to_end.py FOLDER_OF_PROGRAMS
"""
import contextlib
import json
import os
import pathlib
import random
import shutil
import signal
import socket
import sqlite3
import stat
import subprocess
import sys
import time
import unittest
import wave

from programs import DEMO, PATIENCE_S, SOURCE, Bench, shown_until, wait_until

PROGRAMS = None


class EndToEnd(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS)
        self.addCleanup(self.bench.close)

    def start_run(self, *options, **keywords):
        process = self.bench.start("pullcall", "run", DEMO, "--sound", "none", *options, **keywords)
        self.bench.wait_for_daemon()
        return process

    def calls(self):
        steps = json.loads(self.bench.run("pullcall", "steps", "--json", DEMO).stdout)
        return steps["calls"]

    # ---- a whole job ----

    def test_job_by_keys_is_heard_and_journalled(self):
        calls = len(self.calls())
        wav = self.bench.home / "heard.wav"
        process = self.bench.start("pullcall", "run", DEMO, "--pedal", "keys", "--sound", f"wav:{wav}",
                                   stdin=subprocess.PIPE)
        self.bench.wait_for_daemon()
        for _ in range(calls + 1):  # the first press begins, the last one finishes
            process.stdin.write(b" ")
            process.stdin.flush()
            time.sleep(0.06)
        process.stdin.close()
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertEqual(self.bench.events(["next"]), [("next", n) for n in range(2, calls + 2)])
        self.assertEqual(self.bench.events()[-1], ("finished", calls + 1))
        with wave.open(str(wav)) as heard:
            samples = heard.readframes(heard.getnframes())
            seconds = heard.getnframes() / heard.getframerate()
        self.assertGreater(seconds, calls * 0.06)
        self.assertGreater(max(samples), 0, "the file is silent")

    def test_job_by_commands_every_50_ms(self):
        """No call is missed and none comes twice, said or written."""
        calls = self.calls()
        wav = self.bench.home / "heard.wav"
        process = self.bench.start("pullcall", "run", DEMO, "--pedal", "none", "--sound", f"wav:{wav}")
        self.bench.wait_for_daemon()
        with self.bench.connect() as watcher, self.bench.connect() as hand:
            self.assertTrue(watcher.ask({"do": "watch"})["ok"])
            for _ in range(len(calls) + 1):
                self.assertTrue(hand.ask({"do": "next"})["ok"])
                time.sleep(0.05)
            said = []
            while event := watcher.line():
                if event["event"] == "call":
                    said.append((event["call"], event["text"]))
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertEqual(said, [(call["n"], call["text"]) for call in calls])
        self.assertEqual([n for _, n in self.bench.events(["next"])], list(range(2, len(calls) + 2)))
        announced = [n for _, n in self.bench.events(["announced"])]
        self.assertEqual(announced, sorted(set(announced)), "a call was announced twice or out of order")

    def seconds_to_the_call(self, plan):
        """From a press at the first words of a run to the first sound of its call."""
        process = self.bench.start("pullcall", "run", plan, "--pedal", "none", "--sound", f"wav:{self.bench.home}/heard.wav",
                                   stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        with self.bench.connect() as watcher, self.bench.connect() as hand:
            watcher.ask({"do": "watch"})
            time.sleep(1)  # the voice is there, and has begun
            pressed = time.monotonic()
            hand.ask({"do": "next"})
            while watcher.line().get("name") != "announced":
                pass
            seconds = time.monotonic() - pressed
            hand.ask({"do": "stop"})
        self.assertEqual(process.wait(PATIENCE_S), 0)
        return seconds

    def test_a_changed_plan_is_said_to_the_end(self):
        plan = self.bench.home / "plan.yaml"
        plan.write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
        self.seconds_to_the_call(plan)
        answered = self.seconds_to_the_call(plan)
        plan.write_text(DEMO.read_text(encoding="utf-8").replace("54 lb", "56 lb"), encoding="utf-8")
        self.assertGreater(self.seconds_to_the_call(plan), 3 * answered)

    def test_tell_answers_and_says_no(self):
        self.start_run("--pedal", "none")
        tell = lambda *words: self.bench.run("pullcall", "tell", *words)
        self.assertEqual(tell("next").returncode, 0)
        self.assertIn("2/", tell("next").stdout)
        self.assertIn("3/", tell("next").stdout)
        self.assertIn("1/", tell("back", "2").stdout)
        refused = tell("back")
        self.assertEqual((refused.returncode, refused.stdout), (1, ""))
        self.assertIn("this is the first call", refused.stderr)
        self.assertEqual(tell("pause").returncode, 0)
        self.assertIn("already paused", tell("pause").stderr)
        self.assertEqual(tell("resume").returncode, 0)
        self.assertIn("not paused", tell("resume").stderr)
        self.assertIn("to go", tell("where").stdout)
        self.assertEqual(tell("stop").returncode, 0)

    def test_tell_prints_what_is_said_in_answer_and_no_more(self):
        process = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        tell = lambda *words: self.bench.run("pullcall", "tell", *words).stdout
        for plan in ("first", "second"):
            (self.bench.home / f"{plan}.yaml").write_text(DEMO.read_text().replace("ridge-court-0042", plan))
            self.assertEqual(self.bench.run("pullcall", "rack", "add", self.bench.home / f"{plan}.yaml").returncode, 0)
        self.assertEqual(self.bench.run("pullcall", "load", self.bench.home / "first.yaml").returncode, 0)
        call = tell("next")
        self.assertRegex(call, r"^first: 1/\d+  Eye protection on, [a-z' ]+\.\n$")
        self.assertEqual(tell("note", "a scratch"), "first: Noted.\n")
        self.assertEqual(tell("louder"), call)
        self.assertEqual(tell("choices"), "first: Choices. Redo a string.\n")
        self.assertEqual(tell("next"), "first: The clamp slipped.\n")
        tell("stop")
        self.assertTrue(tell("next").startswith("Next, job second. "))
        reopened = self.bench.run("pullcall", "load", "--resume", "1").stdout.splitlines()
        self.assertEqual(reopened[1], "first: Job first. Getting ready, step one of ten. You stopped here. Press to go on.")
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 0)

    def test_a_job_goes_on_in_the_language_it_began_with(self):
        settings = self.bench.home / "bench.yaml"
        tell = lambda *words: self.bench.run("pullcall", "tell", *words).stdout
        daemon = None

        def start(language):
            nonlocal daemon
            settings.write_text(f"voice: {{ language: {language} }}\n")
            daemon = self.bench.start("pullcalld", "--bench", settings, "--sound", f"wav:{self.bench.home}/heard.wav",
                                      "--pedal", "none", stderr=subprocess.DEVNULL)
            self.bench.wait_for_daemon()

        def voice():
            lines = []
            with contextlib.suppress(OSError):  # it ends as we look
                children = pathlib.Path(f"/proc/{daemon.pid}/task/{daemon.pid}/children").read_text().split()
                lines = [pathlib.Path(f"/proc/{child}/cmdline").read_text().split("\0") for child in children]
            return [line[line.index("--voice") + 1][:2] for line in lines if "--voice" in line]

        start("de")
        self.assertEqual(self.bench.run("pullcall", "load", DEMO).returncode, 0)
        tell("next")
        call = tell("again")
        tell("stop")
        daemon.terminate()
        self.assertEqual(daemon.wait(10), 0)
        start("en")
        wait_until(lambda: voice() == ["en"], "no English voice")
        told = self.bench.run("pullcall", "load", "--resume", "1").stdout
        self.assertIn('it goes on in the language it began with, "de"', told)
        self.assertIn("Zum Weitermachen treten.", told)
        self.assertEqual(tell("next"), call)
        self.assertIn("Pause bei", tell("pause"))
        wait_until(lambda: voice() == ["de"], "no German voice")
        tell("stop")
        wait_until(lambda: voice() == ["en"], "the voice stays German")
        self.assertTrue(tell("next").startswith("Next, job "))
        (self.bench.home / "other.yaml").write_text(DEMO.read_text().replace("ridge-court-0042", "other"))
        self.assertIn("Press to begin.", self.bench.run("pullcall", "load", self.bench.home / "other.yaml").stdout)
        daemon.terminate()
        self.assertEqual(daemon.wait(10), 0)

    def test_a_loud_shop_has_clear_numbers(self):
        self.start_run("--pedal", "none", "--shop", "loud")
        tell = lambda *words: self.bench.run("pullcall", "tell", *words)
        said = [tell("next").stdout for _ in self.calls()]
        tensions = [line for line in said if "  Set " in line]
        self.assertTrue(tensions)
        for line in tensions:
            self.assertRegex(line, "Set (one|two|three|four|five|six) [a-z]+ ")
        self.assertEqual(tell("stop").returncode, 0)

    def test_the_shop_becomes_loud(self):
        wav = self.bench.home / "heard.wav"
        process = self.bench.start("pullcall", "run", DEMO, "--pedal", "none", "--sound", f"wav:{wav}")
        self.bench.wait_for_daemon()
        for word in ("loud", "next", "quiet", "next", "loud", "stop"):
            self.assertEqual(self.bench.run("pullcall", "tell", word).returncode, 0, word)
        self.assertEqual(process.wait(PATIENCE_S), 0)

    def test_nothing_can_press(self):
        """Without a pedal and without keys a run says so at once, and keeps the place."""
        self.assertIn("no pedal is plugged in", self.bench.run("pullcall", "pedals").stderr, "needs a machine without one")
        plan = DEMO.read_text(encoding="utf-8")
        for words, options in ((["-"], {"stdin": None, "input": plan}), ([DEMO, "--new"], {}), (["--resume", "1"], {})):
            with self.subTest(words):
                run = self.bench.run("pullcall", "run", *words, "--sound", "none", **options)
                self.assertEqual(run.returncode, 0, run.stderr)
                self.assertIn("nothing can press: no pedal is plugged in, and no keys come from standard input", run.stderr)
                self.assertRegex(run.stdout.splitlines()[-1], r"is kept at call 1 of \d+\. To go on: pullcall run --resume \d")
                self.assertIn("voice: sound off", run.stdout.splitlines()[0])
        unknown = self.bench.run("pullcall", "run", "--resume", "99", "--sound", "none")
        self.assertEqual((unknown.returncode, unknown.stderr),
                         (1, 'pullcall: no job has the number 99; "pullcall jobs" lists them\n'))
        process = self.bench.start("pullcall", "run", DEMO, "--new", "--sound", "none", "--pedal", "evdev", stderr=subprocess.PIPE)
        self.bench.wait_for_daemon()
        told = iter(process.stderr.readline, b"")
        self.assertTrue(any(line.startswith(b"pullcall: nothing can press") for line in told))
        told = self.bench.run("pullcall", "tell", "next").stdout
        self.assertTrue(told.startswith("ridge-court-0042: 1/"), told)
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 0)

    def test_load_into_a_waiting_daemon(self):
        process = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        self.assertIn("no job is running", self.bench.run("pullcall", "tell", "where").stderr)
        wrong = self.bench.home / "wrong.yaml"
        wrong.write_text(DEMO.read_text().replace("54 lb", "54"))
        refused = self.bench.run("pullcall", "load", wrong)
        self.assertEqual(refused.returncode, 1)
        self.assertIn("wrong.yaml:6:19: error: a unit is missing", refused.stderr)
        self.assertEqual(self.bench.run("pullcall", "load", DEMO).returncode, 0)
        self.assertIn("is running", self.bench.run("pullcall", "load", DEMO).stderr)
        self.assertEqual(self.bench.run("pullcall", "tell", "abandon", "frame cracked").returncode, 0)
        self.assertEqual(self.bench.run("pullcall", "load", DEMO).returncode, 0)
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertEqual([kind for kind, _ in self.bench.events(["abandoned", "stopped"])], ["abandoned", "stopped"])

    def test_idle_daemon_leaves_the_journal_to_others(self):
        process = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        anonymise = lambda: self.bench.run("pullcall", "journal", "anonymise", "apprentice")
        self.assertEqual(self.bench.run("pullcall", "load", DEMO).returncode, 0)
        for refused in (anonymise(), self.bench.run("pullcall", "abandon", "1", "frame cracked"),
                        self.bench.run("pullcall", "journal", "merge", self.bench.journal)):
            self.assertEqual(refused.returncode, 74)
            self.assertIn('closed with "pullcall tell abandon REASON"', refused.stderr)
            self.assertIn('"pullcall tell stop"', refused.stderr)
        self.assertEqual(self.bench.run("pullcall", "tell", "abandon", "frame cracked").returncode, 0)
        other = self.bench.home / "other.db"
        shutil.copy(self.bench.journal, other)
        merged = self.bench.run("pullcall", "journal", "merge", other)
        self.assertEqual(merged.returncode, 0, merged.stderr)
        done = anonymise()
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(self.bench.run("pullcall", "load", DEMO).returncode, 0)
        self.assertEqual(self.bench.run("pullcall", "tell", "next").returncode, 0)
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertEqual(self.bench.events(["abandoned", "resume", "stopped"]),
                         [("abandoned", 1), ("resume", 1), ("stopped", 1)])

    def test_hangup_rereads_the_bench_between_jobs(self):
        bench = self.bench.home / "bench.yaml"
        bench.write_text("speak: { left: near side }\n")
        log = self.bench.home / "log"
        with open(log, "wb") as errors:
            process = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", "--bench", bench,
                                       stderr=errors)
        self.bench.wait_for_daemon()

        def reread(settings, said):
            bench.write_text(settings)
            process.send_signal(signal.SIGHUP)
            wait_until(lambda: said in log.read_text(), said)

        reread("voice: { language: xx }\n", "its old settings stay")
        own = self.bench.home / ".local/share/pullcall/voice"
        own.mkdir(parents=True)
        english = (SOURCE / "voice" / "en.yaml").read_text()
        (own / "xy.yaml").write_text(english.replace("Eye protection on", "Goggles on"))
        reread("voice: { language: xy }\nspeak: { left: far side }\n", "was read again")
        with self.bench.connect() as hand:
            self.assertIn("Goggles on", hand.ask({"do": "load", "file": str(DEMO)})["text"])
        reread("speak: { left: near side }\n", "the bench file is not read")
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 0)

    def test_closed_standard_files_are_nobody_elses(self):
        """Neither keys are read from whatever took the number of standard input, nor is it written to."""
        script = 'exec "$0" run "$1" --pedal keys --sound none <&- >&- 2>&-'
        result = subprocess.run(["/bin/sh", "-c", script, str(PROGRAMS / "pullcall"), str(DEMO)],
                                env=self.bench.environment, timeout=20, check=False)
        self.assertEqual(result.returncode, 74)  # what it wrote went nowhere
        self.assertEqual([kind for kind, _ in self.bench.events()], ["started", "stopped"])

    def test_pipe_is_not_waited_for(self):
        self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        pipe = self.bench.home / "plan.yaml"
        os.mkfifo(pipe)
        refused = self.bench.run("pullcall", "load", pipe)
        self.assertEqual(refused.returncode, 1)
        self.assertIn("not a pipe", refused.stderr)
        self.assertTrue(self.bench.is_answering())

    # ---- the control socket ----

    def test_socket_is_private(self):
        self.start_run("--pedal", "none")
        mode = os.stat(self.bench.socket_path)
        self.assertEqual(stat.S_IMODE(mode.st_mode), 0o600)
        if os.geteuid() != 0:
            print("note: not root, so no other user could be tried on the socket", file=sys.stderr)
            return
        # Even with every permission given away, another user is not served.
        self.bench.home.chmod(0o755)
        self.bench.runtime.chmod(0o755)
        self.bench.socket_path.parent.chmod(0o755)
        self.bench.socket_path.chmod(0o666)
        stranger = subprocess.run(
            [sys.executable, "-c",
             "import socket, sys\ns = socket.socket(socket.AF_UNIX)\ns.connect(sys.argv[1])\n"
             "try:\n s.sendall(b'{\"do\": \"next\"}\\n')\nexcept OSError:\n pass\nprint(s.recv(1000).decode())",
             str(self.bench.socket_path)],
            user=65534, group=65534, extra_groups=[], capture_output=True, text=True, timeout=20, check=False)
        self.assertIn('"ok": false', stranger.stdout, stranger.stderr)
        self.assertEqual(self.bench.events(["resume", "next"]), [])

    def test_garbage_is_answered_and_does_nothing(self):
        self.start_run("--pedal", "none")
        garbage = [b"", b"next", b"{}", b"[]", b"{\"do\": \"nxt\"}", b"{\"do\": \"next\", \"do\": \"next\"}",
                   b"{do: next}", b"{\"do\": [1]}", b"{\"do\": \"back\", \"count\": -1}",
                   b"{\"do\": \"back\", \"count\": \"x\"}", b"{\"do\": \"load\"}", b"{\"do\": \"load\", \"file\": \"x\"}",
                   b"{\"do\": \"next\"} {\"do\": \"next\"}", b"\x00\xff\xfe", b"{\"a\": " * 50,
                   b"{\"do\": \"next\", \"extra\": 1}", b"GET / HTTP/1.1"]
        with self.bench.connect() as connection:
            for line in garbage:
                connection.send(line + b"\n")
                answer = connection.line()
                self.assertIs(answer["ok"], False, line)
                self.assertTrue(answer["error"], line)
            self.assertEqual(connection.ask({"do": "status"})["call"], 1)
        self.assertEqual(self.bench.events(["resume", "next"]), [])

    def test_random_bytes_never_move_the_job(self):
        self.start_run("--pedal", "none")
        dice = random.Random(20261125)
        for _ in range(50):
            with self.bench.connect() as connection:
                connection.send(dice.randbytes(dice.randrange(1, 3000)) + b"\n")
                connection.line()
        with self.bench.connect() as connection:
            self.assertEqual(connection.ask({"do": "status"})["call"], 1)

    def test_long_line_is_refused_and_cut_off(self):
        self.start_run("--pedal", "none")
        with self.bench.connect() as connection:
            connection.send(b"x" * 5000)
            self.assertIn("too long", connection.line()["error"])
            try:
                self.assertIsNone(connection.line())
            except ConnectionResetError:
                pass  # cut off with the rest of the line unread

    def test_floods_hold_up_nobody(self):
        self.start_run("--pedal", "none")
        flood = socket.socket(socket.AF_UNIX)
        flood.connect(str(self.bench.socket_path))
        flood.setblocking(False)
        sent = 0
        slowest = 0.0
        with self.bench.connect() as hand:
            for _ in range(200):
                try:  # never reads an answer
                    sent += flood.send(b"{\"do\": \"status\"}\n" * 200)
                except (BlockingIOError, BrokenPipeError, ConnectionResetError):
                    pass
                before = time.monotonic()
                self.assertTrue(hand.ask({"do": "status"})["ok"])
                slowest = max(slowest, time.monotonic() - before)
        flood.close()
        self.assertGreater(sent, 10000)
        self.assertLess(slowest, 1.0)

    def test_too_many_connections(self):
        self.start_run("--pedal", "none")
        crowd = [self.bench.connect() for _ in range(16)]
        time.sleep(0.2)
        with self.bench.connect() as late:
            self.assertIn("too many", late.line()["error"])
        for connection in crowd:
            connection.close()
        wait_until(self.bench.is_answering, "the daemon does not recover from a crowd")

    def test_second_daemon_is_refused(self):
        self.start_run("--pedal", "none")
        second = self.bench.run("pullcalld", "--sound", "none", "--pedal", "none")
        self.assertEqual(second.returncode, 1)
        self.assertIn('is running; once it is at no job, hand it a job with "pullcall load JOB"', second.stderr)
        # In another session, with the same journal: refused by the journal.
        self.bench.environment["XDG_RUNTIME_DIR"] = str(self.bench.home)
        second = self.bench.run("pullcall", "run", DEMO, "--sound", "none", "--pedal", "none")
        self.assertEqual(second.returncode, 74)

    # ---- ends ----

    def test_sigterm_at_any_moment_loses_no_press(self):
        dice = random.Random(20261125)
        for round_ in range(10):
            self.bench.journal.unlink(missing_ok=True)
            for left in self.bench.home.glob("journal.db-*"):
                left.unlink()
            process = self.start_run("--pedal", "none")
            acknowledged = 0
            end = time.monotonic() + dice.uniform(0.05, 0.8)
            with self.bench.connect() as hand:
                while time.monotonic() < end and acknowledged < 50:
                    if hand.ask({"do": "next"})["ok"]:
                        acknowledged += 1
                    time.sleep(dice.uniform(0, 0.01))
            process.terminate()
            self.assertEqual(process.wait(PATIENCE_S), 0, f"round {round_}")
            written = len(self.bench.events(["resume", "next"]))
            self.assertEqual(written, acknowledged, f"round {round_}")
            self.assertEqual(self.bench.events()[-1][0], "stopped")

    def test_keys_pressed_before_sigterm_are_taken(self):
        process = self.start_run("--pedal", "keys", stdin=subprocess.PIPE)
        process.stdin.write(b" ")
        process.stdin.flush()
        time.sleep(0.3)
        process.send_signal(signal.SIGSTOP)
        process.stdin.write(b"n")
        process.stdin.flush()
        process.terminate()
        process.send_signal(signal.SIGCONT)
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertEqual(self.bench.events(["resume", "next"]), [("resume", 1), ("next", 2)])

    def start_in_terminal(self, *options):
        """A run in a terminal of its own; returns the process and both ends of the terminal."""
        master, slave = os.openpty()
        self.addCleanup(os.close, master)
        self.addCleanup(os.close, slave)
        process = self.bench.start("pullcall", "run", DEMO, *options, stdin=slave, stdout=slave)
        self.bench.wait_for_daemon()
        return process, master, slave

    def test_keys_from_a_pipe_that_ends_end_the_run(self):
        """As in `printf nnn | pullcall run JOB`; the place is kept."""
        process = self.start_run(stdin=subprocess.PIPE)
        for _ in range(3):
            process.stdin.write(b"n")
            process.stdin.flush()
            time.sleep(0.1)
        process.stdin.close()
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertEqual(self.bench.events()[-1], ("stopped", 3))

    def test_keys_from_a_file_wait_for_the_first_call(self):
        """As in `pullcall run JOB < keys.txt`."""
        self.assertEqual(self.bench.run("pullcall", "run", DEMO, "--sound", "none", input="nnn", stdin=None).returncode, 0)
        (self.bench.home / "keys").write_text("n\nn\nn\n", encoding="ascii")
        with open(self.bench.home / "keys", encoding="ascii") as keys:
            self.assertEqual(self.bench.run("pullcall", "run", DEMO, "--new", "--sound", "none", stdin=keys).returncode, 0)
        self.assertEqual(self.bench.events(["stopped"])[-2:], [("stopped", 3), ("stopped", 3)])

    def test_a_run_that_commands_steer_needs_no_keys(self):
        process = self.start_run("--pedal", "none")  # its standard input is /dev/null
        self.assertEqual(self.bench.run("pullcall", "tell", "next").returncode, 0)
        self.assertIsNone(process.poll())

    def test_dumb_terminal_gets_lines(self):
        self.bench.environment["TERM"] = "dumb"
        process, master, _ = self.start_in_terminal("--sound", "none")
        os.write(master, b"q")
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertNotIn(b"\x1b", shown_until(master, b"job ridge-court-0042.* was not begun"))

    def test_q_without_a_sound_device_waits_for_no_last_words(self):
        """With a voice the last words are waited for, for up to 8 s."""
        process, master, _ = self.start_in_terminal("--sound", "device:there is none")
        with self.bench.connect() as hand:
            wait_until(lambda: "there is none" in hand.ask({"do": "status"})["voice"], "the voice is not refused")
        os.write(master, b" q")
        self.assertEqual(process.wait(4), 0)
        self.assertEqual(self.bench.events()[-1], ("stopped", 1))

    def test_what_is_typed_after_q_is_left_for_the_shell(self):
        process, master, slave = self.start_in_terminal("--sound", f"wav:{self.bench.home}/heard.wav")
        os.write(master, b" q")
        wait_until(lambda: self.bench.events(["stopped"]), "q does not stop")
        os.write(master, b"ls -l\n")
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertEqual(os.read(slave, 100), b"ls -l\n")

    def test_killed_job_goes_on_at_the_very_call(self):
        process = self.start_run("--pedal", "none")
        with self.bench.connect() as hand:
            for _ in range(12):
                time.sleep(0.03)
                hand.ask({"do": "next"})
        process.kill()
        process.wait()
        resumed = self.bench.start("pullcall", "run", "--resume", "--sound", "none", "--pedal", "none")
        self.bench.wait_for_daemon()
        with self.bench.connect() as hand:
            status = hand.ask({"do": "status"})
            self.assertEqual((status["call"], status["state"]), (12, "paused"))
            self.assertGreaterEqual(status["worked_s"], 0.3)  # what is in the journal counts
            self.assertEqual(hand.ask({"do": "next"})["call"], 12)
            self.assertEqual(hand.ask({"do": "next"})["call"], 13)
        resumed.terminate()
        self.assertEqual(resumed.wait(PATIENCE_S), 0)

    def go_on(self, bench_file):
        """Resumes the open job and works it off: the words of all calls that are said."""
        process = self.bench.start("pullcall", "run", "--resume", "--sound", "none", "--pedal", "none",
                                   "--bench", bench_file)
        self.bench.wait_for_daemon()
        said = []
        with self.bench.connect() as watcher, self.bench.connect() as hand:
            answer = watcher.ask({"do": "watch"})
            for _ in range(answer["calls"] - answer["call"] + 2):
                self.assertTrue(hand.ask({"do": "next"})["ok"])
            while event := watcher.line():
                if event["event"] == "call":
                    said.append((event["call"], event["text"]))
        self.assertEqual(process.wait(PATIENCE_S), 0)
        return said

    def test_job_goes_on_with_its_own_lines_whatever_changed(self):
        """The reach was raised, so that the string would be too short; the words are others."""
        calls = [(call["n"], call["text"]) for call in self.calls()]
        process = self.start_run("--pedal", "none")
        with self.bench.connect() as hand:
            for _ in range(12):
                hand.ask({"do": "next"})
        process.kill()
        process.wait()
        english = (SOURCE / "voice" / "en.yaml").read_text()
        own = self.bench.home / ".local/share/pullcall/voice"
        own.mkdir(parents=True)
        (own / "xy.yaml").write_text(english.replace("Main {number}", "String {number}"))
        bench = self.bench.home / "bench.yaml"
        bench.write_text("reach: 900 mm\nvoice: { language: xy }\nspeak: { left: far side }\n")
        refused = self.bench.run("pullcall", "run", "--new", DEMO, "--sound", "none", "--pedal", "none", "--bench", bench)
        self.assertIn("length-short", refused.stderr)
        said = self.go_on(bench)
        self.assertEqual(said[1:], calls[12:])  # the first says call 12 again
        self.assertEqual(self.bench.events()[-1], ("finished", len(calls) + 1))

    def leave_at(self, call):
        """A run is ended by a signal at that call."""
        process = self.start_run("--pedal", "none")
        with self.bench.connect() as hand:
            for _ in range(call):
                hand.ask({"do": "next"})
        process.terminate()
        process.wait(PATIENCE_S)

    def leave_a_job_of_another_version(self, plan_change=""):
        """At call 12, with a script that this version cannot read."""
        self.leave_at(12)
        with contextlib.closing(sqlite3.connect(self.bench.journal)) as journal, journal:
            journal.execute("UPDATE script SET packed = CAST(x'01' || substr(packed, 2) AS BLOB)")
            journal.execute("UPDATE job SET plan_text = plan_text || ?", (plan_change,))

    def test_job_of_another_version_goes_on_if_its_calls_are_the_same(self):
        calls = [(call["n"], call["text"]) for call in self.calls()]
        self.leave_a_job_of_another_version()
        bench = self.bench.home / "bench.yaml"
        bench.write_text("{}\n")
        self.assertEqual(self.go_on(bench)[1:], calls[12:])

    def test_job_of_another_version_with_other_calls_says_what_to_do(self):
        self.leave_a_job_of_another_version("checks: { crosses: 2 }\n")
        remedy = 'close it with "pullcall abandon 1 REASON", or begin it again with --new'
        without = ("--sound", "none", "--pedal", "none")
        for what in (DEMO, "--resume"):
            result = self.bench.run("pullcall", "run", what, *without)
            self.assertEqual((result.returncode, len(result.stderr.splitlines())), (1, 1), result.stderr)
            self.assertIn(remedy, result.stderr)
        process = self.bench.start("pullcalld", *without, stderr=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        process.terminate()
        self.assertIn(remedy, process.communicate(timeout=10)[1])
        anew = self.start_run("--pedal", "none", "--new")
        anew.terminate()
        self.assertEqual(anew.wait(PATIENCE_S), 0)
        self.assertEqual(self.bench.run("pullcall", "abandon", "1", "too old").returncode, 0)
        self.assertIn("abandoned", self.bench.run("pullcall", "jobs").stdout)

    def test_same_plan_goes_on_unless_told_to_begin_anew(self):
        self.leave_at(5)
        again = self.start_run("--pedal", "none", stderr=subprocess.PIPE, text=True)
        with self.bench.connect() as hand:
            self.assertEqual(hand.ask({"do": "status"})["call"], 5)
        again.terminate()
        self.assertIn("going on with it", again.communicate(timeout=10)[1])
        anew = self.start_run("--pedal", "none", "--new")
        with self.bench.connect() as hand:
            self.assertEqual(hand.ask({"do": "status"})["call"], 1)
        anew.terminate()
        self.assertEqual(anew.wait(PATIENCE_S), 0)

    # ---- the journal's troubles ----

    def refused_journal(self, code=74):
        result = self.bench.run("pullcall", "run", DEMO, "--sound", "none", "--pedal", "none")
        self.assertEqual(result.returncode, code, result.stderr)
        self.assertTrue(result.stderr.startswith("pullcall: "), result.stderr)
        self.assertEqual(len(result.stderr.splitlines()), 1, result.stderr)
        return result.stderr

    def test_journal_that_is_not_ours(self):
        with sqlite3.connect(self.bench.journal) as other:
            other.execute("CREATE TABLE song (title)")
        other.close()
        self.refused_journal()

    def test_journal_that_is_newer(self):
        process = self.start_run("--pedal", "none")
        process.terminate()
        process.wait(PATIENCE_S)
        with sqlite3.connect(self.bench.journal) as journal:
            version = journal.execute("PRAGMA user_version").fetchone()[0]
            journal.execute(f"PRAGMA user_version = {version + 1}")
        journal.close()
        self.refused_journal()

    def test_journal_that_is_a_folder(self):
        self.bench.journal.mkdir()
        self.refused_journal()

    def run_on_a_full_disk(self, room_kib, *options):
        # A limit of the size of files is a disk that is full.
        result = subprocess.run(["/bin/sh", "-c", f'ulimit -f {2 * room_kib}; trap "" XFSZ; exec "$@"', "sh",
                                 PROGRAMS / "pullcall", "run", DEMO, "--sound", "none", "--pedal", "none",
                                 *options],
                                env=self.bench.environment, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                stderr=subprocess.PIPE, text=True, timeout=30, check=False)
        self.assertEqual(result.returncode, 74, result.stderr)
        return result.stderr

    def test_what_waits_for_a_locked_journal_is_written_without_a_press(self):
        process = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        self.assertEqual(self.bench.run("pullcall", "load", DEMO).returncode, 0)
        tell = lambda *words: self.bench.run("pullcall", "tell", *words).stdout
        for words, kept in ((["next"], "resume"), (["abandon", "frame cracked"], "abandoned")):
            other = sqlite3.connect(self.bench.journal, isolation_level=None)
            other.execute("BEGIN IMMEDIATE")
            tell(*words)
            self.assertNotIn(kept, [kind for kind, _ in self.bench.events()])
            other.execute("ROLLBACK")
            other.close()
            wait_until(lambda: kept in [kind for kind, _ in self.bench.events()], f"{kept} is not written")
        process.terminate()
        self.assertEqual(process.wait(10), 0)

    def test_journal_on_a_full_disk(self):
        self.assertIn("pullcall: ", self.run_on_a_full_disk(0))

    def test_disk_that_is_full_when_the_job_begins(self):
        self.start_run("--pedal", "none").terminate()
        self.bench.running[-1].wait(PATIENCE_S)
        # SQLite's index of 32 KiB finds room, then little else.
        self.assertIn("cannot begin the job", self.run_on_a_full_disk(33, "--new"))

    def test_damaged_journal_is_set_aside_and_work_goes_on(self):
        self.leave_at(9)
        damaged = bytearray(self.bench.journal.read_bytes())
        damaged[4096:20000] = bytes(15904)
        self.bench.journal.write_bytes(damaged)
        again = self.bench.start("pullcall", "run", DEMO, "--pedal", "none", "--sound", f"wav:{self.bench.home}/x.wav",
                                 stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.bench.wait_for_daemon()
        with self.bench.connect() as hand:
            self.assertTrue(hand.ask({"do": "next"})["ok"])  # amid the greeting: the warning is not lost
            time.sleep(6)
            self.assertTrue(hand.ask({"do": "next"})["ok"])
        again.terminate()
        said, told = again.communicate(timeout=10)
        self.assertIn("it was set aside as ", told)
        self.assertEqual(said.count("The journal was damaged and is kept aside."), 2, said)
        aside = [path for path in self.bench.home.glob("journal.db*") if path.read_bytes()[:30000] == damaged[:30000]]
        self.assertEqual(len(aside), 1, list(self.bench.home.iterdir()))
        self.assertEqual(self.bench.events(["resume"]), [("resume", 1)])

    # ---- the service manager ----

    def test_ready_is_notified(self):
        path = self.bench.home / "notify"
        manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.addCleanup(manager.close)
        manager.bind(str(path))
        manager.settimeout(10)
        self.bench.environment["NOTIFY_SOCKET"] = str(path)
        process = self.bench.start("pullcalld", "--sound", f"wav:{self.bench.home}/x.wav", "--pedal", "none",
                                   stderr=subprocess.DEVNULL)
        self.assertIn(b"READY=1", manager.recv(1000))
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertIn(b"STOPPING=1", manager.recv(1000))

    def test_watchdog_gets_signs_of_life(self):
        path = self.bench.home / "notify"
        manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.addCleanup(manager.close)
        manager.bind(str(path))
        manager.settimeout(10)
        self.bench.environment.update(NOTIFY_SOCKET=str(path), WATCHDOG_USEC="600000")
        process = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        said = [manager.recv(1000) for _ in range(4)]
        self.assertGreaterEqual(said.count(b"WATCHDOG=1"), 3, said)
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 0)


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main(verbosity=1)
