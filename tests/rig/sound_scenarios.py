#!/usr/bin/python3 -B
"""What a sound server and a speaker can do to a job, on a sound bench. One scenario a run.

    sound_scenarios.py speaker|server|late BUILD_FOLDER WORK_FOLDER
    sound_scenarios.py soak BUILD_FOLDER WORK_FOLDER KILLS

After each mishap the current call is said again within a second of sound being possible; the daemon answered a question
every 50 ms all the while; no press is missing in the journal; memory, processor time and log stay small.
"""
import json
import os
import pathlib
import signal
import subprocess
import sys
import threading
import time

import hearing
import sound
from steered import Steered

PLAN = pathlib.Path(__file__).resolve().parents[2] / "demo/ridge-court.yaml"
SOON_S = 1.0
# An answer that waited for the sound would take longer; a busy host may take this long.
ANSWER_S = 0.25
OWN_KIB = 16 * 1024
LOG_BYTES = 64 * 1024
QUIET_S = 0.45
FADE_S = 0.010


class Failed(Exception):
    """What the product did is not what was promised."""


def check(true, what):
    if not true:
        raise Failed(what)


class Stringing:
    """A job on the bench: steered, heard, and held to its promises."""

    def __init__(self, bench, build, work):
        self.bench, self.work = bench, work
        steps = subprocess.run([f"{build}/bin/pullcall", "steps", PLAN, "--json"], capture_output=True, check=True)
        self.calls = [call["text"] for call in json.loads(steps.stdout)["calls"]]
        self.steered = Steered(bench, build, PLAN)
        self.call = 0
        self.presses = []

    def press(self, name):
        self.steered.say(name)
        self.call += {"next": 1, "again": 0, "back": -1}[name]
        self.presses.append(("resume" if not self.presses else name, self.call))

    def next(self, recorder=None):
        """A press; with a recorder, its call is heard out and understood."""
        start = recorder.listen() if recorder else 0
        self.press("next")
        if recorder:
            self.understand(recorder, start)

    def understand(self, recorder, start):
        recorder.wait_onset(start, 5)
        recorder.wait_quiet(QUIET_S)
        wav = self.work / "heard.wav"
        subprocess.run(["sox", "-t", "raw", "-r", str(hearing.RATE_HZ), "-e", "signed", "-b", "16", "-c", "2",
                        recorder.path, wav], check=True)
        got, = hearing.recognise(wav, [(start, recorder.now)], self.calls, self.work / "recogniser")
        wanted = self.calls[self.call - 1]
        check(got == " ".join(hearing.words_of(wanted)), f"heard {got!r}, not {wanted!r}")

    def again_within(self, possible, what):
        """The current call is announced again soon after that time. When it was."""
        came = self.steered.wait_event(possible, event="record", name="announced", call=self.call)
        print(f"{what}: said again after {1000 * (came - possible):.0f} ms")
        check(came - possible < SOON_S, f"{what}: the call was said again after {came - possible:.2f} s")
        return came

    def end(self, cpu_share):
        steered = self.steered
        seconds = len(steered.answers) * 0.05
        cpu_s, own_kib, log_bytes = steered.cpu_s(), steered.own_kib(), steered.errors.stat().st_size
        steps = [event for event in steered.stop() if event[0] in ("next", "again", "back", "resume")]
        slow = max(steered.answers)
        print(f"{len(steered.answers)} questions, the slowest answered after {1000 * slow:.0f} ms; {cpu_s:.1f} s of "
              f"processor in {seconds:.0f} s, {own_kib} KiB of its own, {log_bytes} bytes of log")
        check(slow < ANSWER_S, f"an answer took {slow:.2f} s")
        check(cpu_s < cpu_share * seconds, f"{cpu_s:.1f} s of processor in {seconds:.0f} s")
        check(own_kib < OWN_KIB, f"the daemon has {own_kib} KiB of its own")
        check(log_bytes < LOG_BYTES, f"the log has {log_bytes} bytes")
        check(steps == self.presses, f"the journal holds {steps}, not {self.presses}")


def flood(steered, seconds):
    """Write into the speaker's standard error as fast as it is taken."""
    written = 0
    until = time.monotonic() + seconds
    pipe = os.open(f"/proc/{steered.speaker()}/fd/2", os.O_WRONLY | os.O_NONBLOCK)
    while time.monotonic() < until:
        try:
            written += os.write(pipe, b"one more complaint of a library that never stops\n" * 80)
        except BlockingIOError:
            time.sleep(0.001)
    os.close(pipe)
    print(f"flood: {written} bytes taken in {seconds} s")


def speaker(build, work):
    """The speaker is cut short by a press, stopped, killed, asked to end, and screams."""
    with sound.Bench() as bench:
        recorder = bench.record()
        job = Stringing(bench, build, work)
        recorder.wait_onset(0, 5)
        recorder.wait_quiet(QUIET_S)
        job.next(recorder)
        measured = 0  # a busy machine leaves holes in the recording
        for _ in range(6):
            if measured == 2:
                break
            try:
                leaves, enters = sound.barge_in(recorder, job.press)
            except hearing.NotHeard as why:
                print(f"press amid words: not measured: {why}")
                continue
            measured += 1
            print(f"press amid words: the old voice leaves after {1000 * leaves:.1f} ms, the new one is alone after "
                  f"{1000 * enters:.1f} ms")
            check(enters - leaves <= FADE_S and enters < SOON_S, "the old voice stays too long")
        check(measured == 2, "the two voices could not be told apart in five of six recordings")
        for number in (signal.SIGSTOP, signal.SIGKILL, signal.SIGTERM, signal.SIGSEGV):
            job.next()
            time.sleep(0.3)
            struck = time.monotonic()
            os.kill(job.steered.speaker(), number)
            came = job.again_within(struck, number.name)
            job.understand(recorder, recorder.position(came) - 0.05)
        screaming = threading.Thread(target=flood, args=(job.steered, 4))
        screaming.start()
        job.next(recorder)
        screaming.join()
        job.next(recorder)
        job.end(0.25)


def server(build, work):
    """The sound server is killed amid a word and started again; the default device changes amid another."""
    with sound.Bench() as bench:
        recorder = bench.record()
        job = Stringing(bench, build, work)
        recorder.wait_onset(0, 5)
        for _ in range(2):
            job.next()
            time.sleep(0.4)
            bench.kill()
            job.next()
            time.sleep(1.5)
            bench.start()
            job.again_within(time.monotonic(), "server killed and started")
            recorder = bench.record()
            recorder.wait_quiet(QUIET_S)
            job.next(recorder)
        bench.add_sink("second")
        job.next()
        recorder.wait_onset(recorder.listen(), 5)
        bench.make_default("second")
        second = bench.record("second")
        second.wait_onset(0, 2)
        second.wait_quiet(QUIET_S)
        job.next(second)
        job.end(0.25)


def late(build, work):
    """No device at the start: the job goes on unheard; one appears."""
    with sound.Bench(sinks=()) as bench:
        job = Stringing(bench, build, work)
        job.next()
        job.steered.wait_event(0, event="record", name="fault")
        time.sleep(5)
        bench.add_sink("bench")
        job.again_within(time.monotonic(), "device appeared")
        recorder = bench.record()
        recorder.wait_quiet(QUIET_S)
        job.next(recorder)
        job.end(0.25)


def soak(build, work, kills):
    """The speaker is killed again and again, mostly as soon as it speaks; where it always died that early, it would
    be started less and less often."""
    with sound.Bench() as bench:
        job = Stringing(bench, build, work)
        job.next()
        slowest, first = 0.0, None
        for count in range(kills):
            time.sleep(0.02 * (count % 10) if count % 10 < 9 else 1.1)
            struck = time.monotonic()
            os.kill(job.steered.speaker(), signal.SIGKILL)
            came = job.steered.wait_event(struck, event="record", name="announced")
            slowest = max(slowest, came - struck)
            job.steered.events.clear()
            if count == 9:
                first = job.steered.descriptors(), job.steered.own_kib()
        last = job.steered.descriptors(), job.steered.own_kib()
        print(f"{kills} kills, {kills} recoveries, the slowest after {1000 * slowest:.0f} ms; descriptors and KiB "
              f"after ten kills {first}, at the end {last}")
        check(len(job.steered.children()) == 1, "dead speakers are left lying about")
        job.steered.stop()
        check(slowest < SOON_S and last[0] <= first[0] and last[1] < first[1] + 1024, "a recovery too late, or a leak")


def main():
    scenarios = {"speaker": speaker, "server": server, "late": late, "soak": soak}
    if len(sys.argv) < 4 or sys.argv[1] not in scenarios:
        sys.exit(f"usage: sound_scenarios.py {'|'.join(scenarios)} BUILD_FOLDER WORK_FOLDER [KILLS]")
    work = pathlib.Path(sys.argv[3]).resolve()
    work.mkdir(parents=True, exist_ok=True)
    try:
        scenarios[sys.argv[1]](sys.argv[2], work, *map(int, sys.argv[4:]))
    except (Failed, sound.SoundError, hearing.NotHeard) as fault:
        sys.exit(f"{sys.argv[1]}: {fault}")


if __name__ == "__main__":
    sound.in_own_session()
    main()
