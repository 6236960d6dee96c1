"""A bench with a daemon and a board, and requests to it that no HTTP library tidies up."""
import pathlib
import socket
import subprocess
import sys

FOLDERS = pathlib.Path(__file__).resolve().parents[1]
sys.path[:0] = [str(FOLDERS / "daemon"), str(FOLDERS / "report")]
from programs import DEMO, SOURCE, Bench, wait_until  # noqa: E402

TOKEN = "shop-floor_token-0123456789"


class Served(Bench):
    def __init__(self, programs, in_memory=True):
        super().__init__(programs, in_memory)
        self.token_file = self.home / "token"
        self.token_file.write_text(TOKEN + "\n")
        self.token_file.chmod(0o600)
        self.daemon = self.board = self.port = None

    def start_daemon(self, job=DEMO):
        self.daemon = self.start("pullcalld", "--pedal", "none", "--sound", "none", stderr=subprocess.DEVNULL)
        self.wait_for_daemon()
        if job:
            self.tell(do="load", file=str(job))

    def start_board(self, *options, address="127.0.0.1", port=0):
        self.board = self.start("pullcall", "board", "--listen", f"{address}:{port}", *options,
                                stdout=subprocess.PIPE, text=True)
        self.port = int(self.board.stdout.readline().rsplit(":", 1)[1].rstrip("/\n"))

    def end(self, process):
        process.terminate()
        process.wait(timeout=10)

    def tell(self, **request):
        with self.connect() as daemon:
            return daemon.ask(request)

    @property
    def host(self):
        return f"127.0.0.1:{self.port}"

    def open(self):
        return socket.create_connection(("127.0.0.1", self.port), timeout=40)

    def ask(self, method="GET", path="/", body="", **headers):
        """One request: its status, its headers by name in small letters, and its body. Host is right unless given;
        None leaves a header out."""
        headers = {"Host": self.host, **{name.replace("_", "-"): value for name, value in headers.items()}}
        lines = [f"{name}: {value}" for name, value in headers.items() if value is not None]
        if method == "POST":
            lines += ["Content-Type: application/x-www-form-urlencoded", f"Content-Length: {len(body)}"]
        request = "\r\n".join([f"{method} {path} HTTP/1.1", *lines, "Connection: close", "", body])
        with self.open() as connection:
            connection.sendall(request.encode())
            answer = b""
            while more := connection.recv(65536):
                answer += more
        head, _, body = answer.partition(b"\r\n\r\n")
        status, *lines = head.decode().split("\r\n")
        return int(status.split()[1]), dict(line.lower().split(": ", 1) for line in lines), body.decode()

    def post(self, path, **headers):
        """As a browser does that knows the token."""
        return self.ask("POST", path, **{"Origin": f"http://{self.host}", "Cookie": f"pullcall={TOKEN}", **headers})

    def follow(self, **headers):
        """The stream of events, as a file of lines."""
        connection = self.open()
        lines = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
        connection.sendall(f"GET /events HTTP/1.1\r\nHost: {self.host}\r\n{lines}\r\n".encode())
        stream = connection.makefile("r", encoding="utf-8", newline="\n")
        connection.close()  # the file keeps it
        return stream


def next_picture(stream, *words):
    """The next event with all the words in it. The board repeats its picture now and then, so another fault than a
    missing event shows in so many of them."""
    seen = ""
    pictures = (line for line in stream if line.startswith("data: "))
    for _, seen in zip(range(12), pictures):
        if all(word in seen for word in words):
            return seen
    raise AssertionError(f"no picture with {words}; the last one was {seen}")


__all__ = ["TOKEN", "Served", "next_picture", "wait_until", "DEMO", "SOURCE"]
