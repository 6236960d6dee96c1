"""A racket strung in the rig's machine by the real programs, driven as a person would: press, listen, press."""
import json
import pathlib
import shutil
import sqlite3
import subprocess
import time

import hearing
import machine

SOURCE = pathlib.Path(__file__).resolve().parents[2]
PLAN = SOURCE / "demo/ridge-court.yaml"
# Fast speech that the recogniser still understands; the pedal is also a keyboard, so it is held only when asked for.
BENCH = """pedals:
  - device: 0627:0001
    grab: yes
    keys: {keys}
voice: {{ rate: 260 }}
sound: device
"""
SCRIPT = """
    export XDG_RUNTIME_DIR=/run/user
    mkdir -p -m 700 /run/user
    until [ -e /dev/input/event1 ]; do sleep 0.1; done
    [ ! -e /rig/past.db ] || cp /rig/past.db {journal}
    echo ready >&3
    read -r go <&3
    while read -r word <&3; do {build}/bin/pullcall tell "$word"; done &
    {{ {build}/bin/pullcall run {what} --pedal evdev --bench /rig/bench.yaml --journal {journal} </dev/null
       echo "ended with $?"; }} | cat >&3
    cp {journal}* /rig/
    """
ESPEAK_DATA = "/usr/lib/x86_64-linux-gnu/espeak-ng-data"
# What a person waits for after the last word. Shorter than the pauses inside a call would cut it in two.
QUIET_S = 0.45


# A day's work: the daemon, and what it says. A row of the table is a racket.
DAY = """
    export XDG_RUNTIME_DIR=/run/user PULLCALL_PATTERNS=/rig
    mkdir -p -m 700 /run/user
    until [ -e /dev/input/event1 ]; do sleep 0.1; done
    {build}/bin/pullcall rack add --csv /rig/rack.csv --journal {journal} >&3
    {{ {build}/bin/pullcalld --pedal evdev --bench /rig/bench.yaml --journal {journal} </dev/null
       echo "ended with $?"; }} 2>&1 | cat >&3 &
    read -r stop <&3
    kill $(pidof pullcalld)
    wait
    cp {journal}* /rig/
    """


class Failed(Exception):
    """What the product did is not what was promised."""


def check(true, what):
    if not true:
        raise Failed(what)


class Racket:
    def __init__(self, build, work, keys="{ B: step }", disk=None, script=SCRIPT, past=None):
        """With a journal of the past, the racket is taught."""
        self.build, self.work = pathlib.Path(build), pathlib.Path(work)
        self.work.mkdir(parents=True, exist_ok=True)
        for old in self.work.glob("journal.db*"):
            old.unlink()
        (self.work / "bench.yaml").write_text(BENCH.format(keys=keys))
        journal = "/disk/journal.db" if disk else "/tmp/journal.db"
        what = f"$([ -e {journal} ] && echo --resume || echo {PLAN})"
        (self.work / "past.db").unlink(missing_ok=True)
        if past:
            shutil.copy(past, self.work / "past.db")
            what = f"{PLAN} --new --teach"
        programs = [f"{build}/bin/{name}" for name in ("pullcall", "pullcalld", "pullcall-speaker")]
        folders = [f"{build}/share", PLAN.parent, ESPEAK_DATA, "/usr/share/alsa"]
        self.machine = machine.Machine(work, script.format(build=build, what=what, journal=journal), programs, folders,
                                       disk)
        steps = subprocess.run([self.build / "bin/pullcall", "steps", PLAN, "--json"], capture_output=True, check=True)
        self.calls = [call["text"] for call in json.loads(steps.stdout)["calls"]]
        self.ear = hearing.Ear(self.work / "heard.wav")
        self.cuts = []  # (start, end, what should have been said)
        self.delays = []

    def __enter__(self):
        self.machine.__enter__()
        self.begin()
        return self

    def __exit__(self, *trace):
        self.machine.__exit__(*trace)

    def begin(self):
        """Boot, and hear the greeting out. Before that, what the pedal sends is typed: nobody holds it yet."""
        self.machine.wait_for("ready")
        self.machine.press("x", 20)
        time.sleep(0.5)
        self.machine.reply("go")
        start = self.ear.listen()
        self.machine.wait_for("voice: device")
        self.ear.wait_onset(start, 30)
        self.ear.wait_quiet(QUIET_S)

    def listen(self, text, act, skip_s=0.0):
        """Act, and hear out what is said then. What sounds first, for skip_s, is not it yet."""
        start = self.ear.listen()
        act()
        onset = self.ear.wait_onset(start, 20)
        self.ear.wait_quiet(QUIET_S)
        self.cuts.append((onset + skip_s, self.ear.now, text))
        self.delays.append(onset - start)

    def unplug(self, text):
        """Pull the plug in a silence, and hear the text; how long it sounds."""
        self.listen(text, self.machine.unplug)
        return self.ear.now - self.ear.quiet_for() - self.cuts[-1][0]

    def press_and_unplug(self, text, length_s):
        """Press, pull the plug amid the call's first words, and hear the text in its place."""
        start = self.ear.listen()
        self.machine.press("b")
        onset = self.ear.wait_onset(start, 20)
        while self.ear.listen() < onset + 0.3:
            time.sleep(0.01)
        self.machine.unplug()
        self.machine.wait_for(text, 20)
        # It is shown as soon as the speaker has it, which may be a while before it sounds.
        self.ear.wait_onset(self.ear.listen(), 20)
        self.ear.wait_quiet(QUIET_S)
        # The call broken off before it, in the middle of a word, would be a riddle to the recogniser.
        end = self.ear.now - self.ear.quiet_for()
        check(onset + 0.3 <= end - length_s, f"at {onset:.2f} s: the call was not begun before {text!r}")
        self.cuts.append((end - length_s, self.ear.now, text))

    def press(self, number, key="b"):
        """Press, and hear the call of that number."""
        self.listen(self.calls[number - 1], lambda: self.machine.press(key))

    def end(self, word):
        """The run ends as the word says, and the machine with it."""
        self.machine.wait_for(f"ended with {word}", 60)
        self.machine.wait_off(60)

    def check_words(self):
        """All that was listened to is what it should be. To be mistaken for: all other calls, all calls with their
        sides changed, and whatever else was said."""
        mirrored = [call.replace("left", "-").replace("right", "left").replace("-", "right") for call in self.calls]
        heard = hearing.recognise(self.work / "heard.wav", [cut[:2] for cut in self.cuts],
                                  [*self.calls, *mirrored, *(cut[2] for cut in self.cuts)],
                                  self.work / "recogniser")
        for got, (start, _, text) in zip(heard, self.cuts, strict=True):
            check(got.split() == hearing.words_of(text), f"at {start:.2f} s: heard {got!r}, not {text!r}")

    def check_typed(self):
        """Nothing of what the pedal sent went anywhere else."""
        typed = (self.work / "typed").read_text()
        # The one key pressed while nobody held the pedal shows that typing would be seen. It may have repeated.
        check(set(typed) == {"x"}, f"typed on the console: {typed!r}, not 'x' alone")

    def check_journal(self, wanted):
        """The journal holds these (kind, call) in this order; what was announced aside."""
        got = [event for event in self.events() if event[0] != "announced"]
        check(got == wanted, f"the journal holds {got}, not {wanted}")

    def events(self):
        with sqlite3.connect(self.work / "journal.db") as journal:
            return journal.execute("SELECT kind, call FROM event ORDER BY job, seq").fetchall()
