"""Choosing the points, the order, its check."""

from typing import Any

from django import forms
from django.http import Http404

from circuits.models import Device, Source

from ..services import planning
from ..services.switching import where, words_of
from .asking import WhyForm
from .base import Act, ActForm, Facts, act


class PointsForm(ActForm):
    devices = forms.CharField(
        label="Points, in the order in which they are opened",
        required=False,
        help_text="Device numbers, parted by blanks. Press a device below to add it.",
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "list": "devices"}
        ),
    )

    def clean_devices(self) -> list[str]:
        return list(dict.fromkeys(self.cleaned_data["devices"].replace(",", " ").upper().split()))


@act
class ChoosePoints(Act):
    name = "choose_points"
    form = PointsForm
    label = "Choose the points"
    sentence = "An order that was written before is thrown away."
    versioned = True

    def initial(self) -> dict[str, Any]:
        chosen = [point.device_id for point in self.clearance.points.all()]
        wanted = self.param("add")
        return {"devices": " ".join(dict.fromkeys([*chosen, *([wanted] if wanted else [])]))}

    def about(self) -> Facts:
        facts = super().about()
        chosen = self.clearance.points.select_related("device__structure")
        if chosen:
            facts.append(
                (
                    "Chosen now",
                    [f"{point.device_id} {point.phases} at {where(point.device)}" for point in chosen],
                )
            )
        ways = planning.ways_in(self.clearance)
        devices = Device.objects.select_related("structure").in_bulk(
            {device for _, found in ways for device, _ in found}
        )
        for path, found in ways:
            at = [
                f"{device} at {where(devices[device])}: opening it takes {customers} customers out"
                f"{'' if devices[device].visible_break else '; no visible break'}"
                for device, customers in found
            ]
            facts.append((f"Fed by {path.source}, phase {path.phases}", [path.words, *at]))
        if not ways:
            facts.append(
                (
                    "With these points",
                    "No source on record reaches the limits. Sources that are not on record can.",
                )
            )
        return facts


class DecisionForm(ActForm):
    decision = forms.CharField(
        label="What was decided, and why it is enough",
        max_length=200,
        help_text="For example: grounds at both sides of the work cover it",
    )


@act
class AgreeOnSource(Act):
    name = "agree_on_source"
    form = DecisionForm
    label = "Decide on a customer's source"
    sentence = "It stays on the holder's sheet as a source that no point parts from the work."
    danger = True
    field_word = True

    def find(self) -> None:
        super().find()
        source = Source.objects.filter(pk=self.param("source")).select_related("premises").first()
        if source is None:
            raise Http404(f"There is no source {self.param('source')}.")
        self.source = source

    def about(self) -> Facts:
        at = f" at {self.source.premises.address}" if self.source.premises else ""
        return [
            *super().about(),
            (
                "Source",
                (
                    f"{self.source.pk}, {self.source.kind}{at}, disconnection "
                    f"{self.source.means_of_disconnection}"
                ),
            ),
        ]

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return super().kwargs(data) | {"source": self.source.pk}


@act
class WriteOrder(Act):
    name = "write_order"
    label = "Write the order"
    sentence = "Both halves are written from the points, on the positions as they stand on the board now."
    versioned = True

    def about(self) -> Facts:
        points = [
            f"{point.device_id} {point.phases} at {where(point.device)}"
            for point in self.clearance.points.select_related("device")
        ]
        return [*super().about(), ("Points", points or "none chosen")]


def order_in_words(act: Act) -> Facts:
    order = getattr(act.clearance, "order", None)
    if order is None:
        return []
    steps = list(order.steps.select_related("device__structure", "point"))
    return [
        (label, [f"{step.place}. {words_of(step)}" for step in steps if step.half == half])
        for half, label in (("isolate", "Isolate"), ("restore", "Restore"))
    ]


@act
class CheckOrder(Act):
    name = "check_order"
    label = "Check the order"
    sentence = (
        "You say under your own name that this order, both halves, parts these limits from "
        "every source on record."
    )
    versioned = True

    def about(self) -> Facts:
        facts = super().about() + order_in_words(self)
        out = planning.newly_out(planning.planned_block(self.clearance))
        facts.append(("Customers out", str(len(out))))
        if hasattr(self.clearance, "order"):
            facts.append(("Written by", str(self.clearance.order.written_by)))
        return facts


@act
class TakeCheckBack(Act):
    name = "take_check_back"
    form = WhyForm
    label = "Take the check back"
    sentence = "The order is a draft again and has to be checked again."
    versioned = True
