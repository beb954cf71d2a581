"""Reading over the API: clearances, the log, who I am, and what a caller may be told."""

from typing import Any, cast

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import generics, serializers
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from .. import facts
from ..models import Clearance, LogEntry, Person, Role
from ..services import VERBS


class DeskOnly(BasePermission):
    """The desk's own view of things: names, tags and telephone numbers are not for customer service."""

    message = "This is for the operations desk."

    def has_permission(self, request: Request, view: APIView) -> bool:
        person = request.user
        return isinstance(person, Person) and person.has_role(Role.OPERATOR, Role.CHECKER, Role.ENGINEER)


class CrewOrDesk(DeskOnly):
    """The desk, or a foreman or crew member; which clearances these see is the queryset's matter."""

    message = "This is for the operations desk and for the crews."

    def has_permission(self, request: Request, view: APIView) -> bool:
        person = request.user
        crew = isinstance(person, Person) and person.has_role(Role.FOREMAN, Role.CREW)
        return crew or super().has_permission(request, view)


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
    work = serializers.CharField(source="job.work")

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


def seen_by(person: Person) -> QuerySet[Clearance]:
    """The clearances a person may read: the desk all, a foreman or crew member those they hold, stand in for
    or are signed on under.
    """
    rows = Clearance.objects.select_related("job", "holder").order_by("-number")
    if person.has_role(Role.OPERATOR, Role.CHECKER, Role.ENGINEER):
        return rows
    mine = (
        rows.filter(holder=person) | rows.filter(alternate=person) | rows.filter(sign_ons__name=str(person))
    )
    return mine.distinct()


class Me(APIView):
    @extend_schema(responses=MeSerializer, operation_id="me")
    def get(self, request: Request) -> Response:
        """Who is signed in, with which roles, and what they may do."""
        return Response(MeSerializer(cast(Person, request.user)).data)


class Clearances(generics.ListAPIView[Clearance]):
    """The clearances that the person may read, the newest first."""

    serializer_class = ClearanceSerializer
    permission_classes = (CrewOrDesk,)
    queryset = Clearance.objects.none()

    def get_queryset(self) -> QuerySet[Clearance]:
        return seen_by(cast(Person, self.request.user))


class OneClearance(generics.GenericAPIView[Clearance]):
    permission_classes = (CrewOrDesk,)
    queryset = Clearance.objects.none()

    def get_queryset(self) -> QuerySet[Clearance]:
        return seen_by(cast(Person, self.request.user))

    @extend_schema(responses=FactsSerializer, operation_id="clearance_facts")
    def get(self, request: Request, pk: int) -> Response:
        """One clearance with points, steps, people, ground sets, tags, and the ways that still lead into its
        limits.
        """
        return Response(FactsSerializer(facts.facts_of(self.get_object())).data)


class Log(generics.ListAPIView[LogEntry]):
    """The operations log, oldest first; `after` skips what you have."""

    serializer_class = EntrySerializer
    permission_classes = (DeskOnly,)
    queryset = LogEntry.objects.none()

    def get_queryset(self) -> QuerySet[LogEntry]:
        after = self.request.query_params.get("after", "0")
        return LogEntry.objects.filter(number__gt=int(after) if after.isdigit() else 0).order_by("number")

    @extend_schema(
        parameters=[OpenApiParameter("after", int, description="Number of the last entry that you have.")]
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().get(request, *args, **kwargs)
