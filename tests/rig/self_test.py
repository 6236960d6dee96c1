#!/usr/bin/python3 -B
"""The rigs prove themselves, with nothing of pullcall's: what is pressed arrives, what is said is heard and understood,
silence is silence.

    self_test.py machine|sound WORK_FOLDER
"""
import pathlib
import subprocess
import sys
import time

import hearing
import machine
import sound

SAID = "main four left, seven throat, pull fifty two"
OTHERS = ["main four left, seven throat, pull fifty three", "main four right, seven throat, pull fifty two",
          "cross four from the left, seven throat, over first"]
ESPEAK_DATA = "/usr/lib/x86_64-linux-gnu/espeak-ng-data"
SPEAK = "espeak-ng -v en-us+f2"


def check(true, what):
    if not true:
        raise SystemExit(f"rig: {what}")


def understood(wav, span, work):
    heard = hearing.recognise(wav, [span], [SAID, *OTHERS], work)
    check(heard == [" ".join(hearing.words_of(SAID))], f"heard {heard}, not {SAID!r}")


def test_machine(work):
    script = f"""
        until [ -e /dev/input/event1 ]; do sleep 0.1; done
        cat /dev/input/event1 >/tmp/events &
        sleep 0.5
        echo ready >&3
        read -r go <&3
        kill $!
        {SPEAK} "{SAID}"
        cp /tmp/events /rig/
        """
    with machine.Machine(work, script, ["/usr/bin/espeak-ng"], [ESPEAK_DATA, "/usr/share/alsa"]) as rig:
        rig.wait_for("ready")
        rig.press("b", 150)
        time.sleep(0.5)
        rig.reply("go")
        rig.wait_off(30)
    check((work / "typed").read_bytes() == b"b", "what nobody holds must be typed on the console")
    held = held_s((work / "events").read_bytes())
    check(abs(held - 0.15) < 0.1, f"a key held for 0.15 s arrived as {held:.3f} s")
    ear = hearing.Ear(work / "heard.wav")
    ear.listen()
    check(ear.sounds(0, ear.now) > 2, "the sound card was silent")
    understood(work / "heard.wav", (0, ear.now), work / "recogniser")


def held_s(events):
    """Seconds between a key's press and its release, in Linux's struct input_event."""
    times = {}
    for start in range(0, len(events), 24):
        seconds, microseconds, kind, _, value = machine.struct.unpack_from("<qqHHi", events, start)
        if kind == 1 and value in (0, 1):
            times[value] = seconds + microseconds / 1e6
    return times[0] - times[1]


def test_sound(work):
    work.mkdir(parents=True, exist_ok=True)
    wav = work / "said.wav"
    subprocess.run([*SPEAK.split(), "-w", wav, SAID], check=True)
    with sound.Bench() as bench:
        recorder = bench.record()
        start = recorder.listen()
        check(recorder.sounds(0, start) == 0, "a sink that nobody uses must be silent")
        bench.popen("pw-play", wav)
        recorder.wait_onset(start, 5)
        recorder.wait_quiet(1)
        heard = work / "heard.wav"
        subprocess.run(["sox", "-t", "raw", "-r", str(hearing.RATE_HZ), "-e", "signed", "-b", "16", "-c", "2",
                        recorder.path, heard], check=True)
        understood(heard, (start, recorder.now), work / "recogniser")
        bench.kill()
        bench.start()
        again = bench.record()
        bench.add_sink("late")
        bench.make_default("late")
        late = bench.record("late")
        bench.popen("pw-play", wav)
        late.wait_onset(0, 5)
        late.wait_quiet(1)
        check(again.sounds(0, again.listen()) == 0, "the sound must follow the default sink")


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] not in ("machine", "sound"):
        sys.exit("usage: self_test.py machine|sound WORK_FOLDER")
    if sys.argv[1] == "sound":
        sound.in_own_session()
    {"machine": test_machine, "sound": test_sound}[sys.argv[1]](pathlib.Path(sys.argv[2]).resolve())
