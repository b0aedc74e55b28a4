"""Who may come in: on loopback whoever uses this machine, on the LAN each device once it has said a word.

A page of another site must not reach the bench through somebody's browser: the host of every request has to be ours,
and what changes anything has to come from our own page (the checks that OWASP names for cross-site requests and for
DNS rebinding). Words and tokens stand in no address, so that no log and no history keeps them.
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import socket
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal
from urllib.parse import urlsplit

Role = Literal["writer", "viewer"]
"""A writer may log; a viewer may do nothing but look."""

SYLLABLES = 4
"""Of 80 each: 41 million words."""
SLOWEST_S = 60.0
"""The longest that an address waits between two words; the wait doubles with each wrong one."""
REMEMBERED = 1000
"""So many addresses are remembered for their wrong words; who comes later pushes the oldest out."""
LOOPBACK, EVERYWHERE = "127.0.0.1", "0.0.0.0"
HOME = frozenset({LOOPBACK, "localhost", "::1"})
_CONSONANTS, _VOWELS = "bdfghjklmnprstvz", "aeiou"


@dataclass(frozen=True, slots=True)
class WrongWords:
    """The wrong words of one address, and from when on it may say another."""

    count: int
    from_s: float


class Door:
    """Lets devices in, and says whether a request may have what it asks for."""

    def __init__(self, *, lan: bool, port: int, role: Role, say: Callable[[str], None]) -> None:
        self.lan = lan
        self.port = port
        self.role: Role = role
        self.word = ""
        self._say = say
        self._tokens: set[str] = set()
        self._wrong: OrderedDict[str, WrongWords] = OrderedDict()
        self.next_word()

    @property
    def cookie(self) -> str:
        """The name of the cookie; browsers do not keep those of two ports apart."""
        return f"layup-{self.port}"

    def next_word(self) -> None:
        """Make up the next word and say it, where one is needed: each lets one device in."""
        if self.lan:
            self.word = "".join(secrets.choice(_CONSONANTS) + secrets.choice(_VOWELS) for _ in range(SYLLABLES))
            self._say(self.word)

    def enter(self, word: str, address: str, now_s: float) -> str | float:
        """Return a token for the device that says the word; else how long its address has to wait until the next try.

        A wrong word slows the address it came from, and nobody else.
        """
        wrong = self._wrong.get(address, WrongWords(0, 0.0))
        if now_s < wrong.from_s:
            return wrong.from_s - now_s
        if not self.word or not hmac.compare_digest(word.strip().lower().encode(), self.word.encode()):
            wait_s = min(2.0**wrong.count, SLOWEST_S)
            self._wrong[address] = WrongWords(min(wrong.count + 1, 10), now_s + wait_s)
            self._wrong.move_to_end(address)
            while len(self._wrong) > REMEMBERED:
                self._wrong.popitem(last=False)
            return wait_s
        self._wrong.pop(address, None)
        token = secrets.token_urlsafe(32)
        self._tokens.add(token)
        self.next_word()
        return token

    def role_of(self, token: str | None) -> Role | None:
        """Return what a device may do; None for one that has to say the word first."""
        return self.role if not self.lan or token in self._tokens else None

    def is_ours(self, host: str) -> bool:
        """Return whether a request names us: by an address, by this machine's name, or at home as localhost.

        Any other name may have been bent to our address by somebody else's name server.
        """
        try:
            split = urlsplit(f"//{host}")
            name, port = (split.hostname or "").rstrip("."), split.port
        except ValueError:
            return False
        if (80 if port is None else port) != self.port:
            return False
        if name in HOME:
            return True
        if not self.lan:
            return False
        own = socket.gethostname().lower()
        return _is_address(name) or name in (own, f"{own.partition('.')[0]}.local")

    def comes_from_us(self, headers: Mapping[str, str], *, changes: bool) -> bool:
        """Return whether our own page asks; where something changes, the browser has to say so."""
        origin, host = headers.get("Origin"), headers.get("Host", "")
        if headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
            return False
        if origin is None:
            return not changes
        try:
            return urlsplit(origin).netloc == host
        except ValueError:
            return False


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


_NOWHERE = ("192.0.2.1", 9)
"""An address kept for documentation (RFC 5737): nothing is sent there, it only tells which of ours would be used."""


def lan_address() -> str:
    """Return this machine's address in its network, or its name where that is not known."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
        except OSError:
            return socket.gethostname()
        return str(probe.getsockname()[0])
