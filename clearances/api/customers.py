"""What a caller may be told, over the API: the same words as customer service reads on its one screen."""

from typing import Any, cast

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, extend_schema, extend_schema_view
from rest_framework import generics, serializers
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from circuits.models import Premises

from ..models import Person
from ..pages import service
from ..pages.picture import Picture
from ..rooms import PAGES


class FoundSerializer(serializers.Serializer[Premises]):
    premises = serializers.CharField(source="pk")
    address = serializers.SerializerMethodField()
    name = serializers.CharField()
    supply = serializers.SerializerMethodField(help_text="By what is reported, in words.")

    def get_address(self, one: Premises) -> str:
        return service.address_of(one)

    def get_supply(self, one: Premises) -> str:
        picture: Picture = self.context["picture"]
        return service.supply_of(picture.trace.supply_of(one.pk))


class AnswerSerializer(serializers.Serializer[Any]):
    where = serializers.CharField()
    behind = serializers.CharField(help_text="The transformer, and how many others it serves.")
    standing = serializers.ChoiceField(["out", "unknown", "planned", "on"])
    headline = serializers.CharField()
    back = serializers.CharField(help_text="Power back by, or what else is known of it.")
    more = serializers.CharField(allow_blank=True)
    say = serializers.CharField(allow_blank=True, help_text="To be read out; empty until the desk told.")
    approved_at = serializers.DateTimeField(allow_null=True, help_text="When the desk last told of it.")
    next_word_at = serializers.DateTimeField(allow_null=True, help_text="When there is more to be said.")
    medical = serializers.CharField()
    medical_open = serializers.BooleanField(help_text="Life-support, and no person there has answered yet.")
    facts = serializers.SerializerMethodField(help_text="More lines: what it is about, what is known.")
    ask = serializers.ListField(child=serializers.CharField(), help_text="What to ask the caller.")

    def get_facts(self, answer: dict[str, Any]) -> dict[str, str]:
        return dict(answer["facts"])


def _picture(request: Request) -> Picture:
    return Picture(cast(Person, request.user), "")


@extend_schema_view(
    get=extend_schema(
        parameters=[
            OpenApiParameter(
                "q",
                str,
                required=True,
                description="Parts of an address, name, meter number or telephone number.",
                examples=[OpenApiExample("Part of an address", value="quarry 22")],
            )
        ]
    )
)
class Customers(generics.ListAPIView[Premises]):
    """Premises that fit what a caller says; where none does, those that look like it."""

    roles = PAGES["service"]
    serializer_class = FoundSerializer
    queryset = Premises.objects.none()

    def get_queryset(self) -> QuerySet[Premises]:
        query = self.request.query_params.get("q", "").strip()
        if not 0 < len(query) <= service.LONGEST_QUERY:
            most = service.LONGEST_QUERY
            raise ValidationError({"q": [f"Give a part of an address or name, at most {most} characters."]})
        return service.search(query)

    def get_serializer_context(self) -> dict[str, Any]:
        return {**super().get_serializer_context(), "picture": _picture(self.request)}


class OneCustomer(APIView):
    roles = PAGES["service"]

    @extend_schema(operation_id="customer", responses=AnswerSerializer)
    def get(self, request: Request, pk: str) -> Response:
        """Out or not, planned or not, since when, back by when, and what was told. No crew, no tag."""
        one = Premises.objects.filter(pk=pk).first()
        if one is None:
            raise NotFound(f"There is no premises {pk}.")
        found = service.answer(_picture(request), one)
        return Response(AnswerSerializer(found["answer"] | {"ask": found["ask"]}).data)
