"""Usage: test_command.py PULLCALL WRITE_SHOP

pullcall review --html from outside: a page is there whole or not at all.
"""
import os
import pathlib
import resource
import shutil
import subprocess
import sys
import tempfile
import unittest

PULLCALL, WRITE_SHOP = sys.argv[1], sys.argv[2]
IO_ERROR = 74


class Command(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
        cls.room = pathlib.Path(tempfile.mkdtemp(prefix="pullcall-page-", dir=memory))
        cls.addClassCleanup(shutil.rmtree, cls.room, ignore_errors=True)
        cls.journal = cls.room / "journal.db"
        subprocess.run([WRITE_SHOP, str(cls.journal)], check=True)

    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(dir=self.room))

    def review(self, *arguments, **options):
        return subprocess.run([PULLCALL, "review", "--journal", str(self.journal), *arguments],
                              capture_output=True, text=True, check=False, **options)

    def test_writes_the_same_to_a_file_and_to_standard_output(self):
        page = self.folder / "page.html"
        for which in (["ridge-court-0042"], [], ["--stringer", "mira"]):
            with self.subTest(which=which):
                done = self.review(*which, "--html", str(page))
                self.assertEqual((done.returncode, done.stdout, done.stderr), (0, "", ""))
                self.assertEqual(os.listdir(self.folder), ["page.html"])
                printed = self.review(*which, "--html", "-")
                self.assertEqual(printed.returncode, 0)
                # The time at which a page is made stands below it.
                self.assertEqual(printed.stdout.split("<footer>")[0],
                                 page.read_text().split("<footer>")[0])

    def test_takes_the_jobs_that_pass(self):
        for which, count in (([], 28), (["--stringer", "mira"], 14),
                             (["--pattern", "badminton-22x22"], 4), (["--until", "2020-01-01"], 0)):
            with self.subTest(which=which):
                self.assertIn(f"<h1>{count} finished jobs</h1>",
                              self.review(*which, "--html", "-").stdout)
                self.assertTrue(self.review(*which).stdout.startswith(f"{count} finished jobs"))

    def test_no_room_leaves_the_old_page(self):
        # Enough for what SQLite keeps beside a journal, not for the page.
        page = self.folder / "page.html"
        page.write_text("the old page")
        done = self.review("ridge-court-0042", "--html", str(page), preexec_fn=lambda:
                           resource.setrlimit(resource.RLIMIT_FSIZE, (40000, 40000)))
        self.assertEqual(done.returncode, IO_ERROR)
        self.assertIn("page.html", done.stderr)
        self.assertEqual(page.read_text(), "the old page")
        self.assertEqual(os.listdir(self.folder), ["page.html"])

    def test_says_what_is_wrong(self):
        page = self.folder / "page.html"
        for arguments, code, words in (
                (["nobody", "--html", str(page)], 1, "nobody"),
                (["ridge-court-0042", "--html", str(self.folder / "none" / "p.html")], IO_ERROR,
                 "none/p.html"),
                (["ridge-court-0042", "--html", str(self.folder)], IO_ERROR, str(self.folder)),
                (["ridge-court-0042", "--html", "/dev/full"], IO_ERROR, "/dev/full"),
                (["ridge-court-0042", "--stringer", "mira"], 2, "one job"),
                (["one", "two"], 2, "unexpected \"two\""),
                (["--since", "soon"], 2, "soon"),
                (["ridge-court-0042", "--html"], 2, "html")):
            with self.subTest(arguments=arguments):
                done = self.review(*arguments)
                self.assertEqual(done.returncode, code, done.stderr)
                self.assertEqual(done.stdout, "")
                self.assertIn(words, done.stderr)
                self.assertEqual(len(done.stderr.splitlines()), 1)
        self.assertEqual(os.listdir(self.folder), [])


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], "-v"])
