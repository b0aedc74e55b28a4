"""A program under a pseudo-terminal; and, run as a script, how long a command takes to its first frame.

Used by `.ci/run` on the installed wheel: `python tests/first_frame.py COMMAND [ARGUMENT ...]`. Standard library only.
"""

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Iterable

WANTED = b"Stack"
PATIENCE_S = 60.0
QUIT_S = 10.0


class Terminal:
    """A program under a pseudo-terminal; `with` kills it at the end if it still runs."""

    def __init__(self, command: list[str], *, columns: int = 80, rows: int = 24) -> None:
        self.since_s = time.monotonic()
        self.exit_code: int | None = None
        self.process, self.fd = pty.fork()
        if self.process == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
            os.environ["TERM"] = "xterm-256color"
            os.execvp(command[0], command)

    def __enter__(self) -> "Terminal":
        return self

    def __exit__(self, *_: object) -> None:
        if self.exit_code is None:
            os.kill(self.process, signal.SIGKILL)
            os.waitpid(self.process, 0)
        os.close(self.fd)

    def press(self, key: bytes) -> None:
        """Press a key; `wait_for` counts from here."""
        self.since_s = time.monotonic()
        os.write(self.fd, key)

    def wait_for(self, wanted: bytes) -> float:
        """Return the seconds from the start, or from the last key, until `wanted` was written."""
        seen = b""
        while wanted not in seen:
            ready, _, _ = select.select([self.fd], [], [], PATIENCE_S)
            piece = self.read() if ready else b""
            if not piece:
                raise RuntimeError(f"{wanted!r} never came; the end of what did: {seen[-2000:]!r}")
            seen += piece
        return time.monotonic() - self.since_s

    def read(self) -> bytes:
        """Return what was written; empty once the program has ended."""
        try:
            return os.read(self.fd, 65536)
        except OSError:
            return b""

    def processor_s(self) -> float:
        """Return the processor time that the program, with all its threads, has used so far (Linux) [s]."""
        return time.clock_gettime(~self.process << 3 | 2)

    def ended(self) -> int:
        """Read until the program ends by itself; return its exit code."""
        end_s = time.monotonic() + QUIT_S
        while (left_s := end_s - time.monotonic()) > 0 and select.select([self.fd], [], [], left_s)[0] and self.read():
            pass
        if left_s <= 0:
            raise RuntimeError(f"the program did not end in {QUIT_S:.0f} s")
        self.exit_code = os.waitstatus_to_exitcode(os.waitpid(self.process, 0)[1])
        return self.exit_code


def let_run(terminals: Iterable[Terminal], seconds: float) -> None:
    """Read, and drop, what programs write for a while."""
    by_fd = {terminal.fd: terminal for terminal in terminals}
    end_s = time.monotonic() + seconds
    while (left_s := end_s - time.monotonic()) > 0:
        for fd in select.select(list(by_fd), [], [], left_s)[0]:
            if not by_fd[fd].read():
                raise RuntimeError("a program ended that should go on")


def main(command: list[str]) -> int:
    """Print how long the first frame took, then leave the app with q."""
    with Terminal(command) as terminal:
        print(f"first frame after {terminal.wait_for(WANTED):.2f} s")
        let_run([terminal], 1.0)
        terminal.press(b"q")
        if code := terminal.ended():
            print(f"the app ended with {code}", file=sys.stderr)
        return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
