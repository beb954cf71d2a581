"""Circuits, the structures that carry them, nodes and the lines between them."""

from django.db import models

from circuits import enumerations as words
from circuits.fields import Quantity
from circuits.models.base import Row, one_of, phase_letters, positive, unlike_ends


class Circuit(Row):
    """A feeder."""

    name = models.CharField()
    nominal_kv = Quantity()
    grounding = models.CharField()
    normal_limit_a = Quantity(null=True, blank=True)
    emergency_limit_a = Quantity(null=True, blank=True)

    class Meta:
        constraints = [
            one_of("circuits_circuit_grounding", "grounding", words.GROUNDING),
            positive("circuits_circuit_kv", "nominal_kv"),
        ]


class Structure(Row):
    """A pole, pad, vault, cabinet or station; `label` is the number that can be read on it."""

    kind = models.CharField()
    label = models.CharField(default="", blank=True)
    latitude = Quantity(null=True, blank=True)
    longitude = Quantity(null=True, blank=True)
    street = models.CharField(default="", blank=True)

    class Meta:
        constraints = [one_of("circuits_structure_kind", "kind", words.STRUCTURE_KINDS)]


class Node(Row):
    """A point at one voltage. A secondary node's phases are the primary phases that it derives from."""

    structure = models.ForeignKey(Structure, models.PROTECT, null=True, blank=True, related_name="nodes")
    nominal_kv = Quantity()
    phases = models.CharField()
    out_of_service = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [phase_letters("circuits_node_phases"), positive("circuits_node_kv", "nominal_kv")]


class Conductor(Row):
    """A kind of wire or cable; `id` is its code."""

    description = models.CharField(default="", blank=True)
    ampacity_a = Quantity()
    emergency_a = Quantity(null=True, blank=True)
    r1 = Quantity()
    x1 = Quantity()
    r0 = Quantity(null=True, blank=True)
    x0 = Quantity(null=True, blank=True)
    b1_us_km = Quantity(null=True, blank=True)
    r_matrix = models.CharField(default="", blank=True)
    x_matrix = models.CharField(default="", blank=True)
    b_matrix = models.CharField(default="", blank=True)

    class Meta:
        constraints = [positive("circuits_conductor_ampacity", "ampacity_a")]


class Line(Row):
    """A span or cable between two nodes of one voltage, of any number of phases."""

    circuit = models.ForeignKey(Circuit, models.PROTECT, null=True, blank=True, related_name="lines")
    from_node = models.ForeignKey(Node, models.PROTECT, related_name="lines_from")
    to_node = models.ForeignKey(Node, models.PROTECT, related_name="lines_to")
    phases = models.CharField()
    conductor = models.ForeignKey(Conductor, models.PROTECT, related_name="lines")
    length_m = Quantity()
    placement = models.CharField()
    neutral = models.CharField(default="", blank=True)
    out_of_service = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [
            phase_letters("circuits_line_phases"),
            positive("circuits_line_length", "length_m"),
            one_of("circuits_line_placement", "placement", words.PLACEMENTS),
            one_of("circuits_line_neutral", "neutral", words.NEUTRALS, or_empty=True),
            unlike_ends("circuits_line_ends"),
        ]
