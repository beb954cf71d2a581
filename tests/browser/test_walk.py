"""One planned job from the request to the last customer's light, each at their own screen: the foreman on a
phone, the operator at the desk, a second operator who checks, customer service on the telephone."""

import re
from datetime import timedelta

from django.core.management import call_command
from django.utils import timezone
from playwright.sync_api import expect

from clearances.models import Clearance, Job
from tests.cast import Cast

from .conftest import DESK, PHONE, Board, Seat, Shot
from .people import Answers, AtDesk, OnPhone


def test_the_rotten_pole(board: Board, cast: Cast, seat: Seat, shot: Shot) -> None:
    board.forget_letters()
    ana = OnPhone(seat(PHONE), "ana").sign_in()
    dana = AtDesk(seat(DESK), "dana").sign_in()
    mira = AtDesk(seat(DESK), "mira").sign_in()
    shot(dana.page, "desk-quiet", dark=True)

    # The foreman asks, question by question.
    ana.sees("You hold no work clearance, and no step is given to you. Treat every line as energized.")
    shot(ana.page, "phone-nothing")
    begins = timezone.localtime()
    ana.press("Ask for a clearance")
    shot(ana.page, "phone-question")
    ana.send(
        {
            "From pole": "p-211",
            "To pole": "213",
            "Phases": ["phase A", "phase B", "phase C"],
            "The work": "Replace the rotten pole P-212",
            "What may customers be told": "a pole has to be replaced",
            "Crew": "line 1",
            "Start": begins,
            "Promised end": begins + timedelta(hours=4),
            "Latest acceptable finish": begins + timedelta(hours=5),
            "Recall time, minutes": None,
            "Alternate holder": None,
        },
        press="Ask for a clearance",
    )
    ana.sees("Not given")
    number = Clearance.objects.get().pk

    # The desk hears of it by itself, and plans: it ticks what the page shows until no way in is left.
    dana.sees(f"Request {number} waits for a plan.")
    shot(dana.page, "desk-request")
    dana.press(f"Look at {number}")
    dana.sees("Not the real network. No order can be given from this page.")
    dana.press("Choose the points")
    for device, way_in in (
        ("C-208", "B-12 > P-201 > P-207 > J-207 > P-208 > C-208 > P-209 > P-211"),
        ("C-221", "B-12 > P-201 > P-221 > C-221 > P-220 > P-213"),
        ("D-219", "D-219 > P-219 > F-219"),
        ("D-212", "D-212 > P-212 > F-212"),
    ):
        expect(dana.form.get_by_role("definition").filter(has_text=way_in).first).to_be_visible()
        if device == "C-221":
            shot(dana.page, "desk-points", whole=True)
        dana.form.get_by_role("checkbox", name=re.compile(f"^{device} ")).check()
        dana.form.get_by_role("button", name="Take these points, and show what is left").click()
        if device != "D-212":
            expect(
                dana.form.get_by_role("checkbox", name=re.compile(f"^{device} .*, chosen$"))
            ).to_be_checked()
    dana.told(f"Clearance {number}: points C-208, C-221, D-219, D-212.")
    dana.sees("No path known to the board would be left unblocked with every chosen point reported open")
    dana.act("Write the order")
    dana.told(f"Dana Reyes writes order {number}: 4 steps to isolate, 8 to restore.")
    shot(dana.page, "desk-plan", dark=True, whole=True)

    # Who wrote it can't check it.
    dana.sees("The next act would be refused:")
    dana.act("Check the order")
    dana.refused("Dana Reyes wrote this order; another person has to check it.")
    ines = AtDesk(seat(DESK), "ines").sign_in()
    ines.sees(f"Order {number} waits for a check.")
    ines.act("Check the order")
    ines.told(f"Ines Okafor checks order {number}: 62 customers will be out.")
    ines.page.context.close()

    # The customers are told, when their number is typed as it is.
    dana.sees("checked")  # by itself: the page was left open
    dana.press("Leave it as it is")
    dana.act("Tell the customers", {"How many customers do you tell": "26"})
    dana.refused(f"Clearance {number} has 62 customers to be told, not 26.")
    shot(dana.page, "desk-count-refused")
    by_hand = dana.form.get_by_role("definition").last.inner_text()
    told = 62 - int(by_hand)
    dana.send({"How many customers do you tell": "62"}, press="Tell the customers")
    dana.told(f"Dana Reyes tells {told} of 62 customers by e-mail; {by_hand} are to be told by hand.")
    dana.sees(re.compile(rf"62 customers, .* {told} told"))  # the page renews itself as the mail goes
    planned = board.mailed("Planned interruption of your power on", told)
    assert len({str(letter["to"]) for letter in planned}) == len(planned)

    # Nobody has answered at the house with life-support: the first step is held.
    life_support = "Life-support at 22 Quarry Lane: no person has answered yet."
    dana.sees("The next act would be refused:")
    dana.sees(life_support)
    dana.press("To the desk, where the first step is given")
    dana.sees("its first step is held until then.", within="Needs you")
    expect(dana.page.get_by_role("link", name="Give step 1")).to_have_count(0)
    mira.look_up("22 quarry")
    mira.sees("Power is on.")
    mira.sees("Your power is to be off")
    mira.sees("No person there has answered yet: ask now, and enter it.")
    shot(mira.page, "service-planned", dark=True)
    answer = {
        "Who answered there": "Greta Zeller",
        "What they will do": "goes to her sister until it is back",
    }
    mira.act("A person answered", answer)
    mira.sees("Greta Zeller answered")

    # Step by step, each phase for itself. Customers are out from what is reported, not what is planned.
    dana.give_step(1, to="Ana Duarte")
    dana.sees("Open C-208 phases A B C", within="Step given and not yet reported")
    ana.home()
    ana.sees("Step 1, given to you")
    shot(ana.page, "phone-step")
    barrels: Answers = {"Made inoperable how": "barrels out, secured"}
    ana.report_step({"Done on": ["phase A", "phase B"], **barrels})
    dana.sees("A B reported, C waits", within="Step given and not yet reported")
    shot(dana.page, "desk-step", dark=True)
    ana.report_step({**barrels, f"Tag {number}-1 hung": True})
    dana.sees(f"Step 2 of order {number} is next.", within="Needs you")

    # One of two ways is open: the clearance is not given, and the refusal names the way that is left (S02).
    mira.look_up("22 quarry")
    mira.sees("Power is on.")
    dana.press(str(number))
    give = f"Give clearance {number} to Ana Duarte"
    dana.act("Give the clearance", {"Your password, Dana Reyes": dana.member.password}, press=give)
    dana.refused("Phases A, B, C are still fed: feeder 12 > B-12 > P-201 > P-221 > C-221 > P-220 > P-213")
    dana.refused("C-221 is reported open 0 of 3, inoperable 0 of 3, tagged 0 of 3.")
    shot(dana.page, "desk-refusal", dark=True)
    dana.press("Leave it as it is")
    dana.press("Desk")

    # A step that the desk enters for the field, by radio, is labelled so.
    dana.give_step(2, to="Ana Duarte")
    by_radio = {"Who says so": "Ana Duarte", "How did the word come": "radio"}
    whole: Answers = {"Done on": ["phase A", "phase B", "phase C"]}
    opened: Answers = {**whole, **barrels, f"Tag {number}-2 hung": True}
    dana.act("Report C-221 open", {**opened, **by_radio}, press="Done as ticked")
    dana.told("Ana Duarte, entered by Dana Reyes (radio)")
    dana.sees("62", within="Customers out")
    mira.look_up("22 quarry")
    mira.sees(re.compile(r"^Out since \d\d:\d\d, planned work\."))
    mira.sees(re.compile(r"Power back by"))
    shot(mira.page, "service-out", dark=True)
    board.mailed("Your power is off for planned work", told)
    for step in (3, 4):
        dana.give_step(step, to="Ana Duarte")
        ana.home()
        ana.report_step({"Made inoperable how": "locked open", f"Tag {number}-{step} hung": True})

    # Given by name, on the giver's own password; accepted by reading it back.
    dana.sees(f"{number} is next to be given.", within="Needs you")
    dana.act("Give the clearance", {"Your password, Dana Reyes": "ana-orrin-vale"}, press=give)
    expect(dana.form).to_contain_text("That is not your password.")
    dana.send({"Your password, Dana Reyes": dana.member.password}, press=give)
    dana.sees("not accepted", within="On the line now: 1 work clearance, 0 people, 0 ground sets")
    ana.home()
    ana.open_sheet(number)
    ana.sees("No work under it. Treat the line as energized.")
    shot(ana.page, "phone-given", dark=True)
    limits = "Primary P-211 to P-213, A B C. C-208, C-221, D-219, D-212 open and tagged"
    ana.act(
        "Read back and accept",
        {"Read back the limits and every point": limits},
        press="Accept the clearance",
    )
    ana.sees("Accepted")
    ana.sees("Treat it as energized until you have tested it and put the ground sets on.")
    dana.sees("accepted", within="On the line now: 1 work clearance, 0 people, 0 ground sets")

    # Tested, grounded, signed on: only now it is reported so, by whom and when.
    found_none: Answers = {
        "At pole": "P-212",
        "Phases tested": ["phase A", "phase B", "phase C"],
        "Found": None,
        "Tester": "contact tester 12",
    }
    found_none = {**found_none, "Tester proven before and after": True, "At": None}
    ana.act("No voltage found", found_none, press="Report a test for voltage")
    for label, pole in (("G3", "P-211"), ("G5", "P-213")):
        ground: Answers = {
            "Number on the ground set": label,
            "At pole": pole,
            "Phases": ["phase A", "phase B", "phase C"],
            "At": None,
        }
        ana.act("Ground set on", ground)
        ana.sees(f"{label} at {pole}")
    for signed_on, name in enumerate(("Ana Duarte", "Sal Moreno"), start=1):
        ana.act("Sign a person on", {"Name": name, "At": None})
        ana.sees(f"Your people signed on: {signed_on}")
    shot(ana.page, "phone-sheet", dark=True)
    shot(ana.page, "phone-sheet-whole", whole=True)
    dana.sees("G5 P-213", within="On the line now: 1 work clearance, 2 people, 2 ground sets")
    shot(dana.page, "desk-on-the-line", dark=True)

    # Not released while a ground set or a person is on; every one is named.
    release: Answers = {
        "Everyone under this clearance is told that it ends": True,
        "All are off the line and stay off": True,
        "Your password, Ana Duarte": ana.member.password,
    }
    ana.act("Release the clearance", release)
    for what in ("G3 at P-211 is on.", "G5 at P-213 is on.", "Ana Duarte is signed on.", "Sal Moreno is"):
        ana.refused(what)
    shot(ana.page, "phone-refusal", whole=True)
    ana.press("Leave it as it is")
    for label in ("G3", "G5"):
        ana.act("Ground set off", {"Which set is off": label, "At": None})
        ana.sees(re.compile(f"^{label} .*off"))
    for name in ("Sal Moreno", "Ana Duarte"):
        ana.act("Sign a person off", {"Who is off the line": name, "At": None})
        ana.sees(re.compile(rf"{name} \(off"))
    ana.sees("Everybody and every ground set is off. Release it?")
    ana.act("Release the clearance", release)
    ana.sees(re.compile("^Released"))
    dana.sees("Ana Duarte", within="Released today")

    # The way back: no close is so much as offered at a point while the tag is on it.
    dana.give_step(5, to="Ana Duarte")
    dana.press(str(number), within="Released today")
    dana.sees(f"Remove tag {number}-2 from C-221")
    expect(dana.page.get_by_role("link", name="Give step 6")).to_have_count(0)
    shot(dana.page, "desk-way-back", whole=True)
    dana.press("Desk")
    ana.home()
    ana.report_step({f"Tag {number}-2 off": True}, press="Tag is off")
    dana.give_step(6, to="Ana Duarte")
    ana.home()
    ana.report_step(whole, press="Closed, and it held")
    dana.sees("0", within="Customers out")
    mira.look_up("22 quarry")
    mira.sees("Power is on")
    for step, device, done in (
        (7, "C-208", {f"Tag {number}-1 off": True}),
        (8, "C-208", whole),
        (9, "D-212", {f"Tag {number}-4 off": True}),
        (10, "D-212", {}),
        (11, "D-219", {f"Tag {number}-3 off": True}),
        (12, "D-219", {}),
    ):
        dana.give_step(step, to="Ana Duarte")
        what, press = ("untagged", "Tag is off") if step % 2 else ("closed", "Closed, and it held")
        dana.act(f"Report {device} {what}", {**done, **by_radio}, press=press)
    dana.sees("Every device is reported in its normal position.")
    mira.look_up("22 quarry")
    mira.sees("Power is on, by what is reported.")
    shot(mira.page, "service-back")
    board.mailed("Your power is back", told)
    dana.press(str(number), within="Released today")
    dana.sees("Order finished")
    shot(dana.page, "desk-finished", whole=True)

    job = Job.objects.get()
    assert job.state == "finished"
    call_command("verify_log")
