"""Customers' do-not-operates and field clearances."""

from typing import Any, cast

from django import forms
from django.utils import timezone

from ..models import DoNotOperate, FieldClearance, Person, Role
from ..services.switching import where
from .base import Act, ActForm, Facts, act
from .fields import ClockField, DeviceField, PhasesField
from .of_one import ActOnOne

NO_CLEARANCE = "This is not a clearance: it says nothing of what lies beyond the device."


class ForCustomerForm(ActForm):
    device = DeviceField(label="Device number")
    phases = PhasesField(label="Phases")
    name = forms.CharField(label="Name of the customer's worker", max_length=120)
    employer = forms.CharField(label="Employer", max_length=120)
    phone = forms.CharField(label="Telephone", max_length=32)
    work = forms.CharField(label="Their work", max_length=200)


@act
class GiveDoNotOperate(Act):
    name = "give_do_not_operate"
    form = ForCustomerForm
    label = "Keep a device open for a customer"
    sentence = (
        f"{NO_CLEARANCE} Nobody closes it until this person, met on site, has given it back; have it opened, "
        "made inoperable and reported first."
    )

    @property
    def press(self) -> str:
        return "Give the do-not-operate"

    def initial(self) -> dict[str, Any]:
        return {"device": self.param("device")}


class MetForm(ActForm):
    given_back_by = forms.CharField(
        label="Who gives it back", max_length=120, help_text="The name as that person says it, met on site."
    )
    met_by = forms.ModelChoiceField(Person.objects.none(), label="Who of us met them", empty_label=None)
    met_where = forms.CharField(label="Where", max_length=120)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ours = [Role.FOREMAN, Role.CREW, Role.OPERATOR, Role.CHECKER]
        met_by = cast("forms.ModelChoiceField[Person]", self.fields["met_by"])
        met_by.queryset = Person.objects.filter(roles__overlap=ours, is_active=True).order_by(
            "first_name", "last_name"
        )


@act
class GiveBackDoNotOperate(ActOnOne):
    name = "give_back_do_not_operate"
    form = MetForm
    label = "Take the do-not-operate back"
    sentence = "Only from the named person, met on site. A telephone call is no meeting."
    danger = True

    model = DoNotOperate
    parameter = "do_not_operate"
    row: DoNotOperate

    def about(self) -> Facts:
        row = self.row
        return [
            ("Do-not-operate", f"{row.number}, {row.get_state_display()}. {NO_CLEARANCE}"),
            ("Kept open for", f"{row.name} of {row.employer}, {row.phone}: {row.work}"),
            ("Device", f"{row.device_id} {' '.join(row.phases)}, {where(row.device)}"),
            ("Given", f"{timezone.localtime(row.given_at):%d %b %H:%M} by {row.given_by}"),
        ]


class StartForm(ActForm):
    device = DeviceField(label="Your disconnect, as it stands on the pole")
    phases = PhasesField(label="Phases open")
    work = forms.CharField(label="The work", max_length=200)
    crew = forms.CharField(label="Crew", max_length=80)
    in_sight = forms.BooleanField(
        label="It is in plain sight of the work, and under my control alone", required=False
    )
    one_crew = forms.BooleanField(label="My crew is the only one", required=False)
    done_at = ClockField(label="From", initial=timezone.now)


@act
class StartFieldClearance(Act):
    name = "start_field_clearance"
    form = StartForm
    label = "Start a field clearance"
    sentence = (
        "For one crew whose open disconnect is in plain sight. No desk order, no tags; report it open first. "
        "Test for voltage and ground before the line is worked on as de-energized."
    )

    def initial(self) -> dict[str, Any]:
        return {"device": self.param("device"), "crew": self.person.employer}


class EndForm(ActForm):
    all_off = forms.BooleanField(label="Everybody and every ground set is off", required=False)
    done_at = ClockField(label="At", initial=timezone.now)


@act
class EndFieldClearance(ActOnOne):
    name = "end_field_clearance"
    form = EndForm
    label = "End the field clearance"
    sentence = "After this the line must be taken as energized."
    danger = True
    holders_own = True

    model = FieldClearance
    parameter = "field_clearance"
    row: FieldClearance

    def about(self) -> Facts:
        row = self.row
        return [
            ("Field clearance", f"{row.number}, {row.holder}, {row.holder.phone}, no operator order"),
            ("Disconnect", f"{row.device_id} {' '.join(row.phases)}, {where(row.device)}"),
            ("Work", row.work),
            ("Since", f"{timezone.localtime(row.started_at):%d %b %H:%M}"),
        ]
