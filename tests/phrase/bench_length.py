"""No call of the bench detail takes longer than 4.5 s at 165 words a minute, in any language.

    bench_length.py TEXTS RENDER

The words are those of every bundled pattern in two pieces and in one (texts.c), each said once, without what a shop may call
its strings; the sound is the speaker's own synthesis (tests/speaker/render.c) in the voice of the phrasebook, without the
silence before and after it. Prints the longest call of each language.
"""
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).parent.parent.parent
LONGEST_S, RATE_WPM = 4.5, 165
BYTES_PER_SECOND = 2 * 16000
HEADER_BYTES, PADDING_S = 44, 0.6
JOB = "job: x\npattern: open-16x19\nstringer: x\nmethod: {}\ntension: {{ mains: 54 lb, crosses: 52 lb }}\n"
JOBS = (
    JOB.format("two-piece") + "adjust: [ { strings: mains 7-8, by: -2 lb } ]\n",
    JOB.format("one-piece"),
)


def texts_of(texts, book, folder):
    said = {}
    for number, job in enumerate(JOBS):
        plan = pathlib.Path(folder) / f"{number}.yaml"
        plan.write_text(job, encoding="utf-8")
        for pattern in sorted((ROOT / "patterns").glob("*.yaml")):
            run = subprocess.run([texts, plan, pattern, book, "bench"], capture_output=True, text=True, check=False)
            said.update(dict.fromkeys(run.stdout.splitlines()))
    return list(said)


def seconds(render, voice, calls, folder):
    subprocess.run([render, voice, str(RATE_WPM), folder], input="\n".join(calls) + "\n", text=True, check=True)
    return [(path.stat().st_size - HEADER_BYTES) / BYTES_PER_SECOND - PADDING_S
            for path in sorted(pathlib.Path(folder).glob("*.wav"), key=lambda path: int(path.stem))]


def main():
    texts, render = sys.argv[1:]
    good = True
    for book in sorted((ROOT / "voice").glob("*.yaml")):
        voice = re.search(r"^voice: (\S+)", book.read_text(encoding="utf-8"), re.M)[1]
        with tempfile.TemporaryDirectory() as folder:
            calls = texts_of(texts, book, folder)
            lengths = seconds(render, voice, calls, folder)
        assert len(lengths) == len(calls) > 200
        longest = sorted(zip(lengths, calls), reverse=True)
        print(f"{book.stem}: {len(calls)} calls, {sum(lengths) / len(lengths):.2f} s on average; "
              f"the longest {longest[0][0]:.2f} s: {longest[0][1]}")
        for length, call in longest:
            if length > LONGEST_S:
                print(f"  over {LONGEST_S} s: {length:.2f} s: {call}")
                good = False
    sys.exit(not good)


main()
