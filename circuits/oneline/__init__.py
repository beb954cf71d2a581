"""The one-line drawing of a circuit or of the surroundings of some nodes, as SVG shapes and as sentences."""

from circuits.oneline.pen import Band, OneLine, draw

__all__ = ["Band", "OneLine", "draw"]
