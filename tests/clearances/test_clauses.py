"""29 CFR 1910.269(m)(2) and (3), clause by clause, through the board's own verbs on the demo network.

Each test quotes its clause in our words. [V]: a public copy of the text says so; [V2]: a parallel or
secondary text (a state's adoption, the agency's electronic tool) says so; [M]: from memory, to be checked
before anybody leans on it. 29 CFR 1926.961(c) is the same text for construction work.
"""

import datetime
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from clearances import at_device, facts
from clearances.models import Clearance, Person, Step
from clearances.services import asking, giving, on_the_line, orders, planning, reporting, switching
from clearances.services.verb import Done, Outcome
from tests.cast import POINTS, Cast, done

from .plays import Tap
from .said import codes, leans_on, texts

FEDERAL = "29 CFR 1910.269"


def give(cast: Cast, clearance: Clearance) -> Outcome:
    version = Clearance.objects.get(pk=clearance.pk).version
    return giving.give_clearance(cast.who(cast.dana), clearance=clearance.pk, version=version)


def accept(cast: Cast, clearance: Clearance, by: Person) -> Outcome:
    return giving.accept_clearance(
        cast.who(by), clearance=clearance.pk, read_back="P-213 to P-218, four points"
    )


def release(cast: Cast, clearance: Clearance, by: Person, **said: bool) -> Outcome:
    statements: dict[str, Any] = {"told_everyone": True, "all_off": True} | said
    return giving.release_clearance(cast.who(by), clearance=clearance.pk, version=None, **statements)


def give_step(cast: Cast, clearance: Clearance, step: Step) -> Outcome:
    version = Clearance.objects.get(pk=clearance.pk).version
    return switching.give_step(
        cast.who(cast.dana), step=step.pk, version=version, given_to="Sal Moreno", repeated_back=True
    )


def bring_on(cast: Cast, clearance: Clearance, to: str) -> Clearance:
    """One stage further; before the release, people and grounds come off."""
    moves = {"given": cast.give, "accepted": cast.accept, "tested": cast.test, "grounded": cast.ground}
    if to == "released":
        cast.leave(clearance)
    moves.get(to, cast.release)(Clearance.objects.get(pk=clearance.pk))
    return Clearance.objects.get(pk=clearance.pk)


def first(cast: Cast, clearance: Clearance, operation: str) -> Step:
    return next(step for step in cast.steps(clearance, "restore") if step.operation == operation)


def test_m2i_one_in_charge_and_everything_in_the_order_given(cast: Cast) -> None:
    """(m)(2)(i) [V2]: one employee in charge of the clearance; all of (m)(3), in the order given."""
    clearance = cast.job("told")
    in_order = f"{FEDERAL}(m)(2)(i) (seen)"
    assert in_order in leans_on(accept(cast, clearance, cast.ana))
    assert in_order in leans_on(release(cast, clearance, cast.ana))
    assert "source_not_blocked" in codes(give(cast, clearance))
    assert "not_released" in codes(give_step(cast, clearance, first(cast, clearance, "close")))
    cast.isolate(clearance)
    done(give(cast, clearance))
    assert in_order in leans_on(release(cast, clearance, cast.ana))
    assert in_order in leans_on(give(cast, clearance))


def test_m2ivb_each_crew_has_its_own_tag_at_the_point(tap: Tap) -> None:
    """(m)(2)(iv)(B) [M; (A) V2]: each crew complies on its own, with separate tags."""
    mine = tap.job("accepted")
    other = tap.bring(tap.asked(holder=tap.bo), "told")
    assert set(codes(give(tap, other))) == {"source_not_blocked", "point_not_complete"}  # mine is not his
    tap.isolate(other)
    done(give(tap, other))
    assert [tag.number for tag in at_device.tags_at("C-233")] == [f"{mine.pk}-1", f"{other.pk}-1"]


def test_m3i_who_asks_is_in_charge(cast: Cast) -> None:
    """(m)(3)(i) [V2, the agency's electronic tool]: a designated employee asks, and is responsible."""
    begins = timezone.now()
    refused = asking.ask_for_clearance(
        cast.who(cast.tom),
        from_pole="P-213",
        to_pole="P-218",
        phases="ABC",
        work="Set a switch",
        reason_for_customers="new switch",
        crew="line 3",
        window_start=begins,
        promised_end=begins + datetime.timedelta(hours=2),
        latest_finish=begins + datetime.timedelta(hours=2),
        recall_minutes=20,
    )
    assert texts(refused) == ["Tom Weir is not qualified to hold a clearance through the latest finish."]
    assert leans_on(refused) == {f"{FEDERAL}(m)(3)(i) (seen)"}
    clearance = cast.job("given")
    assert clearance.holder == cast.ana
    assert texts(accept(cast, clearance, cast.bo)) == [
        f"Only Ana Duarte, who asked for it, can accept clearance {clearance.pk}."
    ]
    done(accept(cast, clearance, cast.ana))


def test_m3ii_every_known_source_is_parted(cast: Cast) -> None:
    """(m)(3)(ii) [V, OSHRC 06-0166]: all switches, disconnectors, jumpers, taps and other means through which
    known sources may feed are opened, made inoperable and tagged."""
    clearance = cast.job("told")
    for opened, left in enumerate(
        [("ST-1", "GEN-219", "INV-212"), ("ST-1", "GEN-219", "INV-212"), ("GEN-219", "INV-212"), ("INV-212",)]
    ):
        refused = give(cast, clearance)
        assert leans_on(refused) == {f"{FEDERAL}(m)(3)(ii) (seen)"}
        reached = {path.source for path in facts.facts_of(clearance).paths}
        assert reached == set(left), POINTS[:opened]
        step = cast.steps(clearance, "isolate")[opened]
        cast.give_step(clearance, step)
        cast.report_step(step)
    done(give(cast, clearance))


def test_m3ii_a_source_that_nothing_parts_is_for_the_holder_to_agree_on(cast: Cast) -> None:
    """The customer won't have his generator's disconnect locked: the holder agrees that grounds cover it."""
    clearance = cast.asked()
    devices = ["C-208", "C-221", "D-212"]
    who = cast.who(cast.dana)
    done(planning.choose_points(who, clearance=clearance.pk, version=clearance.version, devices=devices))
    clearance.refresh_from_db()
    cast.write(clearance)
    clearance.refresh_from_db()
    check: dict[str, Any] = {"clearance": clearance.pk, "version": clearance.version}
    refused = orders.check_order(cast.who(cast.ines), **check)
    assert set(codes(refused)) == {"plan_leaves_source"}
    assert all("GEN-219" in text and "D-219" in text for text in texts(refused))
    decision: dict[str, Any] = {
        "clearance": clearance.pk,
        "source": "GEN-219",
        "decision": "Owner away; ground sets on both sides of T-219.",
    }
    assert codes(planning.agree_on_source(cast.who(cast.dana), **decision)) == ["not_the_holder"]
    feeder: dict[str, Any] = decision | {"source": "ST-1"}
    assert codes(planning.agree_on_source(cast.who(cast.ana), **feeder)) == ["no_such_source"]
    done(planning.agree_on_source(cast.who(cast.dana, cast.ana, "telephone"), **decision))
    clearance.refresh_from_db()
    cast.check(clearance)


def test_m3v_the_tags_forbid_and_say_that_people_are_at_work(cast: Cast, client: Client) -> None:
    """(m)(3)(v) [M]: tags prohibit operation and say that employees are at work. One a point, numbered."""
    clearance = cast.job("isolated")
    numbers = [tag.number for tag in facts.live_tags().order_by("number")]
    assert numbers == [f"{clearance.pk}-{place}" for place in (1, 2, 3, 4)]
    client.force_login(cast.dana)
    paper = client.get(f"/desk/clearances/{clearance.pk}/tags/").content.decode()
    assert paper.count("DO NOT OPERATE") == paper.count("PEOPLE AT WORK") == 4
    assert all(number in paper for number in numbers)
    assert paper.count("Ana Duarte") >= 4


def test_m3vi_tested_after_it_is_given(tap: Tap) -> None:
    """(m)(3)(vi) [M]: after all that, and after the operator gives the clearance, test for voltage. A test
    from before is stored, and counts for nothing."""
    clearance = tap.job("isolated")
    tap.test(clearance)
    test = clearance.tests.get()
    assert test.irregular == "Tested before the clearance was given and accepted."
    tap.give(Clearance.objects.get(pk=clearance.pk))
    tap.accept(Clearance.objects.get(pk=clearance.pk))
    tap.ground(clearance)
    assert all("No test without voltage" in ground.irregular for ground in clearance.ground_sets.all())


def test_n5_tested_before_it_is_grounded(tap: Tap) -> None:
    """(n)(5) [V2]: before a ground is attached, test that nominal voltage is absent."""
    clearance = tap.job("accepted")
    tap.ground(clearance)
    assert {ground.irregular for ground in clearance.ground_sets.all()} == {
        "No test without voltage on A, B, C since the clearance was accepted."
    }
    other = tap.bring(tap.asked(holder=tap.bo), "tested")
    done(
        on_the_line.ground_on(
            tap.who(tap.bo), clearance=other.pk, label="B1", pole="P-252", phases="B", done_at=timezone.now()
        )
    )
    assert other.ground_sets.get().irregular == ""


def test_m3vii_each_ground_set_by_number_and_pole(tap: Tap) -> None:
    """(m)(3)(vii) [M]: install grounds as (n) requires. Each set is known by its number, on and off."""
    clearance = tap.job("grounded")
    assert facts.facts_of(clearance).grounds == ("G3 at P-214", "G5 at P-215")


def test_m3viii_only_then_and_never_by_the_board_alone(cast: Cast, client: Client) -> None:
    """(m)(3)(viii) [M]: only after (i) to (vii) may it be considered de-energized. At every stage before, the
    foreman's page says what to take the line for; at none does it say that the line is anything."""
    client.force_login(cast.ana)
    says = {
        "given": "No work under it. Treat the line as energized.",
        "accepted": "Treat it as energized until you have tested it and put the ground sets on.",
        "tested": "No ground set is on: treat it as energized.",
        "grounded": "reported grounded: G3 at P-214, G5 at P-215. Treat all else as energized.",
        "released": "No work under it. Treat the line as energized.",
    }
    clearance = cast.job("isolated")
    for stage, sentence in says.items():
        clearance = bring_on(cast, clearance, stage)
        page = client.get(f"/field/clearances/{clearance.pk}/").content.decode()
        plain = page.replace('<span class="keep">', "").replace("</span>", "")
        assert sentence in plain, stage


def test_m3x_told_clear_grounds_off_reported_then_released(cast: Cast) -> None:
    """(m)(3)(x) [M]: everyone told, all clear of the line, all grounds off, reported, then released."""
    clearance = cast.job("working")
    refused = release(cast, clearance, cast.ana, told_everyone=False)
    assert texts(refused) == [
        "Ground set G3 at P-214 is on.",
        "Ground set G5 at P-215 is on.",
        "Sal Moreno is signed on.",
        "Lee Abara is signed on.",
        "The holder has not said that everyone is told and that all are off the line.",
    ]
    assert leans_on(refused) == {f"{FEDERAL}(m)(3)(x) (from memory)"}
    cast.leave(clearance)
    assert codes(release(cast, clearance, cast.ana, all_off=False)) == ["statements_missing"]
    entry = done(release(cast, clearance, cast.ana)).entry
    assert entry.words == (
        f"Ana Duarte releases clearance {clearance.pk}: everyone told, 2 of 2 people off, 2 of 2 ground sets "
        "off."
    )


def test_m3xi_only_the_holder_releases(cast: Cast) -> None:
    """(m)(3)(xi) [M]: only the employee in charge who asked for it releases it, unless it was transferred."""
    clearance = cast.job("accepted")
    for other in (cast.bo, cast.dana):
        refused = release(cast, clearance, other)
        assert texts(refused) == [f"Only Ana Duarte can release clearance {clearance.pk}."]
        assert leans_on(refused) == {f"{FEDERAL}(m)(3)(xi) (from memory)"}
    assert codes(release(cast, clearance, cast.sal)) == ["role"]
    by_radio = giving.release_clearance(
        cast.who(cast.dana, cast.ana, "radio"),
        clearance=clearance.pk,
        version=None,
        told_everyone=True,
        all_off=True,
    )
    assert done(by_radio).entry.words.startswith("Ana Duarte, entered by Dana Reyes (radio) releases")


@pytest.mark.parametrize("stage", ["isolated", "given", "accepted", "people and grounds off"])
def test_m3xii_no_tag_comes_off_before_the_release(tap: Tap, stage: str) -> None:
    """(m)(3)(xii) [M]: no tag is removed before its clearance is released."""
    clearance = tap.job(stage)
    refused = give_step(tap, clearance, first(tap, clearance, "remove_tag"))
    assert texts(refused) == [
        f"Clearance {clearance.pk} is not released by Ana Duarte: no tag comes off and nothing is closed."
    ]
    assert leans_on(refused) == {f"{FEDERAL}(m)(3)(xii) (from memory)"}


def test_m3xiii_no_reenergizing_with_another_crew_s_tag_at_the_point(tap: Tap) -> None:
    """(m)(3)(xiii) [M]: at a point of disconnection, all crews released and all tags off that point."""
    ana = tap.job("told")
    bo = tap.bring(tap.asked(holder=tap.bo), "checked")  # both orders close C-233 at the end
    tap.isolate(ana)
    done(give(tap, ana))
    tap.accept(Clearance.objects.get(pk=ana.pk))
    (look,) = tap.steps(bo, "isolate")
    done(
        reporting.report_step(
            tap.who(tap.sal),
            step=look.pk,
            phases="B",
            done_at=timezone.now(),
            made_inoperable="out",
            tag=True,
        )
    )
    tap.release(Clearance.objects.get(pk=ana.pk))
    remove, close = tap.steps(ana, "restore")
    done(give_step(tap, ana, remove))
    tap.report_step(remove)
    refused = give_step(tap, ana, close)
    assert texts(refused) == [
        (
            f"C-233 can't be ordered closed: tag {bo.pk}-1 is on it (clearance {bo.pk}, Bo Lindqvist, "
            f"555-0142, promised {timezone.localtime(bo.promised_end):%H:%M})."
        )
    ]
    assert leans_on(refused) == {f"{FEDERAL}(m)(3)(xiii) (from memory)"}


def test_m3xiii_no_reenergizing_with_a_ground_set_left_elsewhere_in_the_section(cast: Cast) -> None:
    """(m)(3)(xiii) [M]: all grounds removed, wherever in the section; here one that was put on again after
    the release, at the other end."""
    clearance = cast.job("released")
    done(
        on_the_line.ground_on(
            cast.who(cast.ana),
            clearance=clearance.pk,
            label="G7",
            pole="P-217",
            phases="B",
            done_at=timezone.now(),
        )
    )
    remove, close = cast.steps(clearance, "restore")[:2]
    done(give_step(cast, clearance, remove))
    cast.report_step(remove)
    assert texts(give_step(cast, clearance, close)) == [
        "C-221 can't be ordered closed: ground set G7 at P-217 is on."
    ]
    who = cast.who(cast.ana)
    done(on_the_line.ground_off(who, clearance=clearance.pk, label="G7", done_at=timezone.now()))
    assert isinstance(give_step(cast, clearance, close), Done)


def test_m3xiii_no_reenergizing_of_another_crew_s_work_from_elsewhere(cast: Cast) -> None:
    """(m)(3)(xiii) [M]: clearance 42 of the example works on the tap span from P-207 to C-208. Its point
    C-208 was closed by a slip; closing C-221 would now put voltage on it from the far end."""
    ana = cast.job("released")
    bo = cast.asked(holder=cast.bo, from_pole="P-207", to_pole="P-208", work="Replace the tap span")
    points = ["J-207", "C-208"]
    who = cast.who(cast.dana)
    done(planning.choose_points(who, clearance=bo.pk, version=bo.version, devices=points))
    for move in (cast.write, cast.check, cast.tell, cast.isolate, cast.give, cast.accept):
        bo.refresh_from_db()
        move(Clearance.objects.get(pk=bo.pk))
    reporting.report_position(
        cast.who(cast.sal), device="C-208", phases="ABC", position="closed", done_at=timezone.now()
    )
    for each in (ana, bo):
        row = Clearance.objects.get(pk=each.pk)
        if row.order.state == "paused":
            who = cast.who(cast.dana)
            done(switching.resume_order(who, clearance=row.pk, version=row.version, why="to be looked at"))
    remove, close = cast.steps(ana, "restore")[:2]
    done(give_step(cast, ana, remove))
    cast.report_step(remove)
    refused = give_step(cast, ana, close)
    assert texts(refused) == [
        (
            "Closing C-221 ABC would energize primary P-207 to P-208, phases A, B, C "
            f"(clearance {bo.pk}, Bo Lindqvist, 555-0142)."
        )
    ]
