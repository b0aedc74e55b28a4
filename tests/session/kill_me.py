"""Write in a session until killed. For each line on stdin a child goes on with the session given as argument.

Forking costs a thousandth of starting Python again; the child is as alone with its files as any process.
Prints the child's process id, then the number of each event that `append` confirmed, then `dead`.
"""

import os
import sys
from pathlib import Path

from layup.session.clock import SystemClock
from layup.session.day_events import Note
from layup.session.journal import Journal


def write_until_killed(folder: Path) -> None:
    """Append notes that name their own number, and say so when each is confirmed."""
    journal = Journal.open(folder, SystemClock())
    while True:
        number = journal.append(Note(text=f"note {journal.state.seq + 1} " + "." * 200)).seq
        os.write(1, f"{number}\n".encode())


def main() -> None:
    """Run one child after the other."""
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                write_until_killed(Path(sys.argv[1]))
            finally:
                os._exit(1)
        os.write(1, f"{child}\n".encode())
        _, status = os.waitpid(child, 0)
        os.write(1, f"dead {os.WTERMSIG(status)}\n".encode())


if __name__ == "__main__":
    main()
