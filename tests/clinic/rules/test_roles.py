"""What each role may do."""

from clinic.rules.roles import CAPABILITIES, Capability, Role, allows


def test_every_role_has_a_row():
    assert set(CAPABILITIES) == set(Role)


def test_the_admin_opens_no_record():
    assert not allows(frozenset({Role.CLINIC_ADMIN}), Capability.TREAT)
    assert allows(frozenset({Role.CLINIC_ADMIN}), Capability.MANAGE_PEOPLE)


def test_a_therapist_manages_nobody():
    assert not allows(frozenset({Role.THERAPIST}), Capability.MANAGE_PEOPLE)
    assert not allows(frozenset({Role.THERAPIST}), Capability.SET_POLICY)


def test_two_roles_add_up():
    both = frozenset(Role)
    assert all(allows(both, capability) for capability in Capability)


def test_no_role_allows_nothing():
    assert not any(allows(frozenset(), capability) for capability in Capability)
