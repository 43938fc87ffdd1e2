"""The time zones a person can choose from, by region."""

from __future__ import annotations

from functools import cache
from zoneinfo import available_timezones

REGIONS = (
    "Africa",
    "America",
    "Antarctica",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
)
ZoneChoices = list[tuple[str, list[tuple[str, str]]]]


@cache
def zone_choices() -> ZoneChoices:
    """Return (region, [(IANA name, place)]) for every place, then UTC.

    Names without a region ("EST", "Etc/GMT+5") are left out: they know no daylight saving.
    """
    regions: dict[str, list[tuple[str, str]]] = {region: [] for region in REGIONS}
    for name in sorted(available_timezones()):
        region, _slash, place = name.partition("/")
        if region in regions and place:
            regions[region].append((name, place.replace("_", " ").replace("/", ", ")))
    return [*regions.items(), ("UTC", [("UTC", "UTC")])]


@cache
def listed_zones() -> frozenset[str]:
    """Return every IANA name that `zone_choices` lists."""
    return frozenset(name for _region, places in zone_choices() for name, _place in places)
