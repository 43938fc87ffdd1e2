"""The demo's mailbox: mail that would have left, read from a folder."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shared.mailbox import mail_named, mail_names, read_mails

MAILS_PER_PAGE = 25


@require_safe
def mailbox(request: HttpRequest) -> HttpResponse:
    """List the newest mail first."""
    names = mail_names(_folder())
    found = Paginator(names, MAILS_PER_PAGE).get_page(request.GET.get("page", "1"))
    mails = read_mails(_folder(), found.object_list)
    return render(request, "clinic/mailbox.html", {"found": found, "mails": mails})


@require_safe
def mail(request: HttpRequest, name: str) -> HttpResponse:
    """Show one mail with its links."""
    found = mail_named(_folder(), name)
    if found is None:
        raise Http404
    return render(request, "clinic/mail.html", {"mail": found})


def _folder() -> Path:
    if not settings.IS_DEMO:
        raise Http404
    return Path(settings.EMAIL_FILE_PATH)
