"""Clinics, people, who treats whom, and invitations."""

from __future__ import annotations

import hashlib
from datetime import timedelta

from factory import LazyAttribute, SelfAttribute, Sequence, SubFactory
from factory.django import DjangoModelFactory

from clinic import models
from clinic.rules.roles import Role
from tests.factories.times import JOINED, NOW

PASSWORD = "harbour lamp seven"  # of invented people


class UserFactory(DjangoModelFactory):
    """A person who can sign in with PASSWORD."""

    class Meta:
        model = models.User
        skip_postgeneration_save = True

    name = Sequence("Person {}".format)
    email = Sequence("person{}@mail.example".format)
    is_active = True

    @classmethod
    def _create(cls, model_class, *args, **kwargs):
        password = kwargs.pop("password", PASSWORD)
        return model_class.objects.create_user(password=password, **kwargs)


class ClinicFactory(DjangoModelFactory):
    """A clinic in London's zone."""

    class Meta:
        model = models.Clinic

    name = Sequence("Clinic {}".format)
    slug = Sequence("clinic-{}".format)
    timezone = "Europe/London"
    phone = "01632 960 000"


class ClinicPolicyFactory(DjangoModelFactory):
    """A stored policy with the defaults."""

    class Meta:
        model = models.ClinicPolicy

    clinic = SubFactory(ClinicFactory)


class MembershipFactory(DjangoModelFactory):
    """A therapist, unless `role` says otherwise."""

    class Meta:
        model = models.Membership

    clinic = SubFactory(ClinicFactory)
    user = SubFactory(UserFactory)
    role = Role.THERAPIST


class PatientFactory(DjangoModelFactory):
    """A patient who can sign in; `user=None` for one on paper."""

    class Meta:
        model = models.Patient

    clinic = SubFactory(ClinicFactory)
    given_name = "Pat"
    family_name = Sequence("Sample {}".format)
    email = LazyAttribute(lambda row: row.user.email if row.user else "")
    user = SubFactory(
        UserFactory,
        name=LazyAttribute(
            lambda user: f"{user.factory_parent.given_name} {user.factory_parent.family_name}"
        ),
    )
    timezone = SelfAttribute("clinic.timezone")


class CareRelationshipFactory(DjangoModelFactory):
    """`therapist` leads the care of `patient` since January."""

    class Meta:
        model = models.CareRelationship

    patient = SubFactory(PatientFactory)
    clinic = SelfAttribute("patient.clinic")
    therapist = SubFactory(MembershipFactory, clinic=SelfAttribute("..clinic"))
    starts_at = JOINED


class InvitationFactory(DjangoModelFactory):
    """An open invitation of a patient without a user; the link's token is `token`."""

    class Meta:
        model = models.Invitation

    class Params:
        token = Sequence("token-{}".format)

    patient = SubFactory(PatientFactory, user=None, email="new@mail.example")
    clinic = SelfAttribute("patient.clinic")
    kind = models.InvitationKind.PATIENT
    email = SelfAttribute("patient.email")
    token_hash = LazyAttribute(lambda row: hashlib.sha256(row.token.encode()).hexdigest())
    invited_by = SubFactory(UserFactory)
    created_at = NOW - timedelta(days=1)
    expires_at = NOW + timedelta(days=6)
