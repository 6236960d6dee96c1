"""A reason says why: of the words that carry its meaning, most are not in the learner's sentence already.

    reasons.py [FOLDER]
"""
import pathlib
import re
import sys

VOICE = pathlib.Path(sys.argv[1]) if sys.argv[1:] else pathlib.Path(__file__).parents[2] / "voice"
SHORT = 4  # a word of fewer letters carries no meaning of its own
MOST = 0.6


def calls(path):
    """The kinds of calls, each with its learner's sentences and its reasons as sets of words."""
    text = path.read_text(encoding="utf-8").split("\ncalls:\n")[1].split("\nnotices:")[0]
    for part in re.split(r"^  (?=[\w-]+:$)", text, flags=re.M)[1:]:
        kind, lines = part.split(":\n", 1)
        found = {"learner": set(), "why": set()}
        key = None
        for line in lines.splitlines():
            outermost = re.match(r"    ([\w-]+):", line)
            key = outermost[1] if outermost else key
            if key in found:
                said = re.sub(r"\{\w+\}", " ", re.sub(r"^ *\w+: ?", "", line))
                found[key] |= {word for word in re.findall(r"[^\W\d_]+", said.lower()) if len(word) >= SHORT}
        yield kind, found["learner"], found["why"]


def main():
    good = True
    for path in sorted(VOICE.glob("*.yaml")):
        kinds = list(calls(path))
        good &= len(kinds) > 40
        for kind, learner, why in kinds:
            if why and len(why & learner) > MOST * len(why):
                print(f"{path.name}: {kind}: the reason repeats its sentence: {' '.join(sorted(why & learner))}")
                good = False
    return 0 if good else 1


sys.exit(main())
