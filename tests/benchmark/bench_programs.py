#!/usr/bin/python3 -B
"""Whole processes: time of `pullcall steps` and `draw`, memory of daemon and speaker while calling, wake-ups while paused.

    bench_programs.py FOLDER_OF_PROGRAMS
"""
import pathlib
import re
import statistics
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "daemon"))
from programs import DEMO, Bench, wait_until  # noqa: E402

RUNS = 200


def time_of(bench, *command):
    """Median and 95th percentile of a whole process, in milliseconds."""
    times = []
    for _ in range(RUNS):
        before = time.perf_counter()
        subprocess.run(command, env=bench.environment, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, check=True)
        times.append((time.perf_counter() - before) * 1000)
    return statistics.median(times), statistics.quantiles(times, n=20)[18]


def bench_steps(bench):
    base, base95 = time_of(bench, "/bin/true")
    for what in ("steps", "steps --json", "draw -o -"):
        median, p95 = time_of(bench, bench.programs / "pullcall", *what.split(), DEMO)
        print(f"{what}: a whole process {median:.1f} ms (95 % within {p95:.1f}); /bin/true {base:.1f} "
              f"({base95:.1f}); ratio {median / base:.1f}")


def memory_of(pid):
    status = pathlib.Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return {key: int(re.search(rf"^{key}:\s+(\d+)", status, re.M)[1]) for key in ("RssAnon", "VmRSS")}


def children_of(pid):
    return [int(child) for child in pathlib.Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def start_daemon(bench):
    daemon = bench.start("pullcalld", "--pedal", "none", "--sound", f"wav:{bench.home}/heard.wav",
                         stderr=subprocess.DEVNULL)
    bench.wait_for_daemon()
    bench.run("pullcall", "load", DEMO)
    return daemon


def bench_memory(bench, daemon):
    most = {"RssAnon": 0, "VmRSS": 0}
    with bench.connect() as hand:
        for _ in range(40):
            hand.ask({"do": "next"})
            time.sleep(0.15)
            parts = [memory_of(pid) for pid in [daemon.pid, *children_of(daemon.pid)]]
            for key in most:
                most[key] = max(most[key], sum(part[key] for part in parts))
    for key, limit in (("RssAnon", 16), ("VmRSS", 48)):
        print(f"memory: daemon and speaker while calling, {key} at most {most[key] / 1024:.1f} MiB "
              f"(limit {limit}; ratio {most[key] / 1024 / limit:.2f})")


def bench_pause(bench, daemon):
    bench.run("pullcall", "tell", "pause")
    time.sleep(6)  # the last words end
    log = bench.home / "strace"
    with subprocess.Popen(["strace", "-f", "-o", log, "-p", str(daemon.pid)], stderr=subprocess.DEVNULL) as strace:
        time.sleep(10)
        strace.terminate()
    calls = [line for line in log.read_text().splitlines() if "(" in line and "resumed" not in line]
    print(f"paused: {max(0, len(calls) - 1)} system calls of the daemon in 10 s of strace (it sits in one wait)")


def main():
    for part in (bench_steps, None):
        bench = Bench(sys.argv[1])
        try:
            if part:
                part(bench)
            else:
                daemon = start_daemon(bench)
                bench_memory(bench, daemon)
                bench_pause(bench, daemon)
                daemon.terminate()
                wait_until(lambda: daemon.poll() is not None, "the daemon does not end")
        finally:
            bench.close()


if __name__ == "__main__":
    main()
