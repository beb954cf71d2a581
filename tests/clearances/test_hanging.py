"""What the page of a device says about the tags on it, and to whom it shows the way."""

from clearances.hanging import tags_on
from tests.cast import Cast


def test_a_tag_is_told_with_its_clearance_its_holder_and_how_many_are_on(cast: Cast) -> None:
    job = cast.job("working")
    (tag,) = tags_on("C-208", cast.dana)
    people = job.sign_ons.filter(off_at=None).count()
    assert (tag.number, tag.phases) == (f"{job.pk}-1", "ABC")
    assert tag.words.startswith(f"work clearance {job.pk}, Ana Duarte, 555-0117, {people} on; hung ")
    assert tag.words.endswith(" by Sal Moreno")
    assert tags_on("N-7", cast.dana) == []


def test_the_way_to_the_clearance_is_for_those_who_may_go_it(cast: Cast) -> None:
    job = cast.job("working")
    people = {"desk": cast.dana, "holder": cast.ana, "another foreman": cast.bo, "engineer": cast.jon}
    ways = {who: tags_on("C-208", person)[0].url for who, person in people.items()}
    desk, sheet = f"/desk/clearances/{job.pk}/", f"/field/clearances/{job.pk}/"
    assert ways == {"desk": desk, "holder": sheet, "another foreman": "", "engineer": desk}


def test_the_tags_of_two_clearances_stand_in_the_order_they_were_hung(cast: Cast) -> None:
    first = cast.job("accepted")
    second = cast.asked(holder=cast.bo, from_pole="P-209", to_pole="P-211", work="Replace an insulator")
    cast.bring(second, "accepted")
    numbers = [tag.number for tag in tags_on("C-221", cast.dana)]
    assert numbers == [f"{first.pk}-2", f"{second.pk}-2"]
