"""Plans with devices that another has for points too: opened or checked open and tagged, and nothing else."""

from dataclasses import replace

import pytest

from circuits.core.limits import between
from circuits.core.network import Compiled, compile_network
from circuits.core.planning.loading import Ratings
from circuits.core.planning.planner import plans
from circuits.core.planning.plans import CannotPlanError, sentences
from circuits.core.standing import also_open, without
from circuits.core.trace import trace
from tests.core.made_plans import ByTrying, case
from tests.core.test_planner import ask, does, two_feeders

SAID = "S-1 is a point of another too."
N_7_SAID = "N-7 is a point of another too."


def test_it_is_opened_as_a_point_and_the_plan_says_whose_it_is_too() -> None:
    (plan, *_) = ask(two_feeders(), ("P-3", "A"), shared={"S-1": SAID, "B-2": "Not looked at."}).plans
    assert does(plan) == ["-S-1 A", "=N-7 A"]
    assert plan.shared == (SAID,)
    assert sentences(two_feeders(), plan)[2] == SAID
    assert does(ask(two_feeders(), ("P-3", "A"), kept=["S-1"]).plans[0]) == ["-B-1 A", "=N-7 A"]


def test_a_tie_that_is_another_s_point_too_is_not_closed() -> None:
    (plan, *_) = ask(two_feeders(), ("P-1", "A"), shared={"N-7": N_7_SAID}).plans
    assert does(plan) == ["-B-1 A", "=N-7 A"]
    assert plan.shared == (N_7_SAID,)


def test_nor_is_it_opened_only_so_that_what_is_left_fits_a_tie() -> None:
    """8 A are 57 kVA: T-3's 50 fit, if T-2's 25 are cut off at F-2, which is no point here."""
    carries = Ratings({("device", "N-7"): 8.0})
    assert does(ask(two_feeders(), ("P-1", "A"), ratings=carries).plans[0])[2] == "-F-2 A*"
    for plan in ask(two_feeders(), ("P-1", "A"), ratings=carries, shared={"F-2": "F-2 too."}).plans:
        assert not plan.moved
        assert plan.shared == ()


def test_what_is_kept_is_not_opened_though_it_is_shared_too() -> None:
    with pytest.raises(CannotPlanError, match="No device that may be used"):
        ask(two_feeders(), ("P-1", "A"), kept=["B-1"], shared={"B-1": "B-1 too."})
    (plan, *_) = ask(two_feeders(), ("P-3", "A"), kept=["N-7"], shared={"N-7": N_7_SAID}).plans
    assert does(plan) == ["-S-1 A", "=N-7 A"]
    assert plan.shared == (N_7_SAID,)


def test_the_example_s_section_beside_another_that_means_to_open_one_of_its_ends(demo: Compiled) -> None:
    """The example of the trade: clearance 42 means to open J-207 and C-208 in the same hours. Sharing C-208
    takes out 62 customers, leaving it alone 119."""
    limits = between(demo, "P-213", "P-218", "ABC").nodes
    others = {"J-207": "J-207 is 42's too.", "C-208": "C-208 is 42's too."}
    (plan, *_) = ask(demo, *limits, by_phase=False, shared=others).plans
    assert does(plan) == ["-C-208 ABC", "-C-221 ABC", "-D-219 B", "-F-212 B"]
    assert plan.customers == 62
    assert plan.shared == ("C-208 is 42's too.",)
    assert ask(demo, *limits, by_phase=False, kept=others).plans[0].customers == 119


@pytest.mark.parametrize("seed", [220, 731, 1263, 1755])
def test_what_the_best_plan_opens_for_a_tie_is_shared_against_trying_every_plan(seed: int) -> None:
    made = case(seed)
    alone = replace(made.question, shared={})
    compiled = compile_network(made.network)
    opened = [one.device.id for plan in plans(compiled, alone).plans for one in plan.moved if not one.closes]
    made.question = replace(alone, shared={opened[0]: "It is another's too."})
    found = plans(compiled, made.question)
    assert found.thrown_away == ()
    assert opened[0] not in {one.device.id for plan in found.plans for one in plan.moved}
    least = min(one.price for one in ByTrying(made).all())
    assert found.plans[0].price == pytest.approx(least, abs=1e-5)


def test_a_phase_that_is_opened_for_a_tie_is_told_beside_another_that_is_a_point() -> None:
    """Found by trying: device d1 is a point on phase A, and opened on B only so that d4 can be closed."""
    made = case(469)
    compiled = compile_network(made.network)
    (plan, *_) = plans(compiled, replace(made.question, shared={})).plans
    assert [(one.device.id, one.open) for one in plan.points] == [("d1", "A"), ("d2", "A")]
    assert [one.words for one in plan.moved] == ["open d1 (phase B)", "close d4 (phases A, B)"]
    now = made.question.open_now
    opens = also_open(now, {one.device.id: one.open for one in plan.points})
    opens = also_open(opens, {one.device.id: one.phases for one in plan.moved if not one.closes})
    after = trace(compiled, without(opens, {one.device.id: one.phases for one in plan.closes}))
    assert {*plan.out, *plan.partly} == after.not_energized().keys() - trace(
        compiled, now
    ).not_energized().keys()
