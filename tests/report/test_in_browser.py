"""Usage: test_in_browser.py PULLCALL WRITE_SHOP FOLDER

The pages as a reader has them: in Chromium on a desktop and on a phone, light and dark, and on
paper. Nothing runs over the edge, nothing is fetched, and axe-core (a checker of the Web Content
Accessibility Guidelines, from npm) finds nothing serious. Screenshots stay in FOLDER.
"""
import os
import pathlib
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import unittest

from browser import Browser, fetch_axe

PULLCALL, WRITE_SHOP = sys.argv[1], sys.argv[2]
FOLDER = pathlib.Path(sys.argv[3]).resolve()

WIDTHS = {"desktop": 1280, "phone": 390, "narrow": 360}


def make_page(name, *arguments):
    page = FOLDER / f"{name}.html"
    subprocess.run([PULLCALL, "review", *arguments, "--journal", str(Pages.journal),
                    "--html", str(page)], check=True)
    return page


class Pages(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        # In memory if there is such a place: a journal waits for the disk at every event.
        memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
        cls.room = tempfile.mkdtemp(prefix="pullcall-pages-", dir=memory)
        cls.addClassCleanup(shutil.rmtree, cls.room, ignore_errors=True)
        cls.journal = pathlib.Path(cls.room) / "journal.db"
        subprocess.run([WRITE_SHOP, str(cls.journal)], check=True)
        cls.axe = fetch_axe(FOLDER)
        cls.pages = {
            "job": make_page("job", "ridge-court-0042"),
            "open-job": make_page("open-job", 'still <open> & "odd"'),
            "jobs": make_page("jobs"),
        }
        # The same shop, were every job a day's work.
        with sqlite3.connect(cls.journal) as journal:
            journal.execute("UPDATE event SET steady_us = steady_us * 17")
        journal.close()
        cls.pages["hours"] = make_page("hours", "ridge-court-0042")
        cls.pages["hours-of-jobs"] = make_page("hours-of-jobs")
        cls.browser = Browser(cls.room)
        cls.addClassCleanup(cls.browser.close)

    def open_all(self):
        """Every page in turn; none asks for anything but itself."""
        for name, page in self.pages.items():
            self.assertEqual(self.browser.open(page), [page.as_uri()])
            yield name

    def looks(self, *wanted):
        """Every page at every width in both schemes, or only so: "phone dark"."""
        for name in self.open_all():
            for place, width in WIDTHS.items():
                for scheme in ("light", "dark"):
                    if not wanted or f"{place} {scheme}" in wanted:
                        self.browser.look(width, scheme)
                        yield name, place, scheme, width

    def unfold(self, unfolded):
        self.browser.run("document.querySelectorAll('details').forEach("
                         f"d => d.open = {str(unfolded).lower()})")

    def fits(self, width):
        self.assertEqual(self.browser.run("innerWidth"), width)
        self.assertLessEqual(self.browser.run("document.documentElement.scrollWidth"), width)
        over = self.browser.run(
            "[...document.querySelectorAll('main *')].filter(e => {"
            "const r = e.getBoundingClientRect();"
            "return r.width && (r.right > innerWidth + 0.5 || r.left < -0.5)})"
            ".map(e => e.outerHTML.slice(0, 80))")
        self.assertEqual(over, [])

    def test_fits_in_the_colours_asked_for(self):
        for name, place, scheme, width in self.looks():
            with self.subTest(page=name, place=place, scheme=scheme):
                self.unfold(True)
                self.fits(width)
                self.unfold(False)
                self.fits(width)
                self.browser.save_screenshot(FOLDER / f"{name}-{place}-{scheme}.png")
                paper = self.browser.run("getComputedStyle(document.body).backgroundColor")
                is_dark = sum(map(int, re.findall(r"\d+", paper)[:3])) < 200
                self.assertEqual(is_dark, scheme == "dark")

    def test_letters_in_pictures_are_inside_and_large_enough(self):
        for name, place, scheme, _width in self.looks("desktop light", "phone light"):
            with self.subTest(page=name, place=place, scheme=scheme):
                bad = self.browser.run(
                    "[...document.querySelectorAll('svg')].flatMap(svg => {"
                    "const s = svg.getBoundingClientRect();"
                    "return [...svg.querySelectorAll('text')].filter(t => {"
                    "const r = t.getBoundingClientRect();"
                    "const size = parseFloat(t.getAttribute('font-size')) * s.width /"
                    "  svg.viewBox.baseVal.width;"
                    "return size < 9.9 || r.left < s.left - 1 || r.right > s.right + 1 ||"
                    "  r.top < s.top - 1 || r.bottom > s.bottom + 1})"
                    ".map(t => svg.getAttribute('aria-labelledby') + ': ' + t.textContent)})")
                self.assertEqual(bad, [])
                over_each_other = self.browser.run(
                    "[...document.querySelectorAll('svg')].flatMap(svg => {"
                    "const boxes = [...svg.querySelectorAll('.scale, .value, .number')].filter("
                    "  t => !t.hasAttribute('transform')).map(t => [t, t.getBoundingClientRect()]);"
                    "return boxes.flatMap(([t, a], i) => boxes.slice(i + 1).filter(([u, b]) =>"
                    "  t.getAttribute('class') == u.getAttribute('class') && a.left < b.right - 1 &&"
                    "  b.left < a.right - 1 && a.top + 3 < b.bottom - 3 && b.top + 3 < a.bottom - 3)"
                    "  .map(([u]) => t.textContent + ' on ' + u.textContent))})")
                self.assertEqual(over_each_other, [])

    def test_axe_finds_nothing_serious(self):
        rules = set()
        for name, place, scheme, _width in self.looks("desktop light", "phone dark"):
            with self.subTest(page=name, place=place, scheme=scheme):
                self.unfold(True)
                self.browser.run(self.axe + ";0")
                found = self.browser.run(
                    "axe.run(document, {resultTypes: ['violations']}).then(r => ({"
                    "passes: r.passes.map(p => p.id),"
                    "violations: r.violations.map(v => [v.impact, v.id,"
                    "  v.nodes.slice(0, 3).map(n => n.html + ' ' + n.failureSummary)])}))")
                rules.update(found["passes"])
                self.assertEqual(found["violations"], [])
        # It did look.
        for rule in ("color-contrast", "svg-img-alt", "html-has-lang", "heading-order",
                     "document-title", "td-headers-attr"):
            self.assertIn(rule, rules)

    def test_axe_would_find_something(self):
        """The checker sees what it is there for: the same page, spoilt."""
        self.browser.open(self.pages["job"])
        self.browser.look(1280)
        self.browser.run("document.documentElement.removeAttribute('lang');"
                         "document.querySelectorAll('svg').forEach(s => {"
                         "s.removeAttribute('aria-labelledby'); s.querySelector('title').remove()});"
                         "document.querySelector('h1').style.color = '#ddd'")
        self.browser.run(self.axe + ";0")
        found = self.browser.run("axe.run(document).then(r => r.violations.map(v => v.id))")
        for rule in ("html-has-lang", "svg-img-alt", "color-contrast"):
            self.assertIn(rule, found)

    def test_prints_with_all_tables(self):
        for name in self.open_all():
            with self.subTest(page=name):
                self.browser.look(WIDTHS["desktop"], "dark")
                folded = self.browser.run("[...document.querySelectorAll('details caption')]"
                                          ".map(c => c.innerText)")
                self.browser.save_pdf(FOLDER / f"{name}.pdf")
                text = subprocess.run(["pdftotext", str(FOLDER / f"{name}.pdf"), "-"], check=True,
                                      capture_output=True).stdout.decode()
                words = " ".join(text.lower().split())
                self.assertTrue(folded)
                for caption in folded:
                    self.assertIn(" ".join(caption.lower().split()), words)


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    unittest.main(argv=[sys.argv[0], "-v"])
