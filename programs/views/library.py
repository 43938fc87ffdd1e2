"""The exercise library: browse, search, and read one exercise."""

from __future__ import annotations

from enum import StrEnum
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_safe

from clinic.access import staff_only, viewer_of
from programs.access import access_exercise
from programs.queries.exercise_page import exercise_page
from programs.queries.library import NOTHING, LibraryFilter, library_page
from programs.rules.dose import DoseKind
from programs.rules.library import Aim, Equipment, Position, Region

LONGEST_SEARCH = 100
CODES: dict[str, type[StrEnum]] = {
    "region": Region,
    "aim": Aim,
    "position": Position,
    "dose_kind": DoseKind,
}


@require_safe
@staff_only
def library(request: HttpRequest) -> HttpResponse:
    """List exercises; `q`, `region`, `aim`, `position`, `dose_kind`, `at_hand` (repeated)."""
    wanted = _wanted(request.GET)
    page = library_page(viewer_of(request).clinic_id, wanted)
    context = {
        "page": page,
        "wanted": wanted,
        "kept_query": _query(wanted, without="region"),
        "without_filters": _query(LibraryFilter(words=wanted.words, region=wanted.region)),
    }
    return render(request, "programs/library.html", context)


@require_safe
@staff_only
def exercise(request: HttpRequest, slug: str) -> HttpResponse:
    """Show all that the library says of an exercise."""
    viewer = viewer_of(request)
    page = exercise_page(access_exercise(viewer, slug), viewer.clinic_id)
    return render(request, "programs/exercise.html", {"page": page})


def _wanted(query: QueryDict) -> LibraryFilter:
    """Read the filter from the address; what is not a code of ours asks for nothing."""
    codes = {
        name: code if (code := query.get(name, "")) in tuple(known) else ""
        for name, known in CODES.items()
    }
    known = {NOTHING, *Equipment}
    return LibraryFilter(
        words=query.get("q", "")[:LONGEST_SEARCH].replace("\0", "").strip(),
        at_hand=frozenset(code for code in query.getlist("at_hand") if code in known),
        **codes,
    )


def _query(wanted: LibraryFilter, *, without: str = "") -> str:
    """Return the filter as it stands in an address."""
    pairs = [("q", wanted.words), *((name, getattr(wanted, name)) for name in CODES)]
    pairs += [("at_hand", code) for code in sorted(wanted.at_hand)]
    return urlencode([(name, value) for name, value in pairs if value and name != without])
