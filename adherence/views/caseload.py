"""The caseload: who needs somebody first, and everybody else."""

from __future__ import annotations

from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from adherence.queries.caseload import CaseloadFilter, caseload_page
from clinic.access import therapist_only, viewer_of
from shared import clock

ROWS_PER_PAGE = 50
LONGEST_SEARCH = 80


@require_safe
@therapist_only
def caseload(request: HttpRequest) -> HttpResponse:
    """List the viewer's patients by need. `show` is a filter, `q` a part of a name."""
    shown = request.GET.get("show", "")
    only = CaseloadFilter(shown) if shown in list(CaseloadFilter) else CaseloadFilter.ALL
    name = request.GET.get("q", "").strip()[:LONGEST_SEARCH]
    page = caseload_page(viewer_of(request), now=clock.now(), only=only, name=name)
    kept = {"show": "" if only == CaseloadFilter.ALL else only.value, "q": name}
    kept = {key: value for key, value in kept.items() if value}
    return render(
        request,
        "adherence/caseload.html",
        {
            "page": page,
            "rows": Paginator(page.rows, ROWS_PER_PAGE).get_page(request.GET.get("page")),
            "only": only,
            "name": name,
            "name_query": urlencode({"q": name}) if name else "",
            "kept_query": f"{urlencode(kept)}&" if kept else "",
        },
    )
