#!/usr/bin/python3 -B
"""The board over HTTP, on loopback: what it shows, whom it refuses, what it survives.

    test_board.py FOLDER_OF_PROGRAMS
"""
import pathlib
import signal
import sys
import unittest

from served import DEMO, TOKEN, Served, next_picture, wait_until

FOREIGN = ("http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1", "")


class BoardTest(unittest.TestCase):
    steering = ("/next", "/again", "/back", "/pause")

    def setUp(self):
        self.bench = Served(sys.argv[1])
        self.addCleanup(self.bench.close)
        self.bench.start_daemon()
        self.bench.start_board(*self.options())

    def options(self):
        return ()

    def call(self):
        return self.bench.tell(do="status")["call"]

    def status(self, *request, **headers):
        return self.bench.ask(*request, **headers)[0]


class Looking(BoardTest):
    def test_page_without_script_shows_the_call(self):
        self.bench.tell(do="next")
        for _ in range(11):
            self.bench.tell(do="next")
        told = self.bench.tell(do="status")
        wait_until(lambda: told["text"] in self.bench.ask()[2], "the page does not show the call")
        page = self.bench.ask()[2]
        for words in (told["next"], "call <b>12</b> of ", "<dd>0 of 16</dd>", 'class="call"'):
            self.assertIn(words, page)
        self.assertNotIn("<form", page)

    def test_bed_loses_the_strings_of_a_way_back(self):
        while not self.bench.tell(do="next")["text"].startswith("Cross twelve"):
            pass
        self.assertTrue(self.bench.tell(do="redo", string="cross 9")["ok"])
        wait_until(lambda: self.bench.ask()[2].count('class="in"') == 16 + 11, "not all strings are in")
        while not self.bench.tell(do="next")["text"].startswith("Cross nine over"):
            pass
        wait_until(lambda: self.bench.ask()[2].count('class="in"') == 16 + 8, "crosses 9 to 11 are not out")

    def test_headers_let_the_page_use_nothing_but_its_server(self):
        for path in ("/", "/board.css", "/board.js", "/nothing"):
            _, headers, _ = self.bench.ask(path=path)
            policy = dict(part.split(" ", 1) for part in headers["content-security-policy"].split("; "))
            self.assertEqual(policy.pop("default-src"), "'none'")
            self.assertLessEqual(set(policy.values()), {"'self'", "'none'"})
            self.assertEqual(headers["x-content-type-options"], "nosniff")
            self.assertEqual(headers["cache-control"], "no-store")

    def test_only_its_own_paths_lead_anywhere(self):
        for path in ("/etc/passwd", "//etc/passwd", "/../../../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd",
                     "/board.c", "/board.css/", "/board.css/../page.html", "/page.html", "/token", "/."):
            self.assertEqual(self.status("GET", path), 404, path)
        for method in ("PUT", "DELETE", "OPTIONS", "TRACE"):
            self.assertEqual(self.status(method), 405, method)

    def test_words_of_a_job_are_text(self):
        plan = self.bench.home / "odd.yaml"
        plan.write_text(DEMO.read_text().replace("job: ridge-court-0042", "job: 'a <script>&\"b'"))
        self.bench.tell(do="stop")
        wait_until(lambda: self.bench.tell(do="status")["state"] == "idle", "the job does not end")
        self.assertTrue(self.bench.tell(do="load", file=str(plan))["ok"])
        wait_until(lambda: "a &lt;script&gt;&amp;&quot;b" in self.bench.ask()[2], "the name is not shown as text")
        self.assertNotIn("<script>", self.bench.ask()[2])

    def test_foreign_hosts_and_origins_are_refused(self):
        host = self.bench.host
        port = self.bench.port
        for good in (host, f"localhost:{port}", f"LOCALHOST:{port}"):
            self.assertEqual(self.status(Host=good), 200, good)
        for bad in (None, "", "127.0.0.1", "localhost", "evil.example", f"evil.example:{port}", "127.0.0.1:1",
                    f"127.0.0.2:{port}", f"{host}.evil.example", f"{host}0", f"evil@{host}", f"localhost.:{port}"):
            for path in ("/", "/events", "/board.js"):
                self.assertIn(self.status("GET", path, Host=bad), (400, 403), bad)
        for origin in FOREIGN:
            self.assertEqual(self.status(Origin=origin), 403, origin)
            self.assertEqual(self.status("GET", "/events", Origin=origin), 403, origin)
        self.assertEqual(self.status(Origin=f"http://{host}"), 200)

    def test_nobody_steers_a_board_that_looks_on(self):
        before = self.call()
        for path in self.steering + ("/enter",):
            self.assertEqual(self.bench.post(path)[0], 403, path)
        self.assertEqual(self.call(), before)

    def test_stream_goes_on_after_the_daemon_and_the_board_start_anew(self):
        with self.bench.follow() as stream:
            next_picture(stream, "Job ridge court")
            self.bench.tell(do="next")
            self.bench.tell(do="next")
            next_picture(stream, "call <b>2</b> of ", "the old bed")
            self.bench.end(self.bench.daemon)
            next_picture(stream, "No pullcalld is running.")
            self.bench.start_daemon(job=None)
            next_picture(stream, "call <b>2</b> of ", 'data-state="paused"')
            port = self.bench.port
            self.bench.end(self.bench.board)
            self.assertFalse([line for line in stream if "data" in line])
        self.bench.start_board(port=port)
        with self.bench.follow() as stream:
            next_picture(stream, "call <b>2</b> of ")


class Steering(BoardTest):
    def options(self):
        return ("--token-file", self.bench.token_file, "--steer")

    def test_token_is_asked_for_and_kept(self):
        status, _, page = self.bench.ask()
        self.assertEqual(status, 401)
        self.assertIn('action="/enter"', page)
        self.assertNotIn("ridge-court", page)
        self.assertEqual(self.status("GET", "/events"), 401)
        for wrong in ("", "token=", f"token={TOKEN}x", f"token={TOKEN[:-1]}", "token=" + "x" * len(TOKEN), TOKEN,
                      "token=" + "x" * 100000):
            status, headers, _ = self.bench.ask("POST", "/enter", wrong, Origin=f"http://{self.bench.host}")
            self.assertEqual((status, headers.get("set-cookie")), (401, None), wrong[:40])
        status, headers, _ = self.bench.ask("POST", "/enter", f"token={TOKEN}", Origin=f"http://{self.bench.host}")
        self.assertEqual((status, headers["location"]), (303, "/"))
        for part in ("httponly", "samesite=strict"):
            self.assertIn(part, headers["set-cookie"])
        status, _, page = self.bench.ask(Cookie=f"pullcall={TOKEN}")
        self.assertEqual(status, 200)
        self.assertIn("ridge-court", page)
        self.assertNotIn(TOKEN, page)

    def test_buttons_do_what_the_pedal_does(self):
        self.assertEqual(self.bench.post("/next")[0], 303)
        for path, call in (("/next", 2), ("/next", 3), ("/again", 3), ("/back", 2)):
            self.assertEqual(self.bench.post(path)[:2][0], 303, path)
            self.assertEqual(self.call(), call, path)
        self.assertEqual(self.bench.post("/pause")[0], 303)
        self.assertEqual(self.bench.tell(do="status")["state"], "paused")
        status, _, why = self.bench.post("/pause")
        self.assertEqual((status, why), (409, "Not possible now."))
        self.assertEqual(self.bench.post("/stop")[0], 404)
        self.bench.end(self.bench.daemon)
        self.assertEqual(self.bench.post("/next")[0], 409)

    def test_nobody_else_steers(self):
        before = self.call()
        for path in self.steering:
            for wrong in ("pullcall=", f"pullcall={TOKEN}0", f"pullcall={TOKEN[:-1]}", f"other={TOKEN}", None):
                self.assertEqual(self.bench.post(path, Cookie=wrong)[0], 401, wrong)
            for origin in (*FOREIGN, None):
                self.assertEqual(self.bench.post(path, Origin=origin)[0], 403, origin)
            self.assertEqual(self.bench.post(path, Host="evil.example", Origin="http://evil.example")[0], 403)
            self.assertEqual(self.status("GET", path, Cookie=f"pullcall={TOKEN}"), 404)
        self.assertEqual(self.call(), before)


class Starting(unittest.TestCase):
    def setUp(self):
        self.bench = Served(sys.argv[1])
        self.addCleanup(self.bench.close)

    def refused(self, code, words, *options):
        result = self.bench.run("pullcall", "board", *options)
        self.assertEqual(result.returncode, code, options)
        self.assertIn(words, result.stderr)
        self.assertEqual(result.stdout, "")

    def test_others_need_a_token(self):
        for address in ("0.0.0.0:0", "192.0.2.1:8077"):
            self.refused(2, "needs --token-file", "--listen", address)
        self.refused(2, "needs --token-file", "--steer")

    def test_listens_elsewhere_with_a_token(self):
        self.bench.start_board("--token-file", self.bench.token_file, address="0.0.0.0")
        self.assertEqual(self.bench.ask()[0], 401)
        self.assertEqual(self.bench.ask(Cookie=f"pullcall={TOKEN}")[0], 200)
        self.assertEqual(self.bench.ask(Host=f"0.0.0.0:{self.bench.port}")[0], 403)

    def test_options_at_fault(self):
        for address in ("", "8077", "127.0.0.1", "127.0.0.1:", "127.0.0.1:x", "127.0.0.1:65536", "localhost:8077",
                        "127.0.0.1:8077x", "::1:8077", "127.0.0.1:-1"):
            self.refused(2, "--listen takes", "--listen", address)
        self.bench.start_board()
        self.refused(71, "in use", "--listen", self.bench.host)

    def test_token_file_at_fault(self):
        file = self.bench.token_file
        for text in ("", "\n", TOKEN, "short\n", "x" * 129 + "\n", "two words are no token\n", TOKEN,
                     "semi;colon;semi;colon;\n"):
            file.write_text(text)
            self.refused(1, "expected one line", "--token-file", file)
        file.write_text(TOKEN + "\n")
        file.chmod(0o640)
        self.refused(1, "others can read it", "--token-file", file)
        self.refused(1, "No such file", "--token-file", self.bench.home / "none")
        self.refused(1, "directory", "--token-file", self.bench.home)


class Faults(BoardTest):
    """Whatever comes to the board, it goes on, and so does the daemon."""

    def works(self):
        before = self.call()
        self.assertTrue(self.bench.tell(do="next")["ok"])
        self.assertGreaterEqual(self.call(), before)
        status, _, page = self.bench.ask()
        self.assertEqual(status, 200)
        self.assertIn("ridge-court", page)
        with self.bench.follow() as stream:
            next_picture(stream, f"call <b>{self.call()}</b> of ")

    def connections(self, count, request=b""):
        found = []
        for _ in range(count):
            connection = self.bench.open()
            self.addCleanup(connection.close)
            connection.sendall(request)
            found.append(connection)
        return found

    def test_two_hundred_connections(self):
        self.connections(200)
        self.works()

    def test_more_connections_than_it_takes(self):
        """Those that say nothing are hung up on, and then others have their turn."""
        self.connections(300, b"GET / HTTP/1.1\r\n")
        self.works()

    def test_half_requests(self):
        host = self.bench.host.encode()
        for request in (b"G", b"GET / HTTP/1.1\r\n", b"GET / HTTP/1.1\r\nHost: " + host + b"\r\n",
                        b"POST /next HTTP/1.1\r\nHost: " + host + b"\r\nContent-Length: 1000\r\n\r\nhalf"):
            self.connections(40, request)
        self.works()

    def test_readers_that_do_not_read(self):
        request = f"GET /events HTTP/1.1\r\nHost: {self.bench.host}\r\n\r\n".encode()
        self.connections(63, request)
        pages = f"GET / HTTP/1.1\r\nHost: {self.bench.host}\r\n\r\n".encode() * 30
        self.connections(20, pages)
        for _ in range(40):
            self.bench.tell(do="again")
        self.works()
        memory = pathlib.Path(f"/proc/{self.bench.board.pid}/status").read_text(encoding="ascii")
        resident = int(next(line for line in memory.splitlines() if line.startswith("VmRSS")).split()[1])
        self.assertLess(resident, 64 * 1024, "kibibytes")

    def test_too_many_who_follow(self):
        streams = [self.bench.follow() for _ in range(64)]
        for stream in streams:
            self.addCleanup(stream.close)
            next_picture(stream, "ridge-court")
        self.assertEqual(self.status("GET", "/events"), 503)
        self.assertEqual(self.status(), 200)

    def test_large_headers_and_bodies(self):
        host = self.bench.host
        for request in (f"GET / HTTP/1.1\r\nHost: {host}\r\nX: ".encode() + b"x" * 1_000_000 + b"\r\n\r\n",
                        f"GET / HTTP/1.1\r\nHost: {host}\r\n".encode() + b"X: y\r\n" * 160_000 + b"\r\n",
                        b"GET /" + b"x" * 1_000_000 + f" HTTP/1.1\r\nHost: {host}\r\n\r\n".encode(),
                        f"POST /next HTTP/1.1\r\nHost: {host}\r\nContent-Length: 1000000\r\n\r\n".encode() +
                        b"x" * 1_000_000):
            with self.bench.open() as connection:
                try:
                    connection.sendall(request)
                    answer = connection.recv(4096)
                except OSError:  # hung up on
                    answer = b""
                self.assertNotIn(b" 200 ", answer)
                self.assertNotIn(b" 303 ", answer)
        self.works()

    def test_what_is_not_http(self):
        for request in (b"\0" * 5000, b"\r\n" * 5000, b"\x16\x03\x01\x02\x00\x01\x00", b"GET\r\n\r\n",
                        b"GET / HTTP/9.9\r\n\r\n", b"GET / HTTP/1.1\r\nHost\r\n\r\n",
                        b"POST / HTTP/1.1\r\nContent-Length: -1\r\n\r\n",
                        b"POST / HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\nffffffffffffffffff\r\n"):
            self.connections(1, request)
        self.works()

    def test_daemon_that_hangs(self):
        """Also with more clients in its queue than have room there."""
        self.bench.end(self.bench.board)
        self.bench.daemon.send_signal(signal.SIGSTOP)
        waiting = []
        try:
            for _ in range(3):
                self.bench.start_board()
                self.assertEqual(self.status(), 200)
                self.assertIn("No pullcalld", self.bench.ask()[2])
                try:
                    while len(waiting) < 50:
                        waiting.append(self.bench.connect())
                except OSError:
                    pass  # the queue is full
        finally:
            self.bench.daemon.send_signal(signal.SIGCONT)
            for connection in waiting:
                connection.close()
        wait_until(lambda: "ridge-court" in self.bench.ask()[2], "the daemon is not found again")
        self.works()


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], "-v"])
