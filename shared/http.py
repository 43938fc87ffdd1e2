"""Typed requests, and the shape of an error that a program can read (RFC 9457)."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter, inline_serializer
from rest_framework import exceptions, serializers
from rest_framework.pagination import LimitOffsetPagination
from rest_framework.parsers import JSONParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import exception_handler


class Problem(exceptions.APIException):
    """An anticipated refusal: 4xx with a code that a program can act on."""

    def __init__(self, *, code: str, detail: str, status: int = 409) -> None:
        super().__init__(detail=detail, code=code)
        self.status_code = status


class SteadyJSONParser(JSONParser):
    """Refuses JSON that is nested too deep to be read as it refuses what is no JSON."""

    def parse(self, *args: Any, **kwargs: Any) -> Any:
        try:
            return super().parse(*args, **kwargs)
        except RecursionError as error:
            raise exceptions.ParseError(_("This is nested too deep to be read.")) from error


def problem_handler(exc: Exception, context: dict[str, Any]) -> Response | None:
    """Render every API error as application/problem+json with `code`, `detail` and `errors`."""
    response = exception_handler(exc, context)
    if response is None:
        return None
    body: dict[str, Any] = {"status": response.status_code}
    if isinstance(exc, exceptions.ValidationError):
        body |= {
            "code": "invalid",
            "title": _("Some values cannot be used."),
            "errors": exc.get_full_details(),
        }
    elif isinstance(exc, exceptions.APIException):
        code = exc.get_codes()
        body |= {"code": code if isinstance(code, str) else "invalid", "title": str(exc.detail)}
    elif isinstance(exc, Http404):
        body |= {"code": "not_found", "title": _("Not found.")}
    elif isinstance(exc, PermissionDenied):
        body |= {"code": "permission_denied", "title": _("Not allowed.")}
    response.data = body
    response.content_type = "application/problem+json"
    return response


PAGE_PARAMETERS = [
    OpenApiParameter("limit", int, description="How many at most, 100 or fewer."),
    OpenApiParameter("offset", int, description="How many to leave out at the beginning."),
]


class Pages(LimitOffsetPagination):
    """Part of a list, never more than a hundred."""

    max_limit = 100


def paged(request: Request, rows: Any, serializer: type[Any]) -> Response:
    """Answer with the part of `rows` that the request asks for."""
    pages = Pages()
    page: Any = pages.paginate_queryset(rows, request)
    return pages.get_paginated_response(serializer(page, many=True).data)


def paged_shape(serializer: type[Any]) -> Any:
    """Return the shape of what `paged` answers, for the schema."""
    return inline_serializer(
        name=f"PageOf{serializer.__name__}",
        fields={
            "count": serializers.IntegerField(),
            "next": serializers.URLField(allow_null=True),
            "previous": serializers.URLField(allow_null=True),
            "results": serializer(many=True),
        },
    )


PROBLEM_SHAPE = {
    "type": "object",
    "description": "A refusal; `code` is for programs, `title` is for people.",
    "properties": {
        "status": {"type": "integer"},
        "code": {"type": "string"},
        "title": {"type": "string"},
        "errors": {"type": "object", "description": "By field, where the code is `invalid`."},
    },
    "required": ["status", "code", "title"],
}


def tell_problems(result: dict[str, Any], **_context: Any) -> dict[str, Any]:
    """Add to every operation of a schema what a refusal looks like."""
    result["components"]["schemas"]["Problem"] = PROBLEM_SHAPE
    reference = {"schema": {"$ref": "#/components/schemas/Problem"}}
    for methods in result["paths"].values():
        for operation in methods.values():
            operation["responses"]["default"] = {
                "description": "Refused.",
                "content": {"application/problem+json": reference},
            }
    return result
