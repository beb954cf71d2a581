"""Changes of the network: planned at the desk, confirmed on the phone, surveyed by the engineer."""

import inspect
from typing import Any

from django import forms
from django.http import Http404
from django.utils import timezone

from circuits import enumerations
from circuits.asleft import TRADE
from circuits.models import Conductor

from .. import asleft
from ..models import ChangeSet, Role
from .asking import WhyForm
from .base import Act, ActForm, Facts, act, clearance_or_404, link, one_or_404
from .fields import ClockField, MomentField, PhasesField

CHANGES = {
    "set_switch": "Set a new switch in a span",
    "move_transformer": "Move a transformer to another phase or pole",
    "normal_position": "A new normal position",
    "change_link": "Another link in a cutout",
    "add_span": "String a span",
    "remove_span": "Take a span down",
    "add_device": "Hang a device",
    "remove_device": "Take a device off",
    "temporary_jumper": "A temporary jumper",
}
_LABELS = {
    "line": "Number of the span",
    "device": "Number of the device",
    "kind": "Kind",
    "operation": "Operated",
    "normal_position": "Normally",
    "position": "Normally",
    "transformer": "Number of the transformer",
    "phases": "Phases",
    "at_node": "At another place of the primary: its node",
    "link": "Link",
    "from_node": "From node",
    "to_node": "To node",
    "conductor": "Conductor",
    "length_m": "Length in metres",
    "placement": "Placed",
    "neutral": "Neutral",
    "label": "What is written on it",
    "owner": "Who takes it off again",
}
_CHOICES = {
    "kind": enumerations.DEVICE_KINDS,
    "operation": enumerations.OPERATIONS,
    "normal_position": ("open", "closed"),
    "position": ("open", "closed"),
    "placement": enumerations.PLACEMENTS,
    "neutral": enumerations.NEUTRALS,
}


def _field(name: str, default: object) -> forms.Field:
    required = default is inspect.Parameter.empty
    initial = "" if required else str(default)
    label = _LABELS[name]
    if name in _CHOICES:
        choices = [(word, word.replace("_", " ")) for word in _CHOICES[name]]
        return forms.ChoiceField(label=label, choices=choices, initial=initial)
    if name == "phases":
        return PhasesField(label=label)
    if name == "conductor":
        codes = [(code, code) for code in Conductor.objects.order_by("pk").values_list("pk", flat=True)]
        return forms.ChoiceField(label=label, choices=codes)
    return forms.CharField(
        label=label,
        required=required and name != "at_node",
        max_length=200,
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )


class PlanForm(ActForm):
    """The fields of one kind of change are its function's own keywords."""

    def __init__(self, *args: Any, act: "PlanChange", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        for name, one in inspect.signature(TRADE[act.change]).parameters.items():
            if one.kind is inspect.Parameter.KEYWORD_ONLY:
                self.fields[name] = _field(name, one.default)
        if act.change == "temporary_jumper":
            self.fields["until"] = MomentField(label="May stay until")


@act
class PlanChange(Act):
    name = "plan_change"
    form = PlanForm
    label = "Plan a change of the network"
    button = "Add it to the plan"
    sentence = "Refused if the network could not be so. Nothing changes until the holder says it is built."
    holders_own = True

    def find(self) -> None:
        super().find()
        self.change = self.param("change") or "set_switch"
        if self.change not in TRADE:
            raise Http404(f"There is no change «{self.change}».")

    def is_anothers(self) -> bool:
        return super().is_anothers() and not self.person.has_role(Role.ENGINEER)

    def title(self) -> str:
        return f"{CHANGES[self.change]}: clearance {self.clearance.pk}"

    def about(self) -> Facts:
        planned = self.clearance.change_sets.filter(state=ChangeSet.State.PLANNED).first()
        already = [one["words"] for one in planned.planned] if planned else []
        return [*super().about(), ("Planned already", already or "nothing")]

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        wanted = inspect.signature(TRADE[self.change]).parameters
        given = {name: data[name] for name in wanted if name in data}
        plain = {"clearance": self.clearance.pk, "change": self.change, "given": given}
        return plain | ({"until": data["until"]} if "until" in data else {})


class ChangeAct(Act):
    """An act on one change set."""

    def find(self) -> None:
        self.row = one_or_404(ChangeSet.objects.all(), self.param("change_set"), "change set")
        self._clearance = clearance_or_404(str(self.row.clearance_id))

    def title(self) -> str:
        return f"{self.label}: change set {self.row.pk}"

    def about(self) -> Facts:
        said = [f"{number}. {one['words']}" for number, one in enumerate(self.row.planned, start=1)]
        facts: Facts = [*super().about(), ("Planned", said)]
        if self.row.said_by:
            built = [one["words"] for one in self.row.built]
            facts.append((f"Built, says {self.row.said_by}", built or "nothing as planned"))
        if self.row.unsettled:
            facts.append(("Not yet in the network", self.row.unsettled))
        return facts

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        kwargs = {name: value for name, value in super().kwargs(data).items() if name != "clearance"}
        return kwargs | {"change_set": self.row.pk}


class ConfirmForm(ActForm):
    built = forms.MultipleChoiceField(
        label="Built as planned", required=False, widget=forms.CheckboxSelectMultiple
    )
    differently = forms.CharField(
        label="What is built otherwise",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="In your own words; the desk enters it. Empty: nothing.",
    )
    done_at = ClockField(label="Seen at", initial=timezone.now)

    def __init__(self, *args: Any, act: "ConfirmChange", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        self.fields["built"] = forms.MultipleChoiceField(
            label="Built as planned",
            required=False,
            widget=forms.CheckboxSelectMultiple,
            choices=[(str(number), one["words"]) for number, one in enumerate(act.row.planned, start=1)],
        )


@act
class ConfirmChange(ChangeAct):
    name = "confirm_change"
    form = ConfirmForm
    label = "Confirm as built"
    sentence = "Tick what stands on the line as you left it. The network on the board becomes so at once."
    holders_own = True

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        kwargs = super().kwargs(data)
        built = kwargs.pop("built")
        every = [str(number) for number, _ in enumerate(self.row.planned, start=1)]
        return kwargs | {"not_built": [number for number in every if number not in built]}


@act
class MarkNotDone(ChangeAct):
    name = "mark_not_done"
    form = WhyForm
    label = "Not done"
    sentence = "Nothing of it was built: the network stays as it is."
    holders_own = True


@act
class SettleChange(ChangeAct):
    name = "settle_change"
    form = WhyForm
    label = "Settle what was built otherwise"
    sentence = (
        "The network on the board is as it was built now. What is not in it yet is tried once more; else "
        "plan it as a further change and have it confirmed."
    )

    def about(self) -> Facts:
        faults = asleft.judge(self.row.built).faults if self.row.revision_id is None else ()
        return [*super().about(), *([("In the way", list(faults[:5]))] if faults else [])]


@act
class SurveyChange(ChangeAct):
    name = "survey_change"
    form = WhyForm
    label = "Surveyed"
    sentence = "It is on the utility's own record now: the next network package decides again."


@act
class WithdrawChange(ChangeAct):
    name = "withdraw_change"
    form = WhyForm
    label = "Withdraw"
    sentence = "It is not so, or no more: the next network package may undo it. Until then the network stays."
    danger = True


def plan_links(clearance: int, back: str) -> list[dict[str, Any]]:
    """A link to the plan of every kind of change."""
    return [
        link("plan_change", label, clearance=clearance, change=change, back=back)
        for change, label in CHANGES.items()
    ]
