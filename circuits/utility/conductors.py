"""Conductors that the invented utility has beside those of `circuits/demo`, from published values.

Series impedances and susceptances are those of the IEEE PES distribution test feeders, 60 Hz, one
configuration each, as lower triangles in ohm and microsiemens a mile. Ampacities of bare wire are those of
the wire table published with OpenDSS's test circuits; cable's, and all emergency ones, are from memory.
"""

from circuits.utility.rows import Rows

KM_PER_MILE = 1.609344
MAIN, TAP, SINGLE_TAP = "336 ACSR", "1/0 ACSR", "4 ACSR"  # of circuits/demo
COUNTRY_MAIN, COUNTRY_TAP, CABLE, SINGLE_CABLE = "4/0 ACSR", "2 ACSR", "250 AL CN", "1/0 AL TS"

# code, what it is, amperes, in an emergency, resistance, reactance, susceptance
_PUBLISHED = (
    (COUNTRY_MAIN, "4/0 AWG ACSR 6/1, overhead; IEEE 13 node feeder, configuration 602", 340, 390,
     "0.7526|0.1580 0.7475|0.1560 0.1535 0.7436", "1.1814|0.4236 1.1983|0.5017 0.3849 1.2112",
     "5.6990|-1.0817 5.1795|-1.6905 -0.6588 5.4246"),
    (COUNTRY_TAP, "2 AWG ACSR 6/1, overhead; IEEE 34 node feeder, configuration 301", 180, 205,
     "1.9300|0.2327 1.9157|0.2359 0.2288 1.9219", "1.4115|0.6442 1.4281|0.5691 0.5238 1.4209",
     "5.1207|-1.4364 4.9055|-0.9402 -0.5951 4.7154"),
    (CABLE, "250 kcmil aluminium, concentric neutral; IEEE 13 node feeder, configuration 606", 260, 300,
     "0.7982|0.3192 0.7891|0.2849 0.3192 0.7982", "0.4463|0.0328 0.4041|-0.0143 0.0328 0.4463",
     "96.8897|0 96.8897|0 0 96.8897"),
    (SINGLE_CABLE, "1/0 AWG aluminium, tape shield; IEEE 13 node feeder, configuration 607", 175, 200,
     "1.3425", "0.5124", "88.9912"),
)  # fmt: skip
_ON_ALL_PHASES_ONLY = (COUNTRY_MAIN, CABLE)  # so their matrices always fit


def write(rows: Rows) -> None:
    """Add them to the package, by kilometre."""
    for code, description, ampacity_a, emergency_a, *published in _PUBLISHED:
        r, x, b = (
            [[float(cell) for cell in row.split()] for row in str(one).split("|")] for one in published
        )
        (r1, r0), (x1, x0), (b1, _) = _sequence(r), _sequence(x), _sequence(b)
        cells: dict[str, object] = {"r1": r1, "x1": x1, "b1_us_km": b1}
        if len(r) == 3:
            cells |= {"r0": r0, "x0": x0}
        cells = {name: _per_km(value) for name, value in cells.items()}
        if code in _ON_ALL_PHASES_ONLY:
            cells |= {"r_matrix": _matrix(r), "x_matrix": _matrix(x), "b_matrix": _matrix(b)}
        rows.add(
            "conductors",
            code=code, description=description, ampacity_a=ampacity_a, emergency_a=emergency_a, **cells,
        )  # fmt: skip


def _sequence(triangle: list[list[float]]) -> tuple[float, float]:
    """Positive and zero sequence by the means of the diagonal and of the rest; a single phase as it is.

    >>> _sequence([[3.0], [1.0, 3.0], [1.0, 1.0, 3.0]])
    (2.0, 5.0)
    """
    count = len(triangle)
    mutual = [value for row in triangle for value in row[:-1]]
    own, other = sum(row[-1] for row in triangle) / count, sum(mutual) / max(len(mutual), 1)
    return own - other, own + (count - 1) * other


def _per_km(per_mile: object) -> str:
    return f"{float(str(per_mile)) / KM_PER_MILE:.4f}"


def _matrix(triangle: list[list[float]]) -> str:
    return "|".join(" ".join(map(_per_km, row)) for row in triangle)
