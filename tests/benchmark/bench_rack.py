#!/usr/bin/python3 -B
"""The rack, the history of rackets and a trainee's levels in a journal of 10,000 jobs: milliseconds, and the ratio to a journal of 10.

    bench_rack.py FOLDER_OF_PROGRAMS
"""
import pathlib
import sqlite3
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import DEMO, SOURCE, Bench  # noqa: E402

CALLS = 58
HOUR_US = 3_600_000_000
COMMANDS = ["rack list", "rack move w3 @1", "reel list", "jobs --racket R-7", "jobs --customer counter-5",
            "jobs --stringer kim", "jobs --due 2026-11-01", "plan new --racket R-7 -o -", "label 7 -o -", "review --teaching --stringer kim"]


def fill(journal, jobs):
    """So many jobs, finished long ago, by three stringers."""
    plan, pattern = DEMO.read_text(), (SOURCE / "patterns/open-16x19.yaml").read_text()
    for job in range(1, jobs + 1):
        begun = 1_700_000_000_000_000 + job * HOUR_US
        journal.execute("INSERT INTO job VALUES (?, ?, ?, ?, 'open-16x19', 'tennis', 'two-piece', ?, ?, 0, 'en', 'bench', "
                        "'bench', ?, ?, '2026-12-01', NULL, '54 lb', '52 lb', '/bench.yaml', ?, ?)",
                        (job, f"uuid-{job}", f"job-{job}", ("kim", "ada", "bo")[job % 3], CALLS, begun,
                         f"R-{job % 400}", f"counter-{job % 900}", plan, pattern))
        events = [("started", 1), *(("next", call) for call in range(2, CALLS + 2)), ("finished", CALLS + 1)]
        journal.executemany("INSERT INTO event (job, seq, run, kind, call, working, steady_us, wall_us, detail) "
                            "VALUES (?, ?, 1, ?, ?, 1, ?, ?, ?)",
                            [(job, seq, kind, call, begun + seq * 20_000_000, begun + seq * 20_000_000,
                              "teaching" if kind == "started" else None)
                             for seq, (kind, call) in enumerate(events, 1)])


def measure(programs, jobs):
    """The least milliseconds of five runs of each command."""
    bench = Bench(programs, in_memory=True)
    try:
        bench.run("pullcall", "reel", "add", "red", "200 m")
        with sqlite3.connect(bench.journal) as journal:
            fill(journal, jobs)
        journal.close()
        rows = "".join(f"w{n},open-16x19,{('kim', 'ada')[n % 2]},54 lb,52 lb,red\n" for n in range(40))
        (bench.home / "rack.csv").write_text("job,pattern,stringer,tension/mains,tension/crosses,string/mains/reel\n" + rows)
        bench.run("pullcall", "rack", "add", "--csv", "rack.csv").check_returncode()
        times = {}
        for command in COMMANDS:
            for _ in range(5):
                begun = time.monotonic()
                bench.run("pullcall", *command.split()).check_returncode()
                times[command] = min(times.get(command, 1e9), 1000 * (time.monotonic() - begun))
        return times
    finally:
        bench.close()


def main():
    few, many = (measure(sys.argv[1], jobs) for jobs in (10, 10000))
    for command in COMMANDS:
        print(f"{command:28} {many[command]:6.1f} ms with 10,000 jobs, {many[command] / few[command]:4.1f} times that of 10")


if __name__ == "__main__":
    try:
        main()
    except subprocess.CalledProcessError as error:
        sys.exit(f"{error}\n{error.stderr}")
