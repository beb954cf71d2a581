"""Which devices may be taken for which."""

from hypothesis import given
from hypothesis import strategies as st

from circuits.core.network import Compiled, Device, Line, Network, Node, compile_network, normally_open
from circuits.core.rehearsing.lookalikes import one_slip_apart, taken_for
from circuits.core.rehearsing.rehearsal import CLOSE, OPEN, Move


def test_labels_one_slip_of_the_eye_apart() -> None:
    assert [one_slip_apart("C-208", other) for other in ("C-280", "C-308", "C-2081", "C-28", "D-208")] == [
        True
    ] * 5
    assert [one_slip_apart("C-208", other) for other in ("C-380", "C-28x", "C-802", "C-2")] == [False] * 4


def test_a_slip_is_the_same_whichever_label_is_meant() -> None:
    one_slip = ("C-1234", "C-2134"), ("Ж-208", "Ж-280"), ("C-9", "C-1"), ("C-12", "C-1")
    more = (
        ("C-380", "C-208"),
        # Two neighbours the other way round, and another character after them.
        ("C-2081", "C-2809"),
        ("C-98", "C-01"),
        ("C-1", "C-123"),
        ("", "C-1"),
    )
    for pairs, expected in (one_slip, True), (more, False):
        assert [one_slip_apart(a, b) for a, b in pairs] == [expected] * len(pairs)
        assert [one_slip_apart(b, a) for a, b in pairs] == [expected] * len(pairs)


def slips_of_the_eye(label: str) -> set[str]:
    """Every label that is one slip from another, by making them all."""
    cuts = [(label[:at], label[at:]) for at in range(len(label) + 1)]
    return {
        *(a + more + b for a, b in cuts for more in "12C"),
        *(a + b[1:] for a, b in cuts),
        *(a + other + b[1:] for a, b in cuts if b for other in "12C"),
        *(a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1),
    }


@given(st.data())
def test_they_are_the_labels_that_every_single_slip_makes(data: st.DataObject) -> None:
    label = data.draw(st.text("12C", min_size=1, max_size=6))
    near = st.sampled_from(sorted(slips_of_the_eye(label)))
    other = data.draw(near | near.flatmap(lambda one: st.sampled_from(sorted(slips_of_the_eye(one)))))
    assert one_slip_apart(label, other) == (other in slips_of_the_eye(label))


def test_a_label_alike_anywhere_and_the_same_kind_near_by(demo: Compiled) -> None:
    stands = normally_open(demo.network)
    taken = dict(taken_for(Move("1", "C-208", "ABC", OPEN), demo, stands))
    assert taken["C-280"] == "ABC"
    assert dict(taken_for(Move("1", "F-217", "B", OPEN), demo, stands))["F-219"] == "B"


def test_only_what_could_be_so_operated(demo: Compiled) -> None:
    stands = normally_open(demo.network)
    assert "C-280" not in dict(taken_for(Move("1", "C-208", "ABC", CLOSE), demo, stands))
    assert dict(taken_for(Move("1", "C-208", "A", CLOSE), demo, {**stands, "C-280": "AB"}))["C-280"] == "A"


def test_nothing_is_taken_for_a_device_that_is_not_there(demo: Compiled) -> None:
    assert list(taken_for(Move("1", "C-999", "ABC", OPEN), demo, {})) == []


def taken(operation: str, phases: str, *others: Device, **stands: str) -> dict[str, str]:
    """What may be taken for MEANT at P0, where no label is like another.

    P0 --- P1 =[BETWEEN]= P2 --- P3 --- P4 --- P5
     [MEANT]
    """
    spans = (("P0", "P1"), ("P2", "P3"), ("P3", "P4"), ("P4", "P5"))
    devices = (
        Device("MEANT", "P0", "tap", "ABC", "ABC"),
        Device("BETWEEN", "P1", "P2", "ABC", "ABC", "switch"),
    )
    names = {"tap", "end", *(f"P{number}" for number in range(6))}
    compiled = compile_network(
        Network(
            nodes=tuple(Node(name, "ABC") for name in sorted(names)),
            lines=tuple(Line(f"L{number}", a, b, "ABC") for number, (a, b) in enumerate(spans)),
            devices=(*devices, *others),
        )
    )
    return dict(taken_for(Move("1", "MEANT", phases, operation), compiled, stands))


def test_near_is_three_spans_or_devices_and_not_four_whichever_end_is_near() -> None:
    def of(a: str, b: str) -> list[str]:
        return list(taken(OPEN, "ABC", Device("OTHER", a, b, "ABC", "ABC")))

    # P3 is three away, over a span, a device and a span.
    assert of("P3", "end") == of("end", "P3") == of("P0", "end") == ["OTHER"]
    assert of("P4", "end") == of("end", "P4") == []


def test_near_by_only_the_same_kind_is_taken_for_it_and_with_an_alike_label_any() -> None:
    for kind in ("breaker", "switch"):
        assert taken(OPEN, "A", Device("OTHER", "P0", "end", "A", "A", kind)) == {}
    read = Device("OTHER", "P0", "end", "A", "A", "".join(["cut", "out"]))
    assert taken(OPEN, "A", read) == {"OTHER": "A"}
    assert taken(OPEN, "A", Device("MEANS", "P5", "end", "A", "A", "switch")) == {"MEANS": "A"}


def test_near_by_one_that_has_not_all_the_phases_to_be_moved_is_not_taken_for_it() -> None:
    other = Device("OTHER", "P0", "end", "ABC", "ABC")
    assert taken(OPEN, "AB", other) == {"OTHER": "AB"}
    assert taken(OPEN, "AB", other, OTHER="B") == {}
    assert taken(OPEN, "AB", Device("OTHER", "P0", "end", "BC", "BC")) == {}
    assert taken(CLOSE, "AB", other, OTHER="B") == {}
    assert taken(CLOSE, "AB", other, OTHER="ABC") == {"OTHER": "AB"}


def test_an_alike_label_is_taken_for_it_on_the_phases_that_it_has_else_on_all_that_can_move() -> None:
    alike = Device("MEANS", "P5", "end", "ABC", "ABC")
    assert taken(OPEN, "AB", alike, MEANS="A") == {"MEANS": "B"}
    assert taken(OPEN, "A", alike, MEANS="A") == {"MEANS": "BC"}
    assert taken(OPEN, "A", alike, MEANS="ABC") == {}
    assert taken(CLOSE, "AB", alike, MEANS="AC") == {"MEANS": "A"}
    assert taken(CLOSE, "A", alike, MEANS="BC") == {"MEANS": "BC"}


def test_one_handle_moves_every_phase_that_can_be_moved() -> None:
    gang = Device("OTHER", "P0", "end", "ABC", "ABC", operation="".join(["ga", "ng"]))
    assert taken(OPEN, "A", gang) == {"OTHER": "ABC"}
    assert taken(OPEN, "A", gang, OTHER="B") == {"OTHER": "AC"}


def test_no_device_is_taken_for_itself() -> None:
    assert taken(OPEN, "A") == taken(CLOSE, "A", MEANT="ABC") == {}
