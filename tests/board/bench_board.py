#!/usr/bin/python3 -B
"""How late the board is, and how late it makes the daemon. Prints; asserts nothing.

    bench_board.py FOLDER_OF_PROGRAMS

Call on the page: from the daemon's event, by its own time, to the words in Chromium's page; one clock of this machine
for both. The journal is on a disk, and the board's answer has waited for it.

Answer to a press: as its sender measures it, without a board, with a board that a browser follows, and with that board
under 200 connections: 60 that follow it and do not read, 140 that have sent half a request. The journal is in memory,
so that the disk does not hide what the board costs.
"""
import statistics
import sys
import tempfile
import time

from served import Served, wait_until

from browser import Browser

CALLS = 200
ROUNDS = 5  # each with and without a board, so that a busy machine is so for all alike
# Notes when the words of the call change.
WATCH = """window.changes = [];
new MutationObserver(() => changes.push([document.querySelector('#call').textContent,
    (performance.timeOrigin + performance.now()) / 1000]))
    .observe(document.querySelector('#call'), {childList: true, characterData: true, subtree: true}); 0"""


def print_times(name, seconds, base=None):
    def values(of):
        return (1000 * statistics.median(of), 1000 * statistics.quantiles(of, n=20)[18])

    median, p95 = values(seconds)
    print(f"{name}: median of {len(seconds)} {median:.2f} ms, 95 % within {p95:.2f}, at most {1000 * max(seconds):.2f}",
          end="")
    if base:
        print(f"; later than with no board by {median - values(base)[0]:+.2f} and {p95 - values(base)[1]:+.2f} ms", end="")
    print(flush=True)


def walk(count):
    """Requests that change the call each time, to and fro within the job."""
    for i in range(count):
        yield "next" if i // 20 % 2 == 0 else "back"


def press(bench):
    """Seconds from each request to its answer."""
    times = []
    with bench.connect() as daemon:
        for verb in walk(CALLS // ROUNDS):
            before = time.perf_counter()
            daemon.ask({"do": verb})
            times.append(time.perf_counter() - before)
            time.sleep(0.02)
    return times


def follow(bench, browser):
    """From each event to its words on the page."""
    browser.run(WATCH)
    told = []
    with bench.connect() as watcher, bench.connect() as daemon:
        watcher.ask({"do": "watch"})
        for verb in walk(CALLS):
            daemon.ask({"do": verb})
            while (event := watcher.line())["event"] != "call":
                pass
            told.append((bench.tell(do="status")["text"], event["time"]))
            wait_until(lambda: browser.run("document.querySelector('#call').textContent") == told[-1][0],
                       "the page does not follow")
    shown = browser.run("changes")
    assert [text for text, _ in shown] == [text for text, _ in told], "the page showed something else"
    print_times("event to call on the page", [at - since for (_, at), (_, since) in zip(shown, told)])


def load(bench):
    kept = [bench.follow() for _ in range(60)]
    half = f"GET / HTTP/1.1\r\nHost: {bench.host}\r\n".encode()
    for _ in range(140):
        connection = bench.open()
        connection.sendall(half)
        kept.append(connection)
    return kept


def compare(bench, browser):
    alone, followed, crowded = [], [], []
    for _ in range(ROUNDS):
        bench.end(bench.board)
        alone += press(bench)
        bench.start_board(port=bench.port)
        wait_until(lambda: browser.run("document.querySelector('#link').textContent") == "", "nobody follows")
        followed += press(bench)
        kept = load(bench)
        crowded += press(bench)
        for connection in kept:
            connection.close()
    print_times("answer to a press, no board", alone)
    print_times("answer to a press, one browser follows", followed, alone)
    print_times("answer to a press, 200 connections to the board", crowded, alone)


def measure(what, in_memory):
    bench = Served(sys.argv[1], in_memory)
    try:
        with tempfile.TemporaryDirectory(prefix="pullcall-browser-") as room:
            bench.start_daemon()
            bench.tell(do="next")
            bench.start_board()
            browser = Browser(room)
            try:
                browser.go(f"http://{bench.host}/")
                wait_until(lambda: browser.run("document.querySelector('#link').textContent") == "", "no page")
                what(bench, browser)
            finally:
                browser.close()
    finally:
        bench.close()


if __name__ == "__main__":
    measure(follow, in_memory=False)
    measure(compare, in_memory=True)
