"""How much of a job is understood in a loud shop? Prints, for each setting of `shop` and each noise, the share of
calls of which every field (number, side, end, over or under) is heard right, and the share of fields in brackets.

    heard_in_noise.py TEXTS RENDER             the job that the settings were not tuned with
    heard_in_noise.py TEXTS RENDER --tune      the job that they were tuned with
    heard_in_noise.py TEXTS RENDER --missed    also prints what was said and what was heard instead

The level of the words is that of their active parts (ITU-T P.56, method B). Noise is pink, or the babble of six
synthetic voices. The grammar allows every number that can stand in a place: the strings and holes of the frame, any
tension. The recogniser (pocketsphinx) is no proof that people understand.
"""
import itertools
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import wave
from concurrent.futures import ThreadPoolExecutor

import numpy

MODEL = pathlib.Path("/usr/share/pocketsphinx/model/en-us")
HERE = pathlib.Path(__file__).parent
ROOT = HERE.parent.parent
BOOK = ROOT / "voice" / "en.yaml"
EXTRA_WORDS = ROOT / "tests" / "rig" / "words.dict"
# Plan, pattern, strings to count: mains a side, crosses.
TUNED = (HERE / "heard.yaml", ROOT / "patterns" / "open-16x19.yaml", 8, 19)
REPORTED = (HERE / "heard_in_noise.yaml", ROOT / "patterns" / "dense-18x20.yaml", 9, 20)
VOICE, RATE_WPM = "en-us+f2", "165"
RATE_HZ = 16000
NOISES = {"quiet": None, "pink 10 dB": ("pink", 10), "pink 5 dB": ("pink", 5), "babble 10 dB": ("babble", 10),
          "babble 5 dB": ("babble", 5)}
# What texts.c and render.c are told, and how numbers of several digits are said then (`clear` and `repeat`).
SETTINGS = {"quiet": ((), ()), "loud": (("loud",), ("loud",)), "loud, again": (("loud", "again"), ("loud",))}
BABBLERS = ("en-us+m1", "en-gb+m3", "en-us+f3", "en-gb+f4", "en-us+m7", "en-gb+f1")
BABBLE_SECONDS = 55
UNITS = "zero one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy".split()
NUMBER_WORDS = {*UNITS, *TEENS, *TENS, "point"}
TENSION_UNITS = {"pounds", "kilos", "newtons"}
SIDES, ENDS, OVER = {"left", "right"}, {"head", "throat"}, {"over", "under"}


def in_words(number):
    if number < 20:
        return (UNITS + TEENS)[number]
    return TENS[number // 10 - 2] + (" " + UNITS[number % 10] if number % 10 else "")


def in_digits(number):
    return " ".join(UNITS[int(digit)] for digit in str(number))


def forms(number, setting):
    """The ways in which a number may be said; a listener knows the setting, not the number."""
    if number < 10 or setting == "quiet":
        return {in_words(number)}
    if setting == "loud":
        return {in_digits(number)}
    return {f"{in_words(number)} {in_digits(number)}", in_words(number), in_digits(number)}


def words_of(text):
    return re.sub(r"[^a-z']+", " ", text.lower()).split()


def rule_of(words, index, end):
    """The rule of the grammar for the number at words[index:end], by the words around it."""
    before = words[index - 1] if index else ""
    after = words[end] if end < len(words) else ""
    if after in TENSION_UNITS:
        return "tension"
    if before in ("main", "skip"):
        return before
    if before == "mains" or (before == "to" and "mains" in words):
        return "main"
    if before in ("cross", "crosses") or (before == "and" and "crosses" in words) or (
            before == "pull" and words[0] == "cross"):
        return "cross"
    if before == "hole" or after in ENDS:
        return "hole"
    return "length" if after.startswith("metre") else "tension"


def pieces(words):
    """Pairs of a rule and the words that it stands for; a rule of None is a fixed word."""
    index = 0
    while index < len(words):
        end = index
        while end < len(words) and words[end] in NUMBER_WORDS:
            end += 1
        word = words[index]
        if end > index:
            yield rule_of(words, index, end), " ".join(words[index:end])
            index = end
            continue
        named = not (word == "head" and words[index - 1] == "tension")
        rule = "side" if word in SIDES else "end" if word in ENDS and named else "over" if word in OVER else None
        yield rule, word
        index += 1


def grammar_of(calls, mains, crosses, setting):
    def any_of(numbers):
        return " | ".join(sorted({form for number in numbers for form in forms(number, setting)}))

    shapes = sorted({" ".join(f"<{rule}>" if rule else word for rule, word in pieces(words_of(call)))
                     for call in calls})
    return f"""#JSGF V1.0;
grammar calls;
<digit> = {" | ".join(UNITS)};
<main> = {any_of(range(1, mains + 1))};
<cross> = {any_of(range(1, crosses + 1))};
<hole> = {any_of(range(1, 20))};
<skip> = {any_of(range(1, 5))};
<tension> = ({any_of(range(30, 80))}) [ point <digit> ];
<length> = ({any_of(range(2, 14))}) [ point <digit> ];
<side> = left | right;
<end> = head | throat;
<over> = over | under;
public <call> = {" | ".join(shapes)};
"""


def value_of(rule, words, setting):
    """A number as its digits, whichever way it was said; other fields as they are."""
    if rule in ("side", "end", "over"):
        return words
    whole, point, rest = words.partition(" point")
    for number in range(100 if setting == "quiet" else 80):
        if number < 80 and whole in forms(number, setting):
            return f"{number}{point}{rest}"
    return words


def fields_of(words, setting):
    return [value_of(rule, said, setting) for rule, said in pieces(words) if rule]


def read_wav(path):
    with wave.open(str(path)) as file:
        return numpy.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(float)


def write_wav(path, samples):
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(numpy.rint(samples).astype("<i2").tobytes())


def active_level(samples):
    """ITU-T P.56, method B, with the envelope at 1 kHz: time constant 30 ms, hangover 0.2 s, margin 15.9 dB."""
    step = RATE_HZ // 1000
    count = len(samples) // step
    rectified = numpy.abs(samples[:count * step]).reshape(-1, step).mean(axis=1)
    keep = numpy.exp(-1 / 30)
    envelope, first, second = numpy.empty(count), 0.0, 0.0
    for index, value in enumerate(rectified):
        first = keep * first + (1 - keep) * value
        second = keep * second + (1 - keep) * first
        envelope[index] = second
    power = float((samples ** 2).sum()) / step
    for threshold in 2.0 ** numpy.arange(0, 15, 0.25):
        above = numpy.flatnonzero(envelope >= threshold)
        if not len(above):
            break
        edges = numpy.zeros(count + 201)
        numpy.add.at(edges, above, 1)
        numpy.add.at(edges, above + 200, -1)
        active = int((numpy.cumsum(edges)[:count] > 0).sum())
        level = numpy.sqrt(power / active)
        if 20 * numpy.log10(level / threshold) <= 15.9:
            return level
    raise ValueError("no speech in it")


def at_unit_level(noise):
    return noise / numpy.sqrt((noise ** 2).mean())


def pink_noise(count, seed):
    spectrum = numpy.fft.rfft(numpy.random.default_rng(seed).standard_normal(count))
    hertz = numpy.fft.rfftfreq(count, 1 / RATE_HZ)
    spectrum[hertz < 50] = 0
    return at_unit_level(numpy.fft.irfft(spectrum / numpy.sqrt(numpy.maximum(hertz, 1)), count))


def make_babble(folder):
    """Six voices at one level, each reading a part of the README."""
    text = re.sub(r"[^A-Za-z., ]+", " ", (ROOT / "README.md").read_text(encoding="utf-8"))
    count = BABBLE_SECONDS * RATE_HZ
    babble = numpy.zeros(count)
    for index, voice in enumerate(BABBLERS):
        part = text[900 * index:900 * (index + 1)]
        subprocess.run(["espeak-ng", "-v", voice, "-s", "170", "-w", folder / "voice.wav", part], check=True)
        subprocess.run(["sox", "-G", folder / "voice.wav", "-r", str(RATE_HZ), folder / "voice16.wav"], check=True)
        samples = read_wav(folder / "voice16.wav")
        babble += numpy.resize(samples / active_level(samples), count)
    return babble


def noise_for(kind, count, index, babble):
    if kind == "pink":
        return pink_noise(count, seed=index)
    start = int(numpy.random.default_rng(index).integers(0, len(babble) - count))
    return at_unit_level(babble[start:start + count])


def recognise(folder, clean, noise, babble):
    """What is heard of each of the sounds, in words."""
    names = [f"{index:03}" for index in range(len(clean))]
    for index, (name, samples) in enumerate(zip(names, clean)):
        mixed = samples
        if noise:
            kind, decibels = noise
            level = active_level(samples) / 10 ** (decibels / 20)
            mixed = samples + level * noise_for(kind, len(samples), index, babble)
        write_wav(folder / f"{name}.wav", mixed * min(1, 32000 / numpy.abs(mixed).max()))
    (folder / "list").write_text("\n".join(names) + "\n")
    subprocess.run(["pocketsphinx_batch", "-adcin", "yes", "-adchdr", "44", "-cepdir", folder, "-cepext", ".wav",
                    "-ctl", folder / "list", "-hyp", folder / "heard", "-hmm", MODEL / "en-us",
                    "-dict", folder.parent / "words.dict", "-jsgf", folder.parent / "calls.jsgf",
                    "-remove_noise", "yes" if noise else "no", "-logfn", folder / "log"], check=True)
    return [line.rpartition(" (")[0].split() for line in (folder / "heard").read_text().splitlines()]


def texts_of(texts, job, setting):
    plan, pattern, *_ = job
    told, _ = SETTINGS[setting]
    command = [texts, plan, pattern, BOOK, "bench", *told]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()


def compare(calls, heard, setting):
    """Calls right, fields right, fields, and pairs of what was said and heard."""
    right = fields_right = fields = 0
    missed = []
    for call, words in zip(calls, heard, strict=True):
        said, got = fields_of(words_of(call), setting), fields_of(words, setting)
        right += said == got
        fields += len(said)
        fields_right += sum(a == b for a, b in zip(said, got)) if len(said) == len(got) else 0
        if said != got:
            missed.append((call, " ".join(words)))
    return right, fields_right, fields, missed


def measure(texts, render, job, setting, babble, show):
    calls = texts_of(texts, job, setting)
    shapes = list(itertools.chain(*(texts_of(texts, each, setting) for each in (TUNED, REPORTED))))
    with tempfile.TemporaryDirectory() as work:
        work = pathlib.Path(work)
        (work / "calls.jsgf").write_text(grammar_of(shapes, *job[2:], setting))
        (work / "words.dict").write_text((MODEL / "cmudict-en-us.dict").read_text() + EXTRA_WORDS.read_text())
        subprocess.run([render, VOICE, RATE_WPM, work, *SETTINGS[setting][1]], input="\n".join(calls) + "\n",
                       text=True, check=True)
        clean = [read_wav(work / f"{index:03}.wav") for index in range(len(calls))]

        def listen(name):
            folder = work / name.replace(" ", "-")
            folder.mkdir()
            return name, compare(calls, recognise(folder, clean, NOISES[name], babble), setting)

        cells, missed = [], []
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            for name, (right, fields_right, fields, wrong) in pool.map(listen, NOISES):
                cells.append(f"{name} {100 * right / len(calls):.0f} % ({100 * fields_right / fields:.0f})")
                missed += [f"    {name}: {said}\n        heard: {got}" for said, got in wrong]
    print(f"{setting}, {len(calls)} calls: {', '.join(cells)}", flush=True)
    if show:
        print("\n".join(missed))


def main():
    wanted = [name for name in ("pocketsphinx_batch", "espeak-ng", "sox") if not shutil.which(name)]
    if wanted or not MODEL.exists():
        sys.exit("heard_in_noise.py: cannot run without pocketsphinx, pocketsphinx-en-us, espeak-ng and sox")
    texts, render, *options = sys.argv[1:]
    job = TUNED if "--tune" in options else REPORTED
    with tempfile.TemporaryDirectory() as work:
        babble = make_babble(pathlib.Path(work))
    for setting in SETTINGS:
        measure(texts, render, job, setting, babble, "--missed" in options)


main()
