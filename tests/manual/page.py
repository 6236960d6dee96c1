"""A page of the manual as it is written: its sections, what stands in bold, its examples."""
import pathlib
import re

FOLDER = pathlib.Path(__file__).resolve().parents[2] / "src" / "manual"
BOLD = re.compile(r"(?<![\w\\*])\*([^*\n]+)\*(?![A-Za-z0-9]|\(\d\))")  # not the names of pages: *name*(1)
EXAMPLE = re.compile(r"^```\n(.*?)^```$", re.S | re.M)


class Page:
    """Bold is what a program knows, letter by letter, or the name of a section or of another page."""

    def __init__(self, name):
        self.name = name
        self.text = (FOLDER / f"{name}.scd").read_text(encoding="utf-8")
        self.examples = EXAMPLE.findall(self.text)
        self.prose = EXAMPLE.sub("", self.text)
        parts = re.split(r"^# (.*)$", self.prose, flags=re.M)
        self.sections = dict(zip(parts[1::2], parts[2::2]))

    def bold(self, section=None):
        return set(BOLD.findall(self.prose if section is None else self.sections[section]))

    def terms(self, section, depth=0):
        """What is defined in a section: (line of the term, what follows it, deeper in)."""
        lines, found = self.sections[section].split("\n"), []
        for line in lines:
            indent = len(line) - len(line.lstrip("\t"))
            if line.strip() and indent == depth and line.strip().startswith("*"):
                found.append([line.strip(), ""])
            elif found and (not line.strip() or indent > depth):
                found[-1][1] += line + "\n"
        return [(term, body) for term, body in found if body.strip()]

    def defined(self, section, depth=0):
        """The bold words of the terms of a section."""
        return {word for term, _ in self.terms(section, depth) for word in BOLD.findall(term)}


def bold_in(text):
    return set(BOLD.findall(text))


def names():
    return sorted(path.stem for path in FOLDER.glob("*.scd"))
