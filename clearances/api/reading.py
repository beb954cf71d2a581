"""Reading over the API: clearances, the log, the flags, and who I am."""

from typing import Any, cast

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_view
from rest_framework import generics, serializers
from rest_framework.exceptions import NotFound, PermissionDenied
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from .. import facts, flags
from ..models import Clearance, LogEntry, Person
from ..rooms import PAGES, own
from ..services import VERBS


class MeSerializer(serializers.Serializer[Person]):
    username = serializers.CharField()
    name = serializers.CharField(source="get_full_name")
    roles = serializers.ListField(child=serializers.CharField())
    may = serializers.SerializerMethodField(help_text="Names of the acts that belong to these roles.")

    def get_may(self, person: Person) -> list[str]:
        return sorted(name for name, verb in VERBS.items() if person.has_role(*verb.roles))


class PointSerializer(serializers.Serializer[Any]):
    device = serializers.CharField()
    phases = serializers.CharField()
    tag_number = serializers.CharField()
    open = serializers.CharField(help_text="Phases reported open.")
    inoperable = serializers.CharField(help_text="Phases reported made inoperable.")
    tagged = serializers.CharField(help_text="Phases under this clearance's live tag.")


class PathSerializer(serializers.Serializer[Any]):
    source_id = serializers.CharField(source="source")
    phases = serializers.CharField()
    words = serializers.CharField()


class StepSerializer(serializers.Serializer[Any]):
    half = serializers.CharField()
    place = serializers.IntegerField()
    operation = serializers.CharField()
    device = serializers.CharField()
    phases = serializers.CharField()
    state = serializers.CharField()
    tag_number = serializers.CharField()


class ClearanceSerializer(serializers.ModelSerializer[Clearance]):
    holder = serializers.CharField(source="holder.username")
    work = serializers.CharField()

    class Meta:
        model = Clearance
        fields = (
            "number",
            "state",
            "version",
            "holder",
            "crew",
            "work",
            "limits_words",
            "window_start",
            "promised_end",
            "latest_finish",
            "recall_minutes",
            "given_at",
            "accepted_at",
            "released_at",
        )


class FactsSerializer(serializers.Serializer[Any]):
    """A clearance with all that stands under it, as the rules see it."""

    number = serializers.IntegerField()
    state = serializers.CharField()
    holder = serializers.CharField()
    order_state = serializers.CharField()
    points = PointSerializer(many=True)
    steps = StepSerializer(many=True)
    paths = PathSerializer(
        many=True,
        help_text=(
            "Ways by which a source still reaches the limits, past reported, inoperable and tagged points."
        ),
    )
    people = serializers.ListField(child=serializers.CharField())
    grounds = serializers.ListField(child=serializers.CharField())
    tags = serializers.ListField(child=serializers.CharField())


class EntrySerializer(serializers.ModelSerializer[LogEntry]):
    class Meta:
        model = LogEntry
        fields = (
            "number",
            "verb",
            "words",
            "how",
            "clearance",
            "ordered_at",
            "done_at",
            "reported_at",
            "entered_at",
            "irregular",
            "digest",
        )


class FlagSerializer(serializers.Serializer[Any]):
    level = serializers.ChoiceField(["now", "soon"], source="flag.level")
    code = serializers.CharField(source="flag.code")
    about = serializers.CharField(source="flag.about")
    text = serializers.CharField(source="flag.text")
    clearance = serializers.IntegerField(source="flag.clearance", allow_null=True)
    since = serializers.DateTimeField()


def seen_by(person: Person) -> QuerySet[Clearance]:
    """The clearances a person may read, the newest first: the desk all, foremen and crews their own."""
    rows = Clearance.objects.all() if person.has_role(*PAGES["clearance"]) else own(person)
    return rows.select_related("job", "holder").order_by("-number")


class Me(APIView):
    permission_classes = (IsAuthenticated,)

    @extend_schema(responses=MeSerializer, operation_id="me")
    def get(self, request: Request) -> Response:
        """Who is signed in, with which roles, and what they may do."""
        return Response(MeSerializer(cast(Person, request.user)).data)


class Clearances(generics.ListAPIView[Clearance]):
    """The clearances that the person may read, the newest first."""

    roles = (*PAGES["clearance"], *PAGES["field"])
    serializer_class = ClearanceSerializer
    queryset = Clearance.objects.none()

    def get_queryset(self) -> QuerySet[Clearance]:
        return seen_by(cast(Person, self.request.user))


class OneClearance(APIView):
    roles = (*PAGES["clearance"], *PAGES["field"])

    @extend_schema(responses=FactsSerializer, operation_id="clearance_facts")
    def get(self, request: Request, pk: int) -> Response:
        """One clearance with points, steps, people, ground sets, tags, and the ways that still lead into its
        limits.
        """
        if not Clearance.objects.filter(pk=pk).exists():
            raise NotFound(f"There is no work clearance {pk}.")
        clearance = seen_by(cast(Person, request.user)).filter(pk=pk).first()
        if clearance is None:
            raise PermissionDenied(f"Work clearance {pk} is another crew's: you are not on it.")
        return Response(FactsSerializer(facts.facts_of(clearance)).data)


class Flags(APIView):
    roles = PAGES["board"]

    @extend_schema(responses=FlagSerializer(many=True), operation_id="flags")
    def get(self, request: Request) -> Response:
        """What a person ought to look at although nobody asked, the loud ones first; worked out now."""
        return Response(FlagSerializer(flags.current(), many=True).data)


@extend_schema_view(
    get=extend_schema(
        parameters=[OpenApiParameter("after", int, description="Number of the last entry that you have.")]
    )
)
class Log(generics.ListAPIView[LogEntry]):
    """The operations log, oldest first; `after` skips what you have."""

    roles = PAGES["board"]
    serializer_class = EntrySerializer
    queryset = LogEntry.objects.none()

    def get_queryset(self) -> QuerySet[LogEntry]:
        after = self.request.query_params.get("after", "0")
        return LogEntry.objects.filter(number__gt=int(after) if after.isdecimal() else 0).order_by("number")
