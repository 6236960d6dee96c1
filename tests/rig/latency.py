#!/usr/bin/python3 -B
"""From the press to the first sample that sounds, against what a stringer would otherwise use.

    latency.py BUILD_FOLDER [PRESSES]

Every contestant has a null sink of its own, so that none sets another's buffers, and all are pressed once a round, in
a random order, from silence.
    pullcall  keys n, r and b on its standard input: next, again and back, mixed
    floor     a bare PortAudio program with the speaker's period: a click at a line read
    espeak    espeak-ng started at each press, piped to pw-play
    spd       spd-say, with speech-dispatcher running
"""
import json
import pathlib
import random
import shutil
import subprocess
import sys
import time

import hearing
import sound

PERIOD_FRAMES = 256  # as the speaker asks for (src/speaker/sink.h), and two periods of latency
LATENCY_MS = 2 * PERIOD_FRAMES / 48
RATE_WPM = 300  # of all voices: it shortens the run, not the way to the first sample
GIVE_UP_S = 5
PLAN = pathlib.Path(__file__).resolve().parents[2] / "demo/ridge-court.yaml"
RIVAL_PACKAGES = "speech-dispatcher speech-dispatcher-espeak-ng speech-dispatcher-audio-plugins"
KEYS = "nnrb"  # one call on in four presses


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
        self.recorder.wait_quiet(0.4, GIVE_UP_S)
        self.delays_ms.append(1000 * (self.recorder.moment(onset) - self.pressed))


class Pullcall(Contestant):
    name = "pullcall"

    def __init__(self, bench, build):
        super().__init__(bench, build)
        (bench.home / "bench.yaml").write_text(f"voice: {{ rate: {RATE_WPM} }}\n")
        self.process = self.run(f"{build}/bin/pullcall", "run", PLAN, "--pedal", "keys", "--sound", "device", "--bench",
                                bench.home / "bench.yaml", "--journal", bench.home / "journal.db",
                                stdin=subprocess.PIPE, stdout=self.bench.log("events"))
        self.recorder.wait_onset(0, GIVE_UP_S)
        self.recorder.wait_quiet(0.5)

    def press(self, number, text):
        self.process.stdin.write(KEYS[number % len(KEYS)].encode())
        self.process.stdin.flush()


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


def report(contestants):
    print(f"{'ms from press to sound':24}{'n':>6}{'p50':>8}{'p95':>8}{'p99':>8}{'max':>8}{'lost':>6}")
    for one in contestants:
        delays = sorted(one.delays_ms)
        figures = [percentile(delays, share) for share in (50, 95, 99, 100)]
        print(f"{one.name:24}{len(delays):6}" + "".join(f"{figure:8.1f}" for figure in figures) +
              f"{one.lost:6}")


def verdict(results):
    """What was promised, of the medians and of the 95th percentiles."""
    kept = results[0].lost == 0
    for share in (50, 95):
        ours, floor, espeak, spd = (percentile(sorted(one.delays_ms), share) for one in results)
        for limit, what in ((1.25 * floor, "1.25 times the floor's"),
                            (0.4 * min(espeak, spd), "0.4 of the better rival's")):
            word = "is within" if ours <= limit else "EXCEEDS"
            print(f"p{share}: {ours:.1f} ms {word} {limit:.1f} ms, {what}")
            kept = kept and ours <= limit
    return kept


def main():
    if len(sys.argv) not in (2, 3):
        sys.exit("usage: latency.py BUILD_FOLDER [PRESSES]")
    build = pathlib.Path(sys.argv[1]).resolve()
    presses = int(sys.argv[2]) if len(sys.argv) == 3 else 200
    steps = subprocess.run([build / "bin/pullcall", "steps", PLAN, "--json"], capture_output=True, check=True)
    texts = [call["text"] for call in json.loads(steps.stdout)["calls"]]
    random.seed(1)
    kinds = (Pullcall, Floor, Espeak, Spd)
    with sound.Bench(sinks=[kind.name for kind in kinds]) as bench:
        contestants = [kind(bench, build) for kind in kinds]
        for number in range(presses):
            for one in random.sample(contestants, len(contestants)):
                one.measure(number, texts[number % len(texts)])
                time.sleep(0.1 + random.random() / 20)
            for one in contestants:
                one.finish()
    report(contestants)
    sys.exit(not verdict(contestants))


if __name__ == "__main__":
    sound.in_own_session()
    main()
