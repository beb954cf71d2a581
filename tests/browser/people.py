"""The people of the walk at their screens. They use what can be seen: links, buttons, labels, sentences."""

import datetime
import re
from collections.abc import Mapping
from typing import Self

from playwright.sync_api import Locator, Page, expect

from clearances.demo import CAST

# What is put into a field: text or a choice, a tick, the ticks of a group, a moment; None leaves it as it is.
Value = str | bool | list[str] | datetime.datetime | None
Answers = Mapping[str, Value]


def put(form: Locator, label: str, value: Value) -> None:
    """Put `value` into the field with this label."""
    expect(form).to_be_visible()  # what is counted below does not wait
    name = re.compile(rf"^{re.escape(label)}( \(may stay empty\))?$")
    group = form.get_by_role("group", name=name)
    match value:
        case None:
            pass
        case bool():
            form.get_by_role("checkbox", name=name).set_checked(value)
        case list():
            for box in group.get_by_role("checkbox").all():
                said = box.locator("xpath=..").inner_text().strip()
                box.set_checked(any(re.match(rf"{re.escape(one)}\b", said) for one in value))
        case datetime.datetime():
            group.get_by_label("day").fill(f"{value:%Y-%m-%d}")
            group.get_by_label("time").fill(f"{value:%H:%M}")
        case str() if group.count():
            group.get_by_role("radio", name=value).check()
        case str():
            field = form.get_by_label(name)
            if field.evaluate("field => field.tagName") == "SELECT":
                field.select_option(label=value)
            else:
                field.fill(value)


class Someone:
    """One of the demo's people before a page of their own."""

    def __init__(self, page: Page, login: str) -> None:
        self.page = page
        self.member = next(member for member in CAST if member.login == login)

    def sign_in(self) -> Self:
        self.page.goto("/")
        self.page.get_by_label("Log-in name").fill(self.member.login)
        self.page.get_by_label("Password").fill(self.member.password)
        self.press("Sign in")
        expect(self.page.get_by_text(self.member.name).first).to_be_visible()
        return self

    def sees(self, words: str | re.Pattern[str], *, within: str = "") -> Locator:
        """The words stand on the page, now or when it has renewed itself; `within` names a region of it."""
        place = self.page.get_by_role("region", name=within) if within else self.page
        found = place.get_by_text(words).first
        expect(found).to_be_visible()
        return found

    def sees_not(self, words: str | re.Pattern[str]) -> None:
        expect(self.page.get_by_text(words)).to_have_count(0)

    def press(self, name: str, *, within: str = "") -> None:
        """Press a link or a button."""
        place = self.page.get_by_role("region", name=within) if within else self.page
        exact = re.compile(rf"^\W*{re.escape(name)}$")
        found = place.get_by_role("link", name=exact).or_(place.get_by_role("button", name=exact))
        found.filter(visible=True).first.click()

    @property
    def form(self) -> Locator:
        """The act that is before the eyes."""
        return self.page.get_by_role("article")

    def told(self, words: str | re.Pattern[str]) -> None:
        """The board says that it was done."""
        expect(self.page.get_by_role("status").filter(has_text=words).first).to_be_visible()

    def refused(self, words: str | re.Pattern[str]) -> None:
        """The board will not, and says why."""
        why = self.form.get_by_role("alert")
        expect(why).to_contain_text("NOT DONE")
        expect(why).to_contain_text(words)


class AtDesk(Someone):
    """The desk and customer service: an act opens with all its fields."""

    def act(self, name: str, answers: Answers | None = None, *, press: str = "", within: str = "") -> None:
        """Open an act, fill it in, press its button."""
        self.press(name, within=within)
        self.send(answers or {}, press=press or name)

    def send(self, answers: Answers, *, press: str) -> None:
        for label, value in answers.items():
            put(self.form, label, value)
        self.form.get_by_role("button", name=press).click()

    def give_step(self, place: int, *, to: str) -> None:
        """Give the next step, from what the desk needs to do."""
        self.press(f"Give step {place}", within="Needs you")
        self.send({"Given to": to, "Repeated back, and correct": True}, press="Give the step")
        self.told(f"Step {place} given to {to}")

    def look_up(self, caller: str) -> None:
        """Customer service: find a caller."""
        self.page.get_by_label("Address, name, telephone or meter").fill(caller)
        self.press("Find")


class OnPhone(Someone):
    """The phone: one question a screen."""

    def act(self, name: str, answers: Answers, *, press: str = "") -> None:
        """Open an act and answer its questions in their order, then read it all and press."""
        self.press(name)
        self.send(answers, press=press or name)

    def send(self, answers: Answers, *, press: str) -> None:
        for n, (label, value) in enumerate(answers.items(), start=1):
            if len(answers) > 1:
                expect(self.form.get_by_text(f"Question {n} of {len(answers)}")).to_be_visible()
            put(self.form, label, value)
            if len(answers) > 1:
                self.press("Next")
        self.form.get_by_role("button", name=press).click()

    def report_step(self, changes: Answers, *, press: str = "Done as ticked") -> None:
        """Report the step that is given to me; nothing is filled in but a single phase and the time."""
        self.press("I have done it")
        questions = self.form.locator(".asked").count()
        for n in range(questions):
            if questions > 1:
                expect(self.form.get_by_text(f"Question {n + 1} of {questions}")).to_be_visible()
            for label, value in changes.items():
                if self.form.get_by_text(label, exact=True).first.is_visible():
                    put(self.form, label, value)
            if questions > 1:
                self.press("Next")
        self.form.get_by_role("button", name=press).click()

    def open_sheet(self, number: int) -> None:
        self.page.get_by_role("link", name=re.compile(f"Work clearance {number}")).click()

    def home(self) -> None:
        self.press("Your work")
