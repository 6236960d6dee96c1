"""pullcall voices: what it names to record, and the choice by ear, made with keys and heard as a file.

    test_voices.py PULLCALL
"""
import pathlib
import subprocess
import sys
import tempfile
import time
import unittest

ROOT = pathlib.Path(__file__).parent.parent.parent
PULLCALL = pathlib.Path(sys.argv.pop(1)).resolve()


class Voices(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.home = pathlib.Path(folder.name)
        self.env = {"HOME": folder.name, "XDG_RUNTIME_DIR": folder.name, "PATH": "/usr/bin:/bin"}

    def choose(self, content, keys):
        """The exit code and the bench file after keys, each pressed when a way was begun."""
        bench = self.home / "bench.yaml"
        if content is not None:
            bench.write_text(content, encoding="utf-8")
        command = [PULLCALL, "voices", "try", "--sound", f"wav:{self.home}/o.wav", "--bench", bench]
        with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE, env=self.env) as process:
            process.stderr.readline()
            for key in keys:
                self.assertIn(b"words a minute", process.stderr.readline())
                time.sleep(0.1)
                process.stdin.write(key.encode())
                process.stdin.flush()
            code = process.wait(timeout=30)
        return code, bench.read_text(encoding="utf-8") if bench.exists() else None

    def test_a_choice_keeps_everything_else(self):
        code, text = self.choose("# my bench\nvoice: { language: en } # mine\nspeak:\n  unit: kg\n", " p")
        self.assertEqual(code, 0)
        self.assertEqual(text, "# my bench\nvoice: { name: en-us+f2, rate: 145, shop: quiet, language: en } # mine\n"
                               "speak:\n  unit: kg\n")
        code, text = self.choose(text, "p")
        self.assertIn("rate: 165, shop: quiet, language: en } # mine", text)

    def test_a_block_and_quotes(self):
        code, text = self.choose("voice:\n    # the lady\n    language: de # x\n    name: \"de+f4\"\n    rate: 150 # slow\n", "p")
        self.assertEqual((code, text), (0, "voice:\n    # the lady\n    shop: quiet\n    language: de # x\n    name: de\n"
                                           "    rate: 165 # slow\n"))

    def test_a_new_file_and_none(self):
        self.assertEqual(self.choose(None, "q"), (1, None))
        self.assertEqual(self.choose(None, "p"), (0, "voice: { name: en-us+f2, rate: 165, shop: quiet }\n"))

    def test_a_text_without_sound(self):
        """--sound none says it to nobody: a voice and a text can be tried where there is no sound device."""
        for arguments, code in (((), 0), (("--voice", "nobody"), 1)):
            command = [PULLCALL, "voices", "try", "Cross nine", "--sound", "none", *arguments]
            done = subprocess.run(command, env=self.env, capture_output=True, text=True, check=False, timeout=30)
            self.assertEqual((done.returncode, bool(done.stderr)), (code, code == 1), done.stderr)

    def test_words_to_record(self):
        run = subprocess.run([PULLCALL, "voices", "record-list", ROOT / "demo" / "ridge-court.yaml"], env=self.env,
                             capture_output=True, text=True, check=True)
        names = run.stdout.splitlines()
        self.assertEqual(len(names), len(set(names)))
        for word in ("cross", "main", "nineteen", "left", "throat"):
            self.assertIn(word + ".wav", names)


unittest.main()
