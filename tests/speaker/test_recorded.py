"""Recordings in place of words: a tone that is named "main" is heard where "main" is said, at the level of the other words.

    test_recorded.py PULLCALL-SPEAKER
"""
import math
import pathlib
import struct
import subprocess
import sys
import tempfile
import unittest
import wave

SPEAKER = pathlib.Path(sys.argv.pop(1)).resolve()
TONE_HZ, WINDOW_S = 440, 0.05


def write_tone(path, seconds, level):
    """In stereo, at another rate than the synthesiser's, with a tenth of a second of silence first."""
    rate = 44100
    with wave.open(str(path), "wb") as out:
        out.setnchannels(2)
        out.setsampwidth(2)
        out.setframerate(rate)
        values = [level * math.sin(2 * math.pi * TONE_HZ * i / rate) if i > rate / 10 else 0 for i in range(int(rate * seconds))]
        out.writeframes(b"".join(struct.pack("<hh", int(value), int(value)) for value in values))


def windows(path):
    """The level of each window, and whether it is the tone."""
    with wave.open(str(path)) as heard:
        count, rate, channels = heard.getnframes(), heard.getframerate(), heard.getnchannels()
        samples = struct.unpack(f"<{count * channels}h", heard.readframes(count))[::channels]
    size = int(rate * WINDOW_S)
    for at in range(0, count - size, size):
        part = samples[at:at + size]
        crossings = sum((a < 0) != (b < 0) for a, b in zip(part, part[1:]))
        level = math.sqrt(sum(value * value for value in part) / size)
        yield level, level > 100 and abs(crossings / 2 / WINDOW_S - TONE_HZ) < 25


class Recorded(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)

    def say(self, text):
        out = self.folder / "heard"
        subprocess.run([SPEAKER, "--say", text, "--sound", f"wav:{out}", "--recorded", self.folder], check=True)
        return list(windows(out))

    def test_a_word_is_replaced_at_the_level_of_the_others(self):
        for level in (300, 20000):
            write_tone(self.folder / "Main.wav", 0.6, level)
            heard = self.say("Main four left, main five.")
            tone = [level for level, is_tone in heard if is_tone]
            words = [level for level, is_tone in heard if not is_tone and level > 100]
            self.assertTrue(14 <= len(tone) <= 22, len(tone))  # half a second, twice
            self.assertGreater(len(words), 8)
            mean = math.sqrt(sum(level * level for level in words) / len(words))
            self.assertLess(abs(20 * math.log10(max(tone) / mean)), 6)

    def test_the_longest_recording_is_taken(self):
        write_tone(self.folder / "main.wav", 0.3, 3000)
        write_tone(self.folder / "main four left.wav", 1.1, 3000)
        heard = self.say("Main four left.")
        self.assertGreater(sum(is_tone for _, is_tone in heard), 17)
        self.assertLessEqual(sum(not is_tone and level > 1500 for level, is_tone in heard), 2)  # the edges

    def test_what_is_no_sound_is_synthesised_or_refused(self):
        (self.folder / "four.wav").write_text("no sound")
        write_tone(self.folder / "main.wav", 0.4, 3000)
        run = subprocess.run([SPEAKER, "--say", "five", "--sound", f"wav:{self.folder}/heard", "--recorded", self.folder / "none"],
                             capture_output=True, text=True, check=False)
        self.assertEqual(run.returncode, 1)
        self.assertIn("the folder of recordings cannot be read", run.stderr)
        self.assertTrue(any(level > 500 and not is_tone for level, is_tone in self.say("Four left.")))


unittest.main()
