"""What the programs know, read from their sources: names, keys, codes, options. No C is run or parsed in
earnest: the sources write their tables in one way each, and a table that is not found fails a test."""
import os
import pathlib
import re

SOURCE = pathlib.Path(__file__).resolve().parents[2] / "src"
STRING = r'"((?:[^"\\]|\\.)*)"'
WORD = re.compile(r"[A-Za-z][A-Za-z0-9_-]*\Z")


def files(*rooms, suffixes=(".c", ".h")):
    """The sources of rooms (folders or files under src), by path."""
    found = {}
    for room in rooms:
        path = SOURCE / room
        for file in [path] if path.is_file() else sorted(path.rglob("*")):
            if file.suffix in suffixes:
                found[file] = file.read_text(encoding="utf-8")
    assert found, rooms
    return found


def everything():
    return files(".")


def designated(prefix, *rooms):
    """The names of an enum: [PREFIX_NAME] = "name"."""
    pattern = re.compile(rf"\[{prefix}[A-Z0-9_]*\]\s*=\s*\{{?\s*{STRING}")
    found = {name for text in files(*rooms).values() for name in pattern.findall(text)}
    assert found, prefix
    return found


def call_kinds():
    """The names in the table of the kinds of calls: KIND(IDENTIFIER, "name", ...)."""
    found = {name for text in files("sequence").values() for name in re.findall(rf"\bKIND\(\w+,\s*{STRING}", text)}
    assert found
    return found


def arrays(text):
    """Tables of words: static const char *const NAME[] = {"a", "b", NULL}."""
    pattern = re.compile(r"const char \*const (\w+)\[[^\]]*\]\s*=\s*\{(.*?)\};", re.S)
    return [(name, re.findall(STRING, body)) for name, body in pattern.findall(text)]


def vocabulary(room):
    """Keys and values that the readers of a room take in YAML: its tables, those that it offers for choice from
    elsewhere, and the keys that it asks for one by one."""
    everywhere = [table for text in everything().values() for table in arrays(text)]
    words = set()
    for text in files(room).values():
        for _, table in arrays(text):
            words.update(word for word in table if WORD.match(word))
        for chosen in re.findall(r"yaml_choice\([^;]*?\b(\w+), &", text):
            for name, table in everywhere:
                if name == chosen and name not in dict(arrays(text)):
                    words.update(table)
        words.update(re.findall(r'yaml_(?:need|get)\([^;"]*?"(\w+)"\)', text))
    assert words, room
    return words


def calls(text, name):
    """The arguments of every call of a function whose name matches: lists of their texts."""
    for match in re.finditer(rf"\b{name}\s*\(", text):
        arguments, depth, start, at = [], 0, match.end(), match.end()
        while depth >= 0 and at < len(text):
            if text[at] == '"':
                at = re.compile(STRING).match(text, at).end()
                continue
            if text[at] in "([{":
                depth += 1
            elif text[at] in ")]}":
                depth -= 1
            if depth < 0 or (depth == 0 and text[at] == ","):
                arguments.append(text[start:at].strip())
                start = at + 1
            at += 1
        yield arguments


def fault_codes(*rooms):
    """The codes of a room's faults and warnings: the first argument that is a code, in whatever reports one."""
    code = re.compile(r'"([a-z]+(?:-[a-z]+)*)"\Z')
    found = set()
    for text in files(*rooms).values():
        for arguments in calls(text, r"\w*(?:fault|warn)\w*"):
            codes = [code.match(argument) for argument in arguments if code.match(argument)]
            found.update(match[1] for match in codes[:1])
    return found


def json_keys(*rooms):
    pattern = re.compile(r'(?:json_\w+|add_\w+)\(&?\w+, "(\w+)"')
    found = {key for text in files(*rooms).values() for key in pattern.findall(text)}
    assert found, rooms
    return found


def environment():
    pattern = re.compile(r'"((?:PULLCALL|XDG)_[A-Z_]+|HOME)"')
    return {name for text in everything().values() for name in pattern.findall(text)}


def exit_codes(*rooms):
    """The numbers of the exit codes that are named: our own enumerators, and those of sysexits.h."""
    text = "\n".join(files(*rooms).values())
    ours = dict(re.findall(r"\b((?:EX|EXIT|DAEMON_EXIT)_[A-Z_]+) = (\d+)", text))
    names = set(re.findall(r"\b((?:EX|EXIT|DAEMON_EXIT)_[A-Z_]+)\b", text))
    return {"0"} | {ours.get(name) or str(getattr(os, name)) for name in names}


def long_options(*rooms):
    """The entries of getopt_long's tables."""
    pattern = re.compile(r'\{?\s*"([a-z-]+)", (?:no|required)_argument')
    return {f"--{name}" for text in files(*rooms).values() for name in pattern.findall(text)}


def terminal_keys():
    """The letters that are keys in a terminal."""
    text = files("pedal/key_parser.c")
    body = re.search(r"plain_keys\[\] = {.*?\n}", "".join(text.values()), re.S)[0]
    return set(re.findall(r"{'([a-z?])', GESTURE_", body))


def units():
    text = "".join(files("base/quantity.c").values())
    return set(re.findall(r'\[UNIT_\w+\] = \{"([^"]+)"', text))
