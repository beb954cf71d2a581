"""What a network package is, once: every table, its columns, their types and what they refer to.

A package is a Data Package (https://datapackage.org): `datapackage.json` and one CSV file a table. The Table
Schema that is published, the checks of an import, the columns of an export and the rows' fields all come from
`TABLES`. The names are fixed: other people's exporters rely on them.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from circuits import enumerations as words

_NUMBERS = r"-?\d+(\.\d+)?( -?\d+(\.\d+)?)*"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: `type` is a Table Schema type, `words` an enumeration, `refers_to` a table; a text has
    at most `longest` characters, if that is not 0."""

    name: str
    type: str = "string"
    required: bool = False
    words: tuple[str, ...] = ()
    pattern: str = ""
    refers_to: str = ""
    above_zero: bool = False
    within: tuple[int, int] | None = None
    longest: int = 0

    @property
    def expected(self) -> str:
        """What a cell of this column must hold, in words."""
        if self.words:
            return "one of " + ", ".join(self.words)
        if self.refers_to:
            return f"the id of a row of {self.refers_to}"
        if self.name == "phases":
            return "letters of ABC in that order"
        if self.name == "normal_position":
            return "closed, open, or the letters of the phases that stand closed"
        if self.pattern:
            return "numbers parted by blanks" + (", rows parted by |" if "|" in self.pattern else "")
        if self.within:
            return f"a number from {self.within[0]} to {self.within[1]}"
        kinds = {"number": "a number", "integer": "a whole number", "boolean": "true or false"}
        longest = f" of at most {self.longest} characters" if self.longest else ""
        return kinds.get(self.type, "a text") + longest + (" above zero" if self.above_zero else "")


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its first column is its id, but for `key`, which names the columns of one without an id."""

    name: str
    columns: tuple[Column, ...]
    required: bool = False
    own_key: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[str, ...]:
        return self.own_key or (self.columns[0].name,)

    def field(self, column: Column) -> str:
        """The field of the row's model, as its foreign keys' values are called."""
        if not self.own_key and column is self.columns[0]:
            return "id"
        return f"{column.name.removesuffix('_id')}_id" if column.refers_to else column.name


# PostgreSQL takes no longer ones into an index.
_LONGEST_KEY = 200


def _id(name: str) -> Column:
    return Column(name, required=True, longest=_LONGEST_KEY)


def _text(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name) for name in names)


def _number(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name, "number") for name in names)


def _amount(name: str) -> Column:
    """A number that must be there and be above zero."""
    return Column(name, "number", required=True, above_zero=True)


def _truth(*names: str) -> tuple[Column, ...]:
    return tuple(Column(name, "boolean") for name in names)


def _word(name: str, allowed: tuple[str, ...], *, required: bool = True) -> Column:
    return Column(name, required=required, words=allowed)


def _ref(name: str, table: str, *, required: bool = False) -> Column:
    return Column(name, required=required, refers_to=table)


_PHASES = Column("phases", required=True, pattern="(?=[ABC])A?B?C?")
_POSITION_ON_EARTH = (
    Column("latitude", "number", within=(-90, 90)),
    Column("longitude", "number", within=(-180, 180)),
)
_MATRIX = rf"{_NUMBERS}(\|{_NUMBERS})*"

TABLES = (
    Table(
        "circuits",
        (
            _id("circuit_id"),
            Column("name", required=True),
            _amount("nominal_kv"),
            _word("grounding", words.GROUNDING),
            *_number("normal_limit_a", "emergency_limit_a"),
        ),
        required=True,
    ),
    Table(
        "structures",
        (
            _id("structure_id"),
            _word("kind", words.STRUCTURE_KINDS),
            *_text("label"),
            *_POSITION_ON_EARTH,
            *_text("street"),
        ),
    ),
    Table(
        "nodes",
        (
            _id("node_id"),
            _ref("structure_id", "structures"),
            _amount("nominal_kv"),
            _PHASES,
            *_truth("out_of_service"),
        ),
        required=True,
    ),
    Table(
        "conductors",
        (
            _id("code"),
            *_text("description"),
            _amount("ampacity_a"),
            *_number("emergency_a"),
            Column("r1", "number", required=True),
            Column("x1", "number", required=True),
            *_number("r0", "x0", "b1_us_km"),
            *(Column(name, pattern=_MATRIX) for name in ("r_matrix", "x_matrix", "b_matrix")),
        ),
    ),
    Table(
        "lines",
        (
            _id("line_id"),
            _ref("circuit_id", "circuits"),
            _ref("from_node", "nodes", required=True),
            _ref("to_node", "nodes", required=True),
            _PHASES,
            _ref("conductor", "conductors", required=True),
            _amount("length_m"),
            _word("placement", words.PLACEMENTS),
            _word("neutral", words.NEUTRALS, required=False),
            *_truth("out_of_service"),
        ),
    ),
    Table(
        "devices",
        (
            _id("device_id"),
            _ref("circuit_id", "circuits"),
            _ref("structure_id", "structures"),
            _ref("from_node", "nodes", required=True),
            _ref("to_node", "nodes", required=True),
            _word("kind", words.DEVICE_KINDS),
            _PHASES,
            _word("operation", words.OPERATIONS),
            Column("normal_position", required=True, pattern="open|closed|(?=[ABC])A?B?C?"),
            *_truth("visible_break"),
            *_number("load_break_a", "rating_a", "interrupting_ka"),
            *_text("link"),
            *_truth("recloses", "remote", "public_access"),
            *_text("label"),
        ),
    ),
    Table(
        "transformers",
        (
            _id("transformer_id"),
            _ref("structure_id", "structures"),
            _ref("primary_node", "nodes", required=True),
            _ref("secondary_node", "nodes", required=True),
            _PHASES,
            _amount("kva"),
            _word("connection", words.CONNECTIONS),
            Column("unit_kva", pattern=_NUMBERS),
            *_truth("common_core"),
            *_number("primary_kv", "secondary_kv", "r_pct", "x_pct"),
            *_text("label"),
        ),
    ),
    Table(
        "regulators",
        (
            _id("regulator_id"),
            _ref("from_node", "nodes", required=True),
            _ref("to_node", "nodes", required=True),
            _PHASES,
            Column("taps", pattern=_NUMBERS),
            *_number("rating_a"),
        ),
    ),
    Table(
        "capacitors",
        (
            _id("capacitor_id"),
            _ref("node_id", "nodes", required=True),
            _PHASES,
            _amount("kvar"),
            _word("connection", words.CAPACITOR_CONNECTIONS),
            _ref("device_id", "devices"),
        ),
    ),
    Table(
        "loads",
        (
            _id("load_id"),
            _ref("node_id", "nodes", required=True),
            _PHASES,
            _word("connection", words.LOAD_CONNECTIONS),
            Column("kw", "number", required=True),
            Column("kvar", "number", required=True),
            _word("model", words.LOAD_MODELS),
            _ref("distributed_line", "lines"),
        ),
    ),
    Table(
        "sources",
        (
            _id("source_id"),
            _ref("node_id", "nodes", required=True),
            _word("kind", words.SOURCE_KINDS),
            _PHASES,
            *_number("kv", "angle_deg", "per_unit", "capacity_kva"),
            *_number("fault_mva_3ph", "fault_mva_1ph", "xr1", "xr0"),
            *_text("parallel_group"),
            _word("means_of_disconnection", words.MEANS_OF_DISCONNECTION),
            _ref("device_id", "devices"),
            _ref("premises_id", "premises"),
        ),
        required=True,
    ),
    Table(
        "premises",
        (
            _id("premises_id"),
            _ref("transformer_id", "transformers", required=True),
            _ref("second_transformer_id", "transformers"),
            _word("transfer", words.TRANSFERS, required=False),
            Column("phases", pattern="A?B?C?"),
            Column("address", required=True),
            *_text("unit", "locality", "postcode"),
            *_POSITION_ON_EARTH,
            *_text("meter", "name"),
            _word("care", words.CARES),
            *_text("language"),
        ),
    ),
    Table(
        "contacts",
        (
            _ref("premises_id", "premises", required=True),
            _word("channel", words.CHANNELS),
            Column("address", required=True, longest=_LONGEST_KEY),
            Column("rank", "integer", required=True, above_zero=True),
        ),
        own_key=("premises_id", "channel", "address"),
    ),
)

TABLE = {table.name: table for table in TABLES}


def schema(table: Table) -> dict[str, Any]:
    """The Table Schema of a table (https://datapackage.org/standard/table-schema/).

    >>> schema(TABLE["contacts"])["primaryKey"]
    ['premises_id', 'channel', 'address']
    """
    references = [
        {
            "fields": [column.name],
            "reference": {"resource": column.refers_to, "fields": list(TABLE[column.refers_to].key)},
        }
        for column in table.columns
        if column.refers_to
    ]
    described: dict[str, Any] = {
        "fields": [_described(table, column) for column in table.columns],
        "missingValues": [""],
        "primaryKey": list(table.key),
    }
    if references:
        described["foreignKeys"] = references
    return described


def _described(table: Table, column: Column) -> dict[str, Any]:
    constraints: dict[str, Any] = {}
    if column.required:
        constraints["required"] = True
    if table.key == (column.name,):
        constraints["unique"] = True
    if column.words:
        constraints["enum"] = list(column.words)
    if column.pattern:
        constraints["pattern"] = f"^({column.pattern})$"
    if column.longest:
        constraints["maxLength"] = column.longest
    if column.above_zero:
        constraints["exclusiveMinimum"] = 0
    if column.within:
        constraints["minimum"], constraints["maximum"] = column.within
    field: dict[str, Any] = {"name": column.name, "type": column.type}
    if column.type == "boolean":
        field |= {"trueValues": ["true"], "falseValues": ["false"]}
    if constraints:
        field["constraints"] = constraints
    return field


def descriptor(tables: Iterable[str]) -> dict[str, Any]:
    """`datapackage.json` of a package with these tables, each in a CSV file of its own."""
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "network-package",
        "resources": [
            {
                "name": name,
                "type": "table",
                "path": f"{name}.csv",
                "scheme": "file",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": schema(TABLE[name]),
            }
            for name in tables
        ],
    }
