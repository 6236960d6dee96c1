"""A whole machine without hardware: Debian's own kernel in QEMU, the host's root underneath, a USB keyboard as the
pedal and a sound card whose output is a WAV file.

    with Machine(work, script) as machine:        # boots; the script runs inside, its folder /rig is `work`
        machine.wait_for("ready")                 # a line the script wrote to its descriptor 3
        machine.press("b")
        machine.wait_off(20)                      # the script has ended
    # work/heard.wav: what came out of the sound card; work/typed: what the console's keyboards typed, pedal included
    # if nobody holds it; work/console.log: what the kernel and the script printed

The machine's clock counts its own instructions (-icount): a busy host makes a run longer, never the sound late. KVM
would lose that, and does not start everywhere.
"""
import json
import lzma
import os
import pathlib
import queue
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
DRIVERS = """virtio_pci virtio_blk 9pnet_virtio 9p overlay crc32c_generic ext4 xhci_pci usbhid hid_generic evdev
             snd_hda_codec_generic snd_hda_intel""".split()
FOLDERS = "bin dev proc sys lib lower upper whole".split()
BOOT_LIMIT_S = 120


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


def build_initramfs(kernel, target, drivers):
    modules = next(kernel.glob("lib/modules/*"))
    tree = target.with_suffix(".tree")
    shutil.rmtree(tree, ignore_errors=True)
    for folder in FOLDERS:
        (tree / folder).mkdir(parents=True)
    shutil.copy(shutil.which("busybox"), tree / "bin/busybox")
    shutil.copy(HERE / "guest-init", tree / "init")
    (tree / "init").chmod(0o755)
    files = driver_files(modules, drivers)
    for path in files:
        shutil.copy(modules / path, tree / "lib")
    (tree / "lib/order").write_text("".join(pathlib.Path(path).name + "\n" for path in files))
    names = "\n".join(str(path.relative_to(tree)) for path in sorted(tree.rglob("*")))
    with open(target, "wb") as out:
        subprocess.run(["cpio", "--quiet", "-o", "-H", "newc", "-R", "0:0"], cwd=tree, input=names.encode(),
                       stdout=out, check=True)
    shutil.rmtree(tree)


def make_disk(path, megabytes=64):
    with open(path, "wb") as out:
        out.truncate(megabytes << 20)
    run("/sbin/mkfs.ext4", "-q", "-F", path)


class Channel:
    """A pair of sockets, one end for QEMU, the other read line by line by a thread of its own."""

    def __init__(self):
        self.socket, self.theirs = socket.socketpair()
        self.lines = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        with self.socket.makefile("r", encoding="utf-8", errors="replace") as stream:
            for line in stream:
                self.lines.put(line.rstrip("\r\n"))
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
    def __init__(self, work, script, disk=None, drivers=()):
        need("qemu-system-x86_64", "busybox", "cpio", "apt-get", "dpkg-deb", "depmod")
        self.work = pathlib.Path(work)
        self.work.mkdir(parents=True, exist_ok=True)
        (self.work / "script").write_text(script)
        self.disk = disk
        self.drivers = [*DRIVERS, *drivers]
        self.heard = []
        self.pedals = 0

    def __enter__(self):
        kernel = fetch_kernel()
        build_initramfs(kernel, self.work / "initramfs", self.drivers)
        self.qmp, self.said = Channel(), Channel()
        ends = self.qmp.theirs, self.said.theirs
        with open(self.work / "qemu.log", "w") as log:
            self.qemu = subprocess.Popen(self._command(kernel, *(end.fileno() for end in ends)), stdin=subprocess.DEVNULL,
                                         stdout=log, stderr=log, pass_fds=[end.fileno() for end in ends])
        for end in ends:
            end.close()
        self.tell("qmp_capabilities")
        self.plug()
        self.tell("cont")
        return self

    def _command(self, kernel, qmp, said):
        work = self.work
        command = f"""qemu-system-x86_64 -nodefaults -display none -no-user-config -S
            -accel tcg -icount shift=1,sleep=on -cpu qemu64 -m 1024 -rtc clock=vm
            -kernel {kernel}/vmlinux -initrd {work}/initramfs
            -serial file:{work}/console.log
            -chardev socket,id=said,fd={said} -serial chardev:said
            -chardev socket,id=qmp,fd={qmp} -mon chardev=qmp,mode=control
            -fsdev local,id=root,path=/,security_model=none,readonly=on,multidevs=remap
            -device virtio-9p-pci,fsdev=root,mount_tag=root
            -fsdev local,id=rig,path={work},security_model=none
            -device virtio-9p-pci,fsdev=rig,mount_tag=rig
            -device qemu-xhci,id=usb
            -audiodev wav,id=sound,path={work}/heard.wav,out.frequency=48000
            -device intel-hda -device hda-output,audiodev=sound,mixer=off""".split()
        command += ["-append", "console=ttyS0 quiet panic=-1 mitigations=off nokaslr no_timer_check tsc=reliable"]
        if self.disk:
            command += ["-drive", f"file={self.disk},format=raw,if=virtio"]
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

    def plug(self):
        self.pedals += 1
        self.tell("device_add", driver="usb-kbd", id=f"pedal{self.pedals}", bus="usb.0")

    def unplug(self):
        self.tell("device_del", id=f"pedal{self.pedals}")

    def key(self, key, down):
        self.tell("input-send-event", events=[{"type": "key", "data": {
            "down": down, "key": {"type": "qcode", "data": key}}}])

    def press(self, key="b", hold_ms=80):
        """Press and release; the time between is the machine's, not the host's."""
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
        raise RigError(f"the machine did not say {text!r}; see {self.work}/console.log")

    def wait_off(self, limit_s):
        try:
            self.qemu.wait(limit_s)
        except subprocess.TimeoutExpired:
            raise RigError(f"the machine did not switch off; see {self.work}/console.log") from None
