"""A sound server without a sound card: PipeWire and WirePlumber with null sinks, in folders of their own.

    with Bench() as bench:                # starts the server with one sink, "bench"
        recorder = bench.record()         # what comes out of the sink
        bench.popen("aplay", "x.wav")     # a program that finds only this server
        recorder.wait_onset(0, 5)

The folders and the session bus end with the process; nothing of the user's is read or touched. Run a script that uses
this through in_own_session().
"""
import bisect
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

import hearing

PACKAGES = "pipewire wireplumber pipewire-alsa pipewire-bin libspa-0.2-modules dbus"
SINK = """{{ factory.name = support.null-audio-sink  media.class = Audio/Sink
  node.name = {name}  node.description = {name}  object.linger = true
  audio.position = [ FL FR ]  audio.rate = 48000 }}"""
LIMIT_S = 15


class SoundError(Exception):
    """The sound bench could not run, or did not do what it was asked for."""


def in_own_session():
    """Start this script again on a session bus of its own, unless it has one."""
    missing = [name for name in ("dbus-run-session", "pipewire", "wireplumber", "pw-record", "pw-dump")
               if not shutil.which(name)]
    if missing:
        sys.exit(f"{sys.argv[0]}: cannot run without {', '.join(missing)}: apt-get install {PACKAGES}")
    if "RIG_OWN_BUS" not in os.environ:
        os.environ["RIG_OWN_BUS"] = "1"
        try:
            # Sound in real time cannot wait for whatever else the machine does; desktops arrange for it too.
            os.setpriority(os.PRIO_PROCESS, 0, -11)
        except PermissionError:
            pass  # then a busy machine may tear holes into it
        os.execvp("dbus-run-session", ["dbus-run-session", "--", sys.executable, "-B", *sys.argv])


class Recorder(hearing.Ear):
    """The monitor of a sink, taken in as it comes. Positions are seconds of sound, as an Ear's; times are
    time.monotonic's."""

    header_bytes = 0

    def __init__(self, bench, sink, path):
        super().__init__(path)
        self.blocks = []  # (time it came, position of its first sample)
        # Unbuffered, for the times; with a latency that leaves the sink's buffers to those who play.
        self.process = bench.popen(
            "stdbuf", "-o0", "pw-record", "--target", sink, "--latency", "8192",
            "-P", "{ stream.capture.sink = true  node.dont-reconnect = true }",
            "--rate", hearing.RATE_HZ, "--channels", "2", "--format", "s16", "-", stdout=subprocess.PIPE)
        self.thread = threading.Thread(target=self._take_in, daemon=True)
        self.thread.start()

    def _take_in(self):
        got = 0
        with open(self.path, "wb", buffering=0) as out:
            while block := os.read(self.process.stdout.fileno(), 1 << 16):
                self.blocks.append((time.monotonic(), got / (hearing.RATE_HZ * hearing.FRAME_BYTES)))
                out.write(block)
                got += len(block)

    def position(self, moment):
        """Where the sound stood at that time: the first sample of the first block that came after it."""
        wait_until(lambda: self.blocks[-1][0] >= moment, "more sound")
        return self.blocks[bisect.bisect_left(self.blocks, (moment, 0))][1]

    def moment(self, position):
        """When that sample sounded: as long after its block came as it stands behind the block's beginning. A block
        may be taken in late, which the next ones tell; but not the ones before, for the sound may have stalled."""
        index = bisect.bisect_right([first for _, first in self.blocks], position) - 1
        return min(came + position - first for came, first in self.blocks[index:index + 5])

    def stop(self):
        self.process.terminate()
        self.process.wait()
        self.thread.join()


class Bench:
    def __init__(self, sinks=("bench",)):
        self.sinks = sinks
        self.processes = []
        self.server = None

    def __enter__(self):
        # In memory: a disk that is busy with what other rigs wrote would be measured, too.
        self.home = pathlib.Path(tempfile.mkdtemp(prefix="pullcall-sound.", dir="/dev/shm"))
        runtime = self.home / "run"
        runtime.mkdir(mode=0o700)
        config = self.home / ".config/pipewire/pipewire.conf.d"
        config.mkdir(parents=True)
        objects = " ".join(f"{{ factory = adapter  args = {SINK.format(name=name)} }}" for name in self.sinks)
        (config / "sinks.conf").write_text(f"context.objects = [ {objects} ]\n")
        (self.home / ".asoundrc").write_text("pcm.!default { type pipewire }\nctl.!default { type pipewire }\n")
        self.environment = {name: value for name, value in os.environ.items()
                            if not name.startswith(("XDG_", "PIPEWIRE_", "PULSE_", "ALSA_"))}
        self.environment |= {"HOME": str(self.home), "XDG_RUNTIME_DIR": str(runtime), "JACK_NO_START_SERVER": "1"}
        self.start()
        return self

    def __exit__(self, kind, value, trace):
        for process in reversed(self.processes):
            if process.poll() is None:
                process.kill()
            process.wait()
        shutil.rmtree(self.home, ignore_errors=True)

    def popen(self, *command, **options):
        """A program in the bench's surroundings; killed at the end if it still runs."""
        options = {"stdin": subprocess.DEVNULL, "stderr": self.log(pathlib.Path(command[0]).name), **options}
        process = subprocess.Popen(["setpriv", "--pdeathsig", "KILL", *map(str, command)], env=self.environment, **options)
        self.processes.append(process)
        return process

    def log(self, name):
        return open(self.home / f"{name}.log", "a")

    def ask(self, *command):
        done = subprocess.run(command, env=self.environment, capture_output=True, text=True, timeout=LIMIT_S)
        return done.stdout if done.returncode == 0 else ""

    def start(self):
        """The sound server; back when its sinks are there."""
        self.server = self.popen("pipewire")
        socket = self.home / "run/pipewire-0"
        wait_until(lambda: socket.exists() and self.ask("pw-cli", "info", "0"), "PipeWire")
        self.manager = self.popen("wireplumber")
        for name in self.sinks:
            self.wait_sink(name)
        if self.sinks:
            wait_until(lambda: self.ask("wpctl", "inspect", "@DEFAULT_AUDIO_SINK@"), "a default sink")

    def kill(self):
        """As a crash would: the server is gone at once, and its manager with it."""
        self.server.send_signal(signal.SIGKILL)
        self.server.wait()
        self.manager.send_signal(signal.SIGKILL)
        self.manager.wait()

    def add_sink(self, name):
        self.ask("pw-cli", "create-node", "adapter", SINK.format(name=name))
        self.wait_sink(name)

    def wait_sink(self, name):
        """Until the manager has taken the sink in, so that programs find it."""
        wait_until(lambda: re.search(rf"\b{name}\b", self.ask("wpctl", "status")), f"the sink {name}")

    def make_default(self, name):
        number = re.search(rf"(\d+)\. {name}\b", self.ask("wpctl", "status"))
        if not number:
            raise SoundError(f"no sink {name}")
        self.ask("wpctl", "set-default", number[1])

    def record(self, sink="bench"):
        count = sum("pw-record" in process.args for process in self.processes)
        recorder = Recorder(self, sink, self.home / f"recorded{count}.raw")
        wait_until(lambda: recorder.listen() > 0.1, f"sound from the monitor of {sink}")
        return recorder


def barge_in(recorder, press):
    """A press amid words. press("next"), "again" and "back" are the presses; both voices are first heard whole.
    (Seconds from the press until the old voice begins to leave, and until the new one is alone.) NotHeard where the
    sound has a hole just there, as on a busy machine."""
    def hear(*presses):
        start = recorder.listen()
        for count, name in enumerate(presses):
            if count > 0:
                recorder.wait_onset(start, LIMIT_S)
                time.sleep(0.3)
            hear.pressed = time.monotonic()
            press(name)
        recorder.wait_onset(start, LIMIT_S)
        recorder.wait_quiet(0.45)
        return recorder.utterance(start)
    _, old = hear("again")
    _, new = hear("next")
    begins, both = hear("back", "next")
    leaves, enters = hearing.changeover(old, new, both)
    to_press = hear.pressed - recorder.moment(begins)
    if leaves < to_press:
        raise hearing.NotHeard("the old voice broke off before the press")
    return leaves - to_press, enters - to_press


def wait_until(true, what):
    until = time.monotonic() + LIMIT_S
    while not true():
        if time.monotonic() > until:
            raise SoundError(f"{what} did not come within {LIMIT_S} s")
        time.sleep(0.02)
