#!/usr/bin/python3 -B
"""Whatever is shown during a job is in the language of the bench: picture, card, label and board have no English word
left in any other language.

    test_language.py FOLDER_OF_PROGRAMS
"""
import html.parser
import pathlib
import re
import sys
import unittest
import xml.etree.ElementTree as ElementTree

from served import DEMO, SOURCE, TOKEN, Served, wait_until

sys.path.insert(0, str(SOURCE / "tests" / "phrase"))
from other_words import VOICE, words  # noqa: E402

PLAN = re.sub(r"^(job|stringer|racket|customer): .*\n", "", DEMO.read_text(encoding="utf-8"), flags=re.M)
PLAN = PLAN.replace("co-polyester", "Qx").replace("multifilament", "Qy")
OWN = "pattern: zz\n"


def shown(language):
    """The words and values of the phrasebook's map `shown`, by key."""
    text = (VOICE / f"{language}.yaml").read_text(encoding="utf-8")
    part = text[text.index("\nshown:\n"):text.index("\ncalls:\n")]
    return dict(re.findall(r"^  ([\w-]+): (.*)$", part, flags=re.M))


def split(text):
    return set(re.findall(r"[^\W\d_]{2,}", text.lower()))


class Page(html.parser.HTMLParser):
    """What a browser shows or reads out."""

    def __init__(self, page):
        super().__init__()
        self.text = []
        self.feed(page)

    def handle_starttag(self, _, attrs):
        self.text += [value for name, value in attrs if name in ("aria-label", "data-lost", "data-silent")]

    def handle_data(self, data):
        self.text.append(data)


class Language(unittest.TestCase):
    def setUp(self):
        self.bench = Served(sys.argv[1])
        self.addCleanup(self.bench.close)
        pattern = (SOURCE / "patterns" / "open-16x19.yaml").read_text(encoding="utf-8")
        pattern = re.sub(r"^pattern: .*", "pattern: zz", re.sub(r"^title: .*", "title: Zz", pattern, flags=re.M), flags=re.M)
        (self.bench.home / "zz.yaml").write_text(pattern, encoding="utf-8")
        self.plans = [self.plan(f"xq-{number}", f"racket: R-{number}\ncustomer: qc\ndue: 2026-12-0{number}\n")
                      for number in (1, 2, 3)]

        # The pattern without holes for knots: those that the program finds are suggestions.
        text = pattern.replace("pattern: zz", "pattern: zy")
        text = re.sub(r"^tie_off:.*\n(  .*\n)*", "", text, flags=re.M)
        (self.bench.home / "zy.yaml").write_text(text, encoding="utf-8")
        self.assertNotIn("tie_off", text)

    def plan(self, name, more, pattern="zz"):
        path = self.bench.home / f"{name}.yaml"
        text = re.sub(r"^pattern: .*", f"pattern: {pattern}", PLAN, flags=re.M)
        path.write_text(f"job: {name}\nstringer: qs\n{more}{text}", encoding="utf-8")
        return path

    def file(self, *arguments):
        result = self.bench.run("pullcall", *arguments, "-o", "-")
        self.assertEqual((result.returncode, result.stderr), (0, ""), arguments)
        return " ".join(ElementTree.fromstring(result.stdout).itertext())

    def page(self, cookie=f"pullcall={TOKEN}"):
        return " ".join(Page(self.bench.ask(Cookie=cookie)[2]).text)

    def machine(self, language, machine):
        config = self.bench.home / ".config" / "pullcall"
        config.mkdir(parents=True, exist_ok=True)
        (config / "bench.yaml").write_text(f"voice: {{ language: {language} }}\nmachine: {machine}\n", encoding="utf-8")

    def see(self, language):
        """Every text that is shown during a job, by what shows it."""
        seen = {}
        for name, machine in (("fixed", "{ clamps: fixed }"),
                              ("glide-bar", "{ clamps: glide-bar, starting_clamp: yes, mounts: 6, tension: constant }")):
            self.machine(language, machine)
            seen[f"card, {name}"] = self.file("draw", self.plans[0], "--card")
        seen["picture"] = self.file("draw", self.plans[0])
        bare = self.plan("xq-4", "", pattern="zy")
        seen["picture, no knots"] = self.file("draw", bare)
        seen["card, no knots"] = self.file("draw", bare, "--card")
        for call in range(10, 60, 7):
            seen[f"call {call}"] = self.file("draw", self.plans[0], "--at", call)
        seen["pattern"] = self.file("draw", self.bench.home / "zz.yaml")
        self.bench.start_daemon(self.plans[0])
        self.bench.start_board("--token-file", self.bench.token_file, "--steer")
        self.assertEqual(self.bench.run("pullcall", "rack", "add", *self.plans[1:]).returncode, 0)
        seen["entrance"] = self.page(cookie="")
        for verb in ("next", "pause", "resume"):
            state = self.bench.tell(do=verb)["state"]
            wait_until(lambda: f'data-state="{state}"' in self.bench.ask(Cookie=f"pullcall={TOKEN}")[2], "no page")
            seen[f"board, {verb}"] = self.page()
        while self.bench.tell(do="status")["state"] not in ("ending", "idle"):
            self.bench.tell(do="next")
        wait_until(lambda: self.bench.tell(do="status")["state"] == "idle", "the job does not end")
        wait_until(lambda: 'data-state="idle"' in self.bench.ask(Cookie=f"pullcall={TOKEN}")[2], "no idle page")
        seen["board, idle"] = self.page()
        seen["label"] = self.file("label", "1")
        return seen

    def check(self, language):
        english = split(" ".join(shown("en").values())) | {"left", "right", "head", "throat"}
        own, texts = shown(language), words(language)
        self.assertGreater(len(english), 150)
        seen = self.see(language)
        for where, text in seen.items():
            self.assertEqual(split(text) & english - texts, set(), f"{language}, {where}: English words")
        for where, keys in (("card, fixed", ("frame", "machine", "safety", "caution_eyes", "legend_calls")),
                            ("picture", ("bed_seen", "legend_main", "legend_pulls", "first_side")),
                            ("card, no knots", ("suggested",)), ("picture, no knots", ("suggested",)),
                            ("label", ("racket", "strung", "pattern")),
                            ("board, next", ("rack", "due", "work", "again", "no_script", "connection_lost")),
                            ("board, pause", ("paused",)), ("board, idle", ("rack", "no_job")), ("entrance", ("token",))):
            for key in keys:
                self.assertIn(own[key].strip("'\""), " ".join(seen[where].split()), f"{language}, {where}: {key}")


def add_test(language):
    setattr(Language, f"test_{language}", lambda self: self.check(language))


for book in sorted(VOICE.glob("*.yaml")):
    if book.stem != "en":
        add_test(book.stem)

if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], "-v"])
