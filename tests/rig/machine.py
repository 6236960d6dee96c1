"""A whole machine without hardware: Debian's own kernel in QEMU, a USB keyboard as the pedal and a sound card whose
output is a WAV file.

    with Machine(work, script, ["/usr/bin/espeak-ng"], ["/usr/share/alsa"]) as machine:
        machine.wait_for("ready")                 # a line the script wrote to its descriptor 3
        machine.press("b")
        machine.wait_off(20)                      # the script has ended
    # work/heard.wav: what came out of the sound card; work/typed: what the console's keyboards typed, pedal included
    # if nobody holds it; work/console.log: what the kernel and the script printed

Inside there are busybox, the programs with their libraries, and the folders, all where the host has them; `work` is
/rig. The machine's clock counts its own instructions and jumps over idle time (-icount): a busy host makes a run
longer, never the sound late. That is why all files are in the machine's memory: reading from the host would take time
that is none of the machine's. KVM would lose this, and does not start everywhere.
"""
import json
import lzma
import os
import pathlib
import queue
import re
import shutil
import socket
import struct
import subprocess
import threading
import time

HERE = pathlib.Path(__file__).resolve().parent
PACKAGES = "qemu-system-x86 busybox-static cpio kmod e2fsprogs"
CACHE = pathlib.Path(os.environ.get("XDG_CACHE_HOME") or pathlib.Path.home() / ".cache") / "pullcall-rig"
# In this order, each after what it needs.
DRIVERS = """virtio_pci 9pnet_virtio 9p nfit nd_pmem crc32c_generic ext4 xhci_pci usbhid hid_generic evdev
             snd_hda_codec_generic snd_hda_intel""".split()
FOLDERS = "bin dev disk drivers etc proc rig root run sys tmp".split()
BOOT_LIMIT_S = 120
DISK_BYTES = 64 << 20


class RigError(Exception):
    """The rig could not run, or the machine did not do what it was asked for."""


def need(*programs):
    missing = [program for program in programs if not shutil.which(program)]
    if missing:
        raise RigError(f"cannot run without {', '.join(missing)}: apt-get install {PACKAGES}")


def run(*command, **options):
    done = subprocess.run(command, capture_output=True, text=True, **options)
    if done.returncode:
        raise RigError(f"{' '.join(map(str, command))}: {done.stderr.strip()}")
    return done.stdout


def fetch_kernel():
    """Unpack Debian's newest kernel package into the cache, never installing it; the folder it is in."""
    depends = run("apt-cache", "depends", "linux-image-amd64")
    package = next((word for word in depends.split() if word.startswith("linux-image-")
                    and word != "linux-image-amd64"), None)
    if not package:
        raise RigError("apt knows no linux-image-amd64: apt-get update")
    place = CACHE / package
    if not (place / "complete").exists():
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir(parents=True)
        run("apt-get", "download", package, cwd=place)
        archive = next(place.glob("*.deb"))
        run("dpkg-deb", "-x", archive, place)
        archive.unlink()
        unpack_vmlinux(next(place.glob("boot/vmlinuz-*")), place / "vmlinux")
        run("depmod", "-b", place, package.removeprefix("linux-image-"))
        (place / "complete").touch()
    return place


def unpack_vmlinux(packed, target):
    """Unpacking on the host saves the emulated processor seconds at every boot."""
    image = packed.read_bytes()
    setup_sectors = image[0x1f1]
    offset, length = struct.unpack_from("<II", image, 0x248)
    start = (setup_sectors + 1) * 512 + offset
    target.write_bytes(lzma.LZMADecompressor().decompress(image[start:start + length]))


def driver_files(modules, drivers):
    """The drivers and all that they need, in loading order, as paths below `modules`."""
    needs, by_name = {}, {}
    for line in (modules / "modules.dep").read_text().splitlines():
        path, _, below = line.partition(":")
        needs[path] = below.split()
        by_name[pathlib.Path(path).stem.replace("-", "_")] = path
    builtin = {pathlib.Path(line).stem.replace("-", "_")
               for line in (modules / "modules.builtin").read_text().splitlines()}
    order = []
    for name in drivers:
        if name in builtin:
            continue
        if name not in by_name:
            raise RigError(f"the kernel has no driver {name}")
        # modules.dep names the deepest need last.
        order += [path for path in [*reversed(needs[by_name[name]]), by_name[name]] if path not in order]
    return order


def build_initramfs(kernel, drivers, programs, folders, target):
    modules = next(kernel.glob("lib/modules/*"))
    tree = target.with_suffix(".tree")
    shutil.rmtree(tree, ignore_errors=True)
    for folder in FOLDERS:
        (tree / folder).mkdir(parents=True)
    shutil.copy(shutil.which("busybox"), tree / "bin/busybox")
    shutil.copy(HERE / "guest-init", tree / "init")
    (tree / "init").chmod(0o755)
    (tree / "etc/group").write_text("audio:x:29:\n")  # ALSA mixes for this group
    files = driver_files(modules, drivers)
    for path in files:
        shutil.copy(modules / path, tree / "drivers")
    (tree / "drivers/order").write_text("".join(pathlib.Path(path).name + "\n" for path in files))
    with open(target, "wb") as out:
        archive(tree, [path.relative_to(tree) for path in tree.rglob("*")], out)
        archive("/", from_host(programs, folders), out)
    shutil.rmtree(tree)


def archive(root, paths, out):
    """A newc archive of the paths below root, links followed, each folder before what is in it."""
    folders = {folder for path in paths for folder in path.parents} - {pathlib.Path(".")}
    names = "\n".join(sorted(map(str, {*paths, *folders})))
    subprocess.run(["cpio", "--quiet", "-o", "-L", "-H", "newc", "-R", "0:0"], cwd=root, input=names.encode(),
                   stdout=out, check=True)


def from_host(programs, folders):
    """The programs, their libraries and all files in the folders, relative to the root."""
    files = set(programs)
    for program in programs:
        files |= set(re.findall(r"(/\S+) \(0x", run("ldd", program)))
    for folder in folders:
        for place, _, names in os.walk(folder, followlinks=True):
            files |= {f"{place}/{name}" for name in names}
    return [pathlib.Path(str(path)).relative_to("/") for path in files]


def make_disk(path):
    with open(path, "wb") as out:
        out.truncate(DISK_BYTES)
    run("/sbin/mkfs.ext4", "-q", "-F", path)


class Channel:
    """A pair of sockets, one end for QEMU, the other read line by line by a thread of its own."""

    def __init__(self):
        self.socket, self.theirs = socket.socketpair()
        self.lines = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        try:
            with self.socket.makefile("r", encoding="utf-8", errors="replace") as stream:
                for line in stream:
                    self.lines.put(line.rstrip("\r\n"))
        except OSError:
            pass  # QEMU is gone
        self.lines.put(None)

    def line(self, limit_s):
        """The next line; None at the end or when none came in time."""
        try:
            return self.lines.get(timeout=limit_s)
        except queue.Empty:
            return None

    def send(self, text):
        self.socket.sendall(text.encode() + b"\n")


class Machine:
    def __init__(self, work, script, programs, folders, disk=None, drivers=()):
        need("qemu-system-x86_64", "busybox", "cpio", "apt-get", "dpkg-deb", "depmod")
        self.work = pathlib.Path(work)
        self.work.mkdir(parents=True, exist_ok=True)
        for old in ("heard.wav", "typed", "console.log"):
            (self.work / old).unlink(missing_ok=True)
        (self.work / "script").write_text(script)
        self.inside = [*DRIVERS, *drivers], programs, folders
        self.disk = disk
        self.heard = []
        self.pedals = 0

    def __enter__(self):
        kernel = fetch_kernel()
        build_initramfs(kernel, *self.inside, self.work / "initramfs")
        self.qmp, self.said = Channel(), Channel()
        ends = [channel.theirs.fileno() for channel in (self.qmp, self.said)]
        with open(self.work / "qemu.log", "w") as log:
            self.qemu = subprocess.Popen(self._command(kernel, *ends), stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                                         pass_fds=ends)
        for channel in (self.qmp, self.said):
            channel.theirs.close()
        self.tell("qmp_capabilities")
        self.plug()
        self.tell("cont")
        return self

    def _command(self, kernel, qmp, said):
        work = self.work
        command = f"""setpriv --pdeathsig KILL qemu-system-x86_64 -nodefaults -display none -no-user-config -S
            -accel tcg -icount shift=0,sleep=off -cpu qemu64 -m 512 -rtc clock=vm
            -kernel {kernel}/vmlinux -initrd {work}/initramfs
            -serial file:{work}/console.log
            -chardev socket,id=said,fd={said} -serial chardev:said
            -chardev socket,id=qmp,fd={qmp} -mon chardev=qmp,mode=control
            -fsdev local,id=rig,path={work},security_model=none
            -device virtio-9p-pci,fsdev=rig,mount_tag=rig
            -device qemu-xhci,id=usb
            -audiodev wav,id=sound,path={work}/heard.wav,out.frequency=48000
            -device intel-hda -device hda-output,audiodev=sound,mixer=off""".split()
        command += ["-append", "console=ttyS0 quiet panic=-1 mitigations=off nokaslr no_timer_check tsc=reliable"]
        if self.disk:
            # Memory that outlives a reset: the machine need not wait for the host's disk.
            command += ["-machine", "nvdimm=on", "-m", "slots=1,maxmem=1G", "-device", "nvdimm,memdev=disk", "-object",
                        f"memory-backend-file,id=disk,share=on,mem-path={self.disk},size={DISK_BYTES}"]
        return command

    def __exit__(self, kind, value, trace):
        if self.qemu.poll() is None:
            try:
                self.tell("quit")  # completes the WAV file, as a kill would not
                self.qemu.wait(5)
            except (RigError, OSError, subprocess.TimeoutExpired):
                self.qemu.kill()
        self.qemu.wait()

    def reply(self, text):
        """A line for the script to read from its descriptor 3."""
        self.said.send(text)

    def tell(self, command, **arguments):
        """One QMP command; its answer."""
        self.qmp.send(json.dumps({"execute": command, "arguments": arguments}))
        while True:
            line = self.qmp.line(20)
            if line is None:
                raise RigError(f"no answer to {command}; see {self.work}/qemu.log")
            answer = json.loads(line)
            if "error" in answer:
                raise RigError(f"{command}: {answer['error']['desc']}")
            if "return" in answer:
                return answer["return"]

    def plug(self, serial="1"):
        self.pedals += 1
        self.tell("device_add", driver="usb-kbd", id=f"pedal{self.pedals}", bus="usb.0", serial=serial)

    def unplug(self):
        self.tell("device_del", id=f"pedal{self.pedals}")

    def key(self, key, down):
        self.tell("input-send-event", events=[{"type": "key", "data": {
            "down": down, "key": {"type": "qcode", "data": key}}}])

    def press(self, key="b", *holds_ms):
        """Press and release once for each of the times, with as long a pause after each. The times are the
        machine's, not the host's."""
        for hold_ms in holds_ms or (80,):
            self.tell("send-key", keys=[{"type": "qcode", "data": key}], **{"hold-time": hold_ms})

    def reset(self):
        self.tell("system_reset")

    def wait_for(self, text, limit_s=BOOT_LIMIT_S):
        """Read what the script says until a line contains the text; that line."""
        until = time.monotonic() + limit_s
        while (line := self.said.line(max(0.0, until - time.monotonic()))) is not None:
            self.heard.append(line)
            if text in line:
                return line
        raise RigError(f"the machine did not say {text!r}, but at last:\n  " + "\n  ".join(self.heard[-8:]))

    def wait_off(self, limit_s):
        try:
            self.qemu.wait(limit_s)
        except subprocess.TimeoutExpired:
            raise RigError(f"the machine did not switch off; see {self.work}/console.log") from None
