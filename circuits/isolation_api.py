"""How limits stand and how they could be parted, over the API."""

from typing import Any

from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from circuits.api import MAY_READ
from circuits.core.planning.plans import ASSUMPTIONS, Plan, sentences
from circuits.core.proving.proof import Proof, Status
from circuits.isolation import Answer, Asked, ask
from circuits.whatif import CannotSayError

MOST_PLANS = 5


def _texts(help_text: str) -> serializers.ListField:
    return serializers.ListField(child=serializers.CharField(), help_text=help_text)


class NodePhasesOfLimitsSerializer(serializers.Serializer[Any]):
    node = serializers.CharField(max_length=200)
    phases = serializers.RegexField("^(?=[ABC])A?B?C?$", help_text="Letters, in order.")


class WindowSerializer(serializers.Serializer[Any]):
    start = serializers.DateTimeField()
    end = serializers.DateTimeField()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["end"] <= attrs["start"]:
            raise serializers.ValidationError("The window ends before it begins.")
        return attrs


class IsolationQuestionSerializer(serializers.Serializer[Any]):
    from_structure = serializers.CharField(max_length=200, required=False, help_text="A pole, by its number.")
    to_structure = serializers.CharField(max_length=200, required=False)
    phases = serializers.RegexField("^(?=[ABC])A?B?C?$", required=False, help_text="Letters, in order.")
    transformer = serializers.CharField(max_length=200, required=False, help_text="From its own cutout on.")
    nodes = NodePhasesOfLimitsSerializer(many=True, required=False)
    window = WindowSerializer(
        required=False,
        help_text="When the work is to be: what other work clearances have then is left alone, but points of "
        "those that are only asked for may be shared. Without it what stands now is.",
    )
    by_phase = serializers.BooleanField(
        default=False,
        help_text="Whether a device with a handle for each phase may be opened on some. A work clearance has "
        "whole devices for points.",
    )
    how_many = serializers.IntegerField(default=3, min_value=1, max_value=MOST_PLANS)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        poles = all(attrs.get(name) for name in ("from_structure", "to_structure", "phases"))
        if [poles, bool(attrs.get("transformer")), bool(attrs.get("nodes"))].count(True) != 1:
            raise serializers.ValidationError(
                "Give the limits in one way: two structures and phases, a transformer, or nodes."
            )
        return attrs


class MeasureSerializer(serializers.Serializer[Any]):
    kind = serializers.CharField()
    device = serializers.CharField(allow_blank=True)
    words = serializers.CharField()


class ProofLineSerializer(serializers.Serializer[Any]):
    status = serializers.ChoiceField([str(one) for one in Status])
    phases = serializers.CharField()
    from_source = serializers.CharField()
    words = serializers.CharField(help_text="The way, from the source to the limits.")
    opens = serializers.IntegerField(help_text="How many reported opens stand in a row on the weakest way.")
    depth = serializers.CharField()
    measure = MeasureSerializer(allow_null=True, help_text="What a person would do about it.")


class ProofSerializer(serializers.Serializer[Any]):
    lines = ProofLineSerializer(many=True)
    faults = _texts("What is wrong with the limits.")
    notes = _texts("What a person ought to look at besides.")
    assumed = _texts("What every line assumes.")
    not_on_record = _texts("What is in no proof.")


class PointOfPlanSerializer(serializers.Serializer[Any]):
    device = serializers.CharField()
    open = serializers.CharField(allow_blank=True, help_text="Phases to open and tag.")
    check_open = serializers.CharField(
        allow_blank=True, help_text="Phases that stand open: to be checked open and tagged, not operated."
    )
    at_its_control = serializers.BooleanField(help_text="Whether its point of control needs a tag too.")
    visible_break = serializers.BooleanField()
    sources = _texts("Customers' machines of which it is the disconnect.")
    words = serializers.CharField()


class OperationOfPlanSerializer(serializers.Serializer[Any]):
    device = serializers.CharField()
    phases = serializers.CharField()
    operation = serializers.ChoiceField(["open", "close"])


class CarriedSerializer(serializers.Serializer[Any]):
    kind = serializers.CharField()
    id = serializers.CharField()
    phase = serializers.CharField()
    amps = serializers.FloatField()
    rating = serializers.FloatField()


class PlanSerializer(serializers.Serializer[Any]):
    points = PointOfPlanSerializer(many=True)
    shared = _texts("Which points are others' too, when, and what that means, in a sentence each.")
    moved = OperationOfPlanSerializer(many=True, help_text="Ties to close, and devices opened for them.")
    out = _texts("Premises that lose their supply.")
    partly = _texts("Premises on part of their phases or on a voltage that is not known.")
    customers = serializers.IntegerField()
    customers_without_ties = serializers.IntegerField(help_text="If no tie were closed.")
    customer_minutes = serializers.FloatField(allow_null=True, help_text="Over the window, if one was given.")
    life_support = _texts("Premises.")
    critical = _texts("Premises.")
    operations = serializers.IntegerField()
    without_visible_open = _texts("Points.")
    capacitors = _texts("Capacitors with the limits.")
    used = CarriedSerializer(many=True, help_text="The fullest of what carries more than now.")
    proven = serializers.BooleanField(help_text="Whether no plan has fewer customers out, weighted.")
    gap = serializers.FloatField(help_text="How much less, as a part, a plan may still cost.")
    sentences = _texts("All of it in words.")


class OtherSerializer(serializers.Serializer[Any]):
    name = serializers.CharField(help_text="A device or a node.")
    whose = serializers.CharField()


class IsolationSerializer(serializers.Serializer[Any]):
    limits = NodePhasesOfLimitsSerializer(many=True)
    proof = ProofSerializer(help_text="As everything is reported now, without a point for these limits.")
    plans = PlanSerializer(many=True)
    cannot = serializers.CharField(allow_blank=True, help_text="Why there is no plan.")
    told = _texts("What to know besides.")
    thrown_away = _texts("Plans that did not pass the proof, with why.")
    undecided = _texts("Customers' machines that no device parts from the limits.")
    kept = OtherSerializer(many=True, help_text="Devices that are not operated since others have them.")
    computed_from = serializers.CharField()
    assumptions = _texts("What every plan assumes.")


class Isolation(APIView):
    roles = MAY_READ

    @extend_schema(
        operation_id="isolation",
        request=IsolationQuestionSerializer,
        responses={
            200: IsolationSerializer,
            400: OpenApiResponse(
                inline_serializer("NoSuchLimits", {"detail": serializers.CharField()}),
                "A pole, node, phase or transformer that is not there; or a field that can't be read.",
            ),
        },
        examples=[
            OpenApiExample(
                "From pole to pole, in a window",
                request_only=True,
                value={
                    "from_structure": "P-213",
                    "to_structure": "P-218",
                    "phases": "ABC",
                    "window": {"start": "2026-05-14T08:30:00-04:00", "end": "2026-05-14T12:00:00-04:00"},
                },
            ),
            OpenApiExample(
                "A transformer behind its own cutout", request_only=True, value={"transformer": "T-210"}
            ),
            OpenApiExample(
                "Nodes",
                request_only=True,
                value={"nodes": [{"node": "P-251", "phases": "B"}], "by_phase": True, "how_many": 1},
            ),
            OpenApiExample(
                "There is no such pole",
                response_only=True,
                status_codes=["400"],
                value={"detail": "There is no pole or other structure P-999."},
            ),
        ],
    )
    def post(self, request: Request) -> Response:
        """The proof of how these limits stand, and the best few ways to part them from every source with the
        fewest customers out. Nothing is ordered or recorded by asking."""
        body = IsolationQuestionSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        given = body.validated_data
        window = given.get("window")
        asked = Asked(
            from_structure=given.get("from_structure", ""),
            to_structure=given.get("to_structure", ""),
            phases=given.get("phases", ""),
            transformer=given.get("transformer", ""),
            nodes=tuple((one["node"], one["phases"]) for one in given.get("nodes", ())),
        )
        try:
            answer = ask(
                asked,
                window=(window["start"], window["end"]) if window else None,
                by_phase=given["by_phase"],
                how_many=given["how_many"],
            )
        except CannotSayError as error:
            raise ParseError(str(error)) from None
        return Response(_answer(answer))


def _answer(answer: Answer) -> dict[str, Any]:
    return {
        "limits": [{"node": node, "phases": phases} for node, phases in answer.limits],
        "proof": _proof(answer.proof),
        "plans": [_plan(answer, plan) for plan in answer.plans.plans],
        "cannot": answer.cannot,
        "told": answer.plans.told,
        "thrown_away": answer.plans.thrown_away,
        "undecided": answer.plans.undecided,
        "kept": [{"name": device, "whose": whose} for device, whose in sorted(answer.others.kept.items())],
        "computed_from": answer.computed_from,
        "assumptions": ASSUMPTIONS,
    }


def _proof(proof: Proof) -> dict[str, Any]:
    return {
        "lines": [
            {
                "status": str(line.status),
                "phases": line.phases,
                "from_source": line.source,
                "words": line.words,
                "opens": line.opens,
                "depth": line.depth,
                "measure": line.measure
                and {"kind": line.measure.kind, "device": line.measure.device, "words": line.measure.words},
            }
            for line in proof.lines
        ],
        "faults": proof.faults,
        "notes": proof.notes,
        "assumed": proof.assumed,
        "not_on_record": proof.not_on_record,
    }


def _plan(answer: Answer, plan: Plan) -> dict[str, Any]:
    return {
        "points": [
            {
                "device": point.device.id,
                "open": point.open,
                "check_open": point.check_open,
                "at_its_control": point.at_its_control,
                "visible_break": point.device.visible_break,
                "sources": point.sources,
                "words": point.words,
            }
            for point in plan.points
        ],
        "shared": plan.shared,
        "moved": [
            {"device": one.device.id, "phases": one.phases, "operation": "close" if one.closes else "open"}
            for one in plan.moved
        ],
        "out": plan.out,
        "partly": plan.partly,
        "customers": plan.customers,
        "customers_without_ties": plan.out_without_ties,
        "customer_minutes": None if answer.minutes is None else plan.customer_minutes(answer.minutes),
        "life_support": plan.life_support,
        "critical": plan.critical,
        "operations": plan.operations,
        "without_visible_open": plan.without_visible_open,
        "capacitors": plan.capacitors,
        "used": [
            {"kind": one.kind, "id": one.id, "phase": one.phase, "amps": one.amps, "rating": one.rating}
            for one in plan.used
        ],
        "proven": plan.proven,
        "gap": plan.gap,
        "sentences": sentences(answer.compiled, plan, answer.minutes),
    }
