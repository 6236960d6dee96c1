#!/usr/bin/python3 -B
"""Going back with work undone, on the real daemon: refused or carried out, never a wrong place, nothing lost.

    test_mishaps.py FOLDER_OF_PROGRAMS
"""
import pathlib
import shutil
import sqlite3
import subprocess
import sys
import unittest

from programs import DEMO, PATIENCE_S, Bench

PROGRAMS = None
NONSENSE = ["", " ", "cross", "cros 9", "cross 0", "cross -1", "cross 99", "cross 9.5", "cross 9 left", "cross nine", "main", "main 4",
            "main 4 middle", "main 0 left", "main 9 left", "main 4 left left", "9", "cross 99999999999999999999", "x" * 300, "ä 9", "cross 9;"]


class MishapTest(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS, in_memory=True)
        self.addCleanup(self.bench.close)

    def start(self):
        daemon = self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        hand = self.bench.connect()
        self.addCleanup(hand.close)
        return daemon, hand

    def rows(self, sql):
        with sqlite3.connect(f"file:{self.bench.journal}?mode=ro", uri=True) as journal:
            rows = journal.execute(sql).fetchall()
        journal.close()
        return rows

    def begin(self):
        daemon, hand = self.start()
        self.assertTrue(hand.ask({"do": "load", "file": str(DEMO)})["ok"])
        return daemon, hand

    def until(self, hand, words):
        """Presses until a call begins with these words."""
        for _ in range(200):
            answer = hand.ask({"do": "next"})
            if answer.get("text", "").startswith(words):
                return answer
        self.fail(f"no call \"{words}\"")

    def check_place(self, hand):
        """The daemon and the journal agree where the job is, and what is said there."""
        status = hand.ask({"do": "status"})
        (kind, call), = self.rows("SELECT kind, call FROM event ORDER BY job DESC, seq DESC LIMIT 1")
        found = self.rows(f"SELECT coalesce(place, n), text FROM call WHERE n = {call} ORDER BY job DESC LIMIT 1")
        if found:
            self.assertEqual((status["call"], status["text"]), found[0], kind)
        else:
            self.assertEqual(status["call"], status["calls"] + 1)
        return status

    def finish(self, hand):
        """Goes on to the end of the job; how often each cross is pulled on the way."""
        for _ in range(400):
            status = self.check_place(hand)
            if status["call"] >= status["calls"]:
                break
            self.assertTrue(hand.ask({"do": "next"})["ok"])
        status = hand.ask({"do": "status"})
        self.assertEqual((status["mains_left"], status["crosses_left"]), (0, 0))
        hand.ask({"do": "next"})
        self.assertEqual(self.rows("SELECT kind FROM event ORDER BY job DESC, seq DESC LIMIT 1"), [("finished",)])


class Refused(MishapTest):
    def test_nonsense(self):
        _, hand = self.begin()
        self.until(hand, "Cross twelve")
        before = hand.ask({"do": "status"})["call"], len(self.bench.events())
        for text in NONSENSE:
            answer = hand.ask({"do": "redo", "string": text})
            self.assertFalse(answer["ok"], text)
            self.assertTrue(answer["error"])
            status = self.check_place(hand)
            self.assertEqual((status["call"], len(self.bench.events())), before, text)
        for request in ({"do": "redo"}, {"do": "redo", "string": 9}, {"do": "redo", "string": ["cross 9"]}):
            self.assertFalse(hand.ask(request)["ok"])
        told = self.bench.run("pullcall", "tell", "redo", "cross", "99")
        self.assertEqual(told.returncode, 1)
        self.assertIn("this frame has 19 crosses", told.stderr)
        self.assertEqual(self.bench.run("pullcall", "tell", "redo").returncode, 2)

    def test_without_a_job(self):
        _, hand = self.start()
        for request in ({"do": "redo", "string": "cross 9"}, {"do": "slipped"}, {"do": "broke"}):
            self.assertEqual(hand.ask(request), {"ok": False, "error": "no job is running"})

    def test_at_the_first_call_and_past_the_last(self):
        _, hand = self.begin()
        self.assertFalse(hand.ask({"do": "redo", "string": "cross 9"})["ok"])
        hand.ask({"do": "next"})
        self.assertFalse(hand.ask({"do": "redo", "string": "main 1 left"})["ok"])
        self.check_place(hand)

    def test_at_the_last_calls(self):
        """Refused or carried out; never something in between."""
        _, hand = self.begin()
        self.until(hand, "Tie off cross")
        while True:
            status = self.check_place(hand)
            calls = status["calls"]
            answer = hand.ask({"do": "redo", "string": "cross 9"})
            status = self.check_place(hand)
            if answer["ok"]:
                self.assertGreater(status["calls"], calls)
                self.finish(hand)
                break
            self.assertEqual(status["calls"], calls)
            if status["call"] == calls:
                break
            hand.ask({"do": "next"})


class CarriedOut(MishapTest):
    def test_a_redo_and_the_rest_of_the_job(self):
        _, hand = self.begin()
        before = self.until(hand, "Cross twelve")
        answer = hand.ask({"do": "redo", "string": "cross 9"})
        self.assertTrue(answer["ok"], answer)
        self.assertEqual((answer["state"], answer["call"]), ("calling", before["call"] + 1))
        self.check_place(hand)
        (mishap,) = self.rows("SELECT kind, string, number, found, first, undone FROM mishap")
        self.assertEqual(mishap[:4], ("redo", "cross", 9, before["call"]))
        self.assertEqual(self.rows(f"SELECT kind, call, detail FROM event WHERE kind = 'mishap'"),
                         [("mishap", mishap[4], "redo cross 9")])
        self.assertEqual(self.rows("SELECT text FROM call WHERE n = (SELECT made FROM mishap)")[0][0][:10], "Cross nine")
        # `back` and `again` work in the middle of it.
        first = answer["text"]
        second = hand.ask({"do": "next"})["text"]
        self.assertEqual(hand.ask({"do": "back"})["text"], first)
        self.assertEqual(hand.ask({"do": "again"})["text"], first)
        self.assertEqual(hand.ask({"do": "next"})["text"], second)
        self.until(hand, "Cross twelve")
        lost = self.rows("SELECT work_us FROM mishap_time")[0][0]
        self.assertGreater(lost, 0)
        self.finish(hand)
        # What follows is no longer lost.
        after = self.rows("SELECT work_us FROM mishap_time")[0][0]
        self.assertLess(after, self.rows("SELECT work_us FROM job_time")[0][0])
        for review in ([], ["ridge-court-0042"]):
            said = self.bench.run("pullcall", "review", *review).stdout
            self.assertRegex(said, r"Lost to mistakes +0:0\d, 1 time; strings done again: 3", said)

    def redo_in_place_of_a_redo(self, out):
        """Another string is chosen when so many are out: each that came out counts once."""
        _, hand = self.begin()
        self.until(hand, "Cross twelve")
        self.assertTrue(hand.ask({"do": "redo", "string": "cross 9"})["ok"])
        while len(self.taken_out()) < out:
            hand.ask({"do": "next"})
        self.assertTrue(hand.ask({"do": "redo", "string": "cross 7"})["ok"])
        self.until(hand, "Cross twelve")
        self.assertEqual(sorted(self.taken_out()), [7, 8, 9, 10, 11])
        for review in ([], ["ridge-court-0042"]):
            if not review:
                self.finish(hand)
            self.assertRegex(self.bench.run("pullcall", "review", *review).stdout, r", 2 times; strings done again: 5\n")

    def taken_out(self):
        """The crosses that were taken out, by the presses that went on from these calls."""
        return [row[0] for row in self.rows(
            "SELECT c.number FROM event AS e JOIN event AS p ON p.job = e.job AND p.seq = e.seq - 1 "
            "JOIN call AS c ON c.job = p.job AND c.n = p.call WHERE e.kind = 'next' AND c.kind = 'take-out' ORDER BY e.seq")]

    def test_a_redo_in_place_of_a_redo_before_any_string_is_out(self):
        self.redo_in_place_of_a_redo(0)

    def test_a_redo_in_place_of_a_redo_when_a_string_is_out(self):
        self.redo_in_place_of_a_redo(1)

    def test_what_an_earlier_way_back_was_taking_out_still_comes_out(self):
        _, hand = self.begin()
        self.until(hand, "Cross twelve")
        begun = "First cross twelve out, as far as it is woven."
        self.assertEqual(hand.ask({"do": "redo", "string": "cross 9"})["text"], begun)
        self.assertEqual(hand.ask({"do": "redo", "string": "cross 11"})["text"], begun)
        # The call that is given up may have pulled the next one.
        self.assertEqual(hand.ask({"do": "slipped"})["text"],
                         "Pull cross ten again or the next one if it is pulled. Clean and adjust the clamp, then clamp.")
        self.assertTrue(hand.ask({"do": "next"})["text"].startswith("Watch the clamp."))
        self.assertEqual(hand.ask({"do": "redo", "string": "cross 10"})["text"], begun)
        self.assertEqual(hand.ask({"do": "next"})["text"], "Cross eleven out. Look for notches.")
        self.finish(hand)

    def test_the_tension_after_a_string_broke_is_set_and_not_set_back(self):
        for at, said in (("Cross twelve", "Crosses fifty two pounds, as set, prestretch off."),
                         ("Main five left", "Set fifty four pounds for the mains, fingers out of the tension head.")):
            daemon, hand = self.begin()
            self.until(hand, at)
            hand.ask({"do": "broke"})
            calls = [hand.ask({"do": "next"})["text"] for _ in range(8)]
            self.assertIn(said, calls)
            self.assertFalse([call for call in calls if call.startswith("Back to ")], calls)
            hand.ask({"do": "abandon", "reason": "enough"})
            hand.close()
            daemon.terminate()
            daemon.wait()

    def test_a_clamp_that_slips_at_the_release(self):
        """The pull is not taken for held: the string is released and pulled again."""
        plan = self.bench.home / "learner.yaml"
        plan.write_text(DEMO.read_text(encoding="utf-8").replace("detail: bench", "detail: learner"), encoding="utf-8")
        _, hand = self.start()
        self.assertTrue(hand.ask({"do": "load", "file": str(plan)})["ok"])
        self.until(hand, "Clamp main three left")
        self.until(hand, "Release the tension head")
        calls = [hand.ask({"do": "slipped"})["text"], *(hand.ask({"do": "next"})["text"] for _ in range(6))]
        begins = ("Release the tension head", "Pull main three left", "The pull still holds. Take the clamp off main three left",
                  "Clean the clamp", "Clamp main three left", "Release the tension head", "Watch the clamp")
        for call, words in zip(calls, begins):
            self.assertTrue(call.startswith(words), calls)
        self.finish(hand)

    def test_called_off(self):
        """At the first call of the way back, `back` is as if it had not begun; the journal knows both."""
        daemon, hand = self.begin()
        before = self.until(hand, "Cross twelve")
        first = hand.ask({"do": "redo", "string": "cross 9"})
        self.assertEqual(first["text"], "First cross twelve out, as far as it is woven.")
        again = hand.ask({"do": "back"})
        for key in ("call", "calls", "text", "next", "crosses_left", "in_bed"):
            self.assertEqual(again[key], before[key], key)
        self.assertEqual(self.rows("SELECT kind, detail FROM event WHERE kind IN ('mishap', 'undo')"),
                         [("mishap", "redo cross 9"), ("undo", "redo cross 9")])
        self.assertEqual(self.rows("SELECT count(*) FROM mishap"), [(0,)])
        self.assertEqual(self.rows("SELECT count(*) FROM call WHERE mishap IS NOT NULL"), [(0,)])
        self.check_place(hand)
        # Killed, it goes on there; the next way back is the first.
        hand.close()
        daemon.kill()
        daemon.wait()
        _, hand = self.start()
        self.assertEqual(self.check_place(hand)["text"], before["text"])
        hand.ask({"do": "resume"})
        self.assertTrue(hand.ask({"do": "redo", "string": "cross 7"})["ok"])
        self.assertEqual(self.rows("SELECT n, number FROM mishap"), [(1, 7)])
        # Gone on from, it can only be stepped back over.
        hand.ask({"do": "next"})
        self.assertNotIn("said", hand.ask({"do": "back"}))
        told = self.bench.run("pullcall", "tell", "back").stdout
        self.assertEqual(told, f"ridge-court-0042: {before['call']}/{hand.ask({'do': 'status'})['calls']}  {before['text']} "
                               "The way back still stands. If no string came out, press on through it.\n")
        self.assertEqual(hand.ask({"do": "status"})["text"], before["text"])
        self.assertEqual(self.rows("SELECT count(*) FROM mishap"), [(1,)])
        self.finish(hand)

    def test_called_off_after_a_restart(self):
        daemon, hand = self.begin()
        before = self.until(hand, "Cross twelve")
        hand.ask({"do": "redo", "string": "cross 9"})
        hand.close()
        daemon.kill()
        daemon.wait()
        _, hand = self.start()
        self.check_place(hand)
        self.assertEqual(hand.ask({"do": "back"})["text"], before["text"])
        self.assertEqual(self.rows("SELECT count(*) FROM mishap"), [(0,)])
        self.finish(hand)

    def test_gone_on_from_it_still_stands_after_a_restart(self):
        daemon, hand = self.begin()
        before = self.until(hand, "Cross twelve")
        first = hand.ask({"do": "redo", "string": "cross 9"})["text"]
        hand.ask({"do": "next"})
        self.assertEqual(hand.ask({"do": "back"})["text"], first)
        hand.close()
        daemon.kill()
        daemon.wait()
        _, hand = self.start()
        self.assertEqual(hand.ask({"do": "next"})["text"], first)
        back = hand.ask({"do": "back"})
        self.assertEqual(back["text"], before["text"])
        self.assertIn("The way back still stands", back["said"])
        self.assertEqual(self.rows("SELECT count(*) FROM mishap"), [(1,)])
        self.finish(hand)

    def test_twice_and_during_another(self):
        _, hand = self.begin()
        self.until(hand, "Cross twelve")
        self.assertTrue(hand.ask({"do": "redo", "string": "cross 9"})["ok"])
        hand.ask({"do": "redo", "string": "cross 9"})
        self.check_place(hand)
        self.until(hand, "Cross ten")
        self.assertTrue(hand.ask({"do": "redo", "string": "cross 5"})["ok"])
        self.check_place(hand)
        self.until(hand, "Cross seven")
        self.assertTrue(hand.ask({"do": "redo", "string": "cross 6"})["ok"])
        self.check_place(hand)
        self.finish(hand)

    def test_slipped_and_broke(self):
        for what in ("slipped", "broke"):
            _, hand = self.begin()
            self.until(hand, "Cross twelve")
            answer = hand.ask({"do": what})
            self.assertTrue(answer["ok"], answer)
            self.check_place(hand)
            self.finish(hand)
            hand.close()
            self.assertEqual(self.rows("SELECT kind FROM mishap ORDER BY job DESC LIMIT 1"), [(what,)])
            self.bench.running[-1].kill()
            self.bench.running[-1].wait()

    def test_after_stepping_back_over_an_earlier_repair(self):
        """Where hands can be anywhere, a way back is worked out or refused; the daemon and the place stay."""
        for first, steps_back, second in (("redo cross 2", 3, "slipped"), ("redo cross 2", 1, "slipped"),
                                          ("broke", 4, "slipped"), ("slipped", 2, "redo cross 2")):
            with self.subTest(first):
                daemon, hand = self.begin()
                self.until(hand, "Cross nine")
                self.assertTrue(self.ask(hand, first)["ok"])
                hand.ask({"do": "next"})
                hand.ask({"do": "back", "count": steps_back})
                answer = self.ask(hand, second)
                self.assertTrue(answer["ok"] or "stepped back over an earlier repair" in answer["error"], answer)
                self.assertIsNone(daemon.poll())
                self.check_place(hand)
                hand.ask({"do": "abandon", "reason": "enough"})
                daemon.terminate()
                daemon.wait(PATIENCE_S)

    @staticmethod
    def ask(hand, words):
        verb, _, string = words.partition(" ")
        return hand.ask({"do": verb, "string": string} if string else {"do": verb})

    def test_chosen_by_pedal(self):
        """With the gestures of two or three pedals: `again` held, then again, next, next, again."""
        _, hand = self.begin()
        call = self.until(hand, "Cross fourteen")["call"]
        for verb in ("choices", "again", "next", "next", "again"):
            answer = hand.ask({"do": verb})
        self.assertEqual((answer["state"], answer["call"]), ("calling", call + 1))
        self.assertEqual(self.rows("SELECT kind, string, number FROM mishap"), [("redo", "cross", 9)])
        self.finish(hand)

    def test_what_cannot_be_done_is_said(self):
        _, hand = self.begin()
        hand.ask({"do": "next"})
        for verb in ("choices", "next"):
            hand.ask({"do": verb})
        answer = hand.ask({"do": "again"})  # a clamp slipped, before there is one
        self.assertEqual(answer["state"], "paused")
        self.assertEqual(answer["said"],
                         "No clamp holds a string now. If one came loose, look which, and redo that string.")
        self.assertEqual(self.rows("SELECT count(*) FROM mishap"), [(0,)])


class Killed(MishapTest):
    def test_at_every_event(self):
        daemon, hand = self.begin()
        self.until(hand, "Cross twelve")
        hand.close()
        daemon.kill()
        daemon.wait()
        kept = self.bench.home / "kept"
        kept.mkdir()
        for file in self.bench.home.glob("journal.db*"):
            shutil.copy(file, kept)
        done = set()
        for events in range(16):
            for file in kept.glob("journal.db*"):
                shutil.copy(file, self.bench.home)
            daemon, hand = self.start()
            with self.bench.connect() as watcher:
                watcher.ask({"do": "watch"})
                for request in ({"do": "next"}, {"do": "redo", "string": "cross 9"}, {"do": "next"}, {"do": "next"},
                                {"do": "redo", "string": "cross 4"}, {"do": "back"}):
                    hand.send(str(request).replace("'", '"').encode() + b"\n")
                for _ in range(events):
                    watcher.line()
                daemon.kill()
            daemon.wait()
            hand.close()
            daemon, hand = self.start()
            status = self.check_place(hand)
            mishaps = self.rows("SELECT count(*) FROM mishap")[0][0]
            done.add(mishaps)
            self.assertEqual(self.rows("SELECT sum(kind = 'mishap') - sum(kind = 'undo') FROM event")[0][0], mishaps)
            self.assertEqual(status["calls"], self.rows(
                "SELECT place FROM call JOIN job ON job.id = call.job AND call.n = job.calls")[0][0])
            hand.ask({"do": "next"})
            self.check_place(hand)
            if events % 5 == 0:
                self.finish(hand)
            hand.close()
            daemon.kill()
            daemon.wait()
            for file in self.bench.home.glob("journal.db*"):
                file.unlink()
        self.assertGreaterEqual(len(done), 2, done)


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main(verbosity=2)
