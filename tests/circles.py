#!/usr/bin/python3 -B
"""Object files of a room call each other in no circle, headers include each other in none, and a room has one
public header (ROOM.h) and at most one of its own (internal.h).

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


def includes():
    """By header: the headers that it includes."""
    return {str(header.relative_to(SOURCE)): set(re.findall(r'^#include "(.*)"', header.read_text(encoding="utf-8"), re.M))
            for header in SOURCE.rglob("*.h")}


def circle(graph, where):
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        return [f"{where}: in a circle: {', '.join(sorted(set(error.args[1])))}"]
    return []


def main(build):
    faults = circle(includes(), "headers")
    archives = sorted((build / "src").glob("lib*.a"))
    assert archives, f"no rooms in {build}"
    for archive in archives:
        room = archive.stem[len("lib"):]
        faults += circle(calls(archive), f"src/{room}")
        headers = {header.name for header in (SOURCE / room).glob("*.h")}
        for header in sorted(headers - {f"{room}.h", "internal.h"}):
            faults.append(f"src/{room}/{header}: a room has {room}.h and internal.h, and no other header")
    print("\n".join(faults), end="\n" if faults else "", file=sys.stderr)
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main(pathlib.Path(sys.argv[1])))
