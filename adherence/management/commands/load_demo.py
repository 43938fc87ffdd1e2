"""Fill an empty database with the invented clinic, its people and twelve weeks up to today."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from adherence.management.demo.loading import load_demo
from clinic.models import Clinic
from shared import clock


class Command(BaseCommand):
    """Load the demo once."""

    help = "Loads the invented clinic relative to today. For the demo settings only."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load, and say what there is now."""
        if not settings.IS_DEMO:
            raise CommandError("The invented clinic is for the demo settings only.")
        if Clinic.objects.exists():
            raise CommandError("There is a clinic already. Start over with demo --fresh.")
        folder = settings.BASE_DIR / "fixtures" / "demo"
        counts = load_demo(folder, now=clock.now(), password=settings.DEMO_PASSWORD)
        self.stdout.write(", ".join(f"{count} {what}" for what, count in counts.items()) + ".")
