"""Are the calls of a whole job understood? Has a recogniser write down what it hears of them.

    heard.py TEXTS RENDER            a job in bench detail, said and said again: exit 1 if too little is understood
    heard.py TEXTS RENDER --table    other details too, noise and other voices: to choose words by

The words come from the phrasebook (texts.c), the sound from the speaker's own synthesis (tests/speaker/render.c), so
this is what a person gets. The grammar knows the sentences and how large a number can be where it stands, not which
numbers are in a call. The recogniser (pocketsphinx) is a regression oracle, not proof that people understand.
"""
import array
import difflib
import math
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile

MODEL = pathlib.Path("/usr/share/pocketsphinx/model/en-us")
HERE = pathlib.Path(__file__).parent
ROOT = HERE.parent.parent
JOB = (HERE / "heard.yaml", ROOT / "patterns" / "open-16x19.yaml", ROOT / "voice" / "en.yaml")
EXTRA_WORDS = ROOT / "tests" / "rig" / "words.dict"
HEADER_BYTES = 44
VOICES = ("en-us+f2", "en-us+f3", "en-us")
RATE_WPM = "165"
# Seen: 99 in 100; 70 with the voice en-us.
WORDS_WANTED = 0.98
UNITS = "zero one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy".split()
NUMBER_WORDS = {*UNITS, *TEENS, *TENS, "hundred", "point"}
AFTER_THESE_SMALL = {"main", "cross", "crosses", "hole", "and", "head", "throat"}
STRINGS_AND_HOLES = range(1, 25)
TENSIONS = range(80)


def say(number):
    if number < 20:
        return (UNITS + TEENS)[number]
    return TENS[number // 10 - 2] + (" " + UNITS[number % 10] if number % 10 else "")


def say_again(number):
    digits = " ".join(UNITS[int(digit)] for digit in str(number))
    return say(number) + (" " + digits if number > 9 else "")


def words_of(text):
    return re.sub(r"[^a-z']+", " ", text.lower()).split()


def shape_of(words):
    """The words with a name of a rule for every number, side and end."""
    rules = {"left": "<side>", "right": "<side>", "head": "<end>", "throat": "<end>", "over": "<over>",
             "under": "<over>"}
    shape = []
    for index, word in enumerate(words):
        if word in NUMBER_WORDS:
            if shape and shape[-1] in ("<small>", "<tension>"):
                continue
            rest = [other for other in words[index:] if other not in NUMBER_WORDS]
            before = words[index - 1] if index else ""
            small = before in AFTER_THESE_SMALL or rest[:1] in (["head"], ["throat"])
            shape.append("<small>" if small else "<tension>")
        elif words[index - 1:index + 1] == ["tension", "head"]:
            shape.append(word)
        else:
            shape.append(rules.get(word, word))
    return " ".join(shape)


def grammar_of(calls, again):
    number = say_again if again else say
    shapes = sorted({shape_of(words_of(call)) for call in calls})
    return f"""#JSGF V1.0;
grammar calls;
<digit> = {" | ".join(UNITS)};
<small> = {" | ".join(map(number, STRINGS_AND_HOLES))};
<tension> = ({" | ".join(map(number, TENSIONS))}) [ point <digit> [ <digit> ] ];
<side> = left | right;
<end> = head | throat;
<over> = over | under;
public <call> = {" | ".join(shapes)};
"""


def pink_noise(count, seed):
    """White noise through a sum of first-order low passes an octave and a half apart: about 3 dB an octave."""
    chance = random.Random(seed)
    poles = [0.997, 0.985, 0.95, 0.85, 0.6, 0.1]
    gains = [0.05, 0.1, 0.2, 0.35, 0.55, 0.8]
    state = [0.0] * len(poles)
    noise = array.array("d")
    for _ in range(count):
        white = chance.gauss(0, 1)
        for index, (pole, gain) in enumerate(zip(poles, gains)):
            state[index] = pole * state[index] + gain * (1 - pole) * white * 4
        noise.append(sum(state))
    return noise


def add_noise(path, noise, decibels):
    """Noise so many decibels below the level of the words."""
    wav = path.read_bytes()
    samples = array.array("h", wav[HEADER_BYTES:])
    spoken = [sample for sample in samples if abs(sample) > 200]
    level = math.sqrt(sum(s * s for s in spoken) / len(spoken))
    part = noise[:len(samples)]
    scale = level / 10 ** (decibels / 20) / math.sqrt(sum(n * n for n in part) / len(part))
    noisy = array.array("h", (max(-32767, min(32767, round(s + scale * n))) for s, n in zip(samples, part)))
    path.write_bytes(wav[:HEADER_BYTES] + noisy.tobytes())


def recognise(folder, calls, again, noisy):
    names = [f"{index:03}" for index in range(len(calls))]
    (folder / "list").write_text("\n".join(names) + "\n")
    (folder / "calls.jsgf").write_text(grammar_of(calls, again))
    (folder / "words.dict").write_text((MODEL / "cmudict-en-us.dict").read_text() + EXTRA_WORDS.read_text())
    subprocess.run(["pocketsphinx_batch", "-adcin", "yes", "-adchdr", "44", "-cepdir", folder, "-cepext", ".wav",
                    "-ctl", folder / "list", "-hyp", folder / "heard", "-hmm", MODEL / "en-us",
                    "-dict", folder / "words.dict", "-jsgf", folder / "calls.jsgf",
                    "-remove_noise", "yes" if noisy else "no", "-logfn", folder / "log"], check=True)
    return [line.rpartition(" (")[0].split() for line in (folder / "heard").read_text().splitlines()]


def listen(render, calls, *, voice=VOICES[0], again=False, noise=None, decibels=None):
    """Calls heard exactly, words heard right, words said, and what was misheard."""
    with tempfile.TemporaryDirectory() as work:
        folder = pathlib.Path(work)
        subprocess.run([render, voice, RATE_WPM, folder], input="\n".join(calls) + "\n", text=True, check=True)
        if noise:
            for index in range(len(calls)):
                add_noise(folder / f"{index:03}.wav", noise, decibels)
        heard = recognise(folder, calls, again, noise is not None)
    exact = right = said = 0
    misheard = []
    for call, words in zip(calls, heard, strict=True):
        wanted = words_of(call)
        exact += wanted == words
        said += len(wanted)
        right += sum(block.size for block in difflib.SequenceMatcher(None, wanted, words, False).get_matching_blocks())
        if wanted != words:
            misheard.append(f"    {' '.join(wanted)}\n      heard: {' '.join(words)}")
    return exact, right, said, misheard


def texts_of(texts, detail, again=False):
    command = [texts, *JOB, detail, *(["again"] if again else [])]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()


def report(name, result, show):
    exact, right, said, misheard = result
    print(f"{name}: {exact} of {exact + len(misheard)} calls exact, {right} of {said} words", flush=True)
    if show and misheard:
        print("\n".join(misheard))
    return right >= WORDS_WANTED * said


def print_table(texts, render):
    noise = pink_noise(20 * 16000, seed=1873)
    for detail, again in (("bench", False), ("bench", True), ("quick", False), ("quick", True), ("learner", False)):
        calls = texts_of(texts, detail, again)
        name = f"{detail}{', again' if again else ''}"
        report(name, listen(render, calls, again=again), show=True)
        if detail != "bench":
            continue
        for decibels in (15, 10, 5):
            report(f"{name}, noise {decibels} dB below",
                   listen(render, calls, again=again, noise=noise, decibels=decibels), show=False)
        for voice in VOICES[1:]:
            report(f"{name}, {voice}", listen(render, calls, again=again, voice=voice), show=False)


def main():
    if not shutil.which("pocketsphinx_batch") or not MODEL.exists():
        sys.exit("heard.py: cannot run without pocketsphinx: apt-get install pocketsphinx pocketsphinx-en-us")
    texts, render = sys.argv[1:3]
    if "--table" in sys.argv[3:]:
        print_table(texts, render)
        return
    good = report("bench", listen(render, texts_of(texts, "bench")), show=True)
    good &= report("bench, again", listen(render, texts_of(texts, "bench", True), again=True), show=True)
    sys.exit(0 if good else 1)


main()
