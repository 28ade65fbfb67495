"""What the trainer itself sounds in a round, in sentences for the student."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trainer.routine.problem import listed
from trainer.routine.round import PartnerPart, Round

MOST_BARS_NAMED = 4
"""Of more bars only the number is said."""


def along_sentences(round_: Round) -> tuple[str, ...]:
    """Who plays when, where the click rests, and where the tempo goes; empty where all is plain."""
    return (*_of_the_partner(round_), *_of_the_click(round_), *_of_the_tempo(round_))


def along_words(round_: Round) -> tuple[str, ...]:
    """The same in a few words, for a line of them."""
    partner = round_.partner
    turns = (str(partner),) if partner in (PartnerPart.CALLS, PartnerPart.TURNS) else ()
    return (*turns, *(("click rests",) if silent_bars(round_) else ()))


def silent_bars(round_: Round) -> tuple[int, ...]:
    """The bars of the round, from 1, in which the click rests."""
    bars = round_.bars.until(round_.beats)
    return tuple(1 + bar.number for bar in bars if not round_.click.sounds_in(bar.number))


def own_bars(round_: Round) -> tuple[int, ...]:
    """The bars of the round, from 1, in which the student begins a note."""
    return tuple(dict.fromkeys(1 + round_.bars.at(note.beat).number for note in round_.notes))


def _of_the_partner(round_: Round) -> Iterator[str]:
    match round_.partner:
        case PartnerPart.LEADS:
            yield "The partner plays it first; then it is your turn."
        case PartnerPart.CALLS:
            yield f"The partner plays a turn, you play it back. {_yours(round_)}"
        case PartnerPart.TURNS:
            yield f"You and the partner take turns. {_yours(round_)}"


def _yours(round_: Round) -> str:
    bars = own_bars(round_)
    if len(bars) > MOST_BARS_NAMED:
        return f"Yours begin with bar {bars[0]}; the staff says which are the partner's."
    return f"{_bars(bars).capitalize()} {'is' if len(bars) == 1 else 'are'} yours."


def _of_the_click(round_: Round) -> Iterator[str]:
    bars, click = silent_bars(round_), round_.click
    if not bars:
        return
    if len(bars) <= MOST_BARS_NAMED:
        yield f"The click rests in {_bars(bars)}."
        return
    cycle = click.sounding_bars + click.silent_bars
    yield f"The click rests for the last {_counted(click.silent_bars)} of every {cycle}."


def _of_the_tempo(round_: Round) -> Iterator[str]:
    if round_.end_tempo_share != 1 and round_.in_time:
        how = "gathers speed" if round_.end_tempo_share > 1 else "slows down"
        end_bpm = round_.tempo_bpm * round_.end_tempo_share
        yield f"The tempo {how}, from {round_.tempo_bpm:.0f} to {end_bpm:.0f}."


def _bars(bars: Sequence[int]) -> str:
    """'bar 3', 'bars 3 and 4'."""
    word = "bar" if len(bars) == 1 else "bars"
    return f"{word} {listed(map(str, bars), 'and')}"


def _counted(bars: int) -> str:
    return "bar" if bars == 1 else f"{bars} bars"
