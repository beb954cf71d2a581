"""What the crew reports from the line."""

from typing import Any

from django import forms
from django.utils import timezone

from ..models import Clearance, VoltageTest
from .base import Act, ActForm, Facts, act
from .fields import ClockField, PhasesField, PoleField


class NameForm(ActForm):
    name = forms.CharField(label="Name", max_length=80)
    done_at = ClockField(label="At", initial=timezone.now)


@act
class SignOn(Act):
    name = "sign_on"
    form = NameForm
    label = "Sign a person on"


class SignOffForm(ActForm):
    name = forms.ChoiceField(label="Who is off the line", widget=forms.RadioSelect)
    done_at = ClockField(label="At", initial=timezone.now)

    def __init__(self, *args: Any, act: Act, **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        names = list(act.clearance.sign_ons.filter(off_at=None).values_list("name", flat=True))
        self.fields["name"] = forms.ChoiceField(
            label="Who is off the line",
            choices=[(name, name) for name in names],
            widget=forms.RadioSelect,
            initial=act.param("name"),
        )


@act
class SignOff(Act):
    name = "sign_off"
    form = SignOffForm
    label = "Sign a person off"


def only_phase(clearance: Clearance) -> list[str]:
    """The phase inside the limits where there is one; which of several a hand was on is not guessed."""
    inside = sorted({phase for limit in clearance.limits.all() for phase in limit.phases})
    return inside if len(inside) == 1 else []


class TestForm(ActForm):
    pole = PoleField(label="At pole")
    phases = PhasesField(label="Phases tested")
    result = forms.ChoiceField(label="Found", choices=VoltageTest.Result.choices, widget=forms.RadioSelect)
    instrument = forms.CharField(label="Tester", max_length=80)
    tester_proven = forms.BooleanField(label="Tester proven before and after", required=False)
    done_at = ClockField(label="At", initial=timezone.now)


@act
class ReportTest(Act):
    name = "report_test"
    form = TestForm
    label = "Report a test for voltage"
    sentence = "Voltage present freezes the clearance at once and alarms the desk."

    def initial(self) -> dict[str, Any]:
        last = self.clearance.tests.order_by("-pk").first()
        return {
            "result": self.param("result"),
            "phases": only_phase(self.clearance),
            "instrument": last.instrument if last else "",
        }


class GroundForm(ActForm):
    label = forms.CharField(
        label="Number on the ground set",
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
    )
    pole = PoleField(label="At pole")
    phases = PhasesField(label="Phases")
    done_at = ClockField(label="At", initial=timezone.now)


@act
class GroundOn(Act):
    name = "ground_on"
    form = GroundForm
    label = "Ground set on"
    sentence = "Ground end on first, then the line end with a live-line tool. Test before you attach it."

    def initial(self) -> dict[str, Any]:
        return {"phases": only_phase(self.clearance)}


class GroundOffForm(ActForm):
    label = forms.ChoiceField(label="Which set is off", widget=forms.RadioSelect)
    done_at = ClockField(label="At", initial=timezone.now)

    def __init__(self, *args: Any, act: Act, **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        sets = [(row.label, str(row)) for row in act.clearance.ground_sets.filter(off_at=None)]
        self.fields["label"] = forms.ChoiceField(
            label="Which set is off", choices=sets, widget=forms.RadioSelect, initial=act.param("label")
        )


@act
class GroundOff(Act):
    name = "ground_off"
    form = GroundOffForm
    label = "Ground set off"
    sentence = "Line end off first with a live-line tool, ground end last."


class RemarkForm(ActForm):
    words = forms.CharField(
        label="In your own words", max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )
    done_at = ClockField(label="Seen at", initial=timezone.now)


@act
class Remark(Act):
    name = "remark"
    form = RemarkForm
    label = "Tell the desk"
    sentence = "It stays in front of the desk until somebody has answered it."

    def about(self) -> Facts:
        about = self.param("about")
        return [*super().about(), *([("About", about)] if about else [])]

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        about = self.param("about")
        return super().kwargs(data) | ({"words": f"{about}: {data['words']}"} if about else {})
