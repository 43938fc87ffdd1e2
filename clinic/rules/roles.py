"""What each role may do; pure, so that the table can be read and tested by itself."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """Roles that staff hold in a clinic; a patient's record gives the third."""

    THERAPIST = "THERAPIST"
    CLINIC_ADMIN = "CLINIC_ADMIN"


class Capability(StrEnum):
    """One thing that a role allows."""

    TREAT = "TREAT"  # open the records of one's own patients
    MANAGE_PEOPLE = "MANAGE_PEOPLE"  # invite, give roles, move patients between therapists
    SET_POLICY = "SET_POLICY"
    READ_LIBRARY = "READ_LIBRARY"


CAPABILITIES: dict[Role, frozenset[Capability]] = {
    Role.THERAPIST: frozenset({Capability.TREAT, Capability.READ_LIBRARY}),
    Role.CLINIC_ADMIN: frozenset(
        {Capability.MANAGE_PEOPLE, Capability.SET_POLICY, Capability.READ_LIBRARY}
    ),
}


def allows(roles: frozenset[Role], capability: Capability) -> bool:
    """Return whether any of `roles` gives `capability`."""
    return any(capability in CAPABILITIES[role] for role in roles)
