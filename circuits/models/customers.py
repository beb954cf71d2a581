"""Who is served, how they are reached, and everything that may feed the wires."""

from django.db import models
from django.db.models import F, Q

from circuits import enumerations as words
from circuits.fields import Quantity
from circuits.models.base import Row, one_of, phase_letters
from circuits.models.equipment import Device, Transformer
from circuits.models.lines import Node


class Premises(Row):
    """A service at an address. Empty `phases` are the transformer's; a second transformer: a second feed."""

    transformer = models.ForeignKey(Transformer, models.PROTECT, related_name="premises")
    second_transformer = models.ForeignKey(
        Transformer, models.PROTECT, null=True, blank=True, related_name="premises_second"
    )
    transfer = models.CharField(default="", blank=True)
    phases = models.CharField(default="", blank=True)
    address = models.CharField()
    unit = models.CharField(default="", blank=True)
    locality = models.CharField(default="", blank=True)
    postcode = models.CharField(default="", blank=True)
    latitude = Quantity(null=True, blank=True)
    longitude = Quantity(null=True, blank=True)
    meter = models.CharField(default="", blank=True)
    name = models.CharField(default="", blank=True)
    care = models.CharField()
    language = models.CharField(default="", blank=True)

    class Meta:
        constraints = [
            phase_letters("circuits_premises_phases", or_empty=True),
            one_of("circuits_premises_care", "care", words.CARES),
            one_of("circuits_premises_transfer", "transfer", words.TRANSFERS, or_empty=True),
            models.CheckConstraint(
                name="circuits_premises_two_feeds",
                condition=Q(second_transformer=None) | ~Q(second_transformer=F("transformer")),
            ),
        ]


class Source(Row):
    """Whatever can put voltage on a wire. `device` is the disconnect that can be tagged.

    Sources that may be paralleled share a `parallel_group`. An unknown means of disconnection is none.
    """

    node = models.ForeignKey(Node, models.PROTECT, related_name="sources")
    kind = models.CharField()
    phases = models.CharField()
    kv = Quantity(null=True, blank=True)
    angle_deg = Quantity(null=True, blank=True)
    per_unit = Quantity(null=True, blank=True)
    capacity_kva = Quantity(null=True, blank=True)
    fault_mva_3ph = Quantity(null=True, blank=True)
    fault_mva_1ph = Quantity(null=True, blank=True)
    xr1 = Quantity(null=True, blank=True)
    xr0 = Quantity(null=True, blank=True)
    parallel_group = models.CharField(default="", blank=True)
    means_of_disconnection = models.CharField()
    device = models.ForeignKey(Device, models.PROTECT, null=True, blank=True, related_name="sources")
    premises = models.ForeignKey(Premises, models.PROTECT, null=True, blank=True, related_name="sources")

    class Meta:
        constraints = [
            phase_letters("circuits_source_phases"),
            one_of("circuits_source_kind", "kind", words.SOURCE_KINDS),
            one_of("circuits_source_means", "means_of_disconnection", words.MEANS_OF_DISCONNECTION),
        ]


class Contact(models.Model):
    """One way to reach a premises. Personal data that no history refers to, so an import does delete it."""

    premises = models.ForeignKey(Premises, models.CASCADE, related_name="contacts")
    channel = models.CharField()
    address = models.CharField()
    rank = models.IntegerField()

    class Meta:
        constraints = [
            one_of("circuits_contact_channel", "channel", words.CHANNELS),
            models.CheckConstraint(name="circuits_contact_rank", condition=Q(rank__gte=1)),
            models.UniqueConstraint(name="circuits_contact_once", fields=["premises", "channel", "address"]),
        ]

    def __str__(self) -> str:
        return f"{self.channel} {self.address}"
