#!/usr/bin/python3 -B
"""The real programs on a whole machine: kernel, HID, sound card. One scenario a run.

    scenarios.py SCENARIO BUILD_FOLDER WORK_FOLDER
"""
import pathlib
import shutil
import sqlite3
import statistics
import subprocess
import sys
import time

import hearing
import machine
from racket import DAY, PLAN, Failed, Racket, check

sys.path.append(str(pathlib.Path(__file__).parents[1] / "daemon"))
from programs import Bench, wait_until  # noqa: E402: the folder had to be named first


def sql(journal, query):
    with sqlite3.connect(journal) as database:
        return database.execute(query).fetchall()


def whole_job(build, work):
    """Every call of a 16x19 is heard, in order; one press, one call; the journal has each once."""
    with Racket(build, work) as racket:
        count = len(racket.calls)
        for number in range(1, count + 1):
            racket.press(number)
        racket.machine.press("b")
        racket.end("0")
    racket.check_words()
    racket.check_typed()
    # The first press begins.
    racket.check_journal([("started", 1), ("resume", 1), *(("next", call) for call in range(2, count + 2)),
                          ("finished", count + 1)])
    said = [call for kind, call in racket.events() if kind == "announced"]
    check(said == list(range(1, count + 1)), f"announced, says the journal: {said}")
    print(f"{count} calls; press to sound: median {1000 * statistics.median(racket.delays):.0f} ms, "
          f"longest {1000 * max(racket.delays):.0f} ms, the sound card's buffer included")
    check(max(racket.delays) < 0.8 and statistics.median(racket.delays) < 0.15, "too late")


def gestures(build, work):
    """One pedal: bounce is one press, a double tap says the call again, two in a row the one before, a hold pauses."""
    with Racket(build, work) as racket:
        press = racket.machine.press
        for number in (1, 2, 3):
            racket.press(number)
        racket.listen(racket.calls[3], lambda: press("b", 8, 8, 100))
        racket.listen(racket.calls[3], lambda: press("b", 60, 60), 0.12)
        racket.listen(racket.calls[2], lambda: press("b", 60, 60, 60, 60), 0.36)
        racket.listen("Paused at getting ready, step three of nine.", lambda: press("b", 900), 0.50)
        racket.press(3)
        racket.machine.reply("stop")
        racket.end("0")
    racket.check_words()
    racket.check_typed()
    racket.check_journal([("started", 1), ("resume", 1), ("next", 2), ("next", 3), ("next", 4),
                          ("next", 5), ("undo", 4), ("again", 4),
                          ("next", 5), ("undo", 4), ("again", 4), ("next", 5), ("undo", 4), ("back", 3),
                          ("next", 4), ("undo", 3), ("pause", 3), ("resume", 3), ("stopped", 3)])


def three_keys(build, work):
    """Three pedals: each has one meaning; two at once count as two presses."""
    with Racket(build, work, "{ A: back, B: next, C: again }") as racket:
        for number, key in ((1, "b"), (2, "b"), (3, "b"), (3, "c"), (2, "a"), (3, "b"), (4, "b")):
            racket.press(number, key)

        def both():
            racket.machine.key("c", True)
            racket.machine.key("b", True)
            racket.machine.key("c", False)
            racket.machine.key("b", False)
        racket.listen(racket.calls[4], both, 0.02)
        racket.machine.reply("stop")
        racket.end("0")
    racket.check_words()
    racket.check_typed()
    racket.check_journal([("started", 1), ("resume", 1), ("next", 2), ("next", 3), ("again", 3), ("back", 2),
                          ("next", 3), ("next", 4), ("again", 4), ("next", 5), ("stopped", 5)])


def unplugged(build, work):
    """Twenty times, in the middle of a call: the loss is said, then the return and the call; the next press counts.
    The last time it is another unit of the same kind that comes."""
    lost, back = "The pedal is unplugged. The job waits.", "The pedal is back."
    wanted = [("started", 1), ("fault", 1), ("mended", 1)]
    with Racket(build, work) as racket:
        length_s = racket.unplug(lost)
        racket.listen(back, lambda: racket.machine.plug("1"))
        for number in range(1, 21):
            racket.press_and_unplug(lost, length_s)
            racket.listen(f"{back} {racket.calls[number - 1]}",
                          lambda: racket.machine.plug("2" if number == 20 else "1"))
            wanted += [("next" if number > 1 else "resume", number), ("fault", number), ("mended", number)]
        racket.press(21)
        racket.machine.reply("stop")
        racket.end("0")
    racket.check_words()
    racket.check_typed()
    racket.check_journal([*wanted, ("next", 21), ("stopped", 21)])


def reset(build, work):
    """The machine is reset hard as soon as a press is acknowledged, and boots again from the same disk: twice."""
    disk = pathlib.Path(work) / "disk"
    disk.parent.mkdir(parents=True, exist_ok=True)
    machine.make_disk(disk)
    with Racket(build, work, disk=disk) as racket:
        racket.press(1)
        racket.press(2)
        for number in (3, 4):
            racket.machine.press("b")
            racket.machine.wait_for(f" {number}/{len(racket.calls)}  [next]")
            racket.machine.reset()
            racket.begin()
            racket.press(number)
        racket.machine.reply("stop")
        racket.end("0")
    racket.check_words()
    racket.check_typed()
    racket.check_journal([("started", 1), ("resume", 1), ("next", 2),
                          ("next", 3), ("started", 3), ("resume", 3),
                          ("next", 4), ("started", 4), ("resume", 4), ("stopped", 4)])


def redo(build, work):
    """One pedal alone: at cross six a misweave in cross three is seen. One long hold and one press: three crosses come
    out and go in again, each call heard in order."""
    with Racket(build, work) as racket:
        at = next(number for number, call in enumerate(racket.calls, 1) if call.startswith("Cross six "))
        for number in range(1, at + 1):
            racket.press(number)

        def hold_on():
            """Paused after half a second; a second and a half later a string is said, after a silence."""
            racket.machine.press("b", 2600)
            racket.machine.wait_for("Redo cross three.", 20)
            racket.ear.wait_onset(racket.ear.listen(), 20)

        racket.listen("Redo cross three.", hold_on, 2.0)
        first = len(racket.cuts)
        racket.listen("", lambda: racket.machine.press("b"))
        for _ in range(14):
            racket.listen("", lambda: racket.machine.press("b"))
        racket.machine.reply("stop")
        racket.end("0")
    journal = racket.work / "journal.db"
    mishap, = sql(journal, "SELECT kind, string, number, made, found, undone FROM mishap")
    check(mishap[:3] == ("redo", "cross", 3) and mishap[4:] == (at, 3), f"the journal's mishap is {mishap}")
    made, = sql(journal, f"SELECT string, number FROM call WHERE n = {mishap[3]}")
    check(made == ("cross", 3), f"made in a call about {made}")
    calls = sql(journal, "SELECT n, text, string, number FROM call WHERE n > (SELECT first - 1 FROM mishap) ORDER BY n")
    again = [number for _, _, string, number in calls if string == "cross"]
    check(all(number in again for number in range(3, 20)), f"the rest of the job is about crosses {again}")
    said = len(racket.cuts) - first
    racket.cuts[first:] = [(start, end, text) for (start, end, _), (_, text, _, _)
                           in zip(racket.cuts[first:], calls[:said], strict=True)]
    racket.check_words()
    racket.check_typed()
    announced = [call for kind, call in racket.events() if kind == "announced"]
    check(announced[-said:] == [number for number, _, _, _ in calls[:said]], f"announced, says the journal: {announced}")


class Day(Racket):
    """Several small rackets by the presses of one pedal. What is said is read, not heard: a day would take too long."""
    names = ("ash", "birch", "cedar", "dogwood", "elm")

    def __init__(self, build, work):
        super().__init__(build, work, script=DAY)
        shutil.copy(pathlib.Path(__file__).parent / "small-6x5.yaml", self.work)
        rows = [f"{name},small-6x5,kim,24 lb,23 lb,quick\n" for name in self.names]
        (self.work / "rack.csv").write_text("job,pattern,stringer,tension/mains,tension/crosses,detail\n" + "".join(rows))

    def begin(self):
        self.machine.wait_for("5 added")
        self.machine.wait_for("Five jobs on the rack")
        self.ear.wait_onset(self.ear.listen(), 30)
        self.ear.wait_quiet(0.45)

    def act(self, text, *holds_ms):
        """One press, what it is to bring about, and time enough that the next press is another one."""
        self.machine.press("b", *holds_ms)
        line = self.machine.wait_for(text, 60)
        until = self.ear.listen() + 0.5
        while self.ear.listen() < until:
            time.sleep(0.01)
        return line

    def take(self, name, said="Next, job"):
        self.act(f"{said} {name}")
        self.act(f"job {name}")

    def string(self, first):
        """From that call to the last knot."""
        count = int(self.act(f" {first}/").split("/")[1].split()[0])
        for number in range(first + 1, count + 1):
            self.act(f" {number}/{count}")
        self.act("That was the last call")


def rack(build, work):
    """Five rackets from a table to the last knot by one pedal alone; one is passed over, one left for later."""
    with Day(build, work) as day:
        day.act("Next, job ash")
        day.act("Next, job birch", 900)
        day.act("job birch")
        for number in range(1, 9):
            day.act(f" {number}/")
        day.act("Paused", 900)
        day.act("Redo a string", 900)
        for choice in ("slipped", "broke", "Why", "Fuller", "Louder", "Softer", "next on the rack", "for later"):
            day.act(choice)
        day.act("Five jobs on the rack", 900)
        for name in ("ash", "cedar", "dogwood", "elm"):
            day.take(name)
            day.string(1)
        day.take("birch")
        day.string(8)
        day.act("Nothing waits on the rack")
        day.machine.reply("stop")
        day.end("0")
    journal = day.work / "journal.db"
    ends = sql(journal, "SELECT name, state, runs FROM job JOIN job_state ON job = id ORDER BY last_wall_us")
    check(ends == [("ash", "finished", 1), ("cedar", "finished", 1), ("dogwood", "finished", 1), ("elm", "finished", 1),
                   ("birch", "finished", 2)], f"the journal says {ends}")
    missed = sql(journal, "SELECT name FROM job WHERE calls <> (SELECT count(DISTINCT call) FROM event "
                          "WHERE job = id AND kind = 'next')")
    check(not missed, f"not every call was answered: {missed}")
    check(not sql(journal, "SELECT * FROM rack"), "something is left on the rack")


def string_three(build, path):
    """The journal of a trainee who strung three rackets without a fault: all skills are asked by now."""
    bench = Bench(pathlib.Path(build) / "bin")
    try:
        bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        bench.wait_for_daemon()
        for number in range(3):
            plan = bench.home / f"{number}.yaml"
            plan.write_text(f"{PLAN.read_text()}\nteach: yes\n".replace("ridge-court-0042", f"practice-{number}"))
            with bench.connect() as hand:
                check(hand.ask({"do": "load", "file": str(plan)})["ok"], "the daemon takes no job")
                while hand.ask({"do": "next"})["state"] != "ending":
                    pass
        wait_until(lambda: not sql(bench.journal, "SELECT 1 FROM job_state WHERE state = 'open'"), "a racket stays open")
        backup = bench.run("pullcall", "journal", "backup", path)
        check(backup.returncode == 0, backup.stderr)
    finally:
        bench.close()


def taught(build, work):
    """A trainee answers by pedal alone: had it, too late, had it not. What is asked and answered is heard, and the journal
    has each as it was."""
    past = pathlib.Path(work) / "practised.db"
    past.parent.mkdir(parents=True, exist_ok=True)
    string_three(build, past)
    with Racket(build, work, past=past) as racket:
        def hear(text, *press, skip_s=0.0):
            racket.listen(text, lambda: racket.machine.press("b", *press), skip_s)

        hear("Put on eye protection. Have the makers' instructions at hand. They come first.")
        hear("The old bed. What do you do before you cut it out?")
        hear("Compare and photograph the old bed.")
        hear("Look for cracks in the frame and the grommets. If you find one, stop and ask.")
        hear("Cut out the old strings. Where do you begin, and in what order?")
        racket.listen("Cut out from the centre, mains and crosses by turns.", lambda: None)  # by itself
        for _ in range(3):  # after a fault the answer follows its question at once
            hear("")
            time.sleep(6)
            racket.cuts.pop()
        hear("Mount the frame. What must stay uncovered?")
        hear("Mount the frame, no hole covered.")
        hear("Seat the frame with no hole under a mount. Left and right are as you see them with the head away from you.",
             60, 60, skip_s=0.12)
        racket.machine.reply("stop")
        racket.end("0")
    racket.check_words()
    racket.check_typed()
    job, = sql(racket.work / "journal.db", "SELECT max(job) FROM event")
    got = sql(racket.work / "journal.db", f"SELECT kind, call, detail FROM event WHERE job = {job[0]} "
              "AND kind NOT IN ('announced', 'fault', 'mended') ORDER BY seq")
    wanted = [("started", 1, "teaching"), ("resume", 1, None), ("next", 2, None), ("answered", 2, "pressed"), ("right", 3, None),
              ("next", 4, None), ("answered", 4, "late"), ("next", 5, None), ("right", 6, None), ("right", 7, None),
              ("right", 8, None), ("answered", 8, "pressed"), ("right", 9, None), ("undo", 8, None),
              ("wrong", 8, None), ("stopped", 8, None)]
    check(got == wanted, f"the journal holds {got}, not {wanted}")


SCENARIOS = {"rack": rack, "whole-job": whole_job, "gestures": gestures, "three-keys": three_keys, "unplugged": unplugged,
             "reset": reset, "redo": redo, "taught": taught}


def main():
    if len(sys.argv) != 4 or sys.argv[1] not in SCENARIOS:
        sys.exit(f"usage: scenarios.py {'|'.join(SCENARIOS)} BUILD_FOLDER WORK_FOLDER")
    try:
        SCENARIOS[sys.argv[1]](sys.argv[2], sys.argv[3])
    except (Failed, machine.RigError, hearing.NotHeard) as fault:
        sys.exit(f"{sys.argv[1]}: {fault}\nLook in {sys.argv[3]}")


if __name__ == "__main__":
    main()
