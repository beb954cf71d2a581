"""What utility and contractor have told each other, written down by the utility's side."""

from django import forms
from django.utils import timezone

from .base import Act, ActForm, Facts, act
from .fields import ClockField


class ExchangeForm(ActForm):
    with_whom = forms.CharField(label="Who spoke for the contractor", max_length=80)
    told = forms.CharField(
        label="What the utility told",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The lines and their voltages, how they are fed, the site, hazards that are known",
    )
    heard = forms.CharField(
        label="What the contractor told",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="How the work is done, its own hazards, what was found at the site",
    )
    done_at = ClockField(label="Told at", initial=timezone.now)


@act
class RecordExchange(Act):
    name = "record_exchange"
    form = ExchangeForm
    label = "Record what was told to each other"
    sentence = "Before a contractor's foreman is given a clearance. It stands in the log under your name."

    def about(self) -> Facts:
        holder = self.clearance.holder
        return [*super().about(), ("Holder", f"{holder} of {holder.employer or 'an employer not on record'}")]
