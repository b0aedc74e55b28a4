"""Start a command under a pseudo-terminal and wait until its first frame shows the app; then quit it.

Used by `.ci/run` on the installed wheel: `python tests/first_frame.py COMMAND [ARGUMENT ...]`. Standard library only.
"""

import fcntl
import os
import pty
import select
import struct
import sys
import termios
import time

WANTED = b"Stack"
LIMIT_S = 60.0


def first_frame(command: list[str], *, columns: int = 80, rows: int = 24) -> float:
    """Return the seconds until WANTED is on the screen of `command`; raise SystemExit if it never is."""
    began = time.monotonic()
    child, terminal = pty.fork()
    if child == 0:
        os.environ.setdefault("TERM", "xterm-256color")
        os.execvp(command[0], command)
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    seen = b""
    while WANTED not in seen:
        left = began + LIMIT_S - time.monotonic()
        ready, _, _ = select.select([terminal], [], [], max(left, 0))
        chunk = b""
        if ready:
            try:
                chunk = os.read(terminal, 65536)
            except OSError:
                chunk = b""
        if not chunk:
            raise SystemExit(f"no first frame; the screen had: {seen[-2000:]!r}")
        seen += chunk
    took = time.monotonic() - began
    time.sleep(1.0)
    os.write(terminal, b"q")
    end = time.monotonic() + 10
    while time.monotonic() < end:
        ready, _, _ = select.select([terminal], [], [], 0.2)
        try:
            if ready and not os.read(terminal, 65536):
                break
        except OSError:
            break
    _, status = os.waitpid(child, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        raise SystemExit(f"the app ended with {os.waitstatus_to_exitcode(status)}")
    return took


if __name__ == "__main__":
    print(f"first frame after {first_frame(sys.argv[1:]):.2f} s")
