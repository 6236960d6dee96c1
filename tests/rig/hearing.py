"""What a person would have heard, read from a WAV file (16 bit, stereo, 48 kHz) while it grows or afterwards.

Loudness says when something sounded; pocketsphinx with a grammar says what it was. The recogniser is a regression
oracle, not proof that people understand.
"""
import array
import math
import operator
import pathlib
import re
import subprocess
import time

PACKAGES = "pocketsphinx pocketsphinx-en-us sox"
MODEL = pathlib.Path("/usr/share/pocketsphinx/model/en-us")
EXTRA_WORDS = pathlib.Path(__file__).with_name("words.dict")
RATE_HZ = 48000
FRAME_BYTES = 4
BLOCK_S = 0.005
# Between the mixer's last bit of rounding and the softest consonant.
SILENCE_DBFS = -60.0


class NotHeard(Exception):
    """The sound is not what it should be."""


def level_dbfs(samples):
    """Root mean square of 16-bit samples."""
    if not samples:
        return -math.inf
    power = sum(map(operator.mul, samples, samples)) / len(samples)
    return 10 * math.log10(power / 32768 ** 2) if power else -math.inf


class Ear:
    """Listens to a WAV file that another program writes. Times are seconds of sound since the file's beginning."""

    header_bytes = 44

    def __init__(self, path):
        self.path = pathlib.Path(path)
        self.loud = []  # one per block: does it sound?
        self.block_bytes = round(BLOCK_S * RATE_HZ) * FRAME_BYTES

    def listen(self):
        """Take in what is new; how long the sound is by now."""
        if self.path.exists():
            with open(self.path, "rb") as wav:
                wav.seek(self.header_bytes + len(self.loud) * self.block_bytes)
                while len(block := wav.read(self.block_bytes)) == self.block_bytes:
                    # One sample in three is enough to tell sound from silence, and cheaper.
                    self.loud.append(level_dbfs(array.array("h", block)[::3]) > SILENCE_DBFS)
        return self.now

    @property
    def now(self):
        return len(self.loud) * BLOCK_S

    def onset(self, after_s):
        """When the first sound after that time begins; None: there was none."""
        for index in range(math.ceil(after_s / BLOCK_S - 1e-9), len(self.loud)):
            if self.loud[index]:
                return index * BLOCK_S
        return None

    def exact_onset(self, after_s):
        """The same to the sample: the first louder than silence."""
        block = self.onset(after_s)
        if block is None:
            return None
        limit = 32768 * 10 ** (SILENCE_DBFS / 20)
        # The sound may begin softly at the end of the block before.
        first = max(round(after_s * RATE_HZ), round((block - BLOCK_S) * RATE_HZ))
        with open(self.path, "rb") as wav:
            wav.seek(self.header_bytes + first * FRAME_BYTES)
            left = array.array("h", wav.read(2 * self.block_bytes))[::2]
        return (first + next(index for index, sample in enumerate(left) if abs(sample) > limit)) / RATE_HZ

    def utterance(self, after_s):
        """What sounded after that time up to now, silence around it cut off: (when, samples of the left channel)."""
        limit = 32768 * 10 ** (SILENCE_DBFS / 20)
        with open(self.path, "rb") as wav:
            wav.seek(self.header_bytes + round(after_s * RATE_HZ) * FRAME_BYTES)
            left = array.array("h", wav.read(round((self.now - after_s) * RATE_HZ) * FRAME_BYTES))[::2]
        loud = [index for index, sample in enumerate(left) if abs(sample) > limit]
        if not loud:
            raise NotHeard(f"nothing after {after_s:.2f} s of sound")
        return after_s + loud[0] / RATE_HZ, left[loud[0]:loud[-1] + 1]

    def sounds(self, start_s, end_s):
        """The seconds of sound between the two times."""
        return BLOCK_S * sum(self.loud[round(start_s / BLOCK_S):round(end_s / BLOCK_S)])

    def quiet_for(self):
        """How long it has been quiet by now."""
        count = 0
        while count < len(self.loud) and not self.loud[-1 - count]:
            count += 1
        return count * BLOCK_S

    def wait_onset(self, after_s, limit_s):
        until = time.monotonic() + limit_s
        while (onset := self.onset(after_s)) is None:
            if time.monotonic() > until:
                raise NotHeard(f"nothing within {limit_s} s after {after_s:.2f} s of sound")
            time.sleep(0.02)
            self.listen()
        return onset

    def wait_quiet(self, length_s=0.6, limit_s=30):
        self.listen()
        until = time.monotonic() + limit_s
        while self.quiet_for() < length_s:
            if time.monotonic() > until:
                raise NotHeard(f"never quiet for {length_s} s within {limit_s} s")
            time.sleep(0.02)
            self.listen()


def same(one, other):
    """Whether samples are equal, but for what rounding leaves."""
    return all(abs(ours - theirs) <= 1 for ours, theirs in zip(one, other))


def changeover(old, new, both):
    """`both` begins as one utterance and goes on as another: where it is the old one no longer, and where it is the new
    one alone, as seconds from its beginning. A hole in the sound before or after is no matter."""
    leaves = 0
    while leaves < min(len(old), len(both)) and same(old[leaves:leaves + 1], both[leaves:leaves + 1]):
        leaves += 1
    # A piece of the new voice from soon after its beginning is looked for; from there back to where they differ.
    piece = round(0.02 * RATE_HZ), round(0.05 * RATE_HZ)
    for start in range(max(0, leaves - RATE_HZ // 100), min(leaves + RATE_HZ // 2, len(both) - piece[1])):
        if same(new[piece[0]:piece[1]], both[start + piece[0]:start + piece[1]]):
            break
    else:
        raise NotHeard("the new voice did not follow the old one as it sounds alone")
    enters = start + piece[0]
    while enters > start and same(both[enters - 1:enters], new[enters - 1 - start:enters - start]):
        enters -= 1
    return leaves / RATE_HZ, enters / RATE_HZ


def words_of(text):
    return re.sub(r"[^a-z' ]+", " ", text.lower().replace("-", " ")).split()


def dictionary(sentences, target):
    """The recogniser's dictionary and our few extra words; every word must be in it."""
    text = (MODEL / "cmudict-en-us.dict").read_text() + EXTRA_WORDS.read_text()
    target.write_text(text)
    known = {line.split(maxsplit=1)[0] for line in text.splitlines() if line}
    missing = {word for sentence in sentences for word in words_of(sentence)} - known
    if missing:
        raise NotHeard(f"the recogniser cannot know: {' '.join(sorted(missing))}; add them to {EXTRA_WORDS}")


def recognise(wav, cuts, sentences, work):
    """What is said in each cut (start, end) of the file, as one of the sentences: a list of texts as words_of them."""
    work = pathlib.Path(work)
    work.mkdir(parents=True, exist_ok=True)
    choices = sorted({" ".join(words_of(sentence)) for sentence in sentences})
    (work / "calls.jsgf").write_text("#JSGF V1.0;\ngrammar calls;\npublic <call> = " + "\n | ".join(choices) + ";\n")
    dictionary(choices, work / "dict")
    names = [f"cut{index:03}" for index in range(len(cuts))]
    (work / "list").write_text("".join(name + "\n" for name in names))
    # Without -G the resampler clips; without the padding the first word is lost.
    whole = work / "whole.wav"
    subprocess.run(["sox", "-G", "--ignore-length", wav, "-r", "16000", "-c", "1", "-b", "16", whole],
                   check=True, stderr=subprocess.DEVNULL)
    for name, (start, end) in zip(names, cuts):
        subprocess.run(["sox", whole, work / f"{name}.wav", "trim", f"{start}", f"={end}", "pad", "0.3", "0.3"],
                       check=True)
    subprocess.run(["pocketsphinx_batch", "-adcin", "yes", "-adchdr", "44", "-cepdir", work, "-cepext", ".wav",
                    "-ctl", work / "list", "-hyp", work / "heard", "-hmm", MODEL / "en-us", "-dict", work / "dict",
                    "-jsgf", work / "calls.jsgf", "-remove_noise", "no", "-logfn", work / "log"], check=True)
    # A line is: the words (CUT SCORE)
    return [line.rpartition(" (")[0] for line in (work / "heard").read_text().splitlines()]
