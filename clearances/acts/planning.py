"""Choosing the points, the order, its check."""

from functools import cached_property
from typing import Any, cast
from urllib.parse import urlencode

from django import forms
from django.http import Http404

from circuits import snapshot
from circuits.models import Device, Source

from .. import facts, pickups
from ..beside import Beside
from ..models import Clearance, Step
from ..rules.facts import Path
from ..rules.words import letters
from ..services import planning
from ..services.switching import where, words_of
from .asking import WhyForm
from .base import Act, ActForm, Facts, StepAct, act


class PointsForm(ActForm):
    devices = forms.MultipleChoiceField(label="Points", required=False, widget=forms.CheckboxSelectMultiple)
    other = forms.CharField(
        label="A device that is not listed",
        required=False,
        help_text="Its number, read twice. C-208 is not C-280.",
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )

    closes = forms.MultipleChoiceField(
        label="Closed, so that fewer are out", required=False, widget=forms.CheckboxSelectMultiple
    )
    opens = forms.MultipleChoiceField(
        label="Opened besides, without a tag", required=False, widget=forms.CheckboxSelectMultiple
    )
    tie = forms.CharField(
        label="A tie that is to pick load up",
        required=False,
        help_text="It is closed for the work and opened again after it. Volts and amperes are not looked at.",
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, act: "ChoosePoints", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        for name, choices in (("devices", act.candidates()), *act.besides()):
            cast(forms.MultipleChoiceField, self.fields[name]).choices = choices
            if not choices and name != "devices":
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for field, name in (("other", "devices"), ("tie", "closes")):
            typed = data.pop(field, "").strip().upper()
            data[name] = [*data.get(name, ()), *([typed] if typed else [])]
        return data


@act
class ChoosePoints(Act):
    """Ticks are saved and the ways that are left are shown again, until none is."""

    name = "choose_points"
    form = PointsForm
    label = "Choose the points"
    button = "Take these points, and show what is left"
    sentence = "An order that was written before is thrown away."
    versioned = True

    @cached_property
    def chosen(self) -> list[Device]:
        return [point.device for point in self.clearance.points.select_related("device__structure")]

    @cached_property
    def planned(self) -> dict[str, list[Device]]:
        """The devices of a plan that was looked at, named in the address: points, and what is closed or
        opened besides."""
        named = {how: self.request.GET.getlist(how) for how in ("device", "close", "open")}
        every = [name for names in named.values() for name in names]
        known = Device.objects.select_related("structure").in_bulk(every)
        return {how: [known[name] for name in names if name in known] for how, names in named.items()}

    def moved(self, *, closes: bool) -> list[Device]:
        """What is moved besides the points: of the plan that was looked at, else as it is chosen."""
        rows = self.clearance.pick_ups.filter(closes=closes).select_related("device__structure")
        looked_at = any(self.planned.values())
        return self.planned["close" if closes else "open"] if looked_at else [row.device for row in rows]

    def besides(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """What can be ticked of it, by field."""
        return [
            (name, [(device.pk, _named(device)) for device in self.moved(closes=name == "closes")])
            for name in ("closes", "opens")
        ]

    @cached_property
    def ways(self) -> list[tuple[Path, list[tuple[str, int]]]]:
        return planning.ways_in(self.clearance)

    def candidates(self) -> list[tuple[str, str]]:
        """What is chosen, then every device on a way that is left, the nearest to the limits first."""
        customers = {device: count for _, found in self.ways for device, count in reversed(found)}
        devices = Device.objects.select_related("structure").in_bulk(list(customers))
        listed = {device.pk: f"{_named(device)}, chosen" for device in self.chosen}
        for device in self.planned["device"]:
            listed.setdefault(device.pk, f"{_named(device)}, of the plan")
        for number, count in customers.items():
            words = f"{_named(devices[number])}: {count} customers go out with it"
            listed.setdefault(
                number, words if devices[number].visible_break else f"{words}; no visible break"
            )
        return list(listed.items())

    def initial(self) -> dict[str, Any]:
        return {
            "devices": [device.pk for device in self.planned["device"] or self.chosen],
            "closes": [device.pk for device in self.moved(closes=True)],
            "opens": [device.pk for device in self.moved(closes=False)],
        }

    def about(self) -> Facts:
        left: Facts = [
            (f"Way {number}, from {path.source}", path.words)
            for number, (path, _) in enumerate(self.ways, start=1)
        ]
        nothing = "No source on record reaches the limits. One that is not on record can."
        points = {device.pk for device in self.chosen}
        nodes = {node for node, _ in facts.limits_of(self.clearance, snapshot.compiled())}
        others: Facts = [("Others there", meets.sentence) for meets in Beside.read().meeting(points, nodes)]
        return super().about() + others + (left or [("With the points chosen", nothing)])

    def back(self) -> str:
        if self.request.method == "POST" and planning.ways_in(self.clearance):
            return f"{self.request.path}?{urlencode({'clearance': self.clearance.pk})}"
        return super().back()


def _named(device: Device) -> str:
    return f"{device.pk} {device.kind.replace('_', ' ')}, {letters(device.phases)}, at {where(device)}"


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
    holders_own = True

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
        besides = [
            f"{row}, {letters(row.device.phases)} at {where(row.device)}"
            for row in self.clearance.pick_ups.select_related("device__structure")
        ]
        known: Facts = [*super().about(), ("Points", points or "none chosen")]
        return [*known, ("Besides", besides)] if besides else known


@act
class WriteWayBack(Act):
    name = "write_way_back"
    form = WhyForm
    label = "Write the way back again"
    sentence = (
        "What is left of the restore half is written on the network and the positions as they are now. A "
        "second person checks it before a step of it is given."
    )
    versioned = True

    def about(self) -> Facts:
        return super().about() + order_in_words(self)


def _out(clearance: Clearance) -> str:
    out = pickups.kept_out(clearance)
    briefly = sum(out.values())
    return f"{len(out)}, {briefly} of them only while load is switched over" if briefly else str(len(out))


def order_in_words(act: Act) -> Facts:
    order = getattr(act.clearance, "order", None)
    if order is None:
        return []
    steps = list(order.steps.select_related("device__structure", "point"))
    return [
        (label, [f"{step.place}. {words_of(step)}" for step in steps if step.half == half])
        for half, label in (("isolate", "Isolate"), ("restore", "Restore"))
    ]


class PlaceForm(ActForm):
    before = forms.TypedChoiceField(label="Put it before", coerce=int, widget=forms.RadioSelect)

    def __init__(self, *args: Any, act: "MoveStep", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        cast(forms.ChoiceField, self.fields["before"]).choices = act.places()


@act
class MoveStep(StepAct):
    name = "move_step"
    form = PlaceForm
    label = "Put the step elsewhere"
    sentence = (
        "Whoever checks the order sees it as it then stands. What does not follow, as a close before its tag "
        "is off, is refused with the check."
    )
    versioned = True

    def places(self) -> list[tuple[int, str]]:
        half = self.step.order.steps.filter(half=self.step.half, state=Step.State.WAITING)
        others = half.exclude(pk=self.step.pk).select_related("device__structure", "point").order_by("place")
        return [*((one.place, f"{one.place}. {words_of(one)}") for one in others), (0, "Nothing: the last")]


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
        if self.clearance.state == Clearance.State.ASKED:
            facts.append(("Customers out", _out(self.clearance)))
        if order := getattr(self.clearance, "order", None):
            facts.append(("Written by", str(order.rewritten_by or order.written_by)))
        return facts


@act
class TakeCheckBack(Act):
    name = "take_check_back"
    form = WhyForm
    label = "Take the check back"
    sentence = "The order is a draft again and has to be checked again."
    versioned = True
