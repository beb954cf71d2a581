"""The one-line drawing of a circuit or of the surroundings of some nodes, as SVG shapes and as sentences."""

from circuits.oneline.parts import Part, draw_parts
from circuits.oneline.pen import draw
from circuits.oneline.shapes import Band, OneLine

__all__ = ["Band", "OneLine", "Part", "draw", "draw_parts"]
