"""What stands and is no clearance, as the desk, the phone, the device's page and customer service see it: in
its own words, never like a clearance."""

from django.utils import timezone

from circuits import snapshot
from circuits.upward import Proposal
from clearances import network
from clearances.models import HoldReport, Interruption
from tests.cast import Cast

from .beside import RECLOSER, Elm, a_do_not_operate, a_field_clearance, a_hold, answer, give_back, say, stands
from .looking import acts, look


def needs(cast: Cast) -> list[str]:
    return [f"{need['word']} {need['text']}" for need in look(cast.dana, "/desk/").context["needs"]]


def test_the_desk_lists_them_by_themselves(cast: Cast) -> None:
    hold, kept, field = a_hold(cast), a_do_not_operate(cast), a_field_clearance(cast)
    seen = look(cast.dana, "/desk/")
    assert [(row["word"], row["number"], row["name"]) for row in seen.context["beside"]] == [
        ("RECLOSE OFF, works energized", hold.number, "Bo Lindqvist"),
        ("DO NOT OPERATE, no clearance", kept.number, "Iris Novak, Novak Electric"),
        ("FIELD CLEARANCE, no operator order", field.number, "Ana Duarte"),
    ]
    assert seen.context["crews"] == []
    why = {row["device"]: row["why"] for row in seen.context["abnormal"]}
    assert why == {
        "F-210": "field clearance, Ana Duarte, no operator order",
        "F-275": f"do not operate {kept.number}",
    }
    assert len(acts(seen, "end_field_clearance")) == len(acts(seen, "give_back_do_not_operate")) == 1


def test_the_desk_sees_at_once_who_works_under_a_recloser_that_opened(cast: Cast) -> None:
    hold = a_hold(cast)
    assert not [need for need in needs(cast) if hold.number in need]
    stands(cast, RECLOSER, "open")
    open_under_it = f"R-31 is open under hot-line hold {hold.number}."
    (need,) = [need for need in needs(cast) if need.startswith(open_under_it)]
    assert "Bo Lindqvist, 555-0142, works beyond." in need
    answer(cast, hold, "yes")
    assert not [need for need in needs(cast) if need.startswith(open_under_it)]


def test_the_desk_sees_reclosing_that_came_back_on_and_a_hold_that_is_left_behind(cast: Cast) -> None:
    hold = a_hold(cast)
    say(cast, hold, "reclose_on")
    assert f"Hot-line hold {hold.number} is not as it was given." in " ".join(needs(cast))
    say(cast, hold, "reclose_off")
    give_back(cast, hold)
    assert "Its tag still hangs at R-31" in " ".join(needs(cast))
    say(cast, hold, "tag_off")
    assert "Reclosing at R-31 is still off: have it put back and reported." in " ".join(needs(cast))
    say(cast, hold, "reclose_on")
    assert hold.number not in " ".join(need for need in needs(cast) if not need.startswith("Entry"))


def test_while_another_hold_is_out_reclosing_is_not_asked_back_on(cast: Cast) -> None:
    first, second = a_hold(cast), a_hold(cast, holder=cast.ana, from_pole="P-276", to_pole="P-277")
    give_back(cast, first)
    say(cast, first, "tag_off")
    assert not [need for need in needs(cast) if "is still off" in need]
    give_back(cast, second)
    assert [need for need in needs(cast) if "is still off" in need]


def test_whoever_plans_through_them_is_told(cast: Cast) -> None:
    """The transformer of a field clearance, and the recloser of a hold that another clearance needs open."""
    elm = Elm.present()
    job = elm.bring(elm.asked(holder=elm.ana), "points chosen")
    hold = a_hold(elm)
    (said,) = look(elm.dana, "/desk/").context["conflicts"]
    assert said.startswith(
        f"Clearance {job.pk} (Ana Duarte): Bo Lindqvist, 555-0142, works energized beyond R-31, one of its "
        f"points, under hot-line hold {hold.number}"
    )
    for path in (f"/do/choose_points/?clearance={job.pk}", f"/desk/clearances/{job.pk}/"):
        assert hold.number in look(elm.dana, path).text, path
    sheet = look(elm.ana, f"/field/clearances/{job.pk}/")
    assert {"name": "Bo Lindqvist", "phone": "555-0142"}.items() <= sheet.context["others"][0].items()


def test_the_device_s_page_says_what_stands_there_and_whom_a_test_close_would_hit(cast: Cast) -> None:
    hold = a_hold(cast)
    stands(cast, RECLOSER, "open")
    seen = look(cast.dana, f"/desk/devices/{RECLOSER}/?operation=close&phases=A&phases=B&phases=C")
    (standing,) = seen.context["standing"]
    assert standing == (
        f"Hot-line hold {hold.number}, RECLOSE OFF: Bo Lindqvist, 555-0142, works energized beyond it at "
        "P-278 to P-279, phases A, B, C."
    )
    assert seen.context["question"]["hits"] == seen.context["standing"]
    breaker = look(cast.dana, "/desk/devices/B-14/?operation=close&phases=A&phases=B&phases=C")
    assert breaker.context["question"]["hits"] == []
    stands(cast, RECLOSER, "closed")
    stands(cast, "B-14", "open")
    breaker = look(cast.dana, "/desk/devices/B-14/?operation=close&phases=A&phases=B&phases=C")
    assert breaker.context["question"]["hits"] == [
        f"Bo Lindqvist, 555-0142: the line at P-278 to P-279, phases A, B, C (hot-line hold {hold.number})."
    ]


def test_the_drawing_has_their_own_words(cast: Cast) -> None:
    hold, kept = a_hold(cast), a_do_not_operate(cast)
    a_field_clearance(cast)
    assert network.marks().notes == {
        RECLOSER: [f"RECLOSE OFF {hold.number}"],
        "F-275": [f"do not operate {kept.number}"],
        "F-210": ["field clearance, Ana Duarte, no operator order"],
    }
    assert network.marks().tags == {}
    assert f"A, B, C closed; RECLOSE OFF {hold.number}." in look(cast.dana, "/desk/circuits/14/").text


def test_the_phone_shows_its_person_s_own(cast: Cast) -> None:
    hold, field = a_hold(cast, "given"), a_field_clearance(cast)
    bo, ana = look(cast.bo, "/field/"), look(cast.ana, "/field/")
    assert [row["number"] for row in bo.context["beside"]] == [hold.number]
    assert [row["number"] for row in ana.context["beside"]] == [field.number]
    assert len(acts(bo, "accept_hold")) == len(acts(ana, "end_field_clearance")) == 1
    assert "Hot-line hold, no clearance: ENERGIZED" in bo.text


def test_the_hold_tag_is_a_form_of_its_own(cast: Cast) -> None:
    hold = a_hold(cast)
    seen = look(cast.dana, f"/desk/holds/{hold.pk}/tag/")
    for words in ("RECLOSE OFF", "DO NOT TEST CLOSE", hold.number, "Bo Lindqvist, 555-0142", "R-31"):
        assert words in seen.text, words
    assert "PEOPLE AT WORK" not in seen.text
    assert "DANGER" not in seen.text
    assert look(cast.dana, "/desk/holds/999/tag/").status == 404


def test_customer_service_sees_none_of_it_but_the_customers_out(cast: Cast) -> None:
    a_hold(cast)
    a_do_not_operate(cast)
    a_field_clearance(cast)
    stands(cast, RECLOSER, "open")
    out = Interruption.objects.filter(on_at=None).values_list("premises", flat=True)
    assert len(out) > 60
    for path in ("/service/?q=quarry", "/service/?q=elm", *(f"/service/?premises={one}" for one in out[:6])):
        seen = look(cast.mira, path)
        assert seen.status == 200
        for secret in ("HL-", "DNO-", "FC-", "Novak", "Lindqvist", "Duarte", "R-31", "F-210"):
            assert secret not in seen.text, (path, secret)


def test_no_import_pulls_the_network_from_under_them(cast: Cast) -> None:
    hold, kept, field = a_hold(cast), a_do_not_operate(cast), a_field_clearance(cast)
    changed = {"devices": {RECLOSER}, "nodes": {"P-210t", "P-278"}}
    verdict = network.may_import(Proposal({"devices": {"F-275"}}, changed, snapshot.compiled()))
    assert set(verdict.against) == {
        f"It changes device R-31, where hot-line hold {hold.number} stands.",
        f"It changes node P-278, where people work under hot-line hold {hold.number}.",
        f"It leaves out device F-275, where do-not-operate {kept.number} stands.",
        f"It changes node P-210t, where people work under field clearance {field.number}.",
    }


def test_an_answer_that_is_too_old_to_count_stays_in_the_history(cast: Cast) -> None:
    hold = a_hold(cast)
    answer(cast, hold, "stays")
    said = [(row.said, row.said_by) for row in HoldReport.objects.filter(hold=hold)]
    assert said == [("reclose_off", "Sal Moreno"), ("tag_hung", "Sal Moreno"), ("stays", "Bo Lindqvist")]
    assert HoldReport.objects.latest("pk").entered_at <= timezone.now()
