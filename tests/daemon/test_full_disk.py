#!/usr/bin/python3 -B
"""Jobs whose journal finds the disk full in their midst: what is said of their place is what is on the disk.

    test_full_disk.py FOLDER_OF_PROGRAMS
"""
import resource
import signal
import subprocess
import sys
import unittest

from programs import DEMO, PATIENCE_S, Bench, wait_until

UNLIMITED = resource.RLIM_INFINITY


class FullDisk(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(sys.argv[1], in_memory=True)
        self.addCleanup(self.bench.close)

    def start(self, *words):
        """The first word is the program. What a write beyond a limit does is what it does on a full disk."""
        process = self.bench.start(*words, "--sound", "none", stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, text=True,
                                   preexec_fn=lambda: signal.signal(signal.SIGXFSZ, signal.SIG_IGN))
        self.bench.wait_for_daemon()
        return process

    def start_run(self, *options, pedal="none"):
        return self.start("pullcall", "run", DEMO, "--pedal", pedal, *options)

    def press(self, times=1):
        with self.bench.connect() as hand:
            answers = [hand.ask({"do": "next"}) for _ in range(times)]
        return answers[-1]

    def fill_disk(self, process):
        size = self.bench.journal.with_name("journal.db-wal").stat().st_size
        resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (size, UNLIMITED))

    def make_room(self, process):
        resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (UNLIMITED, UNLIMITED))

    def last_event(self):
        return self.bench.events()[-1]

    def lose_from_call_3_to_5(self, process):
        self.press(3)
        self.fill_disk(process)
        spoken = self.press()["spoken"]
        self.assertIn("The journal cannot be written. Neither your place nor the times of this job are being saved.", spoken)
        self.assertEqual(self.press()["call"], 5)

    def lost(self, ending):
        """A pattern: how a job ends whose journal has it at call 3."""
        return ending + r" \(journal [^ ]*/journal\.db: cannot write an event: [^)]+\)\. "

    def kept_at_3(self, go_on="run"):
        return self.lost(r"ridge-court-0042 is kept at call 3 of \d+\. What came after, up to call 5, could not "
                         "be saved") + rf"To go on: pullcall {go_on} --resume 1\b"

    # ---- a run ----

    def test_a_run_that_is_left_says_what_is_kept(self):
        def quit_by_key(process):
            process.stdin.write("q")
            process.stdin.flush()

        for how, end in (("q", quit_by_key), ("a signal", lambda process: process.terminate())):
            with self.subTest(how):
                process = self.start_run("--new", pedal="keys")
                self.lose_from_call_3_to_5(process)
                end(process)
                said, told = process.communicate(timeout=PATIENCE_S)
                self.assertEqual(process.returncode, 74, told)
                self.assertRegex(told, "(?m)^pullcall: " + self.kept_at_3().replace("resume 1", r"resume \d"))
                self.assertNotIn("is kept at", said)
                self.assertEqual(self.last_event()[1], 3)

    def test_going_on_begins_where_the_journal_has_the_job(self):
        process = self.start_run()
        self.lose_from_call_3_to_5(process)
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), 74)
        again = self.start("pullcall", "run", "--resume", "1", "--pedal", "none")
        self.assertEqual(self.press()["call"], 3)
        again.terminate()
        self.assertEqual(again.wait(PATIENCE_S), 0)

    def test_all_is_saved_once_there_is_room(self):
        process = self.start_run()
        self.lose_from_call_3_to_5(process)
        self.make_room(process)
        self.assertIn("The journal is being written again.", self.press()["spoken"])
        process.terminate()
        said, told = process.communicate(timeout=PATIENCE_S)
        self.assertEqual(process.returncode, 0, told)
        self.assertIn("is kept at call 6 of ", said)
        self.assertEqual([call for _, call in self.bench.events(["next"])], [2, 3, 4, 5, 6])

    def test_a_finished_job_that_cannot_be_written(self):
        process = self.start_run()
        calls = self.press(3)["calls"]
        self.press(calls - 4)
        self.fill_disk(process)
        self.press(2)
        said, told = process.communicate(timeout=PATIENCE_S)
        self.assertEqual(process.returncode, 74, told)
        self.assertNotIn("is done", said)
        self.assertRegex(told, self.lost(rf"is done, but the journal has it open at call {calls - 1} of {calls}\. What came "
                                         "after could not be saved") + "To close it: pullcall abandon 1 REASON\n")

    # ---- told from elsewhere ----

    def test_tell_says_what_is_kept(self):
        process = self.start_run()
        self.lose_from_call_3_to_5(process)
        told = self.bench.run("pullcall", "tell", "stop")
        self.assertEqual((told.returncode, told.stdout), (74, ""))
        self.assertRegex(told.stderr, "^pullcall: " + self.kept_at_3())
        self.assertEqual(process.wait(PATIENCE_S), 74)

    def test_a_job_that_cannot_be_closed(self):
        process = self.start_run()
        self.lose_from_call_3_to_5(process)
        told = self.bench.run("pullcall", "tell", "abandon", "frame cracked")
        self.assertEqual((told.returncode, told.stdout), (74, ""))
        self.assertRegex(told.stderr, self.lost(r"is still open at call 3 of \d+\. What came after could not be saved") +
                         "To close it: pullcall abandon 1 REASON\n")
        self.assertEqual(process.wait(PATIENCE_S), 74)
        closed = self.bench.run("pullcall", "abandon", "1", "frame cracked")
        self.assertEqual(closed.returncode, 0, closed.stderr)

    # ---- pullcalld ----

    def start_daemon(self):
        process = self.start("pullcalld", "--pedal", "none")
        self.assertEqual(self.bench.run("pullcall", "load", DEMO).returncode, 0)
        return process

    def test_the_daemon_logs_what_is_kept(self):
        process = self.start_daemon()
        self.lose_from_call_3_to_5(process)
        self.assertEqual(self.bench.run("pullcall", "tell", "stop").returncode, 74)
        process.terminate()
        log = process.communicate(timeout=PATIENCE_S)[1]
        self.assertEqual(process.returncode, 74, log)
        self.assertRegex(log, self.kept_at_3("load"))
        self.assertEqual(self.last_event()[1], 3)

    def test_the_daemon_saves_a_job_that_is_over_once_there_is_room(self):
        process = self.start_daemon()
        self.lose_from_call_3_to_5(process)
        self.assertEqual(self.bench.run("pullcall", "tell", "stop").returncode, 74)
        self.make_room(process)
        wait_until(lambda: self.last_event() == ("stopped", 5), "it was never saved")
        process.terminate()
        log = process.communicate(timeout=PATIENCE_S)[1]
        self.assertEqual(process.returncode, 0, log)
        self.assertRegex(log, r"the journal was written: ridge-court-0042 is kept at call 5 of ")


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1] + sys.argv[2:], verbosity=1)
