#!/usr/bin/python3 -B
"""The manual says what the programs know: all of it, and nothing else. And its examples work.

    test_manual.py BUILD TABLES

What is bold in a page is known to a program letter by letter (or names a section or a page), so it can be
compared with the programs' help, with what they answer, and with what TABLES (tables.c) prints.
"""
import json
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from page import Page, bold_in, names  # noqa: E402
from programs import DEMO, SOURCE, Bench, wait_until  # noqa: E402

BUILD = pathlib.Path(sys.argv[1]).resolve()
PROGRAMS = BUILD / "bin"
BUILT = BUILD / "share" / "man"
TABLES = subprocess.run([sys.argv[2]], capture_output=True, text=True, check=True).stdout.splitlines()
SOUNDS = {"auto", "device", "device:", "wav:", "none"}
PEDALS = {"auto", "keys", "evdev", "none"}
SHOPS = {"quiet", "loud"}
SPOKEN_TWICE = {"yes", "no"}
PAGES = {name: Page(name) for name in names()}


def known(*groups):
    """The words that the rooms print for these groups."""
    found = [line.split(" ", 1) for line in TABLES]
    words = {word for group, word in found if group in groups}
    assert {group for group, _ in found} >= set(groups), groups
    return words


def literals(*rooms):
    """The texts in the libraries of some rooms: as `strings` finds them, and, where other bytes stand before them, as
    the sections of texts have them."""
    files = [BUILD / "src" / f"lib{room}.a" for room in rooms]
    found = subprocess.run(["strings", "-a", "-n", "2", *files], capture_output=True, text=True, check=True).stdout
    sections = subprocess.run(["readelf", "-p", ".rodata.str1.1", "-p", ".rodata.str1.8", *files], capture_output=True,
                              text=True, errors="replace", check=True).stdout
    return {*found.splitlines(), *re.findall(r"^ +\[ *[0-9a-f]+\]  (.*)$", sections, re.M)}


def run(*arguments, text=None):
    return subprocess.run([PROGRAMS / arguments[0], *arguments[1:]], input=text, capture_output=True, text=True,
                          timeout=30, check=False)


def help_of(*command):
    result = run(*command, "--help")
    assert result.returncode == 0, command
    return result.stdout


def options_of(*command):
    return set(re.findall(r"--[a-z-]+", help_of(*command)))


def exit_codes(text):
    return set(re.findall(r"(?:Exit: |, |,\n)(\d+) ", text[text.index("Exit: "):]))


def commands():
    return re.findall(r"^  ([a-z]+) ", help_of("pullcall"), re.M)


def keys_in(value):
    """The keys of all objects in it."""
    if isinstance(value, list):
        return set().union(*map(keys_in, value))
    return set(value).union(*map(keys_in, value.values())) if isinstance(value, dict) else set()


class ManualTest(unittest.TestCase):
    """Sets are compared so that a failure names what is missing and what is too much."""

    def same(self, said, known, where):
        missing, unknown = sorted(known - said), sorted(said - known)
        self.assertFalse(missing or unknown, f"{where}: not in the manual: {missing}; not in the program: {unknown}")

    def has(self, said, known, where):
        self.assertFalse(sorted(known - said), f"{where}: not in the manual")


class Commands(ManualTest):
    """pullcall(1), pullcalld(8), pullcall-speaker(1) against --help and the tables of options."""

    def blocks(self):
        """By command: the terms in bold, those below them, and the text."""
        found = {}
        for term, body in PAGES["pullcall.1"].terms("COMMANDS"):
            command = re.match(r"\*([a-z]+)\*", term)[1]
            found.setdefault(command, ["", ""])
            found[command][0] += term + "\n"
            found[command][1] += body
        return found

    def test_every_command_has_a_section(self):
        self.same(set(self.blocks()), set(commands()), "pullcall(1), COMMANDS")

    def test_options_of_each_command(self):
        for command, (term, body) in self.blocks().items():
            said = set(re.findall(r"--[a-z-]+", "\n".join(re.findall(r"^\t\*.*", body, re.M)) + term))
            self.same(said, options_of("pullcall", command), f"pullcall {command}")

    def test_words_of_commands(self):
        blocks = self.blocks()
        for command in commands():
            usage = help_of("pullcall", command).split("\n\n")[0]
            for word in set(re.findall(r"(?<![-\w])[a-z-]{3,}\b", usage)) - {"pullcall", command}:
                self.assertIn(f"*{word}*", "".join(blocks[command]), f"pullcall {command}")
        self.assertEqual(bold_in(blocks["tell"][0]) & known("verb"), known("verb") - {"load", "watch", "status"})

    def test_options_of_the_other_programs(self):
        self.same(PAGES["pullcalld.8"].defined("OPTIONS") - {"--help", "--version"}, options_of("pullcalld"), "pullcalld(8)")
        self.same(PAGES["pullcall-speaker.1"].defined("OPTIONS") - SPOKEN_TWICE - {"--help", "--version"},
                  options_of("pullcall-speaker"), "pullcall-speaker(1)")
        for program in ("pullcall", "pullcalld", "pullcall-speaker"):
            for option in ("--version", "-V"):
                self.assertRegex(run(program, option).stdout, rf"^{program} \d+\.\d+\.\d+\n$")

    def test_values_of_options(self):
        body = dict(reversed(PAGES["pullcall.1"].terms("COMMANDS", 1)))  # of run, not of voices
        self.same(bold_in(body["*--pedal* _PEDAL_"]) - {"pullcall tell"}, PEDALS, "--pedal")
        self.has(bold_in(dict(PAGES["pullcalld.8"].terms("OPTIONS"))["*--pedal* _PEDAL_"]), PEDALS, "pullcalld --pedal")
        self.same(bold_in(body["*--sound* _SOUND_"]), SOUNDS, "--sound")
        self.same(bold_in(body["*--shop* _SHOP_"]), SHOPS, "--shop")
        for option, words in (("--pedal", PEDALS), ("--sound", SOUNDS), ("--shop", SHOPS)):
            told = run("pullcall", "run", "x", option, "nonsense").stderr
            self.same(words, {re.sub("NAME|FILE", "", word) for word in
                              re.split(", | or ", re.search("takes (.*), not", told)[1])}, option)

    def test_exit_codes(self):
        pages = {"pullcall.1": [("pullcall", command) for command in commands()], "pullcalld.8": [("pullcalld",)],
                 "pullcall-speaker.1": [("pullcall-speaker",)]}
        for page, programs in pages.items():
            told = [exit_codes(help_of(*command)) for command in programs]
            self.assertTrue(all({"0", "2"} <= codes for codes in told), page)
            self.same(PAGES[page].defined("EXIT STATUS"), set().union(*told), page)

    def test_environment_and_keys(self):
        for page in ("pullcall.1", "pullcalld.8"):
            texts = literals(*(file.stem[len("lib"):] for file in (BUILD / "src").glob("lib*.a")))
            read = {text for text in texts if re.fullmatch("(PULLCALL|XDG)_[A-Z_]+|HOME", text)}
            self.same(PAGES[page].defined("ENVIRONMENT"), read, page)
        keys = PAGES["pullcall.1"].bold("THE PEDAL AND THE KEYS")
        self.has(keys, set(re.findall(r"(?:Keys: |; |, )((?:space|Enter|[a-z])\b)", help_of("pullcall", "run"))), "keys")

    def test_units(self):
        said = PAGES["pullcall.1"].bold("FILES A PERSON WRITES")
        self.same(said - SPOKEN_TWICE, known("unit"), "units")


class Faults(ManualTest):
    """Every code of a fault, in the page of the files that it is about."""

    def test_codes(self):
        rooms = {"pullcall-pattern.5": ["frame"], "pullcall-job.5": ["job", "sequence"], "pullcall-bench.5": ["bench"],
                 "pullcall-phrasebook.5": ["phrase"]}
        bold = set().union(*(page.bold() for page in PAGES.values()))
        for page, names_of_rooms in rooms.items():
            texts = literals(*names_of_rooms)
            self.has(texts, PAGES[page].defined("DIAGNOSTICS"), f"{page}: no such code")
            hyphenated = {text for text in texts if re.fullmatch(r"[a-z]{2,}(-[a-z]+)+", text)}
            self.has(bold | known("skill"), hyphenated, page)
        texts = literals("base")
        self.has(bold, {text for text in texts if re.fullmatch(r"(file|yaml|key|value)-[a-z]+", text)}, "pullcall(1)")
        texts |= literals("cli", "daemon", "draw") | {"file-open"}
        self.has(texts, PAGES["pullcall.1"].defined("MESSAGES"), "pullcall(1): no such code")
        self.has(bold, {text for text in texts if re.fullmatch(r"draw-[a-z]+", text)}, "pullcall(1)")


class FormatTest(ManualTest):
    def check(self, text, name):
        """pullcall check, on a file of that name that the installed patterns are found from."""
        bench = Bench(PROGRAMS)
        try:
            path = bench.home / name
            path.write_text(text, encoding="utf-8")
            return bench.run("pullcall", "check", path)
        finally:
            bench.close()


class Formats(FormatTest):
    """The pages of files that a person writes: their keys, their examples."""

    def test_keys(self):
        """What the readers know is in the page, and what is bold in the sections of keys the readers know."""
        for page, sections in [("pullcall-pattern.5", ["KEYS"]), ("pullcall-job.5", ["KEYS"]), ("pullcall-bench.5", ["KEYS"]),
                               ("pullcall-phrasebook.5", ["KEYS", "VALUES", "CALLS", "REASONS", "NOTICES"])]:
            said = set().union(*(PAGES[page].bold(section) for section in sections))
            said |= set(re.findall(r"\{(\w+)\}", "".join(PAGES[page].sections[section] for section in sections)))
            words = {word for word in known(page) if re.match("[A-Za-z]", word)} - {"F14", "N"}
            if page == "pullcall-bench.5":
                words.discard("job")  # it tells a plan from a bench file
            if page == "pullcall-phrasebook.5":
                words |= set(re.findall(r"\{(\w+)\}", (SOURCE / "voice/en.yaml").read_text(encoding="utf-8")))
            self.has(said, words, page)
            spare = SPOKEN_TWICE | SOUNDS | SHOPS | {"--sound", "pullcall voices", "pullcall voices record-list", "HOLE RULES", "ONE PIECE", "CALLS", "REASONS", "NOTICES", "8T", "TEACHING",
                                             "auto", "method"}
            self.assertFalse(sorted(said - words - known("unit") - spare), f"{page}: bold, but no program knows it")

    def test_examples_are_without_fault(self):
        checked = 0
        for page in PAGES.values():
            for example in page.examples:
                name = re.match(r"(pattern|job|pedals): ?(\S*)", example)
                if not name:
                    continue
                result = self.check(example, f"{name[2] or 'bench'}.yaml")
                self.assertEqual((result.returncode, result.stderr), (0, ""), f"{page.name}\n{example}")
                checked += 1
        self.assertGreaterEqual(checked, 5)

    def test_keys_that_must_be_there(self):
        for page in ("pullcall-pattern.5", "pullcall-job.5"):
            example = PAGES[page].examples[0]
            needed = bold_in(re.search(r"^\*.*?must be there", PAGES[page].sections["KEYS"], re.M | re.S)[0])
            name = re.search(r"^(?:pattern|job): (\S+)", example)[1] + ".yaml"
            keys = re.findall(r"^(\w+):", example, re.M)
            self.assertLessEqual(needed, set(keys))
            for key in keys:
                without = re.sub(rf"^{key}:.*\n(?:[ ].*\n)*", "", example, flags=re.M)
                missed = f'key "{key}" is missing' in self.check(without, name).stderr
                self.assertEqual(missed, key in needed, f"{page}: {key}")

    def test_defaults_of_the_bench(self):
        terms = dict(PAGES["pullcall-bench.5"].terms("KEYS", 1) + PAGES["pullcall-bench.5"].terms("KEYS"))
        self.assertEqual(len(known("default")), 9)
        for key, value in (word.split(" ", 1) for word in known("default")):
            self.assertIn(value, terms[f"*{key}*"], key)


class Phrasebook(FormatTest):
    """The values that each kind of call knows, asked of the program itself."""

    def test_values_of_calls(self):
        lines = (SOURCE / "voice" / "en.yaml").read_text(encoding="utf-8").splitlines()
        found = {}
        for at, kind, detail, variant in self.sentences(lines):
            found.setdefault((kind, variant), []).append((at, detail))
        told = self.table()
        self.assertEqual(sorted(told), sorted(found))
        for key, sentences in found.items():
            # All details of a kind know the same, so one is asked. Any kind may have a `learner` sentence, for teaching.
            values, details = told[key]
            self.assertEqual(values, self.values(lines, sentences[0][0]), key)
            self.assertEqual(details | {"learner"}, {detail for _, detail in sentences} | {"learner"}, key)

    @staticmethod
    def sentences(lines):
        """(line, kind, detail, variant) of every sentence of a call in the bundled phrasebook, but for the reasons,
        the names and the questions."""
        kind = detail = None
        for at in range(lines.index("calls:") + 1, lines.index("notices:")):
            match = re.match(r"( +)([a-z-]+):(?: (.+))?$", lines[at])
            if not match:
                continue
            depth, word = len(match[1]), match[2]
            if depth == 2:
                kind = word
            if depth == 4:
                detail = word
            if depth > 2 and match[3] and detail not in ("why", "name", "ask"):
                yield at, kind, detail, word if depth == 6 else ""

    def values(self, lines, at):
        """What the sentence of that line may, must, and can only at times name."""
        def faults(sentence):
            book = list(lines)
            book[at] = re.match(r" +\S+: ", lines[at])[0] + f"'{sentence}'"
            return run("pullcall", "check", "-", text="\n".join(book)).stderr

        knows = re.search(r"knows (.*?) \[phrase-field\]", faults("{no_such_value}"))
        self.assertTrue(knows, lines[at])
        known = re.findall(r"\{(\w+)\}", knows[1])
        naming_all = faults(" ".join(f"{{{name}}}" for name in known)) if known else ""
        at_times = re.findall(r"\{(\w+)\} has nothing to say", naming_all)
        must = re.findall(r"must say (.*?) \[phrase-missing\]", faults("word"))
        return frozenset(known), frozenset(re.findall(r"\{(\w+)\}", "".join(must))), frozenset(at_times)

    @staticmethod
    def table():
        """By kind and variant: the values in the page, and the details that the kind is called in."""
        found = {}
        details = {"In every detail": {"learner", "bench", "quick"}, "In *learner* alone": {"learner"},
                   "In *bench* and *quick*": {"bench", "quick"}}
        parts = re.split(r"^(In .*):$", PAGES["pullcall-phrasebook.5"].sections["CALLS"], flags=re.M)
        for heading, rows in zip(parts[1::2], parts[2::2]):
            for kinds, values in re.findall(r"^\|\S? +(.*)\n:\S? +(.*)$", rows, re.M):
                words = [] if values == "nothing" else values.split(", ")
                row = (frozenset(word.strip("*?") for word in words),
                       frozenset(word.strip("*?") for word in words if word.startswith("*")),
                       frozenset(word.strip("*?") for word in words if word.endswith("?")))
                for kind in kinds.split(", "):
                    name, *variants = kind.replace("*", "").split()
                    for variant in variants or [""]:
                        found[name, variant] = (row, details[heading])
        return found


class Protocols(ManualTest):
    """What other programs read: the control socket and the steps of a job."""

    def test_control(self):
        page = PAGES["pullcall-control.7"]
        self.same(page.bold("REQUESTS"), known("request") - {"false", "true"}, "requests")
        said = page.bold("ANSWERS") - {"pullcall check"}
        # Only where it cannot be written, another job is open, a plan says so, or there is a usual pace.
        answers = self.answers() | {"journal", "told", "racket", "customer", "due", "pace"}
        self.same(said, answers | known("state", "phase", "level") | {"idle", "level", "station"}, "answers")
        notes = [json.loads(note) for note in known("note")]
        events = set().union(*notes) | {note["event"] for note in notes}
        self.same(page.bold("EVENTS"), events | known("notice") | {"why", "discarded"}, "events")

    @staticmethod
    def answers():
        bench = Bench(PROGRAMS)
        keys = set()
        try:
            bench.start("pullcalld", "--pedal", "none", "--sound", "none", stderr=subprocess.DEVNULL)
            bench.wait_for_daemon()
            with bench.connect() as connection:
                first_main = [{"do": "next"}] * 13
                for request in ({"do": "status"}, {"do": "dance"}, {"do": "load", "file": str(DEMO)}, {"do": "where"},
                                *first_main):
                    keys |= keys_in(connection.ask(request))
        finally:
            bench.close()
        return keys

    def test_sizes(self):
        prose = " ".join(PAGES["pullcall-control.7"].prose.split())
        for size in known("limit"):
            self.assertIn(size, prose)

    def test_steps(self):
        page = PAGES["pullcall-steps.5"]
        said = page.bold("THE JOB") | page.bold("A MOVE") | page.bold("ROUTES")
        said -= {"pullcall steps", "--json", "--routes"}
        one_piece = next(example for example in PAGES["pullcall-job.5"].examples if "one-piece" in example)
        keys = keys_in(json.loads(run("pullcall", "steps", "-", "--routes", "--json", text=one_piece).stdout))
        stretched = DEMO.read_text(encoding="utf-8").replace("on_hand: 6.5 m", "prestretch: 5 %")
        for plan in (stretched, one_piece, one_piece.replace("order: { outside: 3, route: 2 }", "order: { route: 3 }")):
            keys |= keys_in(json.loads(run("pullcall", "steps", "-", "--json", text=plan).stdout))
        with tempfile.NamedTemporaryFile("w", suffix=".yaml") as bench:
            bench.write("machine: { clamps: flying }\n")
            bench.flush()
            keys |= keys_in(json.loads(run("pullcall", "steps", "-", "--json", "--bench", bench.name,
                                             text=stretched.replace("lead: 1", "lead: 2")).stdout))
        self.same(said, keys | known("do", "with", "phase", "subject", "travel", "end", "side") | {"over", "under"}, "steps")


class Journal(ManualTest):
    """pullcall-journal(5) against a journal that the program wrote."""

    @classmethod
    def setUpClass(cls):
        cls.bench = Bench(PROGRAMS)
        cls.addClassCleanup(cls.bench.close)
        daemon = cls.bench.start("pullcall", "run", DEMO, "--pedal", "none", "--sound", "none")
        cls.bench.wait_for_daemon()
        with cls.bench.connect() as connection:
            while connection.ask({"do": "next"})["state"] in ("calling", "paused"):
                pass
        wait_until(lambda: daemon.poll() is not None, "the run does not end")

    def columns(self, kind):
        journal = sqlite3.connect(self.bench.journal)
        self.addCleanup(journal.close)
        tables = journal.execute("SELECT name FROM sqlite_schema WHERE type = ? AND name NOT LIKE 'sqlite%'", (kind,))
        return {name: {row[1] for row in journal.execute(f"PRAGMA table_info({name})")} for name, in tables.fetchall()}

    def test_tables(self):
        page = PAGES["pullcall-journal.5"]
        tables = self.columns("table")
        self.same(page.defined("TABLES"), set(tables), "tables")
        for term, body in page.terms("TABLES"):
            said = set().union(*(bold_in(line) for line in re.findall(r"^\t\*.*", body, re.M)))
            self.same(said, tables[term.strip("*")], term)

    def test_views(self):
        page = PAGES["pullcall-journal.5"]
        views = self.columns("view")
        self.same(page.defined("VIEWS"), set(views), "views")
        for term, body in page.terms("VIEWS"):
            same_as = {"phase_time": "string_time"}.get(term.strip("*"))
            self.assertTrue(same_as is None or "The same" in body)
            self.same(bold_in(body), views[term.strip("*")], term)

    def test_kinds_of_events(self):
        self.same(PAGES["pullcall-journal.5"].defined("KINDS OF EVENTS"), known("record"), "kinds of events")

    def test_identity(self):
        with sqlite3.connect(self.bench.journal) as journal:
            application, = journal.execute("PRAGMA application_id").fetchone()
            version, = journal.execute("PRAGMA user_version").fetchone()
        journal.close()
        self.assertIn(f"{application:#x}", PAGES["pullcall-journal.5"].prose)
        self.assertRegex(" ".join(PAGES["pullcall-journal.5"].prose.split()), rf"user_version, {version}, is that of the tables\.")

    def test_the_query(self):
        query = re.search(r'"\n(.*)"', PAGES["pullcall-journal.5"].examples[0], re.S)[1]
        result = subprocess.run(["sqlite3", "-readonly", "-json", self.bench.journal, query], capture_output=True,
                                text=True, check=False)
        self.assertEqual((result.returncode, result.stderr), (0, ""))
        rows = json.loads(result.stdout)
        self.assertEqual([row["phase"] for row in rows], ["prepare", "mains", "crosses", "finish"])
        self.assertTrue(all(row["stringer"] == "apprentice" and row["jobs"] == 1 for row in rows))


class Shell(ManualTest):
    """Commands in examples, and those named in the text, are commands with options that they have."""

    def test_commands_in_examples(self):
        seen = set()
        for page in PAGES.values():
            text = "\n".join(page.examples) + "\n" + "\n".join(page.bold())
            for line in re.findall(r"^(?:    )?(pullcall(?:d|-speaker)?(?: .*)?)$", text, re.M):
                self.check_line(re.sub(r"[|;&].*", "", line), page.name)
                seen.add(line)
        self.assertGreater(len(seen), 20)

    def check_line(self, line, where):
        program, *words = re.sub(r'"[^"]*"', "TEXT", line).split()
        command = [program]
        if program == "pullcall" and words and not words[0].startswith("-"):
            command.append(words[0])
            self.assertIn(words[0], commands(), f"{where}: {line}")
        told = help_of(*command)
        for option in [word for word in words if word.startswith("-")]:
            self.assertRegex(told + "--version --help", rf"(?<![-\w]){option}\b", f"{where}: {line}")


class Rendering(ManualTest):
    """The built pages, for the programs that show them."""

    def pages(self):
        self.assertEqual(sorted(path.name for path in BUILT.rglob("*.[1-8]")), names(), "is scdoc there?")
        return sorted(BUILT.rglob("*.[1-8]"))

    def test_groff_has_nothing_to_say(self):
        for page in self.pages():
            result = subprocess.run(["man", "--warnings=w", "-E", "UTF-8", "-l", "-Tutf8", "-Z", page],
                                    stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=True)
            # Where a page of paper ends is no fault: a terminal has no pages.
            said = [line for line in result.stderr.splitlines() if "will not fit on one page" not in line]
            self.assertEqual(said, [], page)

    def test_mandoc_has_nothing_to_say(self):
        for page in self.pages():
            result = subprocess.run(["mandoc", "-Tlint", "-W", "warning", page], capture_output=True, text=True,
                                    check=False)
            # scdoc sets a paragraph before every list and after every heading, needed or not.
            said = [line for line in result.stdout.splitlines() if "skipping paragraph macro: PP" not in line]
            self.assertEqual(said, [], page)

    def test_whatis_finds_the_names(self):
        for page in self.pages():
            result = subprocess.run(["lexgrog", page], capture_output=True, text=True, check=False)
            self.assertRegex(result.stdout, rf'"{page.stem} - .+"', page)

    def test_pages_name_pages_that_are_there(self):
        for page in PAGES.values():
            for name, section in re.findall(r"\*(pullcall[a-z-]*)\*\((\d)\)", page.prose):
                self.assertIn(f"{name}.{section}", PAGES, page.name)
        self.assertEqual({f"{name}.{section}" for name, section in
                          re.findall(r"\*(pullcall[a-z-]*)\*\((\d)\)", PAGES["pullcall.1"].sections["SEE ALSO"])},
                         set(PAGES) - {"pullcall.1"})

    def test_version(self):
        version = run("pullcall", "--version").stdout.strip()
        for page in self.pages():
            self.assertIn(f'"{version}"', page.read_text(encoding="utf-8"))

    def test_caution_comes_early(self):
        for name in ("pullcall.1", "pullcalld.8"):
            self.assertLess(list(PAGES[name].sections).index("CAUTION"), 3, name)
            for word in ("eye protection", "tension head", "creaks", "maker"):
                self.assertIn(word, " ".join(PAGES[name].sections["CAUTION"].split()), name)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
