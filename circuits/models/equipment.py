"""What is switched, transformed, regulated and drawn."""

from django.db import models
from django.db.models import Q

from circuits import enumerations as words
from circuits.fields import Quantity
from circuits.models.base import Row, one_of, phase_letters, positive, unlike_ends
from circuits.models.lines import Circuit, Line, Node, Structure


class Device(Row):
    """Whatever can be opened between two nodes, by phase.

    `normal_position` is "closed", "open" or the letters of the phases that stand closed. Not known counts as
    the worse case: `recloses` and `remote` as true, `visible_break` as false.
    """

    circuit = models.ForeignKey(Circuit, models.PROTECT, null=True, blank=True, related_name="devices")
    structure = models.ForeignKey(Structure, models.PROTECT, null=True, blank=True, related_name="devices")
    from_node = models.ForeignKey(Node, models.PROTECT, related_name="devices_from")
    to_node = models.ForeignKey(Node, models.PROTECT, related_name="devices_to")
    kind = models.CharField()
    phases = models.CharField()
    operation = models.CharField()
    normal_position = models.CharField()
    visible_break = models.BooleanField(null=True, blank=True)
    load_break_a = Quantity(null=True, blank=True)
    rating_a = Quantity(null=True, blank=True)
    interrupting_ka = Quantity(null=True, blank=True)
    link = models.CharField(default="", blank=True)
    recloses = models.BooleanField(null=True, blank=True)
    remote = models.BooleanField(null=True, blank=True)
    public_access = models.BooleanField(null=True, blank=True)
    label = models.CharField(default="", blank=True)

    class Meta:
        constraints = [
            phase_letters("circuits_device_phases"),
            one_of("circuits_device_kind", "kind", words.DEVICE_KINDS),
            one_of("circuits_device_operation", "operation", words.OPERATIONS),
            models.CheckConstraint(
                name="circuits_device_normal_position",
                condition=Q(normal_position__regex="^(open|closed|A?B?C?)$") & ~Q(normal_position=""),
            ),
            unlike_ends("circuits_device_ends"),
        ]


class Transformer(Row):
    """A unit or bank between a primary and a secondary node; `phases` are those of the primary."""

    structure = models.ForeignKey(
        Structure, models.PROTECT, null=True, blank=True, related_name="transformers"
    )
    primary_node = models.ForeignKey(Node, models.PROTECT, related_name="transformers_below")
    secondary_node = models.ForeignKey(Node, models.PROTECT, related_name="transformers_above")
    phases = models.CharField()
    kva = Quantity()
    connection = models.CharField()
    unit_kva = models.CharField(default="", blank=True)
    common_core = models.BooleanField(null=True, blank=True)
    primary_kv = Quantity(null=True, blank=True)
    secondary_kv = Quantity(null=True, blank=True)
    r_pct = Quantity(null=True, blank=True)
    x_pct = Quantity(null=True, blank=True)
    label = models.CharField(default="", blank=True)

    class Meta:
        constraints = [
            phase_letters("circuits_transformer_phases"),
            positive("circuits_transformer_kva", "kva"),
            one_of("circuits_transformer_connection", "connection", words.CONNECTIONS),
            models.CheckConstraint(
                name="circuits_transformer_ends", condition=~Q(primary_node=models.F("secondary_node"))
            ),
        ]


class Regulator(Row):
    """A voltage regulator between two nodes; `taps` are per phase, per-unit, parted by blanks."""

    from_node = models.ForeignKey(Node, models.PROTECT, related_name="regulators_from")
    to_node = models.ForeignKey(Node, models.PROTECT, related_name="regulators_to")
    phases = models.CharField()
    taps = models.CharField(default="", blank=True)
    rating_a = Quantity(null=True, blank=True)

    class Meta:
        constraints = [phase_letters("circuits_regulator_phases"), unlike_ends("circuits_regulator_ends")]


class Capacitor(Row):
    """A capacitor bank at a node; `device` is its switch or cutout."""

    node = models.ForeignKey(Node, models.PROTECT, related_name="capacitors")
    phases = models.CharField()
    kvar = Quantity()
    connection = models.CharField()
    device = models.ForeignKey(Device, models.PROTECT, null=True, blank=True, related_name="capacitors")

    class Meta:
        constraints = [
            phase_letters("circuits_capacitor_phases"),
            positive("circuits_capacitor_kvar", "kvar"),
            one_of("circuits_capacitor_connection", "connection", words.CAPACITOR_CONNECTIONS),
        ]


class Load(Row):
    """A load at a node, or spread along a line."""

    node = models.ForeignKey(Node, models.PROTECT, related_name="loads")
    phases = models.CharField()
    connection = models.CharField()
    kw = Quantity()
    kvar = Quantity()
    model = models.CharField()
    distributed_line = models.ForeignKey(Line, models.PROTECT, null=True, blank=True, related_name="loads")

    class Meta:
        constraints = [
            phase_letters("circuits_load_phases"),
            one_of("circuits_load_connection", "connection", words.LOAD_CONNECTIONS),
            one_of("circuits_load_model", "model", words.LOAD_MODELS),
        ]
