"""Reading devices and where they stand over the API."""

from typing import Any

from django.db.models import QuerySet
from django.utils.functional import SimpleLazyObject
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import generics, serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from circuits import positions
from circuits.models import Device, PositionReport

# Whoever operates, plans or looks at devices. Reports carry the names of crews, which customer service must
# not see (common practice).
MAY_READ = ("operator", "checker", "foreman", "crew", "engineer", "administrator")


class DeviceSerializer(serializers.ModelSerializer[Device]):
    street = serializers.CharField(source="structure.street", default="")
    open = serializers.SerializerMethodField(help_text="Letters of the phases that stand open.")

    class Meta:
        model = Device
        fields = ("id", "kind", "phases", "structure", "street", "normal_position", "visible_break", "open")

    def get_open(self, device: Device) -> str:
        opened: dict[str, str] = self.context["open"]
        return opened.get(device.pk, "")


class ReportSerializer(serializers.ModelSerializer[PositionReport]):
    class Meta:
        model = PositionReport
        fields = (
            "position",
            "made_inoperable",
            "said_by",
            "how",
            "ordered_at",
            "done_at",
            "reported_at",
            "entered_at",
            "irregular",
        )


class PhaseSerializer(serializers.Serializer[Any]):
    phase = serializers.CharField()
    position = serializers.ChoiceField(["open", "closed"])
    report = ReportSerializer(
        allow_null=True, help_text="What says so; null where nobody reported and the normal position stands."
    )


class OneDeviceSerializer(DeviceSerializer):
    positions = serializers.SerializerMethodField()

    class Meta(DeviceSerializer.Meta):
        fields = (*DeviceSerializer.Meta.fields, "positions")  # type: ignore[assignment]

    @extend_schema_field(PhaseSerializer(many=True))
    def get_positions(self, device: Device) -> list[dict[str, Any]]:
        opened = self.get_open(device)
        return [
            {
                "phase": phase,
                "position": "open" if phase in opened else "closed",
                "report": ReportSerializer(report).data if report else None,
            }
            for (_, phase), report in positions.details([device.pk]).items()
        ]


def _rows() -> QuerySet[Device]:
    return Device.objects.select_related("structure").order_by("pk")


class Devices(generics.ListAPIView[Device]):
    """The devices of the network in use, by number, and which of their phases stand open."""

    roles = MAY_READ
    serializer_class = DeviceSerializer
    queryset = _rows()

    def get_serializer_context(self) -> dict[str, Any]:
        # Not before it is asked for: the schema asks for nothing and has no database.
        return {**super().get_serializer_context(), "open": SimpleLazyObject(positions.open_phases)}


class OneDevice(APIView):
    roles = MAY_READ

    @extend_schema(
        operation_id="device",
        responses=OneDeviceSerializer,
        examples=[
            OpenApiExample(
                "A cutout with one phase opened",
                response_only=True,
                value={
                    "id": "C-221",
                    "kind": "cutout",
                    "phases": "ABC",
                    "structure": "P-220",
                    "street": "Ferry Street",
                    "normal_position": "closed",
                    "visible_break": True,
                    "open": "A",
                    "positions": [
                        {
                            "phase": "A",
                            "position": "open",
                            "report": {
                                "position": "open",
                                "made_inoperable": "barrels out, secured",
                                "said_by": "Max Lindner",
                                "how": "radio",
                                "ordered_at": "2026-05-14T08:39:10-04:00",
                                "done_at": "2026-05-14T08:41:00-04:00",
                                "reported_at": "2026-05-14T08:41:22-04:00",
                                "entered_at": "2026-05-14T08:41:22-04:00",
                                "irregular": "",
                            },
                        },
                        {"phase": "B", "position": "closed", "report": None},
                        {"phase": "C", "position": "closed", "report": None},
                    ],
                },
            )
        ],
    )
    def get(self, request: Request, pk: str) -> Response:
        """One device with the position of each phase and the report that says so: ordered, done, reported
        and entered at."""
        device = _rows().filter(pk=pk).first()
        if device is None:
            raise NotFound(f"There is no device {pk} on the network in use.")
        return Response(OneDeviceSerializer(device, context={"open": positions.open_phases()}).data)
