"""Steps, and whatever is seen of a device."""

from typing import Any

from django import forms
from django.http import Http404
from django.utils import timezone

from circuits.models import Device

from ..models import LogEntry, Step
from ..rules.words import made_inoperable
from .asking import WhyForm
from .base import Act, ActForm, Facts, StepAct, act
from .fields import ClockField, PhasesField


class GiveForm(ActForm):
    given_to = forms.CharField(label="Given to", max_length=80)
    repeated_back = forms.BooleanField(label="Repeated back, and correct", required=False)


@act
class GiveStep(StepAct):
    name = "give_step"
    form = GiveForm
    label = "Give the step"
    sentence = "Say it by voice, hear it repeated back, say that it is correct. Then press."
    versioned = True

    def initial(self) -> dict[str, Any]:
        last = Step.objects.filter(order=self.step.order).exclude(given_to="").order_by("-given_at").first()
        return {"given_to": last.given_to if last else ""}


@act
class CallStepBack(StepAct):
    name = "call_step_back"
    form = WhyForm
    label = "Call the step back"
    versioned = True
    sentence = "Only before anything was operated."


@act
class LeaveStepOut(StepAct):
    name = "leave_step_out"
    form = WhyForm
    label = "Leave the step out"
    sentence = "The device stays open, and the rest of the order can go on. Another order closes it."
    danger = True
    versioned = True


class ReportForm(ActForm):
    phases = PhasesField(label="Done on")
    done_at = ClockField(label="Done at", initial=timezone.now)
    made_inoperable = forms.CharField(label="Made inoperable how", max_length=120, required=False)
    tag = forms.BooleanField(label="Tag hung", required=False, initial=True)

    def __init__(self, *args: Any, act: "ReportStep", **kwargs: Any) -> None:
        super().__init__(*args, act=act, **kwargs)
        step = act.step
        left = [phase for phase in step.phases if phase not in step.reported_phases] or list(step.phases)
        self.fields["phases"] = PhasesField("".join(left), label="Done on", initial=left)
        if step.half == Step.Half.ISOLATE:
            self.fields["tag"].label = f"Tag {step.point.tag_number} hung"
            self.fields["made_inoperable"].initial = made_inoperable(step.device.kind)
        else:
            del self.fields["made_inoperable"]
            if step.operation == Step.Operation.REMOVE_TAG:
                self.fields["tag"].label = f"Tag {step.point.tag_number} off"
            else:
                del self.fields["tag"]


@act
class ReportStep(StepAct):
    name = "report_step"
    form = ReportForm
    label = "Report the step"

    @property
    def press(self) -> str:
        return {"close": "Closed, and it held", "remove_tag": "Tag is off"}.get(
            self.step.operation, "Done as ticked"
        )


class PositionForm(ActForm):
    device = forms.CharField(
        label="Device number, as it stands on the pole",
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
    )
    phases = PhasesField(label="Phases")
    position = forms.ChoiceField(
        choices=[("open", "open"), ("closed", "closed")], widget=forms.RadioSelect, label="Stands"
    )
    done_at = ClockField(label="Seen or done at", initial=timezone.now)
    remark = forms.CharField(label="In your own words", max_length=200, required=False)

    def clean_device(self) -> str:
        return str(self.cleaned_data["device"]).strip().upper()


@act
class ReportPosition(Act):
    name = "report_position"
    form = PositionForm
    label = "Tell what I see at a device"
    sentence = "It is always taken down. If it is not what the board believes, the desk is told at once."

    def initial(self) -> dict[str, Any]:
        return {"device": self.param("device")}

    def about(self) -> Facts:
        device = Device.objects.filter(pk=self.param("device")).select_related("structure").first()
        return (
            [
                (
                    "Device",
                    (
                        f"{device.pk} at {device.structure_id or ''} "
                        f"{device.structure.street if device.structure else ''}"
                    ),
                )
            ]
            if device
            else []
        )

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {name: value for name, value in super().kwargs(data).items() if name != "clearance"}


@act
class ResumeOrder(Act):
    name = "resume_order"
    form = WhyForm
    label = "Go on with the order"
    sentence = "You have looked at what stopped it, and the next step still follows."
    danger = True
    versioned = True

    def about(self) -> Facts:
        return (
            [*super().about(), ("Paused because", self.clearance.order.paused_why)]
            if hasattr(self.clearance, "order")
            else super().about()
        )


class AnswerForm(ActForm):
    answer = forms.CharField(label="What was done about it", max_length=200)


@act
class AnswerIrregular(Act):
    name = "answer_irregular"
    form = AnswerForm
    label = "Answer it"

    def find(self) -> None:
        super().find()
        number = self.param("entry")
        entry = LogEntry.objects.filter(pk=number).first() if number.isdecimal() else None
        if entry is None:
            raise Http404(f"There is no log entry {number}.")
        self.entry = entry

    def title(self) -> str:
        return f"Answer entry {self.entry.number}"

    def about(self) -> Facts:
        return [("Reported", self.entry.words), ("Out of the ordinary", self.entry.irregular)]

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return {"entry": self.entry.number, "answer": data["answer"]}
