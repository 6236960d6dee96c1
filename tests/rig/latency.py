#!/usr/bin/python3 -B
"""From the press to the first sample that sounds, against what a stringer would otherwise use.

    latency.py BUILD_FOLDER quiet|loud [PRESSES [BARGE_INS]]

Every contestant has a null sink of its own, so that none sets another's buffers, and all are pressed once a round, in
a random order, from silence. In a loud shop pullcall shapes its words, which takes time: then it meets the floor alone.
    pullcall  a unit of three pedals on umockdev, read through libevdev: next, again and back, mixed
    floor     a bare PortAudio program with the speaker's period: a click at a line read
    espeak    espeak-ng started at each press, piped to pw-play
    spd       spd-say, with speech-dispatcher running
Then pullcall alone is pressed amid its words: how long until the old voice leaves, and how long the two then overlap.
"""
import json
import pathlib
import os
import random
import shutil
import struct
import subprocess
import sys
import time

import hearing
import sound

PERIOD_FRAMES = 256  # as the speaker asks for (src/speaker/speaker.h), and two periods of latency
LATENCY_MS = 2 * PERIOD_FRAMES / 48
RATE_WPM = 300  # of all voices: it shortens the run, not the way to the first sample
GIVE_UP_S = 5
CALL_MAX_S = 20  # the longest call with its caution
SOURCE = pathlib.Path(__file__).resolve().parents[2]
PLAN = SOURCE / "demo/ridge-court.yaml"  # said in small steps, for the sake of their number
RECORDING = SOURCE / "tests/pedal/recordings/three-pedals"
BENCH = f"""voice: {{ rate: {RATE_WPM} }}
pedals:
  - device: 05f3:00ff
    keys: {{ F14: back, F15: next, F16: again }}
"""
RIVAL_PACKAGES = "speech-dispatcher speech-dispatcher-espeak-ng speech-dispatcher-audio-plugins"
CODES = {"back": 184, "next": 185, "again": 186}  # F14 to F16 in linux/input-event-codes.h
PRESSES = ("next", "next", "again", "back")       # one call on in four of them
HOLD_S = 0.06                                     # of a foot that is quick
FADE_MS = 10


class Contestant:
    """One way to make a sound at a press, on a sink of its own name."""

    def __init__(self, bench, build):
        self.bench = bench
        self.recorder = bench.record(self.name)
        self.delays_ms = []
        self.lost = 0

    def run(self, *command, **options):
        """A program whose sound goes to this contestant's sink."""
        return self.bench.popen("env", f"PIPEWIRE_NODE={self.name}", *command, **options)

    def measure(self, number, text):
        self.pressed = time.monotonic()
        self.press(number, text)

    def finish(self):
        start = self.recorder.position(self.pressed)
        try:
            self.recorder.wait_onset(start, GIVE_UP_S)
        except hearing.NotHeard:
            self.lost += 1
            return
        onset = self.recorder.exact_onset(start)
        self.recorder.wait_quiet(0.4, CALL_MAX_S)
        self.delays_ms.append(1000 * (self.recorder.moment(onset) - self.pressed))


def learner_plan(folder):
    plan = folder / "plan.yaml"
    plan.write_text(PLAN.read_text().replace("detail: bench", "detail: learner"))
    return plan


class Pedals:
    """The recorded unit, as a program under umockdev finds it; pressed here, it is an input device like any other."""

    def __init__(self, folder):
        self.path = folder / "pedals"
        os.mkfifo(self.path)
        # Open for both: opening it never waits.
        self.script = os.open(self.path, os.O_RDWR)

    def command(self, *command):
        node = "/dev/input/event5"
        return ("umockdev-run", "--device", f"{RECORDING}.umockdev", "--ioctl", f"{node}={RECORDING}.ioctl",
                "--script", f"{node}={self.path}", "--", "setpriv", "--pdeathsig", "KILL", *command)

    def press(self, name):
        self.key(CODES[name], True)
        time.sleep(HOLD_S)
        self.key(CODES[name], False)

    def key(self, code, down):
        now = time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000
        for kind, number, value in ((1, code, down), (0, 0, 0)):  # EV_KEY, SYN_REPORT
            event = struct.pack("@llHHi", now // 1000000, now % 1000000, kind, number, value)
            # A line of umockdev's: given at once; control characters as ^ and a letter.
            text = b"".join(b"^%c" % (byte + 64) if byte < 32 else b"^`" if byte == 94 else b"%c" % byte
                            for byte in event)
            os.write(self.script, b"r 0 " + text + b"\n")


class Pullcall(Contestant):
    name = "pullcall"

    shop = "quiet"

    def __init__(self, bench, build):
        super().__init__(bench, build)
        (bench.home / "bench.yaml").write_text(BENCH)
        plan = learner_plan(bench.home)
        self.pedals = Pedals(bench.home)
        # The sound is no business of umockdev, which ends a program that looks for sound cards.
        shutil.copy(build / "bin/pullcall", bench.home)
        speaker = bench.home / "pullcall-speaker"
        speaker.write_text(f'#!/bin/sh\nunset LD_PRELOAD\nexec {build}/bin/pullcall-speaker "$@"\n')
        speaker.chmod(0o755)
        self.run(f"PULLCALL_PATTERNS={SOURCE}/patterns", f"PULLCALL_VOICE={SOURCE}/voice", *self.pedals.command(
            bench.home / "pullcall", "run", plan, "--pedal", "evdev", "--sound", "device", "--shop", self.shop,
            "--bench", bench.home / "bench.yaml", "--journal", bench.home / "journal.db"), stdout=bench.log("events"))
        self.recorder.wait_onset(0, GIVE_UP_S)
        self.recorder.wait_quiet(0.5)

    def press(self, number, text):
        self.pedals.press(PRESSES[number % len(PRESSES)])


class Floor(Contestant):
    name = "floor"

    def __init__(self, bench, build):
        super().__init__(bench, build)
        self.program = f"{build}/tests/rig/latency_floor"
        self.start()

    def start(self):
        self.process = self.run(self.program, PERIOD_FRAMES, LATENCY_MS, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        if self.process.stdout.readline() != b"ready\n":
            raise SystemExit("latency.py: the floor program did not start")

    def press(self, number, text):
        self.process.stdin.write(b"\n")
        self.process.stdin.flush()

    def finish(self):
        before = self.lost
        super().finish()
        if self.lost > before:  # nobody watches over its stream
            self.process.kill()
            self.start()


class Espeak(Contestant):
    name = "espeak"

    def press(self, number, text):
        # The head of the WAV file would sound as a click.
        self.run("sh", "-c", 'espeak-ng -s "$1" --stdout "$2" | { head -c 44 >/dev/null; cat; } | '
                 "pw-play --target espeak --rate 22050 --channels 1 --format s16 -", "sh", RATE_WPM, text)


class Spd(Contestant):
    name = "spd"

    def __init__(self, bench, build):
        if not shutil.which("spd-say") or not shutil.which("speech-dispatcher"):
            raise SystemExit(f"latency.py: a rival is missing: apt-get install {RIVAL_PACKAGES}")
        super().__init__(bench, build)
        folder = bench.home / "speechd"
        folder.mkdir()
        for part in ("modules", "clients"):
            (folder / part).symlink_to(f"/etc/speech-dispatcher/{part}")
        (folder / "speechd.conf").write_text('AudioOutputMethod "alsa"\nDefaultModule espeak-ng\nDefaultLanguage "en"\n'
                                             'AddModule "espeak-ng" "sd_espeak-ng" "espeak-ng.conf"\n')
        self.run("speech-dispatcher", "--run-single", "--config-dir", folder, "--timeout", "0")
        sound.wait_until((bench.home / "run/speech-dispatcher/speechd.sock").exists, "speech-dispatcher")

    def press(self, number, text):
        # 175 to 450 words a minute are 0 to 100.
        self.run("spd-say", "-r", "45", text)


def percentile(sorted_values, share):
    """The smallest value that at least that share of all does not exceed."""
    return sorted_values[max(0, -(-len(sorted_values) * share // 100) - 1)]


def line(name, values_ms, last=""):
    values = sorted(values_ms)
    figures = "".join(f"{percentile(values, share):8.1f}" for share in (50, 95, 99, 100)) if values else "   none" * 4
    print(f"{name:28}{len(values):6}{figures}{last:>6}")


def report(contestants):
    print(f"{'ms from press to sound':28}{'n':>6}{'p50':>8}{'p95':>8}{'p99':>8}{'max':>8}{'lost':>6}")
    for one in contestants:
        line(one.name, one.delays_ms, one.lost)


def barge_in(pullcall, count):
    """Measured and reported; whether each fade was short enough, and nearly all could be measured."""
    times_ms = []
    for _ in range(count):
        try:
            times_ms.append([1000 * time_s for time_s in sound.barge_in(pullcall.recorder, pullcall.pedals.press)])
        except hearing.NotHeard as why:
            print(f"not measured: {why}")
    fades_ms = [enters - leaves for leaves, enters in times_ms]
    line("pullcall amid its words", [leaves for leaves, _ in times_ms], count - len(times_ms))
    line("  and then both voices", fades_ms)
    return max(fades_ms, default=0) <= FADE_MS and len(times_ms) >= 0.9 * count


def verdict(results):
    """What was promised, of the medians and of the 95th percentiles."""
    if not all(one.delays_ms for one in results):
        return False
    kept = results[0].lost == 0
    for share, times in ((50, 1.25), (95, 1.1)):
        ours, floor, *rivals = (percentile(sorted(one.delays_ms), share) for one in results)
        limits = [(times * floor, f"{times} times the floor's")]
        if rivals:
            limits.append((0.4 * min(rivals), "0.4 of the better rival's"))
        for limit, what in limits:
            word = "is within" if ours <= limit else "EXCEEDS"
            print(f"p{share}: {ours:.1f} ms {word} {limit:.1f} ms, {what}")
            kept = kept and ours <= limit
    return kept


def main():
    if not 3 <= len(sys.argv) <= 5 or sys.argv[2] not in ("quiet", "loud"):
        sys.exit("usage: latency.py BUILD_FOLDER quiet|loud [PRESSES [BARGE_INS]]")
    build = pathlib.Path(sys.argv[1]).resolve()
    Pullcall.shop = sys.argv[2]
    presses = int(sys.argv[3]) if len(sys.argv) > 3 else 200
    barge_ins = int(sys.argv[4]) if len(sys.argv) > 4 else 25
    random.seed(1)
    kinds = (Pullcall, Floor, Espeak, Spd) if Pullcall.shop == "quiet" else (Pullcall, Floor)
    with sound.Bench(sinks=[kind.name for kind in kinds]) as bench:
        steps = subprocess.run([build / "bin/pullcall", "steps", learner_plan(bench.home), "--json"],
                               capture_output=True, check=True)
        texts = [call["text"] for call in json.loads(steps.stdout)["calls"]]
        contestants = [kind(bench, build) for kind in kinds]
        for number in range(presses):
            for one in random.sample(contestants, len(contestants)):
                one.measure(number, texts[number % len(texts)])
                time.sleep(0.1 + random.random() / 20)
            for one in contestants:
                one.finish()
        report(contestants)
        kept = barge_in(contestants[0], barge_ins)
    kept &= verdict(contestants)
    sys.exit(not kept)


if __name__ == "__main__":
    sound.in_own_session()
    main()
