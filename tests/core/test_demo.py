"""The demo network: the example's section to the last transformer and count."""

from circuits import checks, packagefile
from circuits.core.network import Compiled, normally_open
from circuits.core.trace import Answer, trace
from tests.core.conftest import DEMO


def test_the_package_is_written_as_an_export_would_write_it() -> None:
    checked = checks.check(packagefile.read(DEMO))
    files = dict(packagefile.members(lambda name: [row.values for row in checked.rows[name]]))
    assert {path.name: path.read_bytes() for path in DEMO.iterdir()} == files


def test_the_section_has_its_62_customers_on_252_and_a_half_kva(demo: Compiled) -> None:
    count = demo.network.customers
    half_208 = {name: count[name] for name in ("T-210", "T-212", "T-213")}
    half_221 = {name: count[name] for name in ("T-217", "T-219", "T-218", "T-220")}
    assert half_208 == {"T-210": 8, "T-212": 11, "T-213": 4}
    assert half_221 == {"T-217": 9, "T-219": 10, "T-218": 1, "T-220": 19}
    assert (sum(half_208.values()), sum(half_221.values())) == (23, 39)
    assert sum(demo.network.transformer[name].kva for name in half_208 | half_221) == 252.5


def test_the_homes_on_life_support_hang_on_two_transformers(demo: Compiled) -> None:
    assert demo.network.life_support == {"T-213": 1, "T-276": 1}


def test_each_transformer_is_on_its_phase_and_the_bank_on_three(demo: Compiled) -> None:
    phases = {
        name: demo.network.transformer[f"T-{name}"].phases for name in (210, 212, 213, 217, 218, 219, 220)
    }
    assert phases == {210: "A", 212: "B", 213: "C", 217: "B", 218: "ABC", 219: "B", 220: "C"}
    assert demo.network.transformer["T-218"].connection == "wye_grounded-delta"


def test_one_life_support_premises_hangs_on_t_213(demo: Compiled) -> None:
    cared_for = [
        premises.transformer for premises in demo.network.premises if premises.care == "life_support"
    ]
    assert cared_for.count("T-213") == 1
    assert [t for t in cared_for if t in ("T-210", "T-212", "T-217", "T-218", "T-219", "T-220")] == []


def test_in_normal_position_everything_is_energized(demo: Compiled) -> None:
    state = trace(demo, normally_open(demo.network))
    assert {state.answer(node, phase) for node, phase in demo.points} == {Answer.ENERGIZED}
    assert {found.answer for found in state.premises().values()} == {Answer.ENERGIZED}
