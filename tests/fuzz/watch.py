"""Follows a request's statements, to know which of its writes stay and to break one of them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import OperationalError

WRITES = re.compile(r"^\s*(?:INSERT\s+INTO|UPDATE|DELETE\s+FROM)\s+\"(\w+)\"", re.IGNORECASE)
# The session and the time of the last sign-in are about the browser, they are no records.
NO_RECORDS = {"django_session"}
LAST_SIGN_IN = 'UPDATE "clinic_user" SET "last_login"'


def written_table(sql: str) -> str | None:
    """Return the table of a statement that writes a record."""
    written = WRITES.match(sql)
    if written is None or written[1] in NO_RECORDS or sql.startswith(LAST_SIGN_IN):
        return None
    return written[1]


class Broken(OperationalError):
    """The database went away in the middle, because the test wanted it to."""


@dataclass
class Watch:
    """An execute wrapper. Savepoints are followed: what was rolled back has not been written."""

    break_at: int | None = None  # the n-th write fails, counted from 1
    count: int = 0
    _frames: list[tuple[str, list[str]]] = field(default_factory=lambda: [("", [])])

    def __call__(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any
    ) -> Any:
        """Run one statement, or break it."""
        table = written_table(sql)
        if table:
            self.count += 1
            if self.count == self.break_at:
                raise Broken("The connection was lost.")
        result = execute(sql, params, many, context)
        if table:
            self._frames[-1][1].append(table)
        else:
            self._follow(sql)
        return result

    def _follow(self, sql: str) -> None:
        words = sql.replace('"', "").replace(";", "").split()
        match words:
            case ["SAVEPOINT", name]:
                self._frames.append((name, []))
            case ["RELEASE", "SAVEPOINT", name]:
                kept = self._cut(name)
                self._frames[-1][1].extend(kept)
            case ["ROLLBACK", "TO", "SAVEPOINT", name]:
                self._cut(name)
                self._frames.append((name, []))

    def _cut(self, name: str) -> list[str]:
        """Take off every frame down to the savepoint; return what they held."""
        held: list[str] = []
        while True:
            top, tables = self._frames.pop()
            held = tables + held
            if top == name:
                return held

    @property
    def kept(self) -> list[str]:
        """The tables of the writes that stay, in order."""
        return [table for _name, tables in self._frames for table in tables]
