"""Every route that the project answers on, read from the resolver."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import URLPattern, URLResolver, get_resolver


@dataclass(frozen=True)
class Route:
    """A named route and what its path asks for."""

    name: str
    pattern: str
    parameters: frozenset[str]

    @property
    def is_api(self) -> bool:
        """Whether it answers programs, not people."""
        return self.pattern.startswith("api/")


def all_routes() -> tuple[Route, ...]:
    """Return every route in the order in which they are tried."""
    return tuple(_walk(get_resolver(), "", frozenset()))


def _walk(resolver: URLResolver, prefix: str, parameters: frozenset[str]) -> Iterator[Route]:
    for entry in resolver.url_patterns:
        path = prefix + str(entry.pattern).removeprefix("^")
        asked = parameters | set(entry.pattern.regex.groupindex)
        if isinstance(entry, URLResolver):
            yield from _walk(entry, path, asked)
            continue
        assert isinstance(entry, URLPattern)
        assert entry.name, f"The route {path} has no name."
        yield Route(entry.name, path, asked)
