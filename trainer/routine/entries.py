"""From the fields of an entry to its exercise: what the fields must be to each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import yaml

from trainer.music.bars import COMMON_TIME, Bars
from trainer.music.key import Key
from trainer.music.note import Articulation
from trainer.music.pulse import ClickPart, Timbre
from trainer.music.scales import ScaleKind
from trainer.routine.exercise_notes import needed_mode
from trainer.routine.model import (
    FASTEST_BPM,
    SLOWEST_BPM,
    Arpeggio,
    AsWritten,
    Breaths,
    ClimbAsked,
    DifferentEveryRound,
    Entry,
    Exercise,
    FixedKey,
    Held,
    InOrder,
    KeyByDay,
    KeyChoice,
    LongTones,
    Partner,
    Passage,
    Reading,
    Rest,
    Scale,
    Trills,
    Voicing,
    VoicingForm,
)
from trainer.routine.notation import read_passage
from trainer.routine.practice_way import Loop
from trainer.routine.progress import NextKey
from trainer.routine.reader import Fault, MisreadError, misread
from trainer.routine.round import Aims, PartnerPart
from trainer.routine.second_part import PARALLEL_STEPS, has_seven_notes
from trainer.routine.tempo_words import fault_of_beat

ROUNDS_OF_DIFFERENT = 6
MOST_CHANGED = 2.0
"""How far the tempo may go within a round, as a factor; common practice, no source."""


@dataclass(frozen=True)
class WrittenEntry:
    """One entry after its fields were read, with the defaults filled in."""

    kind: str
    opening: Any
    """What followed the kind's word."""
    id: str
    node: yaml.Node
    """The whole entry."""
    values: Mapping[str, Any]
    nodes: Mapping[str, yaml.Node]
    """Where each field stands that the teacher wrote, here or under 'defaults'."""
    own: frozenset[str]
    """The fields written in this entry itself."""

    def place(self, *names: str) -> yaml.Node:
        """Where the first of these fields stands; the entry itself where none was written."""
        return next((self.nodes[name] for name in names if name in self.nodes), self.node)


def build_entry(written: WrittenEntry) -> Entry:
    """The entry. Raises MisreadError where its fields contradict each other."""
    line = written.node.start_mark.line + 1
    values = written.values
    match written.kind:
        case "rest":
            return Rest(id=written.id, line=line, words=values["words"], seconds=written.opening)
        case "read":
            return Reading(id=written.id, line=line, text=written.opening)
    common = _common(written, line)
    played = values["of"] if written.kind == "speed climb" else written.kind
    match played:
        case "scale":
            return Scale(
                **common,
                key=_key(written, values["form"]),
                range=values["range"],
                form=values["form"],
                pattern=values["pattern"],
                per_beat=values["rhythm"],
                each=values["each note"],
            )
        case "arpeggio":
            return Arpeggio(
                **common,
                key=_key(written, values["chord"]),
                range=values["range"],
                chord=values["chord"],
                pattern=values["pattern"],
                per_beat=values["rhythm"],
                each=values["each note"],
            )
        case "voicing":
            return Voicing(
                **common,
                key=_voicing_key(written),
                roots=values["roots"],
                partials=values["partials"],
                range=values["range"],
                form=values["form"],
                beats_each=values["beats each"],
            )
        case "long tones":
            return _long_tones(written, common)
        case "trills":
            return Trills(
                **common | {"rounds": None},
                pairs=values["pairs"],
                per_beat=values["rhythms"],
                beats_each=values["beats each"],
            )
        case _:
            return _passage(written, common)


def _common(written: WrittenEntry, line: int) -> dict[str, Any]:
    """What every exercise has, checked."""
    values = written.values
    faults = [
        *_faults_of_partner(written),
        *_faults_of_climb(written),
        *_faults_of_end_tempo(written),
        *_faults_of_progress(written),
        *_faults_of_until(written),
        *_faults_of_loop(written),
        *_faults_of_beat(written),
    ]
    if faults:
        raise MisreadError(*faults)
    climb = None
    if written.kind == "speed climb":
        climb = ClimbAsked(values["from"], values["to"], values["within"], values["way"])
    articulations = values.get("articulations", InOrder((Articulation.SLURRED,)))
    rounds = values.get("rounds")
    if isinstance(articulations, DifferentEveryRound) and rounds is None:
        rounds = max(ROUNDS_OF_DIFFERENT, len(articulations.pool))
    return {
        "id": written.id,
        "line": line,
        "words": values["words"],
        "title": values["title"],
        "tempo_bpm": climb.from_bpm if climb is not None else values["tempo"],
        "articulations": articulations,
        "rounds": 1 if climb is not None else rounds,
        "partner": values["partner"],
        "partner_level_db": values["partner level"],
        "click": _click(values),
        "end_bpm": values.get("tempo at the end"),
        "pure": values["temperament"] and _may_be_pure(values["partner"]),
        "aims": values["aims"],
        "breaths": values.get("breaths", Breaths()),
        "rest_after_s": values["rest after"],
        "climb": climb,
        "mixes": values.get("order", False),
        "settle_s": values["settle"],
        "vibrato": values.get("vibrato", ()),
        "colours": values.get("colours", ()),
        "loudness": values.get("dynamic", ()),
        "ways": values.get("practise", ()),
        "until": values.get("until"),
        "spots": values.get("trouble spots", 0),
        "unjudged": values.get("technique"),
        "figures": values.get("practice rhythm", ()),
        "progress": values.get("progress"),
    }


def _click(values: Mapping[str, Any]) -> ClickPart:
    sounding, silent = values["click rests"]
    return ClickPart(
        subdivisions=values["subdivision"],
        sounding_bars=sounding,
        silent_bars=silent,
        only_counts_in=values["click"] is None,
        timbre=values["click"] or Timbre.TICK,
        level_db=values["click level"],
    )


def _may_be_pure(partner: Partner | None) -> bool:
    """Whether there is something to be pure to."""
    return partner is not None and (
        partner.part is PartnerPart.DRONE or partner.part in PARALLEL_STEPS
    )


def _faults_of_partner(written: WrittenEntry) -> list[Fault]:
    """Pure intervals asked for by this very exercise need somebody to be pure to, a drone, thirds
    and sixths need a key, and thirds and sixths a scale of seven notes."""
    partner = written.values["partner"]
    asked = "temperament" in written.own and written.values["temperament"]
    if asked and not _may_be_pure(partner):
        return [
            Fault(
                written.nodes["temperament"],
                "Pure intervals stand above a drone, but no drone is asked for.",
                "Add 'partner: drone on the tonic'.",
            )
        ]
    told = None
    if partner is not None and partner.part is PartnerPart.DRONE:
        if written.values.get("key") is None:
            told = "The drone has no key to take its note from.", _key_for_partner(written)
    elif partner is not None and partner.part in PARALLEL_STEPS:
        told = _no_parallels(written)
    return [Fault(written.place("partner"), *told)] if told is not None else []


def _no_parallels(written: WrittenEntry) -> tuple[str, str] | None:
    """Why the partner can't play in thirds or sixths here, and what to write; None where it can."""
    kind, form = written.values.get("of", written.kind), written.values.get("form")
    other = "Write 'partner: canon after a bar', or another partner."
    if kind == "arpeggio":
        return "Thirds and sixths lead out of the chord.", other
    if isinstance(form, ScaleKind) and not has_seven_notes(form):
        return f"Thirds and sixths want a scale of seven notes, which '{form}' is not.", other
    if written.values.get("key") is None:
        return "Thirds and sixths have no key to be counted in.", _key_for_partner(written)
    return None


def _key_for_partner(written: WrittenEntry) -> str:
    if written.kind == "trills":
        return "Trills have no key: write 'partner: same notes', or leave it out."
    return "Add a key, such as 'key: E flat'."


def _faults_of_climb(written: WrittenEntry) -> list[Fault]:
    if written.kind != "speed climb" or written.values["from"] < written.values["to"]:
        return []
    start, goal = written.values["from"], written.values["to"]
    return [
        Fault(
            written.place("to", "from"),
            f"The climb ends at {goal:g}, which is not faster than {start:g}.",
            "Write the slower tempo after 'from' and the faster after 'to'.",
        )
    ]


def _faults_of_end_tempo(written: WrittenEntry) -> list[Fault]:
    """A tempo can't run away within one round."""
    end = written.values.get("tempo at the end")
    if end is None:
        return []
    begin = written.values["tempo"]
    if begin / MOST_CHANGED <= end <= begin * MOST_CHANGED:
        return []
    return [
        Fault(
            written.place("tempo at the end"),
            f"From {begin:g} to {end:g} is too far for one round.",
            f"Write {max(SLOWEST_BPM, begin / MOST_CHANGED):g} to "
            f"{min(FASTEST_BPM, begin * MOST_CHANGED):g}.",
        )
    ]


def _faults_of_until(written: WrittenEntry) -> list[Fault]:
    """Aims to be met must have been set."""
    until = written.values.get("until")
    if until is None or written.values["aims"] != Aims():
        return []
    what = "Each round is played until it is right, but nothing says what is right."
    return [Fault(written.place("until"), what, "Add 'aims: {clean: 95 %}'.")]


def _faults_of_loop(written: WrittenEntry) -> list[Fault]:
    """Only written bars can be counted."""
    looped = any(isinstance(way, Loop) for way in written.values.get("practise", ()))
    if not looped or written.kind == "passage":
        return []
    what = "Only a passage has bars of its own to loop."
    mend = "Write 'each group three times' here, or put the notes in a passage."
    return [Fault(written.place("practise"), what, mend)]


def _faults_of_progress(written: WrittenEntry) -> list[Fault]:
    """A rule needs aims to be met; one asked for by this very exercise needs keys to follow."""
    rule = written.values.get("progress")
    if rule is None:
        return []
    if written.values["aims"] == Aims():
        what = "Progress waits for the aims to be met, but there are none."
        return [Fault(written.place("progress"), what, "Add 'aims: {cents: 15, clean: 95 %}'.")]
    key = written.values.get("key")
    if "progress" not in written.own or not isinstance(rule.step, NextKey):
        return []
    if key is None or not isinstance(key(None), KeyByDay):
        what = "There is no next key: the key is not one of several in order."
        mend = "Write keys that follow each other: 'key: [C, G, D]', or 'by day through fifths'."
        return [Fault(written.place("progress"), what, mend)]
    return []


def _key(written: WrittenEntry, form: Any) -> KeyChoice:
    choice: KeyChoice = written.values["key"](needed_mode(form))
    return choice


def _voicing_key(written: WrittenEntry) -> KeyChoice | None:
    """None where roots stand for it."""
    if written.values["key"] is not None:
        return _key(written, None)
    if not written.values["roots"]:
        mend = "Add a key, such as 'key: E flat', or in harmonics 'roots: [C4]'."
        raise misread(written.node, f"'key:' is missing in this {written.kind}.", mend)
    if written.values["form"] is not VoicingForm.HARMONICS:
        what = "Roots are for harmonics."
        raise misread(written.place("roots"), what, "Add 'form: harmonics', or a key.")
    return None


def _long_tones(written: WrittenEntry, common: dict[str, Any]) -> LongTones:
    values = written.values
    pitches, held = values["notes"] or (), values["beats each"]
    if not pitches and values["key"] is None:
        raise misread(
            written.node,
            "These long tones have no notes.",
            "Add 'notes: [B4, A#4, A4]', or a key and a range.",
        )
    if any(one.swell is not None and one.first is None for one in common["loudness"]):
        raise misread(
            written.place("dynamic"),
            "On long tones each note has its own swell.",
            "Write 'swell: louder', 'swell: softer' or 'swell: there and back' for it.",
        )
    key = values["key"](None) if values["key"] is not None else None
    return LongTones(
        **common,
        key=key,
        range=values["range"],
        pitches=pitches,
        beats_each=Fraction(8) if isinstance(held, Held) else held,
        held=held if isinstance(held, Held) else None,
        beats_between=values["beats between"],
        swell=values["swell"],
    )


def _passage(written: WrittenEntry, common: dict[str, Any]) -> Passage:
    meter, key = written.values["time"], _fixed_key(written)
    read = read_passage(written.nodes["notes"], meter, key)
    common = common | {"articulations": _passage_articulations(written)}
    in_bars = Bars(meter, key, read.changes, read.cadenzas)
    bars = (0 if read.upbeat else 1) + in_bars.at(read.notes[-1].beat).number
    if read.cadenzas:
        _refuse_in_time_alone(written, common)
    for way in common["ways"]:
        if isinstance(way, Loop) and way.last_bar > bars:
            what = f"There are {bars} bars here, so no bar {way.last_bar} to loop."
            raise misread(written.place("practise"), what, f"Write bars from 1 to {bars}.")
    return Passage(
        **common,
        notes=read.notes,
        end=read.end,
        upbeat=read.upbeat,
        key=key,
        meter=meter,
        changes=read.changes,
        cadenzas=read.cadenzas,
        one_breath=written.values["one breath"],
    )


def _refuse_in_time_alone(written: WrittenEntry, common: dict[str, Any]) -> None:
    """What can't be asked for where a cadenza stands in the midst."""
    asked = {
        "practise": any(isinstance(way, Loop) for way in common["ways"]),
        "settle": common["settle_s"] is not None,
        "practice rhythm": bool(common["figures"]),
        "from": common["climb"] is not None,
    }
    for name, wanted in asked.items():
        if wanted:
            said = "a speed climb" if name == "from" else f"'{name}'"
            what = f"A passage with a cadenza can't have {said}."
            mend = "Write what comes before the cadenza as a passage of its own."
            raise misread(written.place(name), what, mend)


def _passage_articulations(written: WrittenEntry) -> Any:
    """A climb on a passage plays it as written unless the teacher asks for something else."""
    return written.values["articulations"] if "articulations" in written.nodes else AsWritten()


def _fixed_key(written: WrittenEntry) -> Key | None:
    if written.values["key"] is None:
        return None
    choice = written.values["key"](None)
    if not isinstance(choice, FixedKey):
        raise misread(
            written.place("key"),
            "A passage is written in one key; it can't change from day to day.",
            "Write a key such as 'E flat', or leave it out.",
        )
    return choice.key


def _faults_of_beat(written: WrittenEntry) -> Iterator[Fault]:
    """A tempo that names another note value than the time signature counts."""
    meter = written.values.get("time", COMMON_TIME)
    for name in ("tempo", "tempo at the end", "from", "to"):
        node = written.nodes.get(name)
        if node is not None and (fault := fault_of_beat(node, meter)) is not None:
            yield fault


def exercises_only(entries: tuple[Entry, ...]) -> tuple[Exercise, ...]:
    """The played ones among the entries."""
    return tuple(entry for entry in entries if isinstance(entry, Exercise))
