"""The session: each set a form, so that it works without scripts; the script makes it the stage."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from adherence.access import access_session
from adherence.forms.session import (
    COUNTS,
    FinishForm,
    PainBeforeForm,
    SetForm,
    StartForm,
    StopForm,
    posted,
)
from adherence.operations.corrections import undo_last_set
from adherence.operations.flags import stop_exercise
from adherence.operations.ratings import finish_with_ratings
from adherence.operations.sessions import (
    PainMoment,
    SessionRefused,
    SetState,
    day_to_log,
    log_set,
    rate_pain,
    start_session,
)
from adherence.queries.session import SessionPage, session_page, session_plan
from adherence.tasks import review_one
from clinic.access import own_record, patient_only, viewer_of
from clinic.queries import policy_of_patient
from programs.rules.dose import Side
from shared import clock
from shared.enqueue import enqueue


@require_POST
@patient_only
def start(request: HttpRequest) -> HttpResponse:
    """Start a session, or go back to the one that is open."""
    now, viewer = clock.now(), viewer_of(request)
    patient = own_record(viewer)
    form = StartForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("That did not work. Please tap Start again."))
        return redirect("today")
    try:
        session = start_session(
            patient=patient,
            client_key=form.cleaned_data["client_key"],
            day=day_to_log(
                patient=patient,
                on=form.cleaned_data["on"],
                now=now,
                backfill_hours=policy_of_patient(patient).backfill_hours,
            ),
            entered_by_id=viewer.user_id,
            now=now,
        )
    except SessionRefused as error:
        messages.error(request, str(error))
        return redirect("today")
    return redirect("session", session_id=session.pk)


@require_safe
@patient_only
def session(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Show the next thing to do: the pain question, a set, or the way to the end."""
    page = session_page(access_session(viewer_of(request), session_id))
    if not page.is_open:
        return redirect("session_done", session_id=session_id)
    asks_before = PainMoment.BEFORE not in page.ratings and not page.has_work
    if not asks_before and (page.next_up is None or page.must_stop):
        return redirect("session_finish", session_id=session_id)
    return render(
        request,
        "adherence/session.html",
        _stage(page) | {"before_form": _before_form(session_id) if asks_before else None},
    )


def _before_form(session_id: uuid.UUID, data: QueryDict | None = None) -> PainBeforeForm:
    form = PainBeforeForm(data)
    form.helper.form_action = reverse("session_before", args=[session_id])
    return form


def _stage(page: SessionPage) -> dict[str, Any]:
    """Return what the session screen needs, with and without its script."""
    session_id = page.session.pk
    addresses = {
        "sets": reverse("api_session_sets", args=[session_id]),
        "finish": reverse("session_finish", args=[session_id]),
        "stop": {
            str(row.item.prescription_id): reverse(
                "session_stop", args=[session_id, row.item.prescription_id]
            )
            for row in page.items
        },
    }
    return {
        "page": page,
        "plan": session_plan(page) | {"addresses": addresses},
        "set_form": _set_form(page),
    }


def _set_form(page: SessionPage, data: QueryDict | None = None) -> SetForm | None:
    """Return the form of the set that comes next, None when all are entered."""
    if page.next_up is None:
        return None
    item, one = page.next_up
    initial = {
        "client_key": uuid.uuid4(),
        "prescription": item.item.prescription_id,
        "number": one.plan.number,
        "side": one.plan.side.value,
    }
    return SetForm(data, plan=one.plan, initial=initial)


@require_POST
@patient_only
def rate_before(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Record pain before the first exercise."""
    now = clock.now()
    opened = access_session(viewer_of(request), session_id)
    form = _before_form(session_id, request.POST)
    if not form.is_valid():
        context = _stage(session_page(opened)) | {"before_form": form}
        return render(request, "adherence/session.html", context, status=422)
    rate_pain(
        session=opened,
        client_key=form.cleaned_data["client_key"],
        moment=PainMoment.BEFORE,
        score=form.cleaned_data["score"],
        occurred_at=now,
        now=now,
    )
    return redirect("session", session_id=session_id)


@require_POST
@patient_only
def log_one_set(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Log a set from the plain form; a number left empty is the number that was planned."""
    now = clock.now()
    opened = access_session(viewer_of(request), session_id)
    form = SetForm(request.POST)
    if not form.is_valid():
        return _set_again(request, opened, form)
    data = form.cleaned_data
    try:
        log_set(
            session=opened,
            client_key=data["client_key"],
            prescription_id=data["prescription"],
            number=data["number"],
            side=Side(data["side"]),
            state=SetState(data["state"]),
            repetitions=data.get("repetitions"),
            held_seconds=data.get("held_seconds"),
            moved_seconds=data.get("moved_seconds"),
            occurred_at=now,
            now=now,
        )
    except SessionRefused as error:
        messages.error(request, str(error))
    return redirect("session", session_id=session_id)


def _set_again(request: HttpRequest, opened: Any, form: SetForm) -> HttpResponse:
    """Show a refused set again with what was typed, while it is still the set that comes next."""
    page = session_page(opened)
    numbers_only = not form.errors.keys() - COUNTS.keys()
    if page.is_open and page.next_up and numbers_only and _is_next(page, form):
        context = _stage(page) | {"set_form": _set_form(page, request.POST)}
        return render(request, "adherence/session.html", context, status=422)
    messages.error(request, _("That did not work. Please enter the set again."))
    return redirect("session", session_id=opened.pk)


def _is_next(page: SessionPage, form: SetForm) -> bool:
    item, one = page.next_up or (None, None)
    data = form.cleaned_data
    return (
        item is not None
        and one is not None
        and data["prescription"] == item.item.prescription_id
        and (data["number"], data["side"]) == (one.plan.number, one.plan.side)
    )


@require_POST
@patient_only
def undo(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Take back the last set."""
    opened = access_session(viewer_of(request), session_id)
    if undo_last_set(session=opened, now=clock.now()) is None:
        messages.info(request, _("There is no set to take back."))
    return redirect("session", session_id=session_id)


@require_http_methods(["GET", "POST"])
@patient_only
def stop(request: HttpRequest, session_id: uuid.UUID, prescription_id: uuid.UUID) -> HttpResponse:
    """Sharp pain: advice at once, one tap to stop the exercise and tell the team."""
    now = clock.now()
    opened = access_session(viewer_of(request), session_id)
    form = StopForm(posted(request), initial={"prescription": prescription_id})
    if request.method == "POST" and form.is_valid():
        try:
            stop_exercise(
                session=opened,
                client_key=form.cleaned_data["client_key"],
                prescription_id=prescription_id,
                score=form.cleaned_data["score"],
                note=form.cleaned_data["note"],
                occurred_at=now,
                now=now,
            )
        except SessionRefused as error:
            form.add_error(None, str(error))
        else:
            return redirect("session_stopped", session_id=session_id)
    page = session_page(opened)
    item = next((i for i in page.items if i.item.prescription_id == prescription_id), None)
    return render(request, "adherence/stop.html", {"form": form, "page": page, "item": item})


@require_safe
@patient_only
def stopped(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Say what happens next after sharp pain: the team knows, what to do, whether to go on."""
    page = session_page(access_session(viewer_of(request), session_id))
    return render(request, "adherence/stopped.html", {"page": page})


@require_http_methods(["GET", "POST"])
@patient_only
def finish(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Ask how it was, and close the session with what was done."""
    opened = access_session(viewer_of(request), session_id)
    page = session_page(opened)
    if not page.is_open:
        return redirect("session_done", session_id=session_id)
    form = FinishForm(posted(request), initial={"worst": page.ratings.get(PainMoment.WORST)})
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            finish_with_ratings(
                session=opened,
                client_key=data["client_key"],
                worst=data["worst"],
                after=data["after"],
                stopped_early=page.next_up is not None,
                effort=data["effort"],
                note=data["note"],
                now=clock.now(),
            )
        except SessionRefused as error:
            form.add_error(None, str(error))
        else:
            enqueue(review_one, patient_id=str(opened.patient_id))
            return redirect("session_done", session_id=session_id)
    return render(request, "adherence/finish.html", {"form": form, "page": page})


@require_safe
@patient_only
def done(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Say in words what was done, and what the pain asks for."""
    page = session_page(access_session(viewer_of(request), session_id))
    if page.is_open:
        return redirect("session", session_id=session_id)
    return render(request, "adherence/done.html", {"page": page})
