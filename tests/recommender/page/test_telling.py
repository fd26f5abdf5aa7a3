"""What was done is told once, and never by whoever writes an address."""

from __future__ import annotations

from triptych.recommender.page.telling import REMEMBERED_TELLINGS, Tellings


def test_what_was_done_is_told_once() -> None:
    """A token is good once; another is good for nothing."""
    tellings = Tellings()
    token = tellings.keep(["sold 1", "none is left"])
    assert tellings.take("sold 1") == ()
    assert tellings.take(token) == ("sold 1", "none is left")
    assert tellings.take(token) == ()


def test_only_so_many_are_kept() -> None:
    """The oldest goes first, and tokens are long and never alike."""
    tellings = Tellings()
    tokens = [tellings.keep([str(number)]) for number in range(REMEMBERED_TELLINGS + 1)]
    assert len(set(tokens)) == len(tokens)
    assert min(map(len, tokens)) >= 22
    assert tellings.take(tokens[0]) == ()
    assert tellings.take(tokens[1]) == ("1",)
    assert tellings.take(tokens[-1]) == (str(REMEMBERED_TELLINGS),)
