#!/usr/bin/python3 -B
"""Object files of a room call each other in no circle, headers include each other in none, and a room has one
public header (ROOM.h) and at most one of its own (internal.h). What watches a job knows lines alone.

    tests/circles.py BUILD
"""
import graphlib
import pathlib
import re
import subprocess
import sys

SOURCE = pathlib.Path(__file__).resolve().parents[1] / "src"


def calls(archive):
    """By object file of a room: the others that it takes functions or data from."""
    defines, wants, current = {}, {}, None
    listing = subprocess.run(["nm", "-g", archive], capture_output=True, text=True, check=True).stdout
    for line in listing.splitlines():
        if line.endswith(".o:"):
            current = line[:-len(".c.o:")] + ".c"
            wants[current] = set()
        elif match := re.search(r" ([A-Z]) (\w+)$", line):
            if match[1] == "U":
                wants[current].add(match[2])
            else:
                defines[match[2]] = current
    return {file: {defines[name] for name in names if name in defines} for file, names in wants.items()}


def includes(pattern):
    """By file: the headers that it includes."""
    return {str(file.relative_to(SOURCE)): set(re.findall(r'^#include "(.*)"', file.read_text(encoding="utf-8"), re.M))
            for file in SOURCE.rglob(pattern)}


def watchers(headers):
    """Session, daemon, journal, board and screen see no header of these rooms, not even through another one."""
    faults = []
    for file, seen in includes("*.c").items():
        new = seen
        while new := set().union(*(headers.get(header, ()) for header in new)) - seen:
            seen = seen | new
        wrong = sorted(header for header in seen if header.split("/")[0] in ("frame", "job", "sequence"))
        if wrong and re.match("(session|daemon|journal|board)/|cli/screen", file):
            faults.append(f"src/{file}: includes {', '.join(wrong)}: it knows lines alone (script/script.h)")
    return faults


def circle(graph, where):
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        return [f"{where}: in a circle: {', '.join(sorted(set(error.args[1])))}"]
    return []


def main(build):
    headers = includes("*.h")
    faults = circle(headers, "headers") + watchers(headers)
    archives = sorted((build / "src").glob("lib*.a"))
    assert archives, f"no rooms in {build}"
    for archive in archives:
        room = archive.stem[len("lib"):]
        faults += circle(calls(archive), f"src/{room}")
        names = {header.name for header in (SOURCE / room).glob("*.h")}
        for header in sorted(names - {f"{room}.h", "internal.h"}):
            faults.append(f"src/{room}/{header}: a room has {room}.h and internal.h, and no other header")
    print("\n".join(faults), end="\n" if faults else "", file=sys.stderr)
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main(pathlib.Path(sys.argv[1])))
