"""Render and send one named e-mail. Subjects are neutral: a lock screen may show them."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string


def send_email(
    name: str, *, to: str, context: dict[str, Any], headers: dict[str, str] | None = None
) -> None:
    """Send `templates/emails/<name>/` (subject.txt, body.txt, body.html) to one address."""
    compose_email(name, to=to, context=context, headers=headers).send()


def compose_email(
    name: str, *, to: str, context: dict[str, Any], headers: dict[str, str] | None = None
) -> EmailMultiAlternatives:
    """Return the mail without sending it, for whoever must tell the one step from the other."""
    subject = render_to_string(f"emails/{name}/subject.txt", context).strip()
    message = EmailMultiAlternatives(
        subject=subject,
        body=render_to_string(f"emails/{name}/body.txt", context),
        to=[to],
        headers=headers,
    )
    message.attach_alternative(render_to_string(f"emails/{name}/body.html", context), "text/html")
    return message


def message_id(key: object, *, site_url: str) -> str:
    """Return the Message-ID that a mail about `key` has every time, under the site's own host."""
    host = urlsplit(site_url).hostname or "localhost"
    return f"<{key}@{f'[IPv6:{host}]' if ':' in host else host}>"
