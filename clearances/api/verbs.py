"""Every verb of the board over the API: one POST each, its fields read from the verb's own signature.

So the API can do exactly what the pages can, under the same roles, rules and database refusals, and can't
drift from them.
"""

import datetime
import functools
import inspect
from collections.abc import Callable, Mapping
from typing import Any, cast, get_type_hints

from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema, extend_schema_view
from rest_framework import serializers, status
from rest_framework.exceptions import ValidationError
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from ..clause_set import named
from ..models import HoldReport, Person, Role, VoltageTest
from ..services import VERBS
from ..services.phone import Phone
from ..services.verb import Outcome, Refused, Stale, Verb, Who, role_refusal
from ..signing_in import WAIT, is_password_of
from .examples import EXAMPLES

_FIELDS: dict[Any, Callable[..., serializers.Field[Any, Any, Any, Any]]] = {
    str: serializers.CharField,
    int: serializers.IntegerField,
    bool: serializers.BooleanField,
    datetime.datetime: serializers.DateTimeField,
    datetime.date: serializers.DateField,
}
# Arguments that are more than their type says.
_NAMED: dict[str, Callable[..., serializers.Field[Any, Any, Any, Any]]] = {
    "phases": functools.partial(serializers.RegexField, r"^A?B?C?\Z", max_length=3),
    "position": functools.partial(serializers.ChoiceField, ["open", "closed"]),
    "result": functools.partial(serializers.ChoiceField, VoltageTest.Result.choices),
    "said": functools.partial(serializers.ChoiceField, HoldReport.Said.choices),
}
# Refusals that are answered with another status than 422.
_STATUS = {
    "role": status.HTTP_403_FORBIDDEN,
    "not_the_holder": status.HTTP_403_FORBIDDEN,
    "unknown": status.HTTP_404_NOT_FOUND,
}


class PhoneSerializer(serializers.Serializer[Any]):
    """What a telephone says of its own time. What was pressed more than a minute before it was sent is a late
    report: taken down, never acted upon as if it were now."""

    said_at = serializers.DateTimeField(help_text="When it was pressed, by the telephone's own clock.")
    sent_at = serializers.DateTimeField(help_text="When it was sent, by the same clock.")
    sequence = serializers.IntegerField(
        min_value=0, max_value=2**31 - 1, help_text="Its number among all that this telephone has sent."
    )


class WhoSerializer(serializers.Serializer[Any]):
    """What every act carries beside its own fields."""

    key = serializers.UUIDField(
        help_text="Idempotency key: the same key sent again gives the first answer and changes nothing."
    )
    speaking_for = serializers.SlugRelatedField(
        slug_field="username",
        queryset=Person.objects.filter(is_active=True),
        required=False,
        help_text="Log-in name of the person whose word the operator enters.",
    )
    how = serializers.ChoiceField(choices=["board", "radio", "telephone", "in person"], default="board")
    phone_clock = PhoneSerializer(required=False)


class DoneSerializer(serializers.Serializer[Any]):
    entry = serializers.IntegerField(help_text="Number of the log entry.")
    words = serializers.CharField()
    irregular = serializers.CharField(help_text="Why it is out of the ordinary; empty if it is not.")
    repeated = serializers.BooleanField(help_text="The key had been used: this is the first answer again.")


class RefusalSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    about = serializers.CharField()
    text = serializers.CharField()
    clause = serializers.CharField(source="clause.number")
    mark = serializers.CharField(source="clause.mark")
    way_past = serializers.CharField()


class RefusedSerializer(serializers.Serializer[Any]):
    refusals = RefusalSerializer(many=True)


class StaleSerializer(serializers.Serializer[Any]):
    stale = serializers.CharField()


def _field(name: str, kind: Any, *, required: bool) -> serializers.Field[Any, Any, Any, Any]:
    optional: dict[str, Any] = {} if required else {"required": False}
    if name in _NAMED:
        return _NAMED[name](**optional)
    if kind in _FIELDS:
        blank = {"allow_blank": True} if kind is str and not required else {}
        return _FIELDS[kind](**optional, **blank)
    if Person in getattr(kind, "__args__", ()):
        people = Person.objects.filter(is_active=True)
        return serializers.SlugRelatedField(
            slug_field="username", queryset=people, allow_null=True, **optional
        )
    if getattr(kind, "__origin__", None) is Mapping:
        return serializers.DictField(child=serializers.CharField(allow_blank=True), **optional)
    if str in getattr(kind, "__args__", ()):
        return serializers.ListField(child=serializers.CharField(), **optional)
    inner = next(one for one in kind.__args__ if one in _FIELDS)
    return _FIELDS[inner](allow_null=True, **optional)


def serializer_of(verb: Verb) -> type[WhoSerializer]:
    """The body of one verb: its keyword arguments, and who does it."""
    service = inspect.unwrap(verb.run)
    hints = get_type_hints(service)
    fields: dict[str, Any] = {
        name: _field(name, hints[name], required=parameter.default is inspect.Parameter.empty)
        for name, parameter in inspect.signature(service).parameters.items()
        if parameter.kind is inspect.Parameter.KEYWORD_ONLY
    }
    if verb.again:
        fields["password"] = serializers.CharField(write_only=True, help_text="Your own, again.")
    return type(f"{_camel(verb)}Serializer", (WhoSerializer,), fields)


def _camel(verb: Verb) -> str:
    return verb.name.title().replace("_", "")


class VerbView(APIView):
    """POST one act. 201 done, 200 done before with this key, 403 not yours to do, 404 about nothing that is
    there, 409 the picture has changed, 422 refused with the reasons; 400 the body is not understood.
    """

    verb: Verb
    body: type[WhoSerializer]
    permission_classes = (IsAuthenticated,)  # the role is asked below, and refused as the verb refuses it

    def post(self, request: Request) -> Response:
        person = cast(Person, request.user)
        if not person.has_role(*self.verb.roles):
            return _answer(Refused((role_refusal(person, self.verb.roles),)))
        body = self.body(data=request.data)
        body.is_valid(raise_exception=True)
        data = dict(body.validated_data)
        if self.verb.again and not is_password_of(person, data.pop("password"), request._request):
            raise ValidationError({"password": [f"That is not your password. {WAIT} Nothing was changed."]})
        phone = Phone.of(**data.pop("phone_clock")) if "phone_clock" in data else None
        who = Who(person, data.pop("speaking_for", None), data.pop("how"), data.pop("key"), phone)
        return _answer(self.verb.run(who, **data))


def _answer(outcome: Outcome) -> Response:
    if isinstance(outcome, Stale):
        return Response({"stale": outcome.sentence}, status=status.HTTP_409_CONFLICT)
    if isinstance(outcome, Refused):
        codes = (refusal.code for refusal in outcome.refusals)
        code = next(
            (_STATUS[code] for code in codes if code in _STATUS), status.HTTP_422_UNPROCESSABLE_ENTITY
        )
        return Response(RefusedSerializer({"refusals": named(outcome.refusals)}).data, status=code)
    entry = outcome.entry
    answer = {
        "entry": entry.number,
        "words": entry.words,
        "irregular": entry.irregular,
        "repeated": outcome.repeated,
    }
    return Response(answer, status=status.HTTP_200_OK if outcome.repeated else status.HTTP_201_CREATED)


def view_of(verb: Verb) -> Callable[..., Any]:
    """The view of one verb, documented from its docstring."""
    body = serializer_of(verb)
    roles = ", ".join(Role(role).label for role in verb.roles)
    example = EXAMPLES.get(verb.name)
    described = extend_schema(
        operation_id=verb.name,
        request=body,
        responses={
            201: DoneSerializer,
            200: OpenApiResponse(DoneSerializer, "The key had been used."),
            403: OpenApiResponse(RefusedSerializer, "Not yours to do."),
            404: OpenApiResponse(RefusedSerializer, "What it is about is not there."),
            409: OpenApiResponse(StaleSerializer, "The picture has changed since it was read."),
            422: OpenApiResponse(RefusedSerializer, "A rule stands against it."),
        },
        description=f"{inspect.getdoc(inspect.unwrap(verb.run))}\n\nFor: {roles}.",
        examples=[OpenApiExample(verb.name, value=example, request_only=True)] if example else [],
        tags=["acts"],
    )
    kind: type[VerbView] = type(f"{_camel(verb)}View", (VerbView,), {"verb": verb, "body": body})
    return extend_schema_view(post=described)(kind).as_view()


ALL = {name: view_of(verb) for name, verb in VERBS.items()}
