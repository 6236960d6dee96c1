"""Usage: test_figures.py PROGRAMS WRITE_SHOP

What the programs say of jobs, against figures worked out here from the journal with SQL and sums.
"""
import contextlib
import csv
import fcntl
import io
import html
import json
import os
import pathlib
import pty
import re
import sqlite3
import statistics
import struct
import subprocess
import sys
import termios
import time
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import DEMO, PATIENCE_S, Bench  # noqa: E402  (the path comes first)

PROGRAMS, WRITE_SHOP = sys.argv[1], sys.argv[2]
MINUTE = 60e6


def facts_of_text(text):
    """The lines "  Word    fact" below the heading."""
    return re.findall(r"^  (\S.*?)  +(\S.*)$", text.split("\n\nWork by phase")[0], re.M)


def facts_of_page(page):
    pairs = re.findall(r"<dt>(.*?)</dt>\s*<dd>(.*?)</dd>", page)
    return [(html.unescape(word), html.unescape(fact)) for word, fact in pairs]


class Figures(unittest.TestCase):
    def sql(self, query, *values):
        with sqlite3.connect(self.bench.journal) as journal:
            rows = journal.execute(query, values).fetchall()
        journal.close()
        return rows


class Shop(Figures):
    """A journal of a shop; every test may spoil its own copy."""

    @classmethod
    def setUpClass(cls):
        cls.original = pathlib.Path("/dev/shm" if pathlib.Path("/dev/shm").is_dir() else "/tmp") / \
            f"pullcall-figures-{id(cls)}.db"
        cls.addClassCleanup(lambda: cls.original.unlink(missing_ok=True))
        subprocess.run([WRITE_SHOP, str(cls.original)], check=True)

    def setUp(self):
        self.bench = Bench(PROGRAMS)
        self.addCleanup(self.bench.close)
        self.bench.journal.write_bytes(self.original.read_bytes())
        self.bench.environment["TZ"] = "Asia/Kathmandu"  # 5:45 ahead of UTC

    def pullcall(self, *arguments, code=0):
        done = self.bench.run("pullcall", *arguments)
        self.assertEqual(done.returncode, code, done.stderr)
        return done.stdout if code == 0 else done.stderr

    def work(self, stringer, pattern, before=10**18):
        """Microseconds of work on the finished jobs, in the order in which they were begun."""
        return [row[0] for row in self.sql(
            "SELECT work_us FROM job JOIN job_time ON job = id JOIN job_state USING (job) WHERE state = 'finished' "
            "AND stringer = ? AND pattern = ? AND created_us < ? ORDER BY created_us", stringer, pattern, before)]

    def quotes(self):
        """By stringer and pattern: quote, from, to, with pauses, in minutes."""
        found = re.findall(r"^(\w+): (\S+), two-piece, bench: (\d+) min \((\d+) to (\d+)\), (\d+) with pauses; ",
                           self.pullcall("review", "--quote"), re.M)
        return {row[:2]: tuple(map(int, row[2:])) for row in found}

    def test_a_quote_is_never_below_what_was_done_of_late(self):
        for factor in (1, 2):  # as they were; with the newest five twice as long as ever before
            newest = [row[0] for row in self.sql(
                "SELECT id FROM job WHERE stringer = 'mira' AND pattern = 'open-16x19' ORDER BY created_us DESC LIMIT 5")]
            self.sql(f"UPDATE event SET steady_us = steady_us * {factor} WHERE job IN ({','.join(map(str, newest))})")
            quotes = self.quotes()
            self.assertEqual(len(quotes), 3)
            for (stringer, pattern), (quote, low, high, with_pauses) in quotes.items():
                work = self.work(stringer, pattern)
                self.assertGreaterEqual(quote, min(work[-5:]) / MINUTE - 0.5)
                self.assertLessEqual(quote, max(work[-5:]) / MINUTE + 0.5)
                self.assertTrue(low <= quote <= high <= max(work[-10:]) / MINUTE + 0.5)
                self.assertGreaterEqual(with_pauses, quote)

    def test_without_a_trend_the_quote_is_the_median_of_the_last_ten(self):
        median = statistics.median(self.work("mira", "open-16x19")[-10:]) / MINUTE
        self.assertAlmostEqual(self.quotes()["mira", "open-16x19"][0], median, delta=0.51)

    def test_learner_and_bench_are_not_mixed(self):
        self.sql("UPDATE job SET detail = 'learner' WHERE stringer = 'mira' AND id % 2")
        names = re.findall(r"^(mira: .*?): ", self.pullcall("review", "--quote", "--stringer", "mira"), re.M)
        self.assertEqual(sorted(names), ["mira: dense-18x20, two-piece, bench", "mira: dense-18x20, two-piece, learner",
                                         "mira: open-16x19, two-piece, bench", "mira: open-16x19, two-piece, learner"])

    def test_limits_are_for_a_steady_hand(self):
        text = self.pullcall("review")
        limits = text[text.index("Limits for single jobs"):]
        self.assertIn("getting faster: ", text.split("Statistics")[0])
        self.assertIn("mira: open-16x19", limits)
        self.assertNotIn("apprentice", limits)

    def test_a_review_leads_with_the_quote(self):
        text, page = self.pullcall("review"), self.pullcall("review", "--html", "-")
        for word in ("Quote, without pauses", "With pauses", "Usual", "Trend"):
            self.assertIn(word, text.split("Statistics")[0])
            self.assertLess(page.index(word), page.index("<details>"))
        for word in ("quarter over", "Laws of learning", "Limits for single jobs"):
            before = page[:page.index(word)]
            self.assertGreater(before.count("<details>"), before.count("</details>"), word)

    def test_a_table_is_cut_nowhere(self):
        piped = self.pullcall("review")
        self.assertIn("apprentice: open-16x19, two-piece, bench    88 % (", piped)
        screen, terminal = pty.openpty()
        self.addCleanup(os.close, screen)
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        process = self.bench.start("pullcall", "review", stdout=terminal)
        os.close(terminal)
        shown = b""
        with contextlib.suppress(OSError):  # the terminal's end
            while part := os.read(screen, 4096):
                shown += part
        self.assertEqual(process.wait(PATIENCE_S), 0)
        self.assertLessEqual(max(map(len, shown.decode().splitlines())), 80)
        self.assertEqual(shown.split(), piped.encode().split())

    def test_text_and_page_show_the_same_totals(self):
        for job in ("1", "8", "29"):
            text = facts_of_text(self.pullcall("review", job))
            page = facts_of_page(self.pullcall("review", job, "--html", "-"))
            self.assertGreater(len(text), 3)
            self.assertEqual(text, page[:len(text)])

    def test_a_job_is_compared_with_the_usual(self):
        job, created = self.sql("SELECT max(id), max(created_us) FROM job WHERE stringer = 'mira' "
                                "AND pattern = 'open-16x19'")[0]
        usual = statistics.median(self.work("mira", "open-16x19", created)[-10:])
        mine = self.work("mira", "open-16x19")[-1]
        facts = dict(facts_of_text(self.pullcall("review", str(job))))
        minutes, seconds = map(int, facts["Usual for this stringer"].split(";")[0].split(":"))
        self.assertAlmostEqual(minutes * 60 + seconds, usual / 1e6, delta=0.6)
        change = 100 * (mine / usual - 1)
        self.assertEqual(facts["This one"], f"{abs(change):.0f} % {'longer' if change > 0 else 'shorter'} than usual")
        self.assertNotIn("Usual for this stringer", self.pullcall("review", "1"))  # the first of all

    def test_standard_time_is_per_stringer(self):
        """By a university's worked example: at a rating of 1.20 and an allowance of 20 %, 20 s are 24 s of normal
        time, and 28.8 s with the allowance of the work; of the shift it is 24 / 0.8."""
        text = self.pullcall("review", "--rating", "120", "--allowance", "20")
        table = text[text.index("Standard time"):text.index("Statistics")]
        mean = statistics.mean(self.work("mira", "open-16x19"))
        of_work, of_shift = ([int(seconds) // 60, int(seconds) % 60] for seconds in
                             (28.8 / 20 * mean / 1e6 + 0.5, 24 / 0.8 / 20 * mean / 1e6 + 0.5))
        self.assertRegex(table, "mira: open-16x19, two-piece, bench +\\S+ +{}:{:02} +{}:{:02}\n".format(*of_work, *of_shift))
        self.assertEqual(table.count("open-16x19"), 2)

    def test_jobs_tells_the_time_of_day_whole_names_and_the_open_ones_first(self):
        self.sql("UPDATE job SET name = ? WHERE id = 7", "a name that is a good deal longer than most")
        lines = self.pullcall("jobs").splitlines()
        self.assertRegex(lines[1], r"^ *29 .* call \d+/\d+ +\d")
        self.assertNotIn(" call ", "".join(lines[2:]))
        self.assertEqual(len(lines), 1 + 29)
        self.assertTrue(any("a name that is a good deal longer than most  finished" in line for line in lines))
        self.assertTrue(all(re.match(r" *\d+  (\d\d-\d\d 17:45|2026-\d\d-\d\d)  ", line) for line in lines[1:]))

    def test_little_time_is_compared_in_seconds(self):
        job = self.sql("SELECT max(id) FROM job WHERE stringer = 'mira' AND pattern = 'open-16x19'")[0][0]
        self.assertRegex(self.pullcall("review", str(job)), r"\nmains +\S+ +\S+ +[+-]\d+ %\n")
        self.assertIn("Second half against first", self.pullcall("review"))
        self.sql("UPDATE event SET steady_us = steady_us / 100, boot_us = boot_us / 100")
        text = self.pullcall("review", str(job))
        self.assertRegex(text, r"\nmains +\S+ +\S+ +[+-]\d+ s\n")
        self.assertRegex(text, r"This one +0:\d\d (longer|shorter) than usual\n")
        self.assertNotIn("Second half against first", self.pullcall("review"))

    def test_several_jobs_of_a_name(self):
        self.sql("UPDATE job SET name = 'twin' WHERE id IN (3, 5, 9)")
        self.assertIn("<title>twin (job 9), review</title>", self.pullcall("review", "twin", "--html", "-"))
        taught = [row[0] for row in self.sql("SELECT id FROM job WHERE stringer = 'mira' ORDER BY id LIMIT 3")]
        self.sql(f"UPDATE job SET name = 'again' WHERE id IN ({taught[0]}, 8)")
        self.sql(f"UPDATE event SET detail = 'teaching' WHERE kind = 'started' AND job IN {tuple(taught)}")
        text = self.pullcall("review", "--stringer", "mira", "--teaching")
        self.assertIn(f"\nagain (job {taught[0]})  ", text)
        self.assertRegex(text, r"\nmira-\S+  +2026-")
        self.assertIn("twin  (job 9; other jobs of this name: 3, 5)", self.pullcall("review", "twin"))
        self.assertIn("This is job 9. Other jobs of this name: 3, 5.", self.pullcall("review", "twin", "--html", "-"))
        self.assertNotIn("other jobs", self.pullcall("review", "4"))
        self.sql("UPDATE job SET name = '4' WHERE id = 6")
        self.assertNotIn("other jobs", self.pullcall("review", "4"))
        self.sql("UPDATE job SET name = 'twin' WHERE id IN (10, 2)")
        self.assertIn("other jobs of this name: 2, 3, 5, 10)", self.pullcall("review", "9"))
        self.sql("UPDATE job SET racket = 'R-9' WHERE id IN (7, 8)")
        self.assertRegex(self.pullcall("review", "R-9"), r"\(job [78]; other jobs of this racket: [78]\)\n")
        self.assertIn("Other jobs of this racket: ", self.pullcall("review", "R-9", "--html", "-"))
        label = self.bench.run("pullcall", "label", "R-9", "-o", "-")
        self.assertEqual(label.returncode, 0, label.stderr)
        self.assertRegex(label.stderr, r'^pullcall: the label of job 8 \(.*\); other jobs of "R-9": 7\n$')

    def test_a_name_not_known(self):
        for arguments, words in ((["review", "ridge-cort-0042"], 'no job "ridge-cort-0042"; did you mean "ridge-court-0042"?'),
                                 (["review", "--stringer", "mirra"], 'no stringer "mirra"; did you mean "mira"?'),
                                 (["jobs", "--stringer", "q"], 'no stringer "q"\n'),
                                 (["export", "--format", "csv", "--pattern", "open-16x18"], 'did you mean "open-16x19"?')):
            with self.subTest(arguments=arguments):
                self.assertIn(words, self.pullcall(*arguments, code=1))

    def test_a_page_tells_by_what_it_is_filtered(self):
        self.sql("UPDATE job SET racket = 'R-7', customer = 'c-1', due = '2026-12-01' WHERE stringer = 'mira'")
        facts = facts_of_page(self.pullcall("review", "--racket", "R-7", "--customer", "c-1", "--due", "2026-12-02",
                                            "--html", "-"))
        self.assertEqual(facts[:3], [("Only of racket", "R-7"), ("Only for customer", "c-1"), ("Only due by", "2026-12-02")])

    def test_answers_of_a_trainee_are_counted_alike_in_both_tables(self):
        jobs = [row[0] for row in self.sql("SELECT id FROM job WHERE stringer = 'mira' ORDER BY id LIMIT 2")]
        self.sql(f"UPDATE event SET detail = 'teaching' WHERE kind = 'started' AND job IN {tuple(jobs)}")
        seqs = [row[0] for row in self.sql("SELECT e.seq FROM event AS e JOIN event AS n ON n.job = e.job AND n.seq = e.seq + 1 "
                                           "WHERE e.job = ? AND e.kind = 'next' AND n.kind = 'next' ORDER BY 1", jobs[0])]
        first, later = seqs[10], seqs[20]
        self.sql("UPDATE event SET kind = 'right' WHERE job = ? AND seq = ?", jobs[0], first)
        self.sql("UPDATE event SET kind = 'wrong', call = (SELECT call - 1 FROM event WHERE job = ? AND seq = ?) "
                 "WHERE job = ? AND seq = ?", jobs[0], first, jobs[0], later)
        self.sql("DELETE FROM event WHERE job = ? AND seq > 1", jobs[1])  # begun, and nothing done
        arguments = "review", "--stringer", "mira", "--teaching"
        text = self.pullcall(*arguments)
        row = next(line for line in text[text.index("By racket"):].splitlines() if line.startswith("mira-"))
        self.assertRegex(row, r"2026-\d\d-\d\d +1 +1 ")
        self.assertNotIn("width:-", self.pullcall(*arguments, "--html", "-"))

    def test_csv_has_the_string_of_one_piece_work(self):
        self.sql("UPDATE job SET method = 'one-piece', plan_text = replace(plan_text, 'mains: { name: co-polyester 1.25 }', "
                 "'whole: { name: co-polyester 1.25 }') WHERE id = 2")
        self.sql("UPDATE job SET plan_text = replace(plan_text, '  crosses: { name: multifilament 1.30 }', '') WHERE id = 2")
        jobs = list(csv.DictReader(io.StringIO(self.pullcall("export", "--format", "csv", "--table", "jobs"))))
        for job in jobs:
            one = job["method"] == "one-piece"
            self.assertEqual(job["string_mains"], "co-polyester 1.25")
            self.assertEqual(job["string_crosses"], "co-polyester 1.25" if one else "multifilament 1.30")
        self.assertIn("one-piece", [job["method"] for job in jobs])

    def test_csv_has_minutes_local_time_and_units(self):
        jobs = list(csv.DictReader(io.StringIO(self.pullcall("export", "--format", "csv", "--table", "jobs"))))
        self.assertEqual(len(jobs), 29)
        for job in jobs:
            self.assertAlmostEqual(float(job["work_min"]), int(job["work_us"]) / MINUTE, delta=0.006)
            self.assertAlmostEqual(float(job["pause_min"]), int(job["pause_us"]) / MINUTE, delta=0.006)
            self.assertEqual(job["created"][11:], "12:00:00.000Z")
            self.assertEqual(job["created_local"][11:], "17:45:00")
            self.assertRegex(job["tension_mains"], r"^(24|10\.5) kg$")
            self.assertEqual(job["string_crosses"], "multifilament 1.30")
            self.assertIn(job["detail"], ("bench", "learner"))
        calls = csv.DictReader(io.StringIO(self.pullcall("export", "--format", "csv", "--stringer", "mira")))
        for call in calls:
            self.assertAlmostEqual(float(call["work_min"]), int(call["work_us"]) / MINUTE, delta=0.006)


class Run(Figures):
    """A whole job through the real programs."""

    def setUp(self):
        self.bench = Bench(PROGRAMS)
        self.addCleanup(self.bench.close)

    def string(self, sound):
        process = self.bench.start("pullcall", "run", DEMO, "--pedal", "keys", "--sound", sound, stdin=subprocess.PIPE)
        self.bench.wait_for_daemon()
        time.sleep(1.2)  # nobody has begun
        while process.poll() is None:
            try:
                process.stdin.write(b" ")
                process.stdin.flush()
            except BrokenPipeError:
                break
            time.sleep(0.05)
        self.assertEqual(process.wait(PATIENCE_S), 0)
        return self.bench.run("pullcall", "review", "ridge-court-0042").stdout

    def test_waiting_to_begin_is_no_pause_and_silence_no_sound(self):
        text = self.string("none")
        self.assertIn("Calls done", text)
        self.assertNotIn("aused", text)
        self.assertNotIn("First sound", text)

    def test_a_step_by_command_is_no_press(self):
        process = self.bench.start("pullcall", "run", DEMO, "--pedal", "none", "--sound",
                                   f"wav:{self.bench.home}/heard.wav")
        self.bench.wait_for_daemon()
        with self.bench.connect() as connection:
            for _ in range(8):
                self.assertTrue(connection.ask({"do": "next"})["ok"])
                time.sleep(0.3)  # it is heard
        process.terminate()
        self.assertIn(process.wait(PATIENCE_S), (0, 143))
        text = self.bench.run("pullcall", "review", "ridge-court-0042").stdout
        self.assertIn("7 of", text)
        self.assertNotIn("First sound", text)

    def test_a_repair_is_counted_alike_everywhere(self):
        run = self.bench.start("pullcall", "run", DEMO, "--pedal", "none", "--sound", "none", stdout=subprocess.PIPE,
                               stderr=subprocess.STDOUT, text=True)
        self.bench.wait_for_daemon()
        with self.bench.connect() as connection:
            for word in ["next"] * 24 + ["slipped"] + ["next"] * 9:
                time.sleep(0.03)
                self.assertTrue(connection.ask({"do": word})["ok"], word)
            self.assertTrue(connection.ask({"do": "note", "note": "logo stencil"})["ok"])
            before = connection.ask({"do": "status"})
            self.assertGreater(before["calls"], 58)
        run.terminate()
        kept = re.search(r"is kept at call (\d+) of (\d+)", run.communicate(timeout=20)[0])
        call, calls = map(int, kept.groups())
        self.assertEqual((call, calls), (before["call"], before["calls"]))
        self.assertIn(f"  call {call}/{calls}  ", self.bench.run("pullcall", "jobs").stdout)
        text = self.bench.run("pullcall", "review", "1").stdout
        page = self.bench.run("pullcall", "review", "1", "--html", "-").stdout
        facts = dict(facts_of_text(text))
        self.assertEqual(facts["Calls done"], f"{call - 1} of {calls}")
        self.assertIn(("Calls done", f"{call - 1} of {calls}"), facts_of_page(page))
        rows = re.findall(r"^(\S.*?)  +(\S+) +(\d+:\d+) ", text[text.index("Work by phase"):].split("\n\n")[0], re.M)
        table = {name: (int(count), time_) for name, count, time_ in rows}
        whole = table[f"all, with call {call} under way"]
        self.assertEqual(whole[0], call)
        words = self.sql("SELECT text FROM job_state JOIN call AS c ON c.job = job_state.job AND n = call")[0][0]
        self.assertEqual(facts["Notes"], f"call {call} ({words}): logo stencil")
        self.assertEqual(sum(count for count, _ in table.values()), 2 * call)
        self.assertEqual(table["lost to mistakes"][1], facts["Lost to mistakes"].split(",")[0])
        self.assertLess(table["lost to mistakes"][0], call)
        self.sql("UPDATE event SET kind = 'finished' WHERE seq = (SELECT max(seq) FROM event)")
        rows = re.findall(r"^(\S.*?)  +1 +(\d+:\d+) ", self.bench.run("pullcall", "review").stdout, re.M)
        for name in ("prepare", "mains", "lost to mistakes"):
            self.assertEqual(dict(rows)[name], table[name][1])
        exported = list(csv.DictReader(io.StringIO(self.bench.run("pullcall", "export", "--format", "csv", "--table",
                                                                  "jobs").stdout)))[0]
        self.assertEqual((exported["done"], exported["calls"]), (str(call - 1), str(calls)))
        rows = list(csv.DictReader(io.StringIO(self.bench.run("pullcall", "export", "--format", "csv").stdout)))
        standing = [int(row["n"]) for row in rows if row["stands"] == "1"]
        self.assertEqual(len(standing), calls)
        self.assertEqual({row["stands"] for row in rows}, {"0", "1"})
        self.assertEqual(standing, [n for n, in self.sql(
            "SELECT max(n) FROM (SELECT n, min(place) OVER (ORDER BY n DESC) AS place FROM call) GROUP BY place ORDER BY 1")])
        lines = [json.loads(line) for line in self.bench.run("pullcall", "export", "--format", "json").stdout.splitlines()]
        self.assertEqual([line["n"] for line in lines if line["stands"]], standing)

    def test_what_is_heard_after_a_press_is_timed(self):
        self.assertIn("First sound after a press", self.string(f"wav:{self.bench.home}/heard.wav"))


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], "-v", *sys.argv[3:]])
