"""The session: each set a form, so that it works without scripts; the script makes it the stage."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from adherence.access import access_session
from adherence.forms.session import FinishForm, PainBeforeForm, SetForm, StartForm, StopForm
from adherence.operations.flags import stop_exercise
from adherence.operations.sessions import (
    PainMoment,
    SessionRefused,
    SetState,
    day_to_log,
    finish_with_ratings,
    log_set,
    rate_pain,
    start_session,
    undo_last_set,
)
from adherence.queries.session import session_page, session_plan
from clinic.access import own_record, patient_only, viewer_of
from clinic.queries import policy_of_patient
from programs.rules.dose import Side
from shared import clock


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
        {
            "page": page,
            "plan": session_plan(page),
            "before_form": PainBeforeForm() if asks_before else None,
            "set_key": uuid.uuid4(),
        },
    )


@require_POST
@patient_only
def rate_before(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Record pain before the first exercise."""
    now = clock.now()
    opened = access_session(viewer_of(request), session_id)
    form = PainBeforeForm(request.POST)
    if not form.is_valid():
        page = session_page(opened)
        context = {"page": page, "plan": session_plan(page), "before_form": form}
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
        messages.error(request, _("Please enter whole numbers, none below 0."))
        return redirect("session", session_id=session_id)
    data = form.cleaned_data
    try:
        log_set(
            session=opened,
            client_key=data["client_key"],
            prescription_id=data["prescription"],
            number=data["number"],
            side=Side(data["side"]),
            state=SetState(data["state"]),
            repetitions=data["repetitions"],
            held_seconds=data["held_seconds"],
            moved_seconds=data["moved_seconds"],
            occurred_at=now,
            now=now,
        )
    except SessionRefused as error:
        messages.error(request, str(error))
    return redirect("session", session_id=session_id)


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
def stop(
    request: HttpRequest, session_id: uuid.UUID, prescription_id: uuid.UUID
) -> HttpResponse:
    """Sharp pain: advice at once, one tap to stop the exercise and tell the team."""
    now = clock.now()
    opened = access_session(viewer_of(request), session_id)
    form = StopForm(request.POST or None, initial={"prescription": prescription_id})
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
    form = FinishForm(request.POST or None, initial={"worst": page.ratings.get(PainMoment.WORST)})
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
