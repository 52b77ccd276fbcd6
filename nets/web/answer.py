"""Yes or no to a duty by the signed link of a reminder, without logging in."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from nets import duties
from nets.reminders import answers


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def answer_by_link(request: HttpRequest, token: str) -> HttpResponse:
    """A GET asks and changes nothing, as mail scanners follow links; the buttons post the answer."""
    now = timezone.now()
    try:
        duty = answers.duty_of(token, now=now)
    except answers.LinkForged as problem:
        raise Http404(str(problem)) from None
    except answers.LinkRefused as problem:
        return _refused(request, str(problem))
    answered = ""
    if request.method == "POST":
        answered = request.POST.get("answer", "")
        if answered not in ("yes", "no"):
            return _private(HttpResponseBadRequest("Say yes or no."))
        try:
            duties.answer(duty, confirmed=answered == "yes", now=now)
        except duties.DutyRefused as problem:
            return _refused(request, problem.sentence)
    context = {"duty": duty, "session": duty.session, "answered": answered}
    return _private(render(request, "nets/answer.html", context))


def _refused(request: HttpRequest, sentence: str) -> HttpResponse:
    return _private(render(request, "nets/answer.html", {"refusal": sentence}, status=410))


def _private(response: HttpResponse) -> HttpResponse:
    """The address is a key: it is not to be indexed, nor told to the next page."""
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "same-origin"
    return response
