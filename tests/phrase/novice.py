"""A novice strings every bundled frame from the learner's words alone.

    novice.py PULLCALL

The novice understands the sentences below and nothing else: no plan, no hole map, no moves. It holds a bare frame, of
which it can see how many holes a side has at the head and at the throat. It feeds, pulls, clamps and weaves as it is
told, over and under by turns from the first string that it meets, and stops at whatever hands cannot do: a string that
is not where the words say, a clamp that would let a string go, a third string in a hole. Afterwards a judge, who reads
the pattern file with a few expressions of its own, looks at the bed: strings alternately interlaced (ITF Rules of
Tennis, Appendix II b; BWF Laws of Badminton, Law 4), every hole the right one, every string at its tension.
"""
import itertools
import json
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).parent.parent.parent
UNITS = ("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
         "eighteen nineteen").split()
TENS = {word: 10 * (at + 2) for at, word in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split())}
CLAMPS = 2
HOLE_STRINGS = 2
OTHER = {"left": "right", "right": "left"}
SPAN = 4  # holes that a string runs along outside the frame


class Stuck(Exception):
    """What the novice was told and hands cannot do."""


def need(condition, why):
    if not condition:
        raise Stuck(why)


def number(words):
    """"fifty two", "twenty four point five" """
    whole, _, decimals = words.strip().partition(" point ")
    value = 0
    for word in whole.split():
        value += TENS[word] if word in TENS else UNITS.index(word)
    digits = "".join(str(UNITS.index(word)) for word in decimals.split())
    return float(f"{value}.{digits or 0}")


def hole(words):
    """"seven throat", or "hole seven throat": (7, "throat")"""
    count, _, end = words.strip().removeprefix("hole ").rpartition(" ")
    need(end in ("head", "throat"), f"which end is {words}?")
    return int(number(count)), end


class Frame:
    """Holes along one side, from the middle of the head round to the middle of the throat."""

    def __init__(self, head, throat):
        self.head, self.throat = head, throat

    def along(self, where):
        count, end = where
        need(1 <= count <= (self.head if end == "head" else self.throat), f"there is no hole {count} {end}")
        return count if end == "head" else self.head + self.throat + 1 - count


class Novice:
    """The bed, the string's ends, the clamps and the tension head, as hands know them."""

    def __init__(self, frame, flying=False, starting=False):
        self.frame = frame
        self.flying, self.starting = flying, starting
        self.outside = None  # the string held outside the frame
        self.mains = {}      # (number, side): {end: hole}
        self.crosses = {}    # number: (position, {main: over})
        self.back_at_mains = False  # the clamps turned back for a late main
        self.ends = {}       # side: (hole where the string comes out, (kind, number))
        self.working = None  # side on which the string of the crosses is
        self.gripped = None  # the string in the tension head
        self.clamped = []    # strings held by a clamp
        self.knotted = set()
        self.tension = {}    # string: pounds or kilos
        self.setting = None
        self.facing = None   # the end or the side at the tension head
        self.straight = set()
        self.counted = False
        self.in_hole = {}    # (side, position): strings
        self.loop = None
        self.over_all = {}   # late mains: crosses they meet, by number
        self.waiting = None  # (number, side, cross): the main that is woven after that cross

    # ---- what the sentences mean ----

    def put_in(self, side, where, string):
        strings = self.in_hole.setdefault((side, self.frame.along(where)), set())
        strings.add(string)
        need(len(strings) <= HOLE_STRINGS, f"three strings in {where} {side}: {strings}")

    def lay_main(self, count, side, into, out):
        need(into[1] != out[1], "a main runs from end to end")
        need((count, side) not in self.mains, f"main {count} {side} is in already")
        if self.crosses:
            need(self.working == side, f"the string is on the {self.working}")
            last = max(self.order, key=self.order.get)
            need(abs(self.frame.along(self.crosses[last][2][1]) - self.frame.along(into)) <= SPAN, f"{into} is too far")
        elif count > 1:
            came_out, _ = self.ends[side]
            need(came_out[1] == into[1], f"the string is at the {came_out[1]}, not at the {into[1]}")
            need(1 <= abs(came_out[0] - into[0]) <= SPAN, f"{into} is too far from {came_out}")
        self.mains[count, side] = {into[1]: into, out[1]: out}
        for where in (into, out):
            self.put_in(side, where, ("main", count, side))
        self.ends[side] = (out, ("main", count, side))

    def feed_both(self, into, out):
        for side in ("left", "right"):
            self.lay_main(1, side, hole(into), hole(out))

    def feed(self, count, side, into, out):
        self.lay_main(int(number(count)), side, hole(into), hole(out))

    def turn(self, towards):
        need(self.facing != towards, f"the {towards} is at the tension head already")
        self.facing = towards

    def count_mains(self, count, side, until):
        self.waiting = count and (int(number(count)), side, int(number(until)))
        self.counted = all(("main", *key) in self.tension for key in self.mains)
        need(self.counted, "a main is slack")

    def look(self):
        need(not self.loop, "a loop is in the way")

    def between(self):
        need(self.counted and (self.back_at_mains or not self.crosses), "the crosses have begun")
        self.back_at_mains = False

    def back_to_mains(self):
        need(self.crosses, "the clamps are where they were for the mains")
        self.back_at_mains = True

    def straighten(self, first, last=None):
        self.straight |= set(range(int(number(first)), int(number(last or first)) + 1))

    def set_tension(self, value, _what):
        need(not self.gripped, "the tension head holds a string")
        self.setting = number(value)

    def grip(self, strings, said):
        need(not self.gripped, f"{self.gripped} is in the tension head already")
        need(self.setting == number(said), f"the machine is set to {self.setting}, not to {said}")
        self.gripped = strings[-1]
        for string in strings:
            need(string not in self.tension, f"{string} was pulled before")
            self.tension[string] = self.setting

    def pull_main(self, count, side, end, said):
        string = ("main", int(number(count)), side)
        where, last = self.ends[side]
        need(last == string, f"{last} is the last string on the {side}, not {string}")
        need(self.facing == end, f"the {self.facing} is at the tension head")
        need(where[1] == end, f"{string} comes out at the {where[1]}, not at the {end}")
        self.grip([string], said)

    def pull_crosses(self, first, last, side, where, said):
        numbers = range(int(number(first)), int(number(last)) + 1)
        out_side, out = self.crosses[numbers[-1]][2]
        need((out_side, out) == (side, hole(where)), f"cross {numbers[-1]} comes out of {out} on the {out_side}")
        need(self.facing == side, f"the {self.facing} is at the tension head")
        need(self.straight >= set(numbers), "it is not straight")
        woven = max(self.order, key=self.order.get)
        need(woven == numbers[-1] or (self.loop == woven and self.order[woven] == self.order[numbers[-1]] + 1),
             f"cross {numbers[-1]} cannot be gripped: cross {woven} is drawn through")
        self.grip([("cross", each) for each in numbers], said)

    def pull_cross(self, count, side, where, said):
        self.pull_crosses(count, count, side, where, said)

    def put_clamp(self, string):
        first = not self.tension and not self.clamped and not self.flying and not self.starting
        need(string == self.gripped or first, f"{string} is not being pulled")
        self.clamped.append(string)
        need(len(self.clamped) <= CLAMPS, f"only {CLAMPS} clamps are there: {self.clamped}")

    def clamp_main(self, count, side, _end, across=None):
        self.hold_by(across, [("main", int(number(count)) - 1, side)] if number(count) > 1 else
                     [("main", 1, OTHER[side])])
        self.put_clamp(("main", int(number(count)), side))

    def clamp_cross(self, count, _side, across=None):
        self.hold_by(across, [("cross", int(number(count)) + step) for step in (-1, 1)])
        self.put_clamp(("cross", int(number(count))))

    def hold_by(self, across, neighbours):
        """A flying clamp holds by a neighbour that is tight, or held outside the frame."""
        need(bool(across) == self.flying, f"across {across}")
        if across:
            kind, count, *side = re.fullmatch(r"(main|cross) (.+?)(?: (left|right))?", across).groups()
            string = (kind, int(number(count)), *(each for each in side if each))
            need(string in neighbours, f"{string} is no neighbour")
            need(string in self.tension or string == self.outside, f"{string} is slack")

    def hold_outside(self, count, side, end):
        string = ("main", int(number(count)), side)
        need(self.starting and not self.tension and not self.outside, "no starting clamp")
        need(self.ends[side][0][1] == end, f"the string comes out at the other end than {end}")
        self.outside = string

    def hold_with_scrap(self, _flying, count, side, end):
        need(self.flying and not self.starting, "no flying clamp for that")
        self.starting = True
        self.hold_outside(count, side, end)
        self.clamped.append(("scrap",))

    def take_outside(self, count, side):
        string = ("main", int(number(count)), side)
        need(self.outside == string == self.gripped, f"{self.outside} is held outside, not {string}")
        self.outside = None
        self.clamped = [each for each in self.clamped if each != ("scrap",)]

    def take_clamp(self, string):
        need(string in self.clamped, f"there is no clamp on {string}")
        need(self.gripped or string in self.knotted, f"nothing holds {string} without its clamp")
        if self.gripped and string not in self.knotted:
            need(string[0] != "main" or self.gripped[0] == "cross" or self.gripped[2] == string[2],
                 f"the pull on {self.gripped} does not hold {string}")
        self.clamped.remove(string)

    def unclamp_main(self, count, side):
        self.take_clamp(("main", int(number(count)), side))

    def unclamp_cross(self, count):
        self.take_clamp(("cross", int(number(count))))

    def release(self):
        need(self.gripped in self.clamped, f"{self.gripped} is not clamped")
        self.gripped = None

    def tie_main(self, count, side, where):
        string = ("main", int(number(count)), side)
        out, last = self.ends[side]
        need(last == string, f"{last} is the last string on the {side}")
        self.go_to_knot(string, side, out, hole(where))

    def tie_cross(self, count, where, side):
        string = ("cross", int(number(count)))
        out_side, out = self.crosses[string[1]][2]
        need(out_side == side, f"the string is on the {out_side}")
        self.go_to_knot(string, side, out, hole(where))

    def go_to_knot(self, string, side, out, where):
        self.put_in(side, where, string + ("end",))
        need(abs(self.frame.along(out) - self.frame.along(where)) <= SPAN, f"{where} is too far from {out}")
        self.tying = (string, side, where)

    def knot(self, anchor):
        string, side, where = self.tying
        self.check_anchor(anchor, side, where)
        self.knotted.add(string)

    def check_anchor(self, anchor, side, where):
        if not anchor:
            return
        kind, count = anchor.split(" ", 1)
        count = int(number(count))
        there = self.in_hole.get((side, self.frame.along(where)), set())
        need(any(each[:2] == (kind, count) for each in there), f"{kind} {count} is not in {where} {side}: {there}")

    def start_knot(self, where, side, anchor):
        self.check_anchor(anchor, side, hole(where))
        self.put_in(side, hole(where), ("start", 0))
        self.working = side

    order = None

    def weave(self, count, side, into, over, last_over, same, out, out_side, loop):
        count = int(number(count))
        if self.working is None:  # one piece: the long side goes on
            self.working, self.order = side, {}
        self.order = self.order or {}
        need(self.working == side, f"the string is on the {self.working}")
        need(out_side == OTHER[side], "a cross comes out on the other side")
        position = self.frame.along(hole(into))
        need(position == self.frame.along(hole(out)), f"{out} is not opposite {into}")
        met = sorted((key for key in self.mains if self.meets(position, key)), key=self.from_left)
        if side == "right":
            met.reverse()
        ways = {main: (over == "over") == (at % 2 == 0) for at, main in enumerate(met)}
        need(ways[met[-1]] == (last_over == "over"), f"cross {count} ends {'over' if ways[met[-1]] else 'under'}")
        need((same == "the same as the first") == (over == last_over), "same or opposite")
        self.crosses[count] = (position, ways, (out_side, hole(out)))
        for each in (side, out_side):
            self.put_in(each, hole(into), ("cross", count))
        self.order[count] = len(self.order)
        need(loop in (None, side), f"the loop is on the {side}")
        self.loop = count if loop else None
        self.working = out_side

    def draw(self, count, _side):
        need(self.loop in (None, int(number(count))), f"cross {self.loop} has the loop")
        self.loop = None

    def meets(self, position, key):
        ends = self.mains[key]
        return self.frame.along(ends["head"]) < position < self.frame.along(ends["throat"])

    @staticmethod
    def from_left(key):
        count, side = key
        return -count if side == "left" else count

    def weave_main(self, count, side, into, out, over, _room, last_over):
        into, out = hole(into), hole(out)
        if self.order:
            last = max(self.order, key=self.order.get)
            need(self.waiting == (int(number(count)), side, last), f"main {count} {side} after cross {last}")
        self.lay_main(int(number(count)), side, into, out)
        key = (int(number(count)), side)
        crosses = [each for each in sorted(self.crosses, key=lambda each: self.crosses[each][0])
                   if self.meets(self.crosses[each][0], key)]
        if into[1] == "throat":
            crosses.reverse()
        self.late = (key, crosses, over == "over", last_over == "over", _room)

    def finish_late(self):
        """The crosses missing from the count are left room for: over and under go on as if they were there."""
        key, crosses, over, last_over, room = self.late
        step = 1 if crosses[0] < crosses[-1] else -1
        for each in range(crosses[0], crosses[-1] + step, step):
            if each in self.crosses:
                self.crosses[each][1][key] = not over  # the main is over, so the cross is under
            else:
                need(room, f"no word that cross {each} comes later")
            over = not over
        need(over != last_over, "the last cross is the other way")


RULES = [(re.compile(pattern), method) for pattern, method in [
    (r"Feed both ends of the string, one on each side, in at (.+?) and out at (.+?)\. (?:Make the two lengths even|"
     r"Mark the short side on the (?:left|right)(?: at about .+? metres)?)\.", Novice.feed_both),
    (r"Turn the frame\. The (head|throat) goes to the tension head\.", Novice.turn),
    (r"Turn the frame\. The (left|right) side goes to the tension head\.", Novice.turn),
    (r"Back to (.+?) (?:pounds?|kilos?|newtons?) for (.+?)\. Keep your fingers out of the tension head\.",
     Novice.set_tension),
    (r"Count the mains and the skips against the pattern(?:\. Main (.+?) (left|right) waits until cross (.+?))?\. "
     r"See that no loop outside the frame crosses another\.", Novice.count_mains),
    (r"Turn or move the clamps for the crosses, if your machine asks for it\. Leave one that holds a string\.",
     Novice.between),
    (r"Turn or move the clamps back for the mains\. Leave one that holds a string\.", Novice.back_to_mains),
    (r"Look at the mounts again\. .+", Novice.look),
    (r"Put the starting clamp on main (.+?) (left|right) outside the frame at the (head|throat), close against it\. .+",
     Novice.hold_outside),
    (r"Put a (flying) clamp on main (.+?) (left|right) outside the frame at the (head|throat), close against it\. .+",
     Novice.hold_with_scrap),
    (r"The pull still holds\. Take the clamp outside the frame off main (.+?) (left|right)\.", Novice.take_outside),
    (r"Take up the string for the crosses\. Feel for kinks and knots\.", Novice.between),
    (r"Look along every cross for a misweave\. Now it can still be drawn out\.", Novice.look),
    (r"Straighten cross (.+?) with your fingers(?:\. After the pull you cannot, without sawing)?\.", Novice.straighten),
    (r"Straighten crosses (.+?) and (.+?) with your fingers(?:\. After the pull you cannot, without sawing)?\.",
     Novice.straighten),
    (r"Feed main (.+) (left|right), in at (.+?), out at (.+?)(?:\. Skip [a-z]+)?(?:\. Cross no other loop)?\.", Novice.feed),
    (r"Set the machine to (.+?) (?:pounds?|kilos?|newtons?) for (.+?)\.(?: Keep your fingers out of the tension head\.)?",
     Novice.set_tension),
    (r"Clamp main (.+?) (left|right) at the (head|throat)(?:, inside the frame and close to it\. This holds the string for "
     r"the first pull|, across (.+?))?(?:, as near to the frame as you can)?\.", Novice.clamp_main),
    (r"Clamp cross (.+?) on the (left|right)(?:, across (.+?))?(?:, as near to the frame as you can)?\.",
     Novice.clamp_cross),
    (r"Pull main (.+?) (left|right) at the (head|throat), (.+?) (?:pounds?|kilos?|newtons?)"
     r"(?:\. It locks at the tension, so clamp at once, and do not pull twice\. Stand clear of the line of the string)?\.",
     Novice.pull_main),
    (r"Pull cross (.+?) on the (left|right), where it comes out of (.+?), (.+?) (?:pounds?|kilos?|newtons?)"
     r"(?:\. Keep your fingers out of the tension head)?\.", Novice.pull_cross),
    (r"Pull crosses (.+?) and (.+?) together on the (left|right), where the string comes out of (.+?), (.+?) "
     r"(?:pounds?|kilos?|newtons?)\.", Novice.pull_crosses),
    (r"(?:The pull still holds\. Take|The knot is tight\. Now take) the clamp off main (.+?) (left|right)"
     r"(?: at the (?:head|throat))?\.", Novice.unclamp_main),
    (r"(?:The pull still holds\. Take|The knot is tight\. Now take) the clamp off cross (.+?)\.", Novice.unclamp_cross),
    (r"Release the tension head(?: slowly\. Watch the clamp while you do)?\.", Novice.release),
    (r"Bring main (.+?) (left|right) back in from the outside at (.+?)(?:, as a suggestion)?\. If the hole is tight, .+",
     Novice.tie_main),
    (r"Bring cross (.+?) back in from the outside at (.+?) (left|right)(?:, as a suggestion)?\. If the hole is tight, .+",
     Novice.tie_cross),
    (r"Tie two half hitches(?: round (.+?))?\. Draw each one up by hand\. The clamp stays on\.", Novice.knot),
    (r"Bring the end in at (.+?) (left|right)(?:, as a suggestion)?, three turns(?: round (.+?))?, and back through the "
     r"turns\. Draw the knot up by hand against the frame\.", Novice.start_knot),
    (r"Weave cross (.+?) from the (left|right), in at (.+?)(?:, the next empty hole)?(?:, a shared hole, mind the string in "
     r"it)?, (over|under) the first main\. Last main (over|under), (the (?:same as|opposite of) the first)\. Out at (.+?) on "
     r"the (left|right)(?:, leaving a loop on the (left|right)(?: for the next pull)?)?\.", Novice.weave),
    (r"Draw cross (.+?) through to the (left|right)(?:\. Keep it moving, so that it does not notch the mains)?\.",
     Novice.draw),
    (r"Weave main (.+?) (left|right) from (.+?) to (.+?), (over|under) the first cross(?:\. Leave room for (.+?))?\. "
     r"Last cross (over|under)\.", Novice.weave_main),
    (r"Draw main .+? (?:left|right) through to .+?\. Ease it through the tight crosses, and straighten it\.",
     Novice.finish_late),
]]


def follow(novice, text):
    for rule, method in RULES:
        match = rule.fullmatch(text)
        if match:
            method(novice, *match.groups())
            return
    raise Stuck("not understood")


# ---- the judge ----

def read_pattern(path):
    text = re.sub(r"#.*", "", path.read_text(encoding="utf-8"))

    def count(key):
        return int(re.search(rf"\b{key}: (\d+)", text)[1])

    def labels(key):
        found = re.search(rf"^{key}: \[(.*)\]", text, re.M)
        return set(re.findall(r"\d+[HT]", found[1])) if found else set()

    return {"mains": count("mains"), "crosses": count("crosses"), "head": count("head"), "throat": count("throat"),
            "skip": labels("mains_skip") | labels("unused"), "shared": labels("shared"), "unused": labels("unused"),
            "from_throat": "crosses_start: throat" in text}


def judge(novice, pattern, tensions):
    frame = novice.frame
    label = {"head": "H", "throat": "T"}
    holes = {}
    for end in ("head", "throat"):
        free = [n for n in range(1, pattern[end] + 1) if f"{n}{label[end]}" not in pattern["skip"]]
        holes[end] = free[:pattern["mains"] // 2]
    need(len(novice.mains) == pattern["mains"], f"{len(novice.mains)} mains")
    for (count, side), ends in novice.mains.items():
        for end in ("head", "throat"):
            need(ends[end] == (holes[end][count - 1], end), f"main {count} {side} is in {ends[end]}")
    taken = {frame.along((n, end)) for end in holes for n in holes[end]
             if f"{n}{label[end]}" not in pattern["shared"]}
    unused = {frame.along((int(name[:-1]), "head" if name[-1] == "H" else "throat")) for name in pattern["unused"]}
    rows = [at for at in range(1, frame.head + frame.throat + 1) if at not in taken | unused]
    need(sorted(position for position, *_ in novice.crosses.values()) == rows, "the crosses are in other holes")
    numbered = sorted(novice.crosses, key=lambda each: novice.crosses[each][0], reverse=pattern["from_throat"])
    need(numbered == list(range(1, pattern["crosses"] + 1)), f"crosses out of order: {numbered}")
    columns = sorted(novice.mains, key=novice.from_left)
    parities = set()
    for count, (position, ways, _) in novice.crosses.items():
        need(set(ways) == {key for key in columns if novice.meets(position, key)}, f"cross {count} passes by a main")
        parities |= {(count + columns.index(main) + over) % 2 for main, over in ways.items()}
    need(len(parities) == 1, "the bed does not alternate")
    strings = {("main", *key) for key in columns} | {("cross", count) for count in novice.crosses}
    need(set(novice.tension) == strings, f"slack: {strings - set(novice.tension)}")
    for string, tension in novice.tension.items():
        need(tension == tensions[string[0]], f"{string} at {tension}")
    need(not novice.clamped and not novice.gripped, "a clamp or the tension head is still on")


MACHINES = [  # clamps, starting clamp
    ("fixed", False), ("glide-bar", True), ("flying", False), ("flying", True)]


def steps_of(pullcall, plan, clamps, starting):
    """The job as `pullcall steps` prints it, or the faults that it finds."""
    with tempfile.NamedTemporaryFile("w", suffix=".yaml") as bench:
        bench.write(f"machine: {{ clamps: {clamps}, starting_clamp: {'yes' if starting else 'no'} }}\n")
        bench.flush()
        return run_steps(pullcall, plan, bench.name)


def run_steps(pullcall, plan, bench):
    steps = subprocess.run([pullcall, "steps", "-", "--json", "--bench", bench], input=plan, capture_output=True, text=True, check=False,
                           env={"PULLCALL_PATTERNS": str(ROOT / "patterns"), "PATH": "/usr/bin:/bin"})
    return (None, steps.stderr) if steps.returncode else (json.loads(steps.stdout), "")


def told(job):
    """The calls that the novice follows: mains and crosses, and the tension before them."""
    for call in job["calls"]:
        phase = job["moves"][call["moves"][0] - 1]["phase"]
        if phase in ("mains", "crosses") or call["text"].startswith("Set the machine"):
            yield call["text"]


def string_bed(pattern, texts, flying=False, starting=False):
    novice = Novice(Frame(pattern["head"], pattern["throat"]), flying, starting)
    for text in texts:
        try:
            follow(novice, text)
        except (Stuck, KeyError, ValueError) as stuck:
            raise Stuck(f"{text}\n  {stuck!r}") from stuck
    judge(novice, pattern, {"main": 24.0, "cross": 23.0})


SPOILT = [("left", "right"), ("right", "left"), ("head", "throat"), ("over", "under"), ("under", "over"),
          ("seven", "six"), ("nine", "ten"), ("twelve", "thirteen")]


def expect_noticed(pattern, texts):
    """One word of one call is wrong: that must not go unnoticed, or the novice proves nothing."""
    texts = list(texts)
    spoilt = 0
    for at, text in enumerate(texts):
        for word, other in SPOILT:
            wrong = re.sub(rf"\b{word}\b", other, text, count=1)
            # "The tension head" is a machine's, and the side of a clamp or of a draw is plain to see.
            if wrong == text or "tension head" in text or text.startswith(("Clamp", "Draw")):
                continue
            try:
                string_bed(pattern, texts[:at] + [wrong] + texts[at + 1:])
            except Stuck:
                spoilt += 1
                continue
            sys.exit(f"not noticed: {wrong}")
    return spoilt


def main():
    pullcall, = sys.argv[1:]
    strung = refused = spoilt = 0
    patterns = sorted((ROOT / "patterns").glob("*.yaml"))
    for path in patterns:
        pattern = read_pattern(path)
        for method, (clamps, starting), weave in itertools.product(
                ("two-piece", "one-piece"), MACHINES,
                ("", "weave: { side: right, start: under, behind: 0 }\norder: { first: right }\n")):
            plan = (f"job: novice\npattern: {path.stem}\nstringer: novice\nmethod: {method}\ndetail: learner\n"
                    f"tension: {{ mains: 24 lb, crosses: 23 lb }}\nbeyond_makers_range: wanted\n{weave}")
            if clamps != "flying" and weave:
                plan = plan.replace("behind: 0", "behind: 0, first_pull: 1")
            job, faults = steps_of(pullcall, plan, clamps, starting)
            if not job and (method == "two-piece" or not re.search(r"\[route|\[flying-alone", faults)):
                sys.exit(f"{path.stem}, {method}, {clamps}: {faults}")
            refused += not job
            if not job:
                continue
            try:
                string_bed(pattern, told(job), clamps == "flying", starting)
            except Stuck as stuck:
                sys.exit(f"{path.stem}, {method}, {clamps}: {stuck}")
            strung += 1
            if path.stem == "open-16x19" and method == "two-piece" and (clamps, starting) == MACHINES[0]:
                spoilt += expect_noticed(pattern, told(job))
    print(f"{strung} beds strung from words alone, {refused} one-piece jobs refused; {spoilt} wrong words, all noticed")
    if strung < 8 * len(patterns) or not spoilt:
        sys.exit("too few")


main()
