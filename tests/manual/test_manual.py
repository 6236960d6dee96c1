#!/usr/bin/python3 -B
"""The manual says what the programs know: all of it, and nothing else. And its examples work.

    test_manual.py FOLDER_OF_PROGRAMS FOLDER_OF_BUILT_PAGES

What is bold in a page is known to a program letter by letter (or names a section or a page), so it can be
compared with the programs' help, with what they answer, and with the tables in their sources (facts.py).
"""
import json
import pathlib
import re
import sqlite3
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
import facts  # noqa: E402
from page import Page, bold_in, names  # noqa: E402
from programs import DEMO, Bench, wait_until  # noqa: E402

PROGRAMS = None
BUILT = None
SOUNDS = {"auto", "device", "device:", "wav:", "none"}
SPOKEN_TWICE = {"yes", "no"}
PAGES = {name: Page(name) for name in names()}


def run(*arguments, text=None):
    return subprocess.run([PROGRAMS / arguments[0], *arguments[1:]], input=text, capture_output=True, text=True,
                          timeout=30, check=False)


def help_of(*command):
    result = run(*command, "--help")
    assert result.returncode == 0, command
    return result.stdout


def commands():
    return re.findall(r"^  ([a-z]+) ", help_of("pullcall"), re.M)


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
            known = set(re.findall(r"--[a-z-]+", help_of("pullcall", command))) - {"--help"}
            self.same(said, known, f"pullcall {command}")

    def test_words_of_commands(self):
        blocks = self.blocks()
        for command in commands():
            usage = help_of("pullcall", command).split("\n\n")[0]
            for word in set(re.findall(r"(?<![-\w])[a-z]{3,}\b", usage)) - {"pullcall", command}:
                self.assertIn(f"*{word}*", "".join(blocks[command]), f"pullcall {command}")
        tell = bold_in(blocks["tell"][0]) & facts.designated("CONTROL_", "daemon")
        self.assertEqual(tell, facts.designated("CONTROL_", "daemon") - {"load", "watch", "status"})

    def test_help_names_every_option(self):
        helps = "".join(help_of("pullcall", command) for command in commands())
        said = set(re.findall(r"--[a-z-]+", helps))
        self.same(said, facts.long_options("cli", "daemon/daemon.h") - {"--help"},
                  "pullcall --help")
        self.same(set(re.findall(r"--[a-z-]+", help_of("pullcalld"))), facts.long_options("daemon"), "pullcalld --help")
        self.same(set(re.findall(r"--[a-z-]+", help_of("pullcall-speaker"))), facts.long_options("speaker"),
                  "pullcall-speaker --help")

    def test_options_of_the_other_programs(self):
        self.same(PAGES["pullcalld.8"].defined("OPTIONS"), facts.long_options("daemon"), "pullcalld(8)")
        self.same(PAGES["pullcall-speaker.1"].defined("OPTIONS") - SPOKEN_TWICE, facts.long_options("speaker"),
                  "pullcall-speaker(1)")

    def test_values_of_options(self):
        pedals = facts.designated("DAEMON_PEDALS_", "daemon")
        body = dict(reversed(PAGES["pullcall.1"].terms("COMMANDS", 1)))  # of run, not of say
        self.same(bold_in(body["*--pedal* _PEDAL_"]) - {"pullcall tell"}, pedals, "--pedal")
        self.has(bold_in(dict(PAGES["pullcalld.8"].terms("OPTIONS"))["*--pedal* _PEDAL_"]), pedals, "pullcalld --pedal")
        text = "".join(facts.files("bench/bench.c").values())
        for sound in SOUNDS:
            self.assertIn(f'"{sound}"', text)
        self.assertEqual(bold_in(body["*--sound* _SOUND_"]), SOUNDS)

    def test_exit_codes(self):
        self.same(PAGES["pullcall.1"].defined("EXIT STATUS"), facts.exit_codes("cli", "daemon"), "pullcall(1)")
        self.same(PAGES["pullcalld.8"].defined("EXIT STATUS"), facts.exit_codes("daemon") | {"2"}, "pullcalld(8)")
        self.same(PAGES["pullcall-speaker.1"].defined("EXIT STATUS"), facts.exit_codes("speaker"), "pullcall-speaker(1)")
        for page, command in [("pullcall.1", ["pullcall", name]) for name in commands()] + [
                ("pullcalld.8", ["pullcalld"]), ("pullcall-speaker.1", ["pullcall-speaker"])]:
            told = re.search(r"^Exit: .*", help_of(*command), re.M | re.S)
            self.assertTrue(told, f"{command}: no exit codes in its help")
            codes = set(re.findall(r"(?:Exit: |, |,\n)(\d+) ", told[0]))
            self.assertLessEqual({"0", "2"}, codes, command)
            self.assertLessEqual(codes, PAGES[page].defined("EXIT STATUS"), command)

    def test_environment_and_keys(self):
        for page in ("pullcall.1", "pullcalld.8"):
            self.same(PAGES[page].defined("ENVIRONMENT"), facts.environment(), page)
        keys = PAGES["pullcall.1"].bold("THE PEDAL AND THE KEYS") - {"space", "Enter"}
        self.same(keys, facts.terminal_keys(), "keys of the terminal")

    def test_units(self):
        said = PAGES["pullcall.1"].bold("FILES A PERSON WRITES")
        self.same(said - SPOKEN_TWICE, facts.units(), "units")


class Faults(ManualTest):
    """Every code of a fault, in the page of the files that it is about."""

    def test_codes(self):
        common = facts.fault_codes("base")
        common |= {"file-open"} if "[file-open]" in "".join(facts.files("cli").values()) else set()
        self.same(PAGES["pullcall.1"].defined("MESSAGES"), common | facts.fault_codes("cli", "draw", "daemon"),
                  "pullcall(1)")
        for page, rooms in [("pullcall-pattern.5", ["frame"]), ("pullcall-job.5", ["job", "sequence"]),
                            ("pullcall-bench.5", ["bench"]), ("pullcall-phrasebook.5", ["phrase"])]:
            self.same(PAGES[page].defined("DIAGNOSTICS"), facts.fault_codes(*rooms) - common, page)


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
        for page, room, sections in [("pullcall-pattern.5", "frame", ["KEYS"]), ("pullcall-job.5", "job", ["KEYS"]),
                                     ("pullcall-bench.5", "bench", ["KEYS"]),
                                     ("pullcall-phrasebook.5", "phrase", ["KEYS", "VALUES", "CALLS", "NOTICES"])]:
            said = set().union(*(PAGES[page].bold(section) for section in sections))
            said |= set(re.findall(r"\{(\w+)\}", "".join(PAGES[page].sections[section] for section in sections)))
            known = facts.vocabulary(room)
            if room == "phrase":
                known |= facts.call_kinds() | facts.designated("NOTICE_", "phrase")
                known |= {"learner", "bench", "quick"}
            self.has(said, known, page)
            spare = SPOKEN_TWICE | SOUNDS | {"--sound", "pullcall voices", "HOLE RULES", "ONE PIECE", "CALLS", "NOTICES", "8T",
                                             "auto", "method"}
            self.assertFalse(sorted(said - known - spare), f"{page}: bold, but no program knows it")

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
        """Each number that is given as a default stands in the sources too."""
        settings = "".join(facts.files("bench/bench.c", "pedal/gesture.c", "job/job.h").values())
        for key, value, source in [("debounce", "25 ms", "debounce_us = 25 * MS_US"),
                                   ("double_tap", "300 ms", "double_tap_us = 300 * MS_US"),
                                   ("hold", "500 ms", "hold_us = 500 * MS_US"),
                                   ("chain", "1 s", "chain_us = 1000 * MS_US"),
                                   ("stuck", "10 s", "stuck_us = 10 * SECOND_US"),
                                   ("rate", "165", "rate_wpm = 165"), ("volume", "100 %", "volume_percent = 100"),
                                   ("reach", "350 mm", "REACH_DEFAULT_MM = 350")]:
            terms = dict(PAGES["pullcall-bench.5"].terms("KEYS", 1) + PAGES["pullcall-bench.5"].terms("KEYS"))
            self.assertIn(value, terms[f"*{key}*"], key)
            self.assertIn(source, settings, key)


class Phrasebook(FormatTest):
    """The values that each kind of call knows, asked of the program itself."""

    def test_values_of_calls(self):
        lines = (facts.SOURCE.parent / "voice" / "en.yaml").read_text(encoding="utf-8").splitlines()
        found = {}
        for at, kind, detail, variant in self.sentences(lines):
            found.setdefault((kind, variant), []).append((at, detail))
        told = self.table()
        self.assertEqual(sorted(told), sorted(found))
        for key, sentences in found.items():
            # All details of a kind know the same, so one is asked.
            self.assertEqual(told[key], (self.values(lines, sentences[0][0]), {detail for _, detail in sentences}), key)

    @staticmethod
    def sentences(lines):
        """(line, kind, detail, variant) of every sentence of a call in the bundled phrasebook."""
        kind = detail = None
        for at in range(lines.index("calls:") + 1, lines.index("notices:")):
            match = re.match(r"( +)([a-z-]+):(?: (.+))?$", lines[at])
            if not match:
                continue
            depth, word = len(match[1]), match[2]
            if depth == 2:
                kind = word
            elif match[3]:
                yield at, kind, word if depth == 4 else detail, word if depth == 6 else ""
            elif depth == 4:
                detail = word

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
        verbs = facts.designated("CONTROL_", "daemon")
        requests = facts.json_keys("cli/tell.c") & {"do", "count", "file", "reason"}
        self.same(page.bold("REQUESTS"), verbs | requests, "requests")
        answers = facts.json_keys("daemon/answer.c", "daemon/request.c")
        states = facts.designated("SESSION_(?:CALLING|PAUSED|ENDING|OVER)", "session") | {"idle"}
        phases = facts.designated("PHASE_", "sequence")
        said = page.bold("ANSWERS") - {"pullcall check"}
        self.same(said, answers | states | phases, "answers")
        events = facts.json_keys("daemon/note.c") | facts.designated("NOTE_", "daemon")
        said = page.bold("EVENTS")
        self.same(said, events | facts.designated("NOTICE_", "phrase"), "events")

    def test_sizes(self):
        text = "".join(facts.files("daemon/internal.h").values())
        self.assertIn("CONTROL_LINE_MAX = 4096, CONTROL_CLIENTS_MAX = 16, CONTROL_BUFFER_MAX = 1024 * 1024", text)
        for size in ("4096 bytes", "16 clients", "a mebibyte"):
            self.assertIn(size, " ".join(PAGES["pullcall-control.7"].prose.split()))

    def test_steps(self):
        page = PAGES["pullcall-steps.5"]
        said = page.bold("THE JOB") | page.bold("A MOVE") | page.bold("ROUTES")
        said -= {"pullcall steps", "--json", "--routes"}
        known = facts.json_keys("cli/paper_json.c", "cli/paper_routes.c") | facts.designated("DO_", "sequence")
        known |= facts.designated("PHASE_", "sequence") | facts.designated("SUBJECT_", "sequence")
        known |= facts.designated("TRAVEL_", "sequence") | {"head", "throat", "left", "right", "over", "under"}
        self.same(said, known, "steps")

    def test_steps_print_no_other_key(self):
        keys = set()

        def collect(value):
            for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else []:
                collect(item)
            keys.update(value if isinstance(value, dict) else ())

        one_piece = next(example for example in PAGES["pullcall-job.5"].examples if "one-piece" in example)
        for plan in (DEMO.read_text(encoding="utf-8"), one_piece, one_piece + "detail: learner\n"):
            collect(json.loads(run("pullcall", "steps", "-", "--json", text=plan).stdout))
        collect(json.loads(run("pullcall", "steps", "-", "--routes", "--json", text=one_piece).stdout))
        self.assertGreater(len(keys), 20)
        self.has(PAGES["pullcall-steps.5"].bold(), keys, "steps --json")


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
        wait_until(lambda: daemon.poll() is not None, 20, "the run does not end")

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
        kinds = {kind for kind in facts.designated("JOURNAL_", "journal/place.c")}
        self.same(PAGES["pullcall-journal.5"].defined("KINDS OF EVENTS"), kinds, "kinds of events")

    def test_identity(self):
        with sqlite3.connect(self.bench.journal) as journal:
            application, = journal.execute("PRAGMA application_id").fetchone()
            version, = journal.execute("PRAGMA user_version").fetchone()
        journal.close()
        self.assertIn(f"{application:#x}", PAGES["pullcall-journal.5"].prose)
        self.assertRegex(" ".join(PAGES["pullcall-journal.5"].prose.split()), rf"user_version that of the tables: {version}\.")

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
            self.assertRegex(told + "--version", rf"(?<![-\w]){option}\b", f"{where}: {line}")


class Rendering(ManualTest):
    """The built pages, for the programs that show them."""

    def pages(self):
        self.assertEqual(sorted(path.name for path in BUILT.rglob("*.[1-8]")), names(), "is scdoc there?")
        return sorted(BUILT.rglob("*.[1-8]"))

    def test_groff_has_nothing_to_say(self):
        for page in self.pages():
            result = subprocess.run(["man", "--warnings=w", "-E", "UTF-8", "-l", "-Tutf8", "-Z", page],
                                    stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=True)
            self.assertEqual(result.stderr, "", page)

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
    BUILT = pathlib.Path(sys.argv.pop()).resolve()
    PROGRAMS = pathlib.Path(sys.argv.pop()).resolve()
    unittest.main()
