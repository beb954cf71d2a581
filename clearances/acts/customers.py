"""Telling the customers, and the answers of life-support premises."""

from typing import Any

from django import forms
from django.http import Http404

from .. import notices
from .base import Act, ActForm, Facts, act


class CountForm(ActForm):
    count = forms.IntegerField(
        label="How many customers do you tell",
        min_value=0,
        help_text="Type the number; it is not filled in on purpose.",
    )


@act
class TellCustomers(Act):
    name = "tell_customers"
    form = CountForm
    label = "Tell the customers"
    sentence = "Notices go out by e-mail. Customers without an e-mail address are listed, to be told by hand."

    def about(self) -> Facts:
        out = list(self.clearance.affected.filter(told=0).values_list("premises_id", flat=True))
        by_hand = notices.reach(out).by_hand
        return [
            *super().about(),
            ("Customers not told yet", str(len(out))),
            ("Of these without e-mail", str(len(by_hand))),
        ]


class PersonAnsweredForm(ActForm):
    answered_by = forms.CharField(
        label="Who answered there", max_length=80, help_text="A person's name. A machine is not an answer."
    )
    plan = forms.CharField(label="What they will do", max_length=200)


@act
class RecordAnswer(Act):
    name = "record_answer"
    form = PersonAnsweredForm
    label = "A person answered"

    def find(self) -> None:
        super().find()
        row = (
            self.clearance.affected.filter(premises=self.param("premises")).select_related("premises").first()
        )
        if row is None:
            raise Http404(
                f"{self.param('premises')} is not among the customers of clearance {self.clearance.pk}."
            )
        self.affected = row

    def title(self) -> str:
        return f"Life-support at {self.affected.premises.address}"

    def about(self) -> Facts:
        clearance = self.clearance
        premises = self.affected.premises
        facts: Facts = [
            ("Where", f"{premises.address} {premises.unit}".strip()),
            ("Name", premises.name or "not on record"),
            (
                "Reach",
                [f"{one.channel} {one.address}" for one in premises.contacts.order_by("rank")]
                or "no contact on record",
            ),
            ("Out", f"{clearance.window_start:%d %b %H:%M} to {clearance.promised_end:%H:%M}"),
        ]
        return facts

    def kwargs(self, data: dict[str, Any]) -> dict[str, Any]:
        return super().kwargs(data) | {"premises": self.affected.premises_id}
