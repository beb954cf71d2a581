"""Two clearances of one person at two sites, given at the same moment: one is given, the other is refused."""

import pytest

from clearances import holders
from clearances.models import Clearance
from clearances.services import giving
from clearances.services.verb import Outcome, Refused
from tests.cast import Cast, done
from tests.clearances.plays import Tap

from .conftest import FEW, Race
from .test_races import chapel_row, one_wins, unbroken, version


@pytest.mark.parametrize("blind", [False, True], ids=["the rule looks", "the database alone"])
def test_one_person_is_given_two_sites(race: Race, blind: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    if blind:  # both have passed the rule before either has written
        monkeypatch.setattr(holders, "against_giving", lambda clearance: ())
    here, there = chapel_row(race), Tap(**vars(race.cast))
    plays: list[tuple[Cast, Clearance]] = [(here, here.job("isolated"))]
    plays.append((there, there.bring(there.asked(), "isolated")))
    heard: set[str] = set()
    for _ in range(FEW):

        def give(cast: Cast, clearance: Clearance, picture: int) -> Outcome:
            return giving.give_clearance(cast.who(cast.dana), clearance=clearance.pk, version=picture)

        pictures = [(cast, clearance, version(clearance)) for cast, clearance in plays]
        outcomes = race.together(*(lambda one=one: give(*one) for one in pictures))
        winner = one_wins(outcomes).entry.clearance
        assert winner
        (told,) = [outcome for outcome in outcomes if isinstance(outcome, Refused)]
        heard |= {refusal.code for refusal in told.refusals}
        out = Clearance.objects.filter(state="given")
        assert list(out) == [winner]
        dana = here.who(here.dana)
        done(giving.take_clearance_back(dana, clearance=winner.pk, version=version(winner), why="once more"))
    assert heard <= ({"holder_at_one_site"} if blind else {"holder_elsewhere", "holder_at_one_site"})
    unbroken()
