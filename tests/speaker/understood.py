"""Is the voice understood? Says calls into files and has a recogniser write down what it hears.

    understood.py RENDER                     the default voice must be understood: exit 1 if it is not
    understood.py RENDER VOICE[@WPM]...      a table to choose a voice by

The grammar knows what a call looks like, not which numbers are in it. Sixty calls, from a fixed seed. The recogniser
(pocketsphinx) is a regression oracle, not proof that people understand.
"""
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile

MODEL = pathlib.Path("/usr/share/pocketsphinx/model/en-us")
DEFAULT = "en-us+f2@165"
CALLS = 60
WORDS_WANTED = 0.98
SMALL = ("one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
         "eighteen nineteen").split()
UNITS = SMALL[:9]
GRAMMAR = f"""#JSGF V1.0;
grammar calls;
<small> = {" | ".join(SMALL)};
<tension> = (fifty | sixty) [ {" | ".join(UNITS)} ];
<side> = left | right;
<end> = head | throat;
public <call> = main <small> <side> <small> <end> pull <tension>
  | cross <small> from the <side> <small> <end> (over | under) first
  | cross <small> pull <tension>
  | clamp main <small> <side>
  | tie off at <small> <end>;
"""


def make_call(chance):
    small, end, side = chance.choice(SMALL), chance.choice(["head", "throat"]), chance.choice(["left", "right"])
    tension = chance.choice(["fifty", "sixty"]) + chance.choice([""] + [" " + unit for unit in UNITS])
    return chance.choice([
        f"Main {chance.choice(SMALL)} {side}, {small} {end}, pull {tension}.",
        f"Cross {chance.choice(SMALL)} from the {side}, {small} {end}, {chance.choice(['over', 'under'])} first.",
        f"Cross {small}, pull {tension}.",
        f"Clamp main {small} {side}.",
        f"Tie off at {small} {end}."])


def words_of(text):
    return re.sub(r"[^a-z]+", " ", text.lower()).split()


def recognise(folder, count):
    names = [f"{index:03}" for index in range(count)]
    (folder / "list").write_text("\n".join(names) + "\n")
    (folder / "calls.jsgf").write_text(GRAMMAR)
    subprocess.run(["pocketsphinx_batch", "-adcin", "yes", "-adchdr", "44", "-cepdir", folder, "-cepext", ".wav",
                    "-ctl", folder / "list", "-hyp", folder / "heard", "-hmm", MODEL / "en-us",
                    "-dict", MODEL / "cmudict-en-us.dict", "-jsgf", folder / "calls.jsgf", "-remove_noise", "no",
                    "-logfn", folder / "log"], check=True)
    return [line.rpartition(" (")[0].split() for line in (folder / "heard").read_text().splitlines()]


def listen(render, voice, calls):
    """Calls heard exactly, words heard right, words said, and what was misheard."""
    name, _, rate = voice.partition("@")
    with tempfile.TemporaryDirectory() as work:
        folder = pathlib.Path(work)
        subprocess.run([render, name, rate or "165", folder], input="\n".join(calls) + "\n", text=True, check=True)
        heard = recognise(folder, len(calls))
    exact = right = said = 0
    misheard = []
    for call, words in zip(calls, heard, strict=True):
        wanted = words_of(call)
        exact += wanted == words
        said += len(wanted)
        if len(wanted) == len(words):
            right += sum(a == b for a, b in zip(wanted, words))
            misheard += [f"{a}/{b}" for a, b in zip(wanted, words) if a != b]
        else:
            misheard.append(f"({call} / {' '.join(words)})")
    return exact, right, said, misheard


def main():
    missing = [name for name in ("pocketsphinx_batch",) if not shutil.which(name)]
    if missing or not MODEL.exists():
        sys.exit("understood.py: cannot run without pocketsphinx: apt-get install pocketsphinx pocketsphinx-en-us")
    render, voices = sys.argv[1], sys.argv[2:]
    chance = random.Random(1873)
    calls = [make_call(chance) for _ in range(CALLS)]
    good = True
    for voice in voices or [DEFAULT]:
        exact, right, said, misheard = listen(render, voice, calls)
        print(f"{voice:16} {exact} of {len(calls)} calls, {right} of {said} words  {' '.join(misheard)}", flush=True)
        good = good and right >= WORDS_WANTED * said
    sys.exit(0 if voices or good else 1)


main()
