"""The app of one page in a browser, as `layup serve` starts it; its words are the workshop and perhaps `--watch`."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from threading import Thread

from layup.app.app import LayupApp

LOOK_S = 1.0
"""How often to see whether the server is still there."""

LOOPBACK, EVERYWHERE = "127.0.0.1", "0.0.0.0"


def main(words: list[str]) -> int:
    """Run the app until its page is closed or its server dies."""
    app = LayupApp(Path(words[0]), watch="--watch" in words[1:])
    Thread(target=_leave_with, args=(app, os.getppid()), daemon=True).start()
    app.run()
    return app.return_code or 0


def _leave_with(app: LayupApp, server: int) -> None:
    """End the app once its server has died: nobody can see it then, and it would keep the journal from others."""
    while os.getppid() == server:
        time.sleep(LOOK_S)
    app.call_from_thread(app.exit)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
