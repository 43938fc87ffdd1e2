"""What every page shows: navigation for the viewer's role, and the clinic's own contact line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext as _

from clinic.access import Viewer
from clinic.rules.roles import Capability


@dataclass(frozen=True)
class Link:
    """One entry of the navigation."""

    label: str
    url: str
    is_current: bool
    icon: str = ""


def page(request: HttpRequest) -> dict[str, Any]:
    """Return viewer, navigation and contact line for templates."""
    viewer: Viewer | None = getattr(request, "viewer", None)
    if viewer is None:
        return {"viewer": None, "navigation": [], "is_demo": settings.IS_DEMO}
    return {
        "viewer": viewer,
        "navigation": _navigation(viewer, request.path),
        "clinic_contact": viewer.contact,
        "is_demo": settings.IS_DEMO,
    }


def _navigation(viewer: Viewer, path: str) -> list[Link]:
    places: list[tuple[str, str, str]] = []
    if viewer.patient_id is not None:
        places += [
            (_("Today"), reverse("today"), "home"),
            (_("My progress"), reverse("progress"), "chart"),
            (_("Reminders"), reverse("reminder_preference"), "bell"),
        ]
    if viewer.may(Capability.TREAT):
        places.append((_("Caseload"), reverse("caseload"), ""))
    if viewer.may(Capability.READ_LIBRARY):
        places.append((_("Library"), reverse("library"), ""))
    if viewer.may(Capability.MANAGE_PEOPLE):
        places.append((_("Clinic"), reverse("clinic"), ""))
    return [Link(label, url, path.startswith(url), icon) for label, url, icon in places]
