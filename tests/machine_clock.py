"""A clock moved by hand, of a machine that sleeps and is switched off."""

from datetime import UTC, datetime, timedelta

from layup.session.clock import ManualClock


class MachineClock(ManualClock):
    """What a machine's clocks show, whether or not the monotonic one goes on while it sleeps."""

    def __init__(
        self,
        utc: datetime = datetime(2026, 3, 7, 8, 0, tzinfo=UTC),
        *,
        monotonic_s: float = 1000.0,
        boot_id: str = "boot-1",
        counts_sleep: bool = True,
    ) -> None:
        super().__init__(utc)
        self._monotonic_s = monotonic_s
        self._boot_id = boot_id
        self.counts_sleep = counts_sleep

    def boot_id(self) -> str:
        """Return the boot that it is in."""
        return self._boot_id

    def sleep(self, seconds: float) -> None:
        """Let the machine sleep: real time passes, the monotonic clock only if it counts sleep."""
        self._utc += timedelta(seconds=seconds)
        if self.counts_sleep:
            self._monotonic_s += seconds

    def reboot(self, off_s: float, boot_id: str) -> None:
        """Switch the machine off for a while and on again: the monotonic clock starts at zero."""
        self._utc += timedelta(seconds=off_s)
        self._monotonic_s = 0.0
        self._boot_id = boot_id
