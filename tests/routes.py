"""Every route that the project answers on, read from the resolver."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import URLPattern, URLResolver, get_resolver

NOT_LISTED = {"HEAD", "OPTIONS"}  # Django answers them from the others


@dataclass(frozen=True)
class Route:
    """A named route and what its path asks for."""

    name: str
    pattern: str
    parameters: frozenset[str]
    # Of an API's view class; a page answers GET and POST or refuses them itself.
    methods: frozenset[str] = frozenset({"GET", "POST"})

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
        served = getattr(getattr(entry.callback, "cls", None), "http_method_names", [])
        more = {m.upper() for m in served if hasattr(entry.callback.cls, m)} - NOT_LISTED
        yield Route(entry.name, path, asked, frozenset({"GET", "POST"} | more))
