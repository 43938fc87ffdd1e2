"""Root of all routes. The other apps are included by name, so this file imports none of them."""

from __future__ import annotations

from allauth.account import views as account
from django.conf import settings
from django.urls import include, path, re_path
from django.views.decorators.http import require_http_methods
from drf_spectacular.views import SpectacularAPIView

from clinic.views import (
    about,
    design,
    health,
    home,
    invitation,
    mailbox,
    own_patients,
    patients,
    people,
    rules,
    sign_in,
)

# The account library's class views would answer OPTIONS and take PUT for POST.
form_page = require_http_methods(["GET", "HEAD", "POST"])
page = require_http_methods(["GET", "HEAD"])

account_routes = [
    path("login/", form_page(sign_in.sign_in), name="account_login"),
    path("logout/", form_page(account.logout), name="account_logout"),
    path("signup/", form_page(account.signup), name="account_signup"),
    path("password/", form_page(account.password_change), name="account_change_password"),
    path("password/reset/", form_page(account.password_reset), name="account_reset_password"),
    path(
        "password/reset/sent/",
        page(account.password_reset_done),
        name="account_reset_password_done",
    ),
    re_path(
        r"^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        form_page(account.password_reset_from_key),
        name="account_reset_password_from_key",
    ),
    path(
        "password/reset/done/",
        page(account.password_reset_from_key_done),
        name="account_reset_password_from_key_done",
    ),
]

clinic_routes = [
    path("", people.overview, name="clinic"),
    path("policy/", rules.policy, name="clinic_policy"),
    path("details/", rules.details, name="clinic_details"),
    path("people/invite/", people.invite_colleague, name="clinic_invite_staff"),
    path("people/<uuid:membership_id>/role/give/", people.role_give, name="clinic_role_give"),
    path("people/<uuid:membership_id>/role/end/", people.role_end, name="clinic_role_end"),
    path(
        "invitations/<uuid:invitation_id>/revoke/",
        people.invitation_revoke,
        name="clinic_invitation_revoke",
    ),
    path(
        "invitations/<uuid:invitation_id>/renew/",
        people.invitation_renew,
        name="clinic_invitation_renew",
    ),
    path("patients/new/", patients.new_patient, name="clinic_new_patient"),
    path("patients/<uuid:patient_id>/", patients.patient, name="clinic_patient"),
    path(
        "patients/<uuid:patient_id>/contact/",
        patients.patient_contact,
        name="clinic_patient_contact",
    ),
    path("patients/<uuid:patient_id>/move/", patients.patient_move, name="clinic_patient_move"),
    path(
        "patients/<uuid:patient_id>/invite/", patients.patient_invite, name="clinic_patient_invite"
    ),
    path(
        "patients/<uuid:patient_id>/discharge/",
        patients.patient_discharge,
        name="clinic_patient_discharge",
    ),
]

urlpatterns = [
    path("", home.home, name="home"),
    path("account/", include(account_routes)),
    path("invitation/<str:token>/", invitation.invitation_accept, name="invitation_accept"),
    path("clinic/", include(clinic_routes)),
    path("patients/new/", own_patients.patient_new, name="patient_new"),
    path("patients/<uuid:patient_id>/invite/", own_patients.patient_invite, name="patient_invite"),
    path(
        "patients/<uuid:patient_id>/details/", own_patients.patient_details, name="patient_details"
    ),
    path("about/", about.about, name="about"),
    path("healthz", health.healthz, name="healthz"),
    path("demo/mailbox/", mailbox.mailbox, name="demo_mailbox"),
    path("demo/mailbox/<str:name>/", mailbox.mail, name="demo_mail"),
    path("api/schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("", include("programs.urls")),
    path("", include("adherence.urls")),
]
if settings.DEBUG:
    urlpatterns.append(path("design/", design.index, name="design"))
