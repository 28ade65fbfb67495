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
    in_turns = partner in (PartnerPart.CALLS, PartnerPart.TURNS)
    beside = str(partner) if in_turns else second_part_words(round_)
    return tuple(filter(None, (beside, "click rests" if silent_bars(round_) else "")))


_PARALLELS = {
    PartnerPart.THIRDS_ABOVE: "a third above",
    PartnerPart.THIRDS_BELOW: "a third below",
    PartnerPart.SIXTHS_ABOVE: "a sixth above",
    PartnerPart.SIXTHS_BELOW: "a sixth below",
}
_TURNED_ROUND = {
    PartnerPart.THIRDS_ABOVE: "a sixth below where that lies too high",
    PartnerPart.THIRDS_BELOW: "a sixth above where that lies too low",
    PartnerPart.SIXTHS_ABOVE: "a third below where that lies too high",
    PartnerPart.SIXTHS_BELOW: "a third above where that lies too low",
}


def second_part_words(round_: Round) -> str:
    """'partner a third above', 'canon after a bar'; empty where it has no part of its own."""
    if not round_.second_part or round_.partner is None:
        return ""
    if round_.partner is PartnerPart.CANON:
        return f"canon after {_behind(round_)}"
    return f"partner {_PARALLELS[round_.partner]}"


def _behind(round_: Round) -> str:
    """'a bar', '2 bars', 'a beat', '3 beats'."""
    beats, bar = int(round_.second_part[0].beat - round_.notes[0].beat), round_.beats_per_bar
    count, word = (beats, "beat") if beats % bar else (beats // bar, "bar")
    return f"a {word}" if count == 1 else f"{count} {word}s"


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
        case PartnerPart.CANON:
            yield f"The partner follows {_behind(round_)} behind you: keep to your own line."
        case PartnerPart.DRONE if len(round_.drone_moves) > 1:
            yield f"The drone goes with the harmony: {_roots(round_)}."
        case part if part in _PARALLELS and round_.second_part:
            yield f"The partner plays {_PARALLELS[part]} you{_turned_round(round_)}."


def _turned_round(round_: Round) -> str:
    """Where the partner's side changes, because the flute has no such note."""
    part = round_.partner
    above = part in (PartnerPart.THIRDS_ABOVE, PartnerPart.SIXTHS_ABOVE)
    crossed = any(
        (second.pitch.midi > own.pitch.midi) is not above
        for own, second in zip(round_.notes, round_.second_part, strict=True)
    )
    return f", {_TURNED_ROUND[part]}" if crossed and part in _TURNED_ROUND else ""


def _roots(round_: Round) -> str:
    names = [pitch.name for _, pitch in round_.drone_moves]
    more = ["and so on"] if len(names) > MOST_BARS_NAMED else []
    return ", ".join([*names[:MOST_BARS_NAMED], *more])


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
