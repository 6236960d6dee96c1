#!/usr/bin/python3 -B
"""The board in Chromium, on a phone, a tablet and a wall, light and dark: it fits, it follows, it can be pressed, it
uses nothing but its own server, and axe-core finds nothing. Screenshots stay in FOLDER.

    test_in_browser.py FOLDER_OF_PROGRAMS FOLDER
"""
import pathlib
import sys
import tempfile
import unittest

from served import DEMO, TOKEN, Served, wait_until

from browser import Browser, fetch_axe

FOLDER = pathlib.Path(sys.argv[2]).resolve()
SCREENS = {"phone": (390, 844), "tablet": (1024, 768), "wall": (1920, 1080), "small": (320, 568), "low": (844, 390)}
# By name: how many presses it takes, and what else is told.
PLACES = {"idle": (0, ("stop",)), "greeting": (0, ()), "long": (6, ()), "main": (16, ()), "cross": (34, ("pause",)), "done": (60, ())}


class Board(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        room = tempfile.TemporaryDirectory(prefix="pullcall-browser-")
        cls.addClassCleanup(room.cleanup)
        cls.browser = Browser(room.name)
        cls.addClassCleanup(cls.browser.close)

    def setUp(self):
        self.bench = Served(sys.argv[1])
        self.addCleanup(self.bench.close)
        self.bench.start_daemon()
        self.bench.start_board("--token-file", self.bench.token_file, "--steer")
        self.browser.ask("Network.clearBrowserCookies")
        self.browser.ask("Emulation.setScriptExecutionDisabled", value=False)
        self.url = f"http://{self.bench.host}/"

    def enter(self):
        self.browser.go(self.url)
        self.browser.run(f"document.querySelector('#token').value = '{TOKEN}';"
                         "document.querySelector('form').requestSubmit(); 0")
        wait_until(lambda: self.run_when_loaded("!!document.querySelector('#board')"), "the token is not taken")

    def run_when_loaded(self, script):
        try:
            return self.browser.run(script)
        except RuntimeError:  # between two pages
            return None

    def words(self, part):
        return self.browser.run(f"document.querySelector('#{part}').textContent")

    def press_to(self, place):
        presses, more = PLACES[place]
        for verb in ("next",) * presses + more:
            self.bench.tell(do=verb)
        told = self.bench.tell(do="status")
        call = told.get("text", "")
        wait_until(lambda: call in self.words("call") and self.state() == told["state"], "the page does not follow")

    def state(self):
        return self.browser.run("document.querySelector('#board').dataset.state")

    def fits(self):
        """Nothing runs out of the screen or out of its own box, and no two parts overlap."""
        bad = self.browser.run("""(() => {
            const bad = [];
            const page = document.documentElement;
            if (page.scrollWidth > innerWidth || page.scrollHeight > innerHeight)
                bad.push(`page ${page.scrollWidth}x${page.scrollHeight}`);
            const parts = [...document.querySelectorAll('#board > *, #steer, #link')]
                .filter(e => getComputedStyle(e).display !== 'none' && e.getBoundingClientRect().height > 0);
            for (const e of parts) {
                const r = e.getBoundingClientRect();
                if (r.left < -0.5 || r.top < -0.5 || r.right > innerWidth + 0.5 || r.bottom > innerHeight + 0.5)
                    bad.push(`${e.id} leaves the screen`);
                if (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1)
                    bad.push(`${e.id} is too small for what is in it`);
                for (const o of parts) {
                    const q = o.getBoundingClientRect();
                    if (e !== o && r.left < q.right - 1 && q.left < r.right - 1 && r.top < q.bottom - 1 &&
                        q.top < r.bottom - 1)
                        bad.push(`${e.id} overlaps ${o.id}`);
                }
            }
            return bad;
        })()""")
        self.assertEqual(bad, [])

    def start_in_german(self):
        """With longer words, and more on the rack than a line has room for."""
        config = self.bench.home / ".config" / "pullcall"
        config.mkdir(parents=True)
        (config / "bench.yaml").write_text("voice: { language: de }\n")
        self.bench.end(self.bench.board)
        self.bench.end(self.bench.daemon)
        plans = [self.bench.home / f"waiting-{number}.yaml" for number in range(1, 7)]
        for plan in plans:
            plan.write_text(DEMO.read_text().replace("job: ridge-court-0042", f"job: {plan.stem}-with-a-long-name\n"
                                                     "racket: R-118 of the set of three\ndue: 2026-12-01"))
        self.assertEqual(self.bench.run("pullcall", "rack", "add", *plans).returncode, 0)
        self.bench.start_daemon(job=None)
        self.bench.start_board("--token-file", self.bench.token_file, "--steer")
        self.url = f"http://{self.bench.host}/"

    def test_fits_every_screen_and_passes_axe(self):
        axe = fetch_axe(FOLDER)
        self.start_in_german()
        self.enter()
        rules = set()
        for place in PLACES:
            if place != "idle":
                self.bench.tell(do="stop")
                wait_until(lambda: self.bench.tell(do="status")["state"] == "idle", "the job does not end")
                plan = self.bench.home / f"{place}.yaml"
                plan.write_text(DEMO.read_text().replace("ridge-court-0042", f"ridge-court-{place}"))
                self.assertTrue(self.bench.tell(do="load", file=str(plan))["ok"])
            self.press_to(place)
            for name, (width, height) in SCREENS.items():
                for scheme in ("light", "dark"):
                    with self.subTest(place=place, screen=name, scheme=scheme):
                        self.browser.look(width, scheme, height=height)
                        self.browser.run("new Promise(done => setTimeout(done, 50))")
                        self.fits()
                        self.browser.save_screenshot(FOLDER / f"board-{place}-{name}-{scheme}.png")
                        self.browser.run(axe + ";0")
                        found = self.browser.run(
                            "axe.run(document).then(r => ({passes: r.passes.map(p => p.id), violations:"
                            " r.violations.map(v => [v.impact, v.id, v.nodes[0].html, v.nodes[0].failureSummary])}))")
                        rules.update(found["passes"])
                        self.assertEqual(found["violations"], [])
        for rule in ("color-contrast", "svg-img-alt", "html-has-lang", "page-has-heading-one", "button-name"):
            self.assertIn(rule, rules)

    def test_call_is_as_large_as_fits(self):
        self.enter()
        self.press_to("main")
        for name, least in (("phone", 50), ("tablet", 90), ("wall", 130)):
            self.browser.look(*SCREENS[name][:1], height=SCREENS[name][1])
            self.browser.run("new Promise(done => setTimeout(done, 50))")
            size = self.browser.run("parseFloat(getComputedStyle(document.querySelector('#call')).fontSize)")
            self.assertGreater(size, least, name)
            self.browser.run(f"document.querySelector('#call').style.fontSize = '{size + 3}px'; 0")
            self.assertTrue(self.browser.run(
                "(c => c.scrollHeight > c.clientHeight || c.scrollWidth > c.clientWidth)"
                "(document.querySelector('#call'))"), f"{name}: there is room for larger words")

    def test_follows_presses_and_goes_on_by_itself(self):
        self.enter()
        for _ in range(2):
            self.browser.run("document.querySelector('[formaction=\"/next\"]').click(); 0")
        wait_until(lambda: "the old bed" in self.words("call"), "the button does nothing")
        self.browser.run("document.querySelector('[formaction=\"/pause\"]').click(); 0")
        wait_until(lambda: self.state() == "paused", "the button does not pause")
        self.browser.run("document.querySelector('[formaction=\"/pause\"]').click(); 0")
        wait_until(lambda: self.words("link") == "Not possible now.", "the refusal is not shown")
        port = self.bench.port
        self.bench.end(self.bench.board)
        wait_until(lambda: "Connection lost" in self.words("link"), "the page does not say that it is alone")
        self.bench.tell(do="next")
        self.bench.start_board("--token-file", self.bench.token_file, "--steer", port=port)
        wait_until(lambda: self.state() == "calling" and not self.words("link"), "the page does not come back")
        self.bench.end(self.bench.daemon)
        wait_until(lambda: "No pullcalld" in self.words("call"), "the page does not miss the daemon")
        self.bench.start_daemon(job=None)
        wait_until(lambda: "the old bed" in self.words("call"), "the page does not go on")
        self.bench.end(self.bench.board)
        self.bench.token_file.write_text("another-" + TOKEN + "\n")
        self.bench.start_board("--token-file", self.bench.token_file, port=port)
        wait_until(lambda: self.run_when_loaded("!!document.querySelector('#token')"), "the token is not asked for")

    def test_uses_nothing_but_its_server(self):
        self.browser.ask("Log.enable")
        self.enter()
        self.browser.go(self.url)
        self.press_to("main")
        asked = [event["params"]["request"]["url"] for event in self.browser.events
                 if event.get("method") == "Network.requestWillBeSent"]
        self.assertEqual({url.removeprefix(self.url) for url in asked}, {"", "board.css", "board.js", "events"})
        complaints = [event["params"]["entry"]["text"] for event in self.browser.events
                      if event.get("method") == "Log.entryAdded"]
        self.assertEqual(complaints, [])

    def test_reads_without_script(self):
        self.enter()
        self.press_to("main")
        self.browser.ask("Emulation.setScriptExecutionDisabled", value=True)
        self.browser.look(390, height=844)
        self.browser.go(self.url)
        self.browser.save_screenshot(FOLDER / "board-without-script.png")
        self.assertIn("Main", self.words("call"))
        self.assertIn("Reload", self.browser.run("document.body.innerText"))
        self.fits()


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    unittest.main(argv=[sys.argv[0], "-v"])
