"""Mail servers that behave badly, to be named in EMAIL_BACKEND."""

from __future__ import annotations

import os
import time
from datetime import timedelta
from pathlib import Path
from smtplib import (
    SMTPConnectError,
    SMTPDataError,
    SMTPRecipientsRefused,
    SMTPServerDisconnected,
)
from typing import ClassVar

from django.core.mail.backends import filebased, locmem


class Away(locmem.EmailBackend):
    """Cannot be reached."""

    opened = 0

    def open(self) -> None:
        Away.opened += 1
        raise SMTPConnectError(421, b"not today")


class RefusesTheAddress(locmem.EmailBackend):
    """Says that there is no such mailbox."""

    def send_messages(self, messages):
        raise SMTPRecipientsRefused({messages[0].to[0]: (550, b"no such mailbox")})


class Greylists(locmem.EmailBackend):
    """Asks to come again later."""

    def send_messages(self, messages):
        raise SMTPDataError(451, b"come again later")


class BreaksOff(locmem.EmailBackend):
    """Takes the mail and falls silent before it says whether it did."""

    def send_messages(self, messages):
        super().send_messages(messages)
        raise SMTPServerDisconnected("gone")


class SlowToSayGoodbye(locmem.EmailBackend):
    """Takes the mail and hangs at the end."""

    def close(self) -> None:
        raise TimeoutError


class Breaks(locmem.EmailBackend):
    """Has a fault of its own, in the middle."""

    def send_messages(self, messages):
        raise RuntimeError("a fault")


class Slow(locmem.EmailBackend):
    """Needs 15 seconds for a mail, on the clock that the test holds."""

    clock: ClassVar = None

    def send_messages(self, messages):
        Slow.clock.shift(timedelta(seconds=15))
        return super().send_messages(messages)


class WaitsToOpen(filebased.EmailBackend):
    """Stands still between the claim and the sending, while the file of that name is there."""

    def open(self):
        _wait_at("opening")
        return super().open()


class WaitsToSend(filebased.EmailBackend):
    """Stands still in the middle of sending: the row says so, the mail has left."""

    def send_messages(self, messages):
        sent = super().send_messages(messages)
        self.stream and self.stream.flush()
        _wait_at("sending")
        return sent


def _wait_at(place: str) -> None:
    folder = Path(os.environ["CARRYOVER_DATA"])
    if not (folder / "hold").exists():
        return
    (folder / place).touch()
    while (folder / "hold").exists():
        time.sleep(0.02)
