#!/usr/bin/python3 -B
"""From the press to the first sample that sounds, against what a stringer would otherwise use.

    latency.py FLOOR_PROGRAM [PRESSES]

Every contestant has a null sink of its own, so that none sets another's buffers, and all are pressed once a round, in
a random order, from silence.
    floor   a bare PortAudio program with the speaker's period: a click at a line read
    espeak  espeak-ng started at each press, piped to pw-play
    spd     spd-say, with speech-dispatcher running
"""
import os
import pathlib
import random
import subprocess
import sys
import time

import sound

PERIOD_FRAMES = 256  # as the speaker asks for (src/speaker/sink.h), and two periods of latency
LATENCY_MS = 2 * PERIOD_FRAMES / 48
RATE_WPM = 300  # of all voices: it shortens the run, not the way to the first sample
GIVE_UP_S = 8
NUMBERS = "one two three four five six seven eight".split()


class Contestant:
    def __init__(self, bench):
        self.bench = bench
        self.recorder = bench.record(self.name)
        self.delays_ms = []

    def run(self, *command, **options):
        """A program whose sound goes to this contestant's sink."""
        return self.bench.popen("env", f"PIPEWIRE_NODE={self.name}", *command, **options)

    def measure(self, text):
        self.pressed = time.monotonic()
        self.press(text)

    def finish(self):
        start = self.recorder.position(self.pressed)
        self.recorder.wait_onset(start, GIVE_UP_S)
        onset = self.recorder.exact_onset(start)
        self.recorder.wait_quiet(0.5, GIVE_UP_S)
        self.delays_ms.append(1000 * (self.recorder.moment(onset) - self.pressed))


class Floor(Contestant):
    name = "floor"

    def __init__(self, bench, program):
        super().__init__(bench)
        self.process = self.run(program, PERIOD_FRAMES, LATENCY_MS, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        if self.process.stdout.readline() != b"ready\n":
            raise sound.SoundError("the floor program did not start")

    def press(self, text):
        self.process.stdin.write(b"\n")
        self.process.stdin.flush()


class Espeak(Contestant):
    name = "espeak"

    def press(self, text):
        # The head of the WAV file would sound as a click.
        self.run("sh", "-c", f"espeak-ng -s {RATE_WPM} --stdout '{text}' | {{ head -c 44 >/dev/null; cat; }} | "
                 "pw-play --target espeak --rate 22050 --channels 1 --format s16 -")


class Spd(Contestant):
    name = "spd"

    def __init__(self, bench):
        super().__init__(bench)
        folder = bench.home / "speechd"
        folder.mkdir()
        for part in ("modules", "clients"):
            (folder / part).symlink_to(f"/etc/speech-dispatcher/{part}")
        (folder / "speechd.conf").write_text('AudioOutputMethod "alsa"\nDefaultModule espeak-ng\nDefaultLanguage "en"\n'
                                             'AddModule "espeak-ng" "sd_espeak-ng" "espeak-ng.conf"\n')
        self.run("speech-dispatcher", "--run-single", "--config-dir", folder, "--timeout", "0")
        sound.wait_until((bench.home / "run/speech-dispatcher/speechd.sock").exists, "speech-dispatcher")

    def press(self, text):
        # 175 to 450 words a minute are 0 to 100.
        self.run("spd-say", "-r", "45", text)


def percentile(sorted_values, share):
    """The smallest value that at least that share of all does not exceed."""
    return sorted_values[max(0, -(-len(sorted_values) * share // 100) - 1)]


def report(contestants):
    print(f"{'ms from press to sound':24}{'n':>6}{'p50':>8}{'p95':>8}{'p99':>8}{'max':>8}")
    for one in contestants:
        delays = sorted(one.delays_ms)
        figures = [percentile(delays, share) for share in (50, 95, 99, 100)]
        print(f"{one.name:24}{len(delays):6}" + "".join(f"{figure:8.1f}" for figure in figures))


def texts(count):
    for _ in range(count):
        yield (f"{random.choice(['main', 'cross', 'tie off', 'clamp'])} {random.choice(NUMBERS)} "
               f"{random.choice(['left', 'right'])}, pull fifty {random.choice(NUMBERS)}")


def main():
    if len(sys.argv) not in (2, 3) or not os.access(sys.argv[1], os.X_OK):
        sys.exit("usage: latency.py FLOOR_PROGRAM [PRESSES]")
    presses = int(sys.argv[2]) if len(sys.argv) == 3 else 200
    random.seed(1)
    with sound.Bench(sinks=("floor", "espeak", "spd")) as bench:
        contestants = [Floor(bench, pathlib.Path(sys.argv[1]).resolve()), Espeak(bench), Spd(bench)]
        time.sleep(1)
        for text in texts(presses):
            for one in random.sample(contestants, len(contestants)):
                one.measure(text)
                time.sleep(0.1 + random.random() / 20)
            for one in contestants:
                one.finish()
        report(contestants)


if __name__ == "__main__":
    sound.in_own_session()
    main()
