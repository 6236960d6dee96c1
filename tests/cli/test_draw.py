#!/usr/bin/python3 -B
"""`pullcall draw` from outside: its picture against `pullcall steps --json`, and where it may not write.

    test_draw.py FOLDER_OF_PROGRAMS
"""
import json
import math
import pathlib
import re
import resource
import subprocess
import sys
import unittest
import xml.etree.ElementTree as ElementTree

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import DEMO, Bench, SOURCE  # noqa: E402

PROGRAMS = None
SVG = "{http://www.w3.org/2000/svg}"
OPEN = SOURCE / "patterns" / "open-16x19.yaml"


def with_class(picture, tag, name):
    return [element for element in picture.iter(SVG + tag) if name in element.get("class", "").split()]


class Draw(unittest.TestCase):
    def setUp(self):
        self.bench = Bench(PROGRAMS)
        self.addCleanup(self.bench.close)

    def draw(self, *arguments, code=0, **options):
        result = self.bench.run("pullcall", "draw", *arguments, **options)
        self.assertEqual(result.returncode, code, result.stderr)
        return result

    def picture(self, *arguments):
        result = self.draw(*arguments, "-o", "-")
        self.assertEqual(result.stderr, "")
        return ElementTree.fromstring(result.stdout)

    def test_pulls_are_those_of_steps(self):
        steps = json.loads(self.bench.run("pullcall", "steps", "--json", DEMO).stdout)
        picture = self.picture(DEMO)
        drawn = [(disc.get("data-hole"), disc.get("data-side")) for disc in with_class(picture, "circle", "pull")]
        self.assertEqual(drawn, [(move["hole"], move["side"]) for move in steps["moves"] if move["do"] == "pull"])
        holes = {(strand.get("data-string"), int(strand.get("data-number")), strand.get("data-side")):
                 (strand.get("data-from"), strand.get("data-to")) for strand in with_class(picture, "g", "strand")}
        threaded = {(move["string"], move["number"], move["side"]): (move["from"], move["to"])
                    for move in steps["moves"] if move["do"] in ("feed", "weave")}
        self.assertEqual(holes, threaded)

    def test_a_reader_is_told(self):
        picture = self.picture(DEMO)
        self.assertEqual(picture.get("role"), "img")
        self.assertIn("Sixteen by nineteen", picture.findtext(SVG + "title"))
        description = picture.findtext(SVG + "desc")
        self.assertIn("Skipped: 7H 9H 7T 9T.", description)
        self.assertRegex(description, r"1\. main 1: 1H left; 2\. main 1: 1H right; .* 17\. cross 1–2: 9H left")

    def test_at_a_call_its_words_stand_above(self):
        steps = json.loads(self.bench.run("pullcall", "steps", "--json", DEMO).stdout)
        for call in steps["calls"][::7]:
            picture = self.picture(DEMO, "--at", call["n"])
            words = " ".join(text.text for text in picture.iter(SVG + "text"))
            self.assertIn(f"Call {call['n']} of {len(steps['calls'])}", words)
            self.assertIn(call["text"], words)
        result = self.draw(DEMO, "--at", len(steps["calls"]) + 1, "-o", "x.svg", code=2)
        self.assertTrue(result.stderr.startswith("--at: error: there is no call "), result.stderr)
        self.assertIn(f"the job has {len(steps['calls'])}", result.stderr)

    def test_card_has_the_facts(self):
        words = " ".join(text.text for text in self.picture(DEMO, "--card").iter(SVG + "text"))
        for fact in ("ridge-court-0042", "16 x 19", "7H 9H 7T 9T", "8T left, 8T right", "54 lb (24.5 kg)",
                     "52 lb (23.6 kg)", "22 kg – 28 kg (48.6 – 61.7 lb)", "co-polyester 1.25", "multifilament 1.30", "eye protection"):
            self.assertIn(fact, words)
        steps = json.loads(self.bench.run("pullcall", "steps", "--json", DEMO).stdout)
        # The squares have the numbers of the calls that pull; the discs of the bed are another count.
        pulling = [call["n"] for call in steps["calls"] for move in steps["moves"][call["moves"][0] - 1:call["moves"][1]]
                   if move["do"] == "pull"]
        card = self.picture(DEMO, "--card")
        texts = [text.text for text in card.iter(SVG + "text")]
        self.assertTrue(set(map(str, pulling)) <= set(texts))
        self.assertEqual((len(with_class(card, "path", "pull")), with_class(card, "circle", "pull")), (len(pulling), []))
        self.assertIn("Call that pulls it, where it is pulled", texts)
        [tags] = with_class(card, "g", "tags")
        self.assertNotIn("1", [text.text for text in tags.iter(SVG + "text")])
        cuts = [move["length_mm"] for move in steps["moves"] if move["do"] == "cut"]
        self.assertEqual(len(cuts), 2)
        for millimetres in cuts:
            self.assertIn(f"{millimetres / 1000:.2f} m", words)

    def test_card_has_all_values_in_one_column(self):
        for language in ("en", "de", "es", "fr", "it"):
            bench = self.bench.home / "bench.yaml"
            bench.write_text(f"voice: {{ language: {language} }}\n", encoding="utf-8")
            texts = self.picture(DEMO, "--card", "--bench", bench).iter(SVG + "text")
            facts = [text for text in texts if float(text.get("x")) >= 150]
            self.assertGreater(len(facts), 40)
            self.assertEqual(len({text.get("x") for text in facts}), 2, language)  # of the names and of the values

    def test_no_knot_hides_a_clamp(self):
        """The last crosses are clamped beside the knots of the mains."""
        seen = 0
        calls = json.loads(self.bench.run("pullcall", "steps", "--json", DEMO).stdout)["calls"]
        for call in calls[20:]:
            picture = self.picture(DEMO, "--at", call["n"])
            at = {name: [tuple(map(float, re.match(r"translate\((\S+) (\S+)\)", mark.get("transform")).groups()))
                         for mark in with_class(picture, "use", name)] for name in ("clamp", "knot")}
            for clamp in at["clamp"]:
                for knot in at["knot"]:
                    seen += 1
                    self.assertGreaterEqual(math.dist(clamp, knot), 3.4, call)
        self.assertGreater(seen, 50)

    def test_notes_are_on_the_card_and_in_the_steps(self):
        plan = self.bench.home / "notes.yaml"
        plan.write_text(DEMO.read_text(encoding="utf-8") + "notes: chip at nine left\n", encoding="utf-8")
        self.assertIn("Notes: chip at nine left", [text.text for text in self.picture(plan, "--card").iter(SVG + "text")])
        self.assertIn("Notes: chip at nine left", self.bench.run("pullcall", "steps", plan).stdout.splitlines())

    def test_card_shows_the_machine_and_its_moves(self):
        bench = self.bench.home / "bench.yaml"
        plan = self.bench.home / "flying.yaml"
        plan.write_text(DEMO.read_text(encoding="utf-8").replace("lead: 1", "lead: 2"), encoding="utf-8")
        for machine, job, facts in (
                ("machine: { clamps: fixed }", DEMO, ("lock-out", "Clamps fixed", "fixed clamp, main 1 right, inside 1T", "Mounts 2, look again")),
                ("machine: { clamps: glide-bar, starting_clamp: yes, mounts: 6 }", DEMO,
                 ("glide-bar", "starting clamp, main 1 right, outside 1H", "Set for crosses call ", "Mounts 6, look again")),
                ("machine: { clamps: flying, tension: drop-weight }", plan,
                 ("drop-weight", "flying clamp, main 1 right, outside 1H", "each string and the one before it"))):
            bench.write_text(machine + "\n", encoding="utf-8")
            words = " ".join(text.text for text in self.picture(job, "--card", "--bench", bench).iter(SVG + "text"))
            for fact in facts:
                self.assertIn(fact, words)

    def test_card_of_one_piece_has_both_lengths_and_no_empty_row(self):
        plan = DEMO.read_text(encoding="utf-8").replace("two-piece", "one-piece")
        plan = "".join(line for line in plan.splitlines(True) if not line.startswith(("string:", "  mains: ", "  crosses: ")))
        path = self.bench.home / "one.yaml"
        path.write_text(plan, encoding="utf-8")
        texts = [text.text for text in self.picture(path, "--card").iter(SVG + "text")]
        words = " ".join(texts)
        lengths = json.loads(self.bench.run("pullcall", "steps", "--json", path).stdout)["lengths"]
        for name, key in (("Short side", "short_mm"), ("Long side", "long_mm")):
            self.assertIn(f"{name} {lengths[key] / 1000:.2f} m", words)
        self.assertIn("left, over first", words)
        for fact in ("Holes per side", "Direction", "Maker's range"):
            self.assertIn(fact, words)
        for empty in ("none", "any", "Shared", "Unused"):
            self.assertNotIn(empty, texts)

    def test_users_words_for_the_sides(self):
        bench = self.bench.home / "bench.yaml"
        bench.write_text("speak: { left: tape side, right: plain side }\n", encoding="utf-8")
        result = self.bench.run("pullcall", "check", bench)
        self.assertEqual(result.returncode, 0, result.stderr)
        words = [text.text for text in self.picture(DEMO, "--bench", bench).iter(SVG + "text")]
        self.assertIn("tape side", words)
        self.assertIn("plain side", words)

    def test_pattern_alone(self):
        picture = self.picture(OPEN)
        self.assertEqual(len(with_class(picture, "g", "strand")), 16 + 19)
        self.assertIn("needs a job plan", self.draw(OPEN, "--card", "-o", "x.pdf", code=1).stderr)
        self.assertFalse((self.bench.home / "x.pdf").exists())

    def test_an_open_job_with_a_way_back(self):
        """At every call of a redo the picture has the strings that the daemon says are in."""
        self.bench.start("pullcalld", "--sound", "none", "--pedal", "none", stderr=subprocess.DEVNULL)
        self.bench.wait_for_daemon()
        with self.bench.connect() as hand:
            self.assertTrue(hand.ask({"do": "load", "file": str(DEMO)})["ok"])
            while not hand.ask({"do": "next"})["text"].startswith("Cross twelve"):
                pass
            self.assertTrue(hand.ask({"do": "redo", "string": "cross 9"})["ok"])
            most = least = 0
            while True:
                status = hand.ask({"do": "status"})
                words = " ".join(text.text for text in self.picture("--job", "1").iter(SVG + "text"))
                self.assertIn(f"Call {status['call']} of {status['calls']}", words)
                drawn = {"left": [], "right": [], "crosses": []}
                for strand in with_class(self.picture("--job", "ridge-court-0042"), "g", "strand"):
                    main = strand.get("data-string") == "main"
                    drawn[strand.get("data-side") if main else "crosses"].append(int(strand.get("data-number")))
                for key, numbers in status["in_bed"].items():
                    extra = set(drawn[key]) - set(numbers)  # the string that the call threads
                    self.assertLessEqual(set(numbers), set(drawn[key]))
                    self.assertLessEqual(len(extra), 1)
                count = len(status["in_bed"]["crosses"])
                most, least = max(most, count), min(least or count, count)
                if status["text"].startswith("Cross twelve"):
                    break
                hand.ask({"do": "next"})
            self.assertEqual((least, most), (8, 11))
            status = hand.ask({"do": "status"})
        back = self.picture("--job", "1", "--at", "30")
        self.assertEqual(with_class(back, "g", "strand")[0].get("id"), "main-1-left")
        self.assertIn("there is no call", self.draw("--job", "1", "--at", status["calls"] + 1, "-o", "x.svg", code=2).stderr)
        self.assertIn("99", self.draw("--job", "99", "-o", "x.svg", code=1).stderr)
        self.draw("--job", "1", DEMO, "-o", "x.svg", code=2)
        self.draw("--job", "1", "--journal", "none.db", "-o", "x.svg", code=1)

    def test_formats(self):
        for name, start in (("bed.svg", b"<?xml"), ("bed.pdf", b"%PDF-"), ("bed.png", b"\x89PNG\r\n")):
            self.draw(DEMO, "-o", name)
            self.assertTrue((self.bench.home / name).read_bytes().startswith(start))
        self.draw(DEMO, "-o", "bed.jpg", code=2)

    def test_wrong_usage(self):
        for arguments in ([], [DEMO], [DEMO, OPEN], [DEMO, "--at", "0"], [DEMO, "--at", "x"],
                          [DEMO, "--at", "3", "--card"]):
            result = self.draw(*arguments, *(["-o", "x.svg"] if arguments != [DEMO] else []), code=2)
            self.assertEqual(len(result.stderr.splitlines()), 1, arguments)

    def test_wrong_files(self):
        plan = self.bench.home / "plan.yaml"
        plan.write_text("job: x\npattern: no-such\n", encoding="utf-8")
        result = self.draw(plan, "-o", "x.svg", code=1)
        self.assertIn("plan.yaml", result.stderr)
        self.assertFalse((self.bench.home / "x.svg").exists())
        self.draw("nowhere.yaml", "-o", "x.svg", code=1)

    def test_disk_full_half_way_leaves_what_was_there(self):
        folder = self.bench.home / "full"
        folder.mkdir()
        for name in ("bed.svg", "bed.pdf", "bed.png"):
            (folder / name).write_text("mine", encoding="utf-8")
            result = self.draw(DEMO, "-o", folder / name, code=74,
                               preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096)))
            self.assertRegex(result.stderr, rf"{name}: error: .+\[draw-write\]")
            self.assertEqual((folder / name).read_text(encoding="utf-8"), "mine")
        self.assertEqual(len(list(folder.iterdir())), 3)
        with open("/dev/full", "w", encoding="utf-8") as full:
            result = subprocess.run([PROGRAMS / "pullcall", "draw", DEMO, "-o", "-"], env=self.bench.environment, stdout=full,
                                    stderr=subprocess.PIPE, text=True, timeout=30, check=False)
        self.assertEqual(result.returncode, 74)
        self.assertTrue(re.search("No space left on device", result.stderr))
        self.draw(DEMO, "-o", "none/bed.svg", code=74)


if __name__ == "__main__":
    PROGRAMS = pathlib.Path(sys.argv.pop(1)).resolve()
    unittest.main()
