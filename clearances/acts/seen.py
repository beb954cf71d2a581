"""Facts out of the ordinary, one line each. They are always taken down; the desk is told at once."""

from typing import Any

from django import forms
from django.utils import timezone

from .base import Act, ActForm, StepAct, act
from .fields import ClockField, PhasesField

TAKEN_DOWN = "It is always taken down, and the desk is told at once."


class DeviceField(forms.CharField):
    """A device number as it stands on the pole, in capitals."""

    def __init__(self, **attrs: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs={"autocapitalize": "characters"}), **attrs)

    def clean(self, value: Any) -> str:
        return str(super().clean(value)).upper()


class DeviceAct(Act):
    """An act about one device, which its address may name."""

    def initial(self) -> dict[str, Any]:
        return {"device": self.param("device")}

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {name: value for name, value in super().kwargs(data).items() if name != "clearance"}


class OpenNowForm(ActForm):
    device = DeviceField(label="Device number")
    phases = PhasesField(label="Phases")


@act
class OpenNow(DeviceAct):
    name = "open_now"
    form = OpenNowForm
    label = "Opened in an emergency"
    sentence = "Device and phases, nothing else. The time is now; what it broke is looked at afterwards."
    danger = True


class WrongForm(ActForm):
    device = DeviceField(label="Which device did you operate")
    phases = PhasesField(label="Phases")
    position = forms.ChoiceField(
        choices=[("open", "open"), ("closed", "closed")], widget=forms.RadioSelect, label="It stands now"
    )
    made_inoperable = forms.CharField(
        label="Made inoperable how",
        max_length=120,
        required=False,
        help_text="Empty if nothing keeps it open",
    )
    done_at = ClockField(label="At", initial=timezone.now)


@act
class ReportWrongDevice(StepAct):
    name = "report_wrong_device"
    form = WrongForm
    label = "I operated another device"
    sentence = f"Do not put it back before the desk says so. {TAKEN_DOWN}"
    danger = True


class StuckForm(ActForm):
    phases = PhasesField(label="Which would not move")
    done_at = ClockField(label="At", initial=timezone.now)

    def __init__(self, *args: Any, act: "ReportStuck", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        self.fields["phases"] = PhasesField(act.step.device.phases, label="Which would not move")


@act
class ReportStuck(StepAct):
    name = "report_stuck"
    form = StuckForm
    label = "A phase is stuck"
    sentence = TAKEN_DOWN


class BlownForm(ActForm):
    device = DeviceField(label="Device number")
    phases = PhasesField(label="Which did not hold")
    closed_at = ClockField(label="Closed at", initial=timezone.now)
    dropped_at = ClockField(label="Dropped at", initial=timezone.now)


@act
class ReportBlown(DeviceAct):
    name = "report_blown"
    form = BlownForm
    label = "Closed, and it did not hold"
    sentence = f"A link blew or it tripped. {TAKEN_DOWN}"


class PatrolForm(ActForm):
    device = DeviceField(label="Behind which device")
    found = forms.CharField(label="What was found", max_length=400, widget=forms.Textarea(attrs={"rows": 3}))
    done_at = ClockField(label="At", initial=timezone.now)


@act
class ReportPatrol(DeviceAct):
    name = "report_patrol"
    form = PatrolForm
    label = "The line was patrolled"


class NeverOnForm(ActForm):
    label = forms.ChoiceField(label="Which set never went on", widget=forms.RadioSelect)
    second = forms.ChoiceField(label="Who else of the crew says so", widget=forms.RadioSelect)

    def __init__(self, *args: Any, act: Act, **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        clearance = act.clearance
        sets = [(row.label, str(row)) for row in clearance.ground_sets.filter(off_at=None)]
        crew = {row.name for row in clearance.sign_ons.all()} - {str(clearance.holder)}
        self.fields["label"] = forms.ChoiceField(
            label="Which set never went on", choices=sets, widget=forms.RadioSelect
        )
        self.fields["second"] = forms.ChoiceField(
            label="Who else of the crew says so",
            choices=[(name, name) for name in sorted(crew)],
            widget=forms.RadioSelect,
        )


@act
class GroundNeverOn(Act):
    name = "ground_never_on"
    form = NeverOnForm
    label = "A ground set never went on"
    sentence = "Look at the pole first, both of you. That it was reported on stays in the log."
    danger = True
    holders_own = True
