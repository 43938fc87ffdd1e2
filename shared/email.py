"""Render and send one named e-mail. Subjects are neutral: a lock screen may show them."""

from __future__ import annotations

from typing import Any

from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string


def send_email(
    name: str, *, to: str, context: dict[str, Any], headers: dict[str, str] | None = None
) -> None:
    """Send `templates/emails/<name>/` (subject.txt, body.txt, body.html) to one address."""
    subject = render_to_string(f"emails/{name}/subject.txt", context).strip()
    message = EmailMultiAlternatives(
        subject=subject,
        body=render_to_string(f"emails/{name}/body.txt", context),
        to=[to],
        headers=headers,
    )
    message.attach_alternative(render_to_string(f"emails/{name}/body.html", context), "text/html")
    message.send()
