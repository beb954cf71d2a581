"""What if, over the API."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from circuits.api import MAY_READ
from circuits.core.answers import Answer
from circuits.core.parallels import Parallels
from circuits.core.whatif import OPERATIONS
from circuits.whatif import Asked, CannotSayError, ask

ANSWERS = ", ".join(answer.name.lower() for answer in Answer)


def _ids(help_text: str) -> serializers.ListField:
    return serializers.ListField(child=serializers.CharField(), help_text=help_text)


class QuestionSerializer(serializers.Serializer[Any]):
    device = serializers.CharField(max_length=100)
    phases = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=3,
        help_text="Letters; all the phases of the device if none is given.",
    )
    operation = serializers.ChoiceField(OPERATIONS)
    at = serializers.DateTimeField(
        required=False,
        allow_null=True,
        help_text="A past time: the devices as they stood then by what has been reported, on the network in "
        "use now. Without it, as they are reported to stand now.",
    )


class CountsSerializer(serializers.Serializer[Any]):
    energized = serializers.IntegerField()
    backfed = serializers.IntegerField(help_text="Possibly backfed, voltage not known.")
    generator = serializers.IntegerField(help_text="A customer's generator may feed it.")
    deenergized = serializers.IntegerField(help_text="De-energized by report.")


class NodePhasesSerializer(serializers.Serializer[Any]):
    before = CountsSerializer()
    after = CountsSerializer()


class PremisesSerializer(NodePhasesSerializer):
    newly_out = _ids("Out after and not before.")
    newly_backfed = _ids("On part of their phases or on a voltage that is not known, and not so before.")
    back = _ids("Energized after and not before.")
    one_feed_lost = _ids("With two feeds, of which one would be left if the transfer is made.")


class ChangeSerializer(serializers.Serializer[Any]):
    phases = serializers.CharField()
    before = serializers.CharField(help_text=f"One of: {ANSWERS}.")
    after = serializers.CharField(help_text=f"One of: {ANSWERS}.")
    now = serializers.CharField(help_text="Why, in words.")
    then = serializers.CharField(help_text="Why it would be so, in words.")
    nodes = _ids("The nodes of which these phases change.")
    places = _ids("Their poles and other structures.")


class UnlikeSerializer(serializers.Serializer[Any]):
    device = serializers.CharField()
    from_phases = serializers.CharField()
    to_phases = serializers.CharField()


class LoopSerializer(serializers.Serializer[Any]):
    phases = serializers.CharField()
    devices = _ids("The devices that close it.")
    sources = _ids("The stations that it parallels, if any.")
    like = serializers.BooleanField(help_text="Whether these are on record as fit to be paralleled.")
    out_of_step = serializers.BooleanField(help_text="Whether its banks turn the voltage differently.")


class JoinedSerializer(serializers.Serializer[Any]):
    unlike = UnlikeSerializer(many=True, help_text="Secondary ties across unlike phases.")
    loops = LoopSerializer(many=True, help_text="Loops and paralleled sources.")
    two_feeds = _ids("Premises that may join their two feeds.")


class WhatIfSerializer(serializers.Serializer[Any]):
    device = serializers.CharField()
    phases = serializers.CharField()
    operation = serializers.ChoiceField(OPERATIONS)
    moved = serializers.CharField(help_text="The phases that would move: those that do not stand so already.")
    sentences = _ids("All that follows, in words, what is joined first.")
    node_phases = NodePhasesSerializer()
    premises = PremisesSerializer()
    changes = ChangeSerializer(many=True)
    made = JoinedSerializer(help_text="What would be joined that is not now.")
    undone = JoinedSerializer(help_text="What is joined now and would not be.")
    kva = serializers.DictField(
        child=serializers.FloatField(),
        help_text="By phase, the size of the transformers that would lose or gain their supply.",
    )
    sources_lost = _ids("Stations that would no longer feed something that they feed.")
    machines = _ids("Customers' machines that may run on what would be energized.")
    computed_from = serializers.CharField()
    assumptions = _ids("What every answer assumes.")


class WhatIf(APIView):
    roles = MAY_READ

    @extend_schema(
        operation_id="what_if",
        request=QuestionSerializer,
        responses={
            200: WhatIfSerializer,
            400: OpenApiResponse(
                inline_serializer("CannotSay", {"detail": serializers.CharField()}),
                "A device or phase that is not there, a time to come; or a field that can't be read.",
            ),
        },
        examples=[
            OpenApiExample(
                "Opening phase A of a cutout",
                request_only=True,
                value={"device": "C-221", "phases": "A", "operation": "open"},
            ),
            OpenApiExample(
                "Closing all phases of a tie, as the devices stood at a past time",
                request_only=True,
                value={"device": "N-7", "operation": "close", "at": "2026-05-14T08:40:00-04:00"},
            ),
            OpenApiExample(
                "There is no such device",
                response_only=True,
                status_codes=["400"],
                value={"detail": "There is no device C-999 on the network in use."},
            ),
            OpenApiExample(
                "A lateral's cutout on phase B",
                response_only=True,
                status_codes=["200"],
                value={
                    "device": "C-233",
                    "phases": "B",
                    "operation": "open",
                    "moved": "B",
                    "sentences": [
                        "10 customers would be out: 6 of T-252, 4 of T-253.",
                        (
                            "Phase B at P-236, P-251 and 2 more places: now energized from ST-1; "
                            "then de-energized by report: C-233 open."
                        ),
                        "It would break the load of transformers of 40 kVA on phase B.",
                    ],
                    "node_phases": {
                        "before": {"energized": 265, "backfed": 0, "generator": 0, "deenergized": 0},
                        "after": {"energized": 257, "backfed": 0, "generator": 0, "deenergized": 8},
                    },
                    "premises": {
                        "before": {"energized": 198, "backfed": 0, "generator": 0, "deenergized": 0},
                        "after": {"energized": 188, "backfed": 0, "generator": 0, "deenergized": 10},
                        "newly_out": [str(number) for number in range(1189, 1199)],
                        "newly_backfed": [],
                        "back": [],
                        "one_feed_lost": [],
                    },
                    "changes": [
                        {
                            "phases": "B",
                            "before": "energized",
                            "after": "deenergized",
                            "now": "energized from ST-1",
                            "then": "de-energized by report: C-233 open",
                            "nodes": [
                                "P-236b",
                                "P-251",
                                "P-252",
                                "P-252t",
                                "P-253",
                                "P-253t",
                                "T-252s",
                                "T-253s",
                            ],
                            "places": ["P-236", "P-251", "P-252", "P-253"],
                        }
                    ],
                    "made": {"unlike": [], "loops": [], "two_feeds": []},
                    "undone": {"unlike": [], "loops": [], "two_feeds": []},
                    "kva": {"B": 40.0},
                    "sources_lost": ["ST-1"],
                    "machines": [],
                    "computed_from": "Network revision 1, imported Mon 4 May 2026 09:00; "
                    "positions as reported until Thu 14 May 2026 08:39.",
                    "assumptions": [
                        "A phase that nobody has reported counts as standing in its normal position."
                    ],
                },
            ),
        ],
    )
    def post(self, request: Request) -> Response:
        """What would change if phases of a device were opened or closed: who would be out, what possibly
        backfed, what looped, paralleled or joined across unlike phases. Nothing is ordered or recorded by
        asking.
        """
        body = QuestionSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        try:
            asked = ask(**body.validated_data)
        except CannotSayError as error:
            raise ParseError(str(error)) from None
        return Response(_answer(asked))


def _answer(asked: Asked) -> dict[str, Any]:
    found = asked.found
    return {
        "device": found.device.id,
        "phases": found.phases,
        "operation": found.operation,
        "moved": found.moved,
        "sentences": found.sentences,
        "node_phases": {
            "before": _counts(found.node_phases_before),
            "after": _counts(found.node_phases_after),
        },
        "premises": {
            "before": _counts(found.premises_before),
            "after": _counts(found.premises_after),
            "newly_out": found.newly_out,
            "newly_backfed": found.newly_backfed,
            "back": found.back,
            "one_feed_lost": found.one_feed_lost,
        },
        "changes": [
            {**asdict(run), "before": run.before.name.lower(), "after": run.after.name.lower()}
            for run in found.runs
        ],
        "made": _joined(found.made),
        "undone": _joined(found.undone),
        "kva": found.kva,
        "sources_lost": found.sources_lost,
        "machines": found.machines,
        "computed_from": asked.computed_from,
        "assumptions": asked.assumptions,
    }


def _counts(by_answer: Mapping[Answer, int]) -> dict[str, int]:
    return {answer.name.lower(): count for answer, count in by_answer.items()}


def _joined(found: Parallels) -> dict[str, Any]:
    return {
        "unlike": [asdict(tie) for tie in found.unlike],
        "loops": [
            {
                "phases": loop.phases,
                "devices": loop.devices,
                "sources": loop.sources,
                "like": loop.like,
                "out_of_step": loop.out_of_step,
            }
            for loop in found.loops
        ],
        "two_feeds": [one.premises for one in found.two_feeds],
    }
