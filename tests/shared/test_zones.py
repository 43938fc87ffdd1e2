"""The zones that a person can choose."""

from zoneinfo import available_timezones

from shared.dates import zone_named
from shared.zones import REGIONS, listed_zones, zone_choices


def test_every_zone_listed_exists():
    assert listed_zones() <= available_timezones()
    for name in listed_zones():
        zone_named(name)


def test_regions_come_in_order_with_utc_last():
    assert [region for region, _places in zone_choices()] == [*REGIONS, "UTC"]
    for _region, places in zone_choices():
        assert places == sorted(places)


def test_names_without_a_place_are_left_out():
    assert not {"EST", "Etc/GMT+5", "GB"} & listed_zones()
