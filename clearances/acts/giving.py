"""Giving, accepting, releasing. Giving and releasing ask who you are again."""

from django import forms

from .. import facts
from ..services.switching import where
from .asking import WhyForm
from .base import Act, ActForm, Facts, act


def sheet(act: Act) -> Facts:
    """Limits, points with tags, people and grounds: what is read out and read back."""
    clearance = act.clearance
    devices = {
        point.device_id: where(point.device) for point in clearance.points.select_related("device__structure")
    }
    points = [
        f"{point.device} {point.phases} at {devices[point.device]}: "
        f"reported open {point.open or 'on no phase'}, inoperable {point.inoperable or 'on no phase'}, "
        f"tag {point.tag_number} on {point.tagged or 'no phase'}"
        for point in facts.points_of(clearance)
    ]
    agreed = [f"{one.source_id}: {one.decision}" for one in clearance.dispositions.all()]
    told = [
        f"By the utility: {one.told}. By {one.with_whom}: {one.heard}. {one.recorded_by}"
        for one in clearance.exchanges.select_related("recorded_by")
    ]
    return [
        ("Points", points or "none"),
        *([("Sources not parted", agreed)] if agreed else []),
        *([("Told each other", told)] if told else []),
    ]


@act
class GiveClearance(Act):
    name = "give_clearance"
    label = "Give the clearance"
    sentence = (
        "The board traces every source on record once more before it takes this. It knows only "
        "what was reported."
    )
    versioned = True

    @property
    def press(self) -> str:
        return f"Give clearance {self.clearance.pk} to {self.clearance.holder}"

    def about(self) -> Facts:
        holder = self.clearance.holder
        reach = ", ".join(part for part in (holder.phone, holder.radio) if part)
        return [*super().about(), ("Holder", f"{holder} ({holder.employer}), {reach}"), *sheet(self)]


class AcceptForm(ActForm):
    read_back = forms.CharField(
        label="Read back the limits and every point",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="In the holder's own words.",
    )


@act
class AcceptClearance(Act):
    name = "accept_clearance"
    form = AcceptForm
    label = "Accept the clearance"
    sentence = (
        "From now on you are in charge of it. Test for voltage and ground before the line is "
        "worked on as de-energized."
    )
    holders_own = True

    def about(self) -> Facts:
        return [*super().about(), *sheet(self)]


@act
class TakeBack(Act):
    name = "take_clearance_back"
    form = WhyForm
    label = "Take it back, not accepted"
    versioned = True


class ReleaseForm(ActForm):
    told_everyone = forms.BooleanField(
        label="Everyone under this clearance is told that it ends", required=False
    )
    all_off = forms.BooleanField(label="All are off the line and stay off", required=False)


@act
class ReleaseClearance(Act):
    name = "release_clearance"
    form = ReleaseForm
    label = "Release the clearance"
    sentence = "After this the line must be taken as energized. A released clearance does not come back."
    danger = True
    versioned = True
    holders_own = True

    def about(self) -> Facts:
        on = self.clearance.sign_ons.filter(off_at=None)
        grounds = self.clearance.ground_sets.filter(off_at=None)
        return [
            *super().about(),
            ("Signed on", [row.name for row in on] or "nobody"),
            ("Ground sets on", [str(row) for row in grounds] or "none"),
        ]


class FindingForm(ActForm):
    finding = forms.CharField(label="What was found", max_length=200)


@act
class EndFreeze(Act):
    name = "end_freeze"
    form = FindingForm
    label = "End the freeze"
    sentence = "Only after the source was found and parted, and a later test found no voltage."
    danger = True
    versioned = True

    def about(self) -> Facts:
        return [*super().about(), ("Frozen because", self.clearance.frozen_why), *sheet(self)]
