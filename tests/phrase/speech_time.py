"""How long a whole job of the bundled 16x19 frame is spoken, without the silence before and after each call.

    speech_time.py PULLCALL RENDER

The words come from `pullcall steps`, the sound from the speaker's own synthesis (tests/speaker/render.c), at 165 words a
minute. It prints figures and judges none.
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).parent.parent.parent
RATE_WPM = 165
BYTES_PER_SECOND = 2 * 16000
HEADER_BYTES, PADDING_S = 44, 0.6


def voice():
    return re.search(r"^voice: (\S+)", (ROOT / "voice" / "en.yaml").read_text(encoding="utf-8"), re.M)[1]


def calls_of(pullcall, detail):
    plan = (ROOT / "demo" / "ridge-court.yaml").read_text(encoding="utf-8")
    plan = re.sub(r"^detail:.*", f"detail: {detail}", plan, flags=re.M)
    steps = subprocess.run([pullcall, "steps", "-", "--json"], input=plan, capture_output=True, text=True, check=True,
                           env={"PULLCALL_PATTERNS": str(ROOT / "patterns"), "PATH": "/usr/bin:/bin"})
    return [call["text"] for call in json.loads(steps.stdout)["calls"]]


def seconds(render, calls):
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([render, voice(), str(RATE_WPM), folder], input="\n".join(calls) + "\n", text=True, check=True)
        sizes = [path.stat().st_size for path in sorted(pathlib.Path(folder).glob("*.wav"))]
    return [(size - HEADER_BYTES) / BYTES_PER_SECOND - PADDING_S for size in sizes]


def main():
    pullcall, render = sys.argv[1:]
    for detail in ("learner", "bench", "quick"):
        calls = calls_of(pullcall, detail)
        lengths = seconds(render, calls)
        longest = max(zip(lengths, calls))
        print(f"{detail}: {len(calls)} calls, {sum(lengths):.1f} s; the longest {longest[0]:.1f} s: {longest[1]}")
        crosses = [length for length, call in zip(lengths, calls) if call.startswith(("Cross ", "Weave "))]
        print(f"  {len(crosses)} crosses woven, {sum(crosses) / len(crosses):.2f} s on average")


main()
