"""Headless Chromium, driven through the DevTools protocol over a pair of pipes: no port, no library.

What is looked at is the very file; widths and colour schemes are emulated, and scripts of the test
run beside the page (Runtime.evaluate), which has none of its own.
"""
import base64
import hashlib
import json
import os
import pathlib
import select
import shutil
import subprocess
import time

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--disable-extensions", "--remote-debugging-pipe"]


AXE = "axe-core-4.14.1"
# As the registry gives it for that version.
AXE_SHA512 = "FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ=="


def fetch_axe(folder):
    """The script of axe-core, a checker of the Web Content Accessibility Guidelines; fetched into the folder once."""
    tarball = pathlib.Path(folder) / f"{AXE}.tgz"
    if not tarball.exists():
        if not shutil.which("npm"):
            raise SystemExit("npm is not installed: this test needs it (tests/packages)")
        subprocess.run(["npm", "pack", "--silent", "--ignore-scripts", AXE.replace("-4", "@4"),
                        "--pack-destination", str(folder)],
                       check=True, stdout=subprocess.DEVNULL, cwd=folder, timeout=120)
    digest = base64.b64encode(hashlib.sha512(tarball.read_bytes()).digest()).decode()
    if digest != AXE_SHA512:
        raise SystemExit(f"{tarball} is not what was pinned: sha512 {digest}")
    return subprocess.run(["tar", "-xzOf", str(tarball), "package/axe.min.js"], check=True,
                          capture_output=True).stdout.decode()


class Browser:
    def __init__(self, folder):
        program = shutil.which("chromium")
        if not program:
            raise SystemExit("chromium is not installed: this test needs it (tests/packages)")
        self.profile = pathlib.Path(folder) / "profile"
        shutil.rmtree(self.profile, ignore_errors=True)
        to_read, self.to = os.pipe()
        self.come, from_write = os.pipe()
        self.process = subprocess.Popen(
            ["/bin/sh", "-c", 'exec "$@" 3<&%d 4>&%d' % (to_read, from_write), "sh", program,
             *FLAGS, f"--user-data-dir={self.profile}", "about:blank"],
            pass_fds=(to_read, from_write), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(to_read)
        os.close(from_write)
        self.next = 0
        self.bytes = b""
        self.events = []
        self.session = None
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Runtime"):
            self.ask(domain + ".enable")

    def close(self):
        self.process.terminate()
        self.process.wait()
        shutil.rmtree(self.profile, ignore_errors=True)

    def read(self, seconds=60):
        """The next message."""
        until = time.monotonic() + seconds
        while b"\0" not in self.bytes:
            left = until - time.monotonic()
            if left <= 0 or not select.select([self.come], [], [], left)[0]:
                raise TimeoutError("chromium does not answer")
            more = os.read(self.come, 1 << 16)
            if not more:
                raise EOFError("chromium ended")
            self.bytes += more
        message, self.bytes = self.bytes.split(b"\0", 1)
        return json.loads(message)

    def ask(self, method, **params):
        self.next += 1
        message = {"id": self.next, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        while True:
            got = self.read()
            if got.get("id") == self.next:
                if "error" in got:
                    raise RuntimeError(f"{method}: {got['error']}")
                return got["result"]
            self.events.append(got)

    def open(self, path):
        return self.go(pathlib.Path(path).as_uri())

    def go(self, url):
        """Loads a page and returns the addresses of all that was asked for meanwhile."""
        self.events = []
        self.ask("Page.navigate", url=url)
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self.read())
        return [event["params"]["request"]["url"] for event in self.events
                if event.get("method") == "Network.requestWillBeSent"]

    def look(self, width, scheme="light", media="", height=900):
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height,
                 deviceScaleFactor=1, mobile=False)
        self.ask("Emulation.setEmulatedMedia", media=media,
                 features=[{"name": "prefers-color-scheme", "value": scheme}])

    def run(self, script):
        """The value of an expression, waited for if it is a promise."""
        got = self.ask("Runtime.evaluate", expression=script, awaitPromise=True,
                       returnByValue=True)
        if "exceptionDetails" in got:
            raise RuntimeError(str(got["exceptionDetails"])[:500])
        return got["result"].get("value")

    def save_screenshot(self, path):
        got = self.ask("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        pathlib.Path(path).write_bytes(base64.b64decode(got["data"]))

    def save_pdf(self, path):
        got = self.ask("Page.printToPDF", preferCSSPageSize=True, paperWidth=8.27, paperHeight=11.69)
        pathlib.Path(path).write_bytes(base64.b64decode(got["data"]))
