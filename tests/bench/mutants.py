"""Mistakes a person might make, planted one at a time: does a test of that room notice?

    python -m tests.bench.mutants                 # all of them, one after the other
    python -m tests.bench.mutants leak climb      # those whose name holds one of the words
    python -m tests.bench.mutants --unharmed      # the same tests with nothing planted

Each is planted in a copy of the tree in a temporary folder; the checkout is never written to. A
mutant is found by its text: where the file has moved, all of `trainer/` is searched for it. It is
killed when a test fails, or when the tests take longer than LONGEST_S, which is told apart.
"""

from __future__ import annotations

import argparse
import compileall
import os
import shutil
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[2]
LONGEST_S = 400.0
COPIED = ("trainer", "tests", "routines", "demo", "pyproject.toml", "README.md", "DEVELOPERS.md")


@dataclass(frozen=True)
class Mutant:
    """One mistake."""

    name: str
    path: str
    """Inside `trainer/`, as it was when the mutant was written."""
    was: str
    becomes: str
    breaks: str
    """What the student, the teacher or the next engineer would meet."""
    tests: tuple[str, ...]
    """Files or folders inside `tests/` that should notice."""

    @property
    def room(self) -> str:
        """The folder, or 'loose'."""
        return self.path.split("/")[0] if "/" in self.path else "loose"


STUDIO = ("studio/test_overview.py", "studio/test_stuck.py", "studio/test_recount.py")
MUTANTS = (
    # music
    Mutant(
        "octaves counted by semitones", "music/tuning.py",
        "interval.semitones - 12 * (interval.steps // 7)",
        "interval.semitones - 12 * (interval.semitones // 12)",
        "an augmented seventh above the drone has no pure place",
        ("music/test_tuning.py",),
    ),
    Mutant(
        "pure ratio upside down", "music/tuning.py",
        "1200 * math.log2(ratio[0] / ratio[1])", "1200 * math.log2(ratio[1] / ratio[0])",
        "a pure third is asked for an octave off", ("music/test_tuning.py",),
    ),
    Mutant(
        "after a changing tempo the first one", "music/pulse.py",
        "return beat + (seconds - inside_s) * self.to_bpm / 60.0",
        "return beat + (seconds - inside_s) * self.from_bpm / 60.0",
        "the note now due runs away from the click after the last beat",
        ("music/test_pulse.py",),
    ),
    Mutant(
        "a silent bar sounds", "music/pulse.py",
        "bar % (self.sounding_bars + self.silent_bars) < self.sounding_bars",
        "bar % (self.sounding_bars + self.silent_bars) <= self.sounding_bars",
        "the click drops out one bar late", ("music/test_pulse.py", "sound/test_click.py"),
    ),
    Mutant(
        "phrase in minutes", "music/breath.py",
        "longest_beats = longest_phrase_s * tempo_bpm / 60",
        "longest_beats = longest_phrase_s * 60 / tempo_bpm",
        "fast music gets more breaths than slow", ("music/test_breath.py",),
    ),
    Mutant(
        "a phrase just long enough is divided", "music/breath.py",
        "if end - start <= longest_beats:", "if end - start < longest_beats:",
        "a breath where the phrase fits exactly", ("music/test_breath.py",),
    ),
    Mutant(
        "notes left over instead of missing", "music/rhythm.py",
        "missing = -len(units) % per_beat", "missing = len(units) % per_beat",
        "the last note doesn't land on a beat", ("music/test_rhythm.py",),
    ),
    Mutant(
        "slur over a breath", "music/articulations.py",
        "broken or before.breath_after or", "broken or",
        "a note after a breath is asked for slurred", ("music/test_articulations.py",),
    ),
    Mutant(
        "minor three fifths up", "music/key.py",
        "_MINOR_AGAINST_MAJOR = -3", "_MINOR_AGAINST_MAJOR = 3",
        "A minor has six sharps", ("music/test_key.py",),
    ),
    Mutant(
        "written transposed twice", "music/instrument.py",
        "return sounding.transposed(-self.transposition)",
        "return sounding.transposed(self.transposition)",
        "an alto flute's part is a fourth further off", ("music/test_instrument.py",),
    ),
    Mutant(
        "the top of one register belongs to the next", "music/instrument.py",
        "if pitch.midi <= register.highest.midi)", "if pitch.midi < register.highest.midi)",
        "C#5 is called middle register", ("music/test_instrument.py",),
    ),
    # routine
    Mutant(
        "reading minutes in characters", "routine/plan.py",
        "len(text.split()) / READING_WORDS_PER_MINUTE", "len(text) / READING_WORDS_PER_MINUTE",
        "the day is said to take far longer than it does", ("routine/test_plan.py",),
    ),
    Mutant(
        "one attempt more before the next key", "routine/progress.py",
        "(place + (met >= rule.times)) % len(cycle)", "(place + (met > rule.times)) % len(cycle)",
        "the promised step comes a day late", ("routine/test_days.py", "routine/test_wishes.py"),
    ),
    Mutant(
        "only faster attempts count", "routine/progress.py",
        "if attempt.tempo_bpm >= last_bpm]", "if attempt.tempo_bpm > last_bpm]",
        "the tempo never rises", ("routine/test_days.py", "routine/test_wishes.py"),
    ),
    Mutant(
        "answer starts on the note, not the bar", "routine/turns.py",
        "begin = bars.at(turn[0].beat).begins", "begin = turn[0].beat",
        "after a pick-up call and answer leave the bar",
        ("routine/test_along.py", "routine/test_wishes.py"),
    ),
    Mutant(
        "the same articulation twice running", "routine/rounds.py",
        "if drawn and turn[0] == drawn[-1]:", "if drawn and turn[-1] == drawn[-1]:",
        "'different every round' isn't", ("routine/test_plan.py",),
    ),
    Mutant(
        "one bar to count in two beats", "routine/rounds.py",
        "(2 if meter.beats_per_bar <= 2 else 1)", "(2 if meter.beats_per_bar < 2 else 1)",
        "two beats are too few to feel a pulse", ("routine/test_notation.py",),
    ),
    Mutant(
        "lead-in forgotten in the minutes", "routine/plan.py",
        "return round_.lead_in_beats * round_.beat_s + round_.seconds",
        "return round_.seconds",
        "the day takes longer than it says", ("routine/test_plan.py",),
    ),
    # sound
    Mutant(
        "parabola's sign", "sound/calibrate.py",
        "0.5 * (before - after) / bend", "0.5 * (after - before) / bend",
        "the round trip is off by up to a frame on the wrong side", ("sound/test_calibrate.py",),
    ),
    Mutant(
        "an earlier jump taken for the last", "sound/leak.py",
        "first = still[-1] + 1 if still else 0", "first = still[0] + 1 if still else 0",
        "clicks that were in time are counted with those that came late",
        ("sound/test_latency_watch.py",),
    ),
    Mutant(
        "a jump that came back taken for the last", "sound/leak.py",
        "first = still[-1] + 1 if still else 0",
        "first = next((n for n, (_, late) in enumerate(found) if abs(late) > limit), len(found))",
        "notes between two jumps are not judged", ("sound/test_latency_watch.py",),
    ),
    Mutant(
        "moved from the first click on", "sound/leak.py",
        "return found[first][0] - _reach(port, clicks), moved",
        "return found[0][0] - _reach(port, clicks), moved",
        "notes played before the jump are not judged", ("sound/test_latency_watch.py",),
    ),
    Mutant(
        "moved only from the late click", "sound/leak.py",
        "return found[first][0] - _reach(port, clicks), moved",
        "return found[first][0], moved",
        "a note just before the first late click is judged at the wrong place",
        ("sound/test_latency_watch.py",),
    ),
    Mutant(
        "steered away from the place", "sound/clocks.py",
        "return ratio * (1.0 + max(", "return ratio * (1.0 - max(",
        "two clocks part instead of meeting", ("sound/test_clocks.py",),
    ),
    Mutant(
        "fades in instead of out", "sound/mixer.py",
        "np.linspace(1.0, 0.0, sound.size - kept", "np.linspace(0.0, 1.0, sound.size - kept",
        "a stopped sound ends in a crack", ("sound/test_mixer.py",),
    ),
    Mutant(
        "accent on the last beat", "sound/click.py",
        "tap = Tap.ACCENT if place == bar.begins else Tap.BEAT",
        "tap = Tap.ACCENT if after == bar.ends else Tap.BEAT",
        "the bar is felt a beat early", ("sound/test_click.py",),
    ),
    Mutant(
        "agreement in frames", "sound/calibrate.py",
        "if abs(delay - median) <= AGREEMENT_S * rate]", "if abs(delay - median) <= AGREEMENT_S]",
        "a real room's chirps never agree", ("sound/test_calibrate.py",),
    ),
    Mutant(
        "the room's noise comes up", "sound/level_check.py",
        "or floor_db - early_db > PUMPED_DB", "or early_db - floor_db > PUMPED_DB",
        "a microphone that turns itself down isn't told", ("sound/test_level_check.py",),
    ),
    Mutant(
        "higher is louder", "sound/partner.py",
        "10.0 ** (-SOFTER_DB_PER_OCTAVE * octaves_above / 20.0)",
        "10.0 ** (SOFTER_DB_PER_OCTAVE * octaves_above / 20.0)",
        "the partner's top notes pierce", ("sound/test_partner.py",),
    ),
    Mutant(
        "octave above instead of below", "sound/partner.py",
        "                hz=tunings[place].hz(note.pitch) * 2 ** (semitones / 12),",
        "                hz=tunings[place].hz(note.pitch) * 2 ** (-semitones / 12),",
        "the partner plays above the student", ("sound/test_partner.py",),
    ),
    Mutant(
        "rounding adds up", "sound/click.py",
        "round(beat * 60.0 * sample_rate_hz / tempo_bpm)",
        "round(round(60.0 * sample_rate_hz / tempo_bpm) * beat)",
        "partner and click part in a long round",
        ("sound/test_click.py", "sound/test_partner.py"),
    ),
    # ear
    Mutant(
        "drift's sign", "ear/pitch.py",
        "float(100 * _semitones_per_s(times_s[blown]",
        "float(-100 * _semitones_per_s(times_s[blown]",
        "a note that sinks is said to rise", ("ear/test_pitch.py",),
    ),
    Mutant(
        "attack ends at -6 dB", "ear/evidence.py",
        "ATTACK_END_DB = 3.0", "ATTACK_END_DB = 6.0",
        "starts are said to be quicker than the journal's form declares",
        ("ear/test_pitch.py", "ear/test_onsets.py"),
    ),
    Mutant(
        "live early and late", "ear/live.py",
        "1000 * (since_s - self._places_s[index])",
        "1000 * (self._places_s[index] - since_s)",
        "the screen shows early what was late", ("ear/test_live.py",),
    ),
    Mutant(
        "next note believed as late as any", "ear/live.py",
        "match == self._index + 1", "match == self._index - 1",
        "the quick answer comes 10 ms later", ("ear/test_live.py",),
    ),
    Mutant(
        "vibrato rounded off twice", "ear/pitch.py",
        "float(100 * np.hypot(*sine) / window)", "float(100 * np.hypot(*sine) * window)",
        "a vibrato is said to be narrower than it is", ("ear/test_pitch.py",),
    ),
    Mutant(
        "mean over broken cycles", "ear/pitch.py",
        "track[inside].mean() if inside.any() else track.mean()", "track.mean()",
        "a held note with vibrato stands some cents off", ("ear/test_pitch.py",),
    ),
    Mutant(
        "octave dearer than a wrong note", "ear/align.py",
        "OCTAVE_SLIP = 1.2", "OCTAVE_SLIP = 2.4",
        "an overblown note is an extra and a missed one", ("ear/test_scripts.py",),
    ),
    Mutant(
        "pace upside down", "ear/due.py",
        "np.median(np.diff(found_s) / np.diff(asked_s))",
        "np.median(np.diff(asked_s) / np.diff(found_s))",
        "a missed first note is looked for where it can't be",
        ("ear/test_expected_times.py", "ear/test_scripts.py"),
    ),
    Mutant(
        "level in amplitude", "ear/evidence.py",
        "return float(10 * np.log10(np.mean(10 ** (part / 10))))",
        "return float(20 * np.log10(np.mean(10 ** (part / 10))))",
        "every level counts twice", ("ear/test_pitch.py",),
    ),
    Mutant(
        "lead's sign", "figures/round_figures.py",
        "np.subtract(onsets_s, due_s)", "np.subtract(due_s, onsets_s)",
        "who plays ahead is said to play behind", ("figures/test_round_figures.py",),
    ),
    # coach
    Mutant(
        "a bad round is taken back no further", "coach/climb.py",
        "steps = thresholds.BADLY_STEPS if badly else 1.0", "steps = 1.0",
        "far beyond the limit the next round is beyond it too", ("coach/test_ladder.py",),
    ),
    Mutant(
        "no slip forgiven", "coach/round_verdict.py",
        "troubled = max(0.0, slips - 1) / len(judged)", "troubled = slips / len(judged)",
        "one slip stops a climb", ("coach/test_ladder.py", "coach/test_advice.py"),
    ),
    Mutant(
        "only rushing is told", "coach/observations/timing.py",
        "return share if abs(share) >= thresholds.CERTAIN * error else 0.0",
        "return share if share >= thresholds.CERTAIN * error else 0.0",
        "dragging is never told", ("coach/test_advice.py",),
    ),
    Mutant(
        "early and late swapped", "coach/judge.py",
        "late=off_ms > limit_ms, early=off_ms < -limit_ms",
        "late=off_ms < -limit_ms, early=off_ms > limit_ms",
        "a late note is called early", ("coach/test_marks.py",),
    ),
    Mutant(
        "drowned by the softer note", "figures/onset_places.py",
        "before.level_db - after.level_db >= DROWNED_DB",
        "after.level_db - before.level_db >= DROWNED_DB",
        "a loud note after a soft one has no place", ("coach/test_marks.py", "figures"),
    ),
    Mutant(
        "slower at the end is faster", "coach/line.py",
        "(beat_s - bend_s) / (beat_s + bend_s) - 1", "(beat_s + bend_s) / (beat_s - bend_s) - 1",
        "who drags is told of rushing", ("figures/test_own_line.py", "coach/test_advice.py"),
    ),
    Mutant(
        "the climb's minutes are seconds", "coach/climb.py",
        "state.used_s + next_s <= 60 * state.ladder.minutes",
        "state.used_s + next_s <= state.ladder.minutes",
        "a climb ends after one round", ("coach/test_ladder.py",),
    ),
    Mutant(
        "a slower round takes no longer", "coach/climb.py",
        "max(1.0, played_bpm / state.tempo_bpm)", "max(1.0, state.tempo_bpm / played_bpm)",
        "the climb runs over its time", ("coach/test_ladder.py",),
    ),
    Mutant(
        "a wide share of slips is a knot", "coach/knots.py",
        "        and troubles >= thresholds.KNOT_RATE * chances\n", "",
        "a step that fails one time in ten is taken out", ("coach/test_knots.py",),
    ),
    Mutant(
        "higher where lower is needed", "coach/settle.py",
        "Ask.LOWER if cents > 0 else Ask.HIGHER", "Ask.HIGHER if cents > 0 else Ask.LOWER",
        "the student is sent the wrong way", ("coach/test_settle.py",),
    ),
    Mutant(
        "two notes around the knot missing", "coach/breakdown.py",
        "last = first + len(knot) - 1", "last = first + len(knot)",
        "the breakdown stops on the note after the hard one", ("coach/test_breakdown.py",),
    ),
    Mutant(
        "back stroke louder", "coach/observations/back_syllable.py",
        "-level.more / thresholds.BACK_DB if", "level.more / thresholds.BACK_DB if",
        "a weak back syllable is never told", ("coach/test_advice.py",),
    ),
    Mutant(
        "worst note named early", "coach/words.py",
        'side = "late" if (worst.off_ms or 0.0) > 0 else "early"',
        'side = "late" if (worst.off_ms or 0.0) < 0 else "early"',
        "the sentence says the opposite of its evidence",
        ("coach/test_advice.py", "coach/test_marks.py", "coach/test_any_take.py"),
    ),
    Mutant(
        "worst note named flat", "coach/words.py",
        'side = "sharp" if (worst.cents or 0.0) > 0 else "flat"',
        'side = "sharp" if (worst.cents or 0.0) < 0 else "flat"',
        "the student lips the note further out",
        ("coach/test_advice.py", "coach/test_marks.py", "coach/test_any_take.py"),
    ),
    # journal
    Mutant(
        "tempo guard without abs", "journal/technique.py",
        "if abs(median(now_bpm) / median(before_bpm) - 1) > SAME_TEMPO_SHARE:",
        "if median(now_bpm) / median(before_bpm) - 1 > SAME_TEMPO_SHARE:",
        "slower and so less even is told as a change for the worse",
        ("journal/test_week_details.py", "journal/test_week.py"),
    ),
    Mutant(
        "held once is secure", "journal/technique.py",
        "return secure[HELD_TIMES - 1] if", "return secure[0] if",
        "a lucky round is a personal best",
        ("journal/test_week_details.py", "journal/test_week.py"),
    ),
    Mutant(
        "the easiest aim", "journal/technique.py",
        "aim_ms=min(aims, default=None)", "aim_ms=max(aims, default=None)",
        "the week judges by what was asked least",
        ("journal/test_week_details.py", "journal/test_week.py"),
    ),
    Mutant(
        "the week before without its first day", "journal/week.py",
        "0 < (first_day - log.day).days <= DAYS_IN_WEEK",
        "0 < (first_day - log.day).days < DAYS_IN_WEEK",
        "a day falls out of the comparison",
        ("journal/test_week_details.py", "journal/test_week.py"),
    ),
    Mutant(
        "down against up", "journal/tuning_map.py",
        "apart = median(up) - median(down)", "apart = median(down) - median(up)",
        "sharp going up is said to be flat", ("journal/test_week.py", "journal/test_recount.py"),
    ),
    Mutant(
        "thirty days to the day", "journal/bests.py",
        "last - rest.last_day > LONG]", "last - rest.last_day >= LONG]",
        "a key counts as forgotten a day early", ("journal/test_long_view.py",),
    ),
    Mutant(
        "old minutes are seconds", "journal/older.py",
        "elapsed_s=60 * minutes", "elapsed_s=minutes",
        "old sessions shrink to a minute", ("journal/test_older.py",),
    ),
    Mutant(
        "a kind's seconds as minutes", "journal/time_spent.py",
        "KindTime(kind, len(each), sum(each) / 60)", "KindTime(kind, len(each), sum(each))",
        "the week shows hours of scales", ("journal/test_week.py",),
    ),
    Mutant(
        "twelve weeks are thirteen", "journal/periods.py",
        "timedelta(weeks=USUAL_WEEKS - 1)", "timedelta(weeks=USUAL_WEEKS)",
        "the long view begins a week early", ("journal/test_long_view.py",),
    ),
    # studio
    Mutant(
        "boundary day of the seven", "studio/overview.py",
        "week = [log for log in sessions if log.day >= first_day]",
        "week = [log for log in sessions if log.day > first_day]",
        "exercises done on the first of seven days aren't counted", STUDIO,
    ),
    Mutant(
        "boundary day of the six weeks", "studio/overview.py",
        "days = (ending - LOOK_BACK + timedelta(days=1), ending)",
        "days = (ending - LOOK_BACK + timedelta(days=2), ending)",
        "the first day of the look back is lost", STUDIO,
    ),
    Mutant(
        "boundary day of being stuck", "studio/stuck.py",
        "before = [round_ for day, round_ in played if day <= since]",
        "before = [round_ for day, round_ in played if day < since]",
        "a day belongs neither to now nor to before", STUDIO,
    ),
    Mutant(
        "boundary day of the look back", "studio/stuck.py",
        "ending - LOOK_BACK < day <= ending", "ending - LOOK_BACK <= day <= ending",
        "a 43rd day counts", STUDIO,
    ),
    Mutant(
        "tries no faster than what is held", "studio/stuck.py",
        "round_.tempo_bpm > (held or 0.0)", "round_.tempo_bpm >= (held or 0.0)",
        "a slip at a secure tempo counts as a wall", STUDIO,
    ),
    Mutant(
        "done in seconds", "studio/assigned.py",
        "if r.exercise_id == exercise_id) / 60,", "if r.exercise_id == exercise_id),",
        "the teacher reads sixty times the minutes", STUDIO,
    ),
    # player
    Mutant(
        "tail by 120 dB", "player/room.py",
        "decay = 10 ** (-3 * time_s / rt60_s)", "decay = 10 ** (-6 * time_s / rt60_s)",
        "rooms are half as long as they say", ("player/test_room.py",),
    ),
    Mutant(
        "flat low turned sharp", "player/plan.py",
        "- habits.flat_low_cents * _ramp(", "+ habits.flat_low_cents * _ramp(",
        "a planted fault is another one", ("player/test_habits.py", "player/test_truth.py"),
    ),
    Mutant(
        "tires at the beginning", "player/plan.py",
        "return level_db - habits.tired_fade_db * share",
        "return level_db - habits.tired_fade_db * (1 - share)",
        "a tiring player gets louder", ("player/test_habits.py", "player/test_truth.py"),
    ),
    Mutant(
        "a soft stroke harder", "player/breath.py",
        "consonant.level_db + softer_db + note", "consonant.level_db - softer_db + note",
        "a soft tongue is heard harder than a hard one",
        ("player/test_habits.py", "player/test_truth.py", "player/test_tone.py"),
    ),
    # score
    Mutant(
        "transposed the other way", "score/transposing.py",
        "part.transposition + -instrument.transposition",
        "instrument.transposition + -part.transposition",
        "an imported part for another flute is off by twice the distance",
        ("score/test_import.py",),
    ),
    Mutant(
        "a change of key a bar late", "score/midi.py",
        "in reversed(changes) if place <= beat), None)",
        "in reversed(changes) if place < beat), None)",
        "notes of the first bar are spelled in no key",
        ("score/test_import.py", "score/test_round_trip.py"),
    ),
    Mutant(
        "octaves counted into the diatonic steps", "score/musicxml_out.py",
        '"diatonic", steps - 7 * octaves', '"diatonic", steps + 7 * octaves',
        "a piccolo's part sounds elsewhere in notation programs",
        ("score/test_round_trip.py",),
    ),
    Mutant(
        "hours for minutes", "score/timetable.py",
        "divmod(round(slot.start_min * 60), 60)", "divmod(round(slot.start_min), 60)",
        "the timetable begins everything at 0:00", ("score/test_preview.py",),
    ),
    # session
    Mutant(
        "care after 25 seconds", "session/since_rest.py",
        "care_due(self.played_s / 60, self.air_rounds)", "care_due(self.played_s, self.air_rounds)",
        "a rest is called for after every round", ("session/test_since_rest.py",),
    ),
    Mutant(
        "any note begins the round", "ear/live/awaited_tone.py",
        "return abs(1200 * math.log2(hz / other_hz))",
        "return 1200 * math.log2(hz / other_hz)",
        "warming up a lower note starts the round", ("session/test_first_note.py",),
    ),
    Mutant(
        "faults told again", "session/port_watch.py",
        "self._faults_told = len(faults)", "self._faults_told = len(new)",
        "every fault is told twice", ("session/test_port_watch.py",),
    ),
    # screens
    Mutant(
        "early drawn as late", "screens/drawing/timing.py",
        "        if off < 0:", "        if off > 0:",
        "the arrows point the wrong way", ("screens/test_pieces.py",),
    ),
    Mutant(
        "sharp drawn below", "screens/drawing/trail.py",
        "    if cents > 0:\n        return middle - rows_away",
        "    if cents < 0:\n        return middle - rows_away",
        "the trail sends the student the wrong way", ("screens/test_pieces.py",),
    ),
    Mutant(
        "the highest allowed note goes under the sign", "screens/drawing/octave_sign.py",
        "if note.pitch.staff_step > highest_step]", "if note.pitch.staff_step >= highest_step]",
        "8va over notes that fit",
        ("screens/test_round_layout.py", "screens/test_reading.py"),
    ),
    Mutant(
        "stems from the wrong side", "screens/drawing/cell_painter.py",
        "self._columns - 1 if stem.up else 0", "0 if stem.up else self._columns - 1",
        "stems stand on the wrong side of the head", ("screens/test_reading_values.py",),
    ),
    Mutant(
        "count stands out a beat late", "screens/drawing/figures.py",
        "if number > count:", "if number >= count:",
        "the count of the moment isn't shown",
        ("screens/test_pieces.py",),
    ),
    # between the rooms
    Mutant(
        "sign of the round trip", "spared.py",
        "-FAULT_REACH_S - damage.way_s <", "-FAULT_REACH_S + damage.way_s <",
        "notes lost on the way in are called missed", ("session/test_signal_loss.py",),
    ),
    Mutant(
        "changing tempo judged unstretched", "coach/judge.py",
        "notes=timed(round_.notes, round_.pace))", "notes=round_.notes)",
        "who follows the click is told of rushing", ("session/test_session.py",),
    ),
    Mutant(
        "the drone's seam", "settling.py",
        "turns = math.floor((DRONE_S - DRONE_RISE_S) * hz)",
        "turns = (DRONE_S - DRONE_RISE_S) * hz",
        "the drone dips where its stretches meet", ("session/test_with_a_teacher.py",),
    ),
    Mutant(
        "lead added instead of taken off", "under_way.py",
        "off_beat_ms=note.off_beat_ms - lead_ms", "off_beat_ms=note.off_beat_ms + lead_ms",
        "a constant lead is drawn doubled",
        ("session/test_session.py",),
    ),
    Mutant(
        "today is an earlier day", "remember.py",
        "if s.day < today)", "if s.day <= today)",
        "this morning counts as history", ("session/test_history_from_journal.py",),
    ),
    Mutant(
        "smooth days never lost", "remember.py",
        "+ 1 if smooth else 0", "+ smooth",
        "a knot that came back is left alone", ("session/test_history_from_journal.py",),
    ),
    Mutant(
        "partner leads after the student", "scheduled.py",
        "begin -= round(round_.call_beats", "begin += round(round_.call_beats",
        "the call comes after the answer", ("session/test_session.py",),
    ),
    Mutant(
        "knots count as whole rounds", "course.py",
        "counted = round_.in_time and round_.kind is not RoundKind.KNOT",
        "counted = round_.in_time",
        "the day's tempos hold slow knots",
        ("session/test_with_a_teacher.py",),
    ),
    Mutant(
        "a soft first note ends the check", "sound_check.py",
        "sounds = self._level_db > self._floor_db + HEARD_ABOVE_DB",
        "sounds = self._level_db > HEARD_ABOVE_DB",
        "the check waits for a note for 20 seconds", ("session/test_microphone_check.py",),
    ),
)  # fmt: skip


def located(mutant: Mutant, trainer: Path) -> Path:
    """The one file that holds the mutant's text.

    Raises ValueError where it is in none, or more than once.
    """
    at_home = trainer / mutant.path
    if at_home.is_file() and at_home.read_text().count(mutant.was) == 1:
        return at_home
    found = [file for file in sorted(trainer.rglob("*.py")) if mutant.was in file.read_text()]
    if len(found) != 1 or found[0].read_text().count(mutant.was) != 1:
        raise ValueError(f"'{mutant.name}': its text is in {len(found)} files; mend the table")
    return found[0]


def test_paths(mutant: Mutant, tests: Path) -> list[Path]:
    """The mutant's test files and folders; one that has moved is found by its name."""
    places = []
    for name in mutant.tests:
        path = tests / name
        places += [path] if path.exists() else sorted(tests.rglob(path.name))
    return places


def run_tests(copy: Path, places: Sequence[Path]) -> tuple[str, str]:
    """'alive', 'killed' or 'killed by time', and which test failed first."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(copy),
        "PYTHONDONTWRITEBYTECODE": "1",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-q",
        "-p",
        "no:cacheprovider",
        *map(str, places),
    ]
    try:
        ran = subprocess.run(
            command, cwd=copy, env=environment, capture_output=True, text=True, timeout=LONGEST_S
        )
    except subprocess.TimeoutExpired:
        return "killed by time", ""
    if ran.returncode == 0:
        return "alive", ""
    told = [line for line in ran.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return "killed", told[0].split(" - ")[0] if told else ran.stdout[-200:]


def planted(copy: Path, mutant: Mutant) -> tuple[str, str]:
    """What the tests say of the mutant; the copy is whole again afterwards."""
    file = located(mutant, copy / "trainer")
    text, state = file.read_text(), file.stat()
    file.write_text(text.replace(mutant.was, mutant.becomes))
    try:
        return run_tests(copy, test_paths(mutant, copy / "tests"))
    finally:
        file.write_text(text)
        os.utime(file, ns=(state.st_atime_ns, state.st_mtime_ns))


def copied(folder: Path) -> Path:
    """The tree in another folder, compiled, so that only a planted file is read anew."""
    for name in COPIED:
        here = ROOT / name
        if here.is_dir():
            shutil.copytree(here, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(here, folder / name)
    compileall.compile_dir(folder / "trainer", quiet=2)
    return folder


def main() -> None:
    """Plant what was asked for and tell what lived."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])  # type: ignore[union-attr]
    parser.add_argument("words", nargs="*", help="plant those whose name holds one of them")
    parser.add_argument("--unharmed", action="store_true", help="run the tests, nothing planted")
    asked = parser.parse_args()
    chosen = [m for m in MUTANTS if not asked.words or any(w in m.name for w in asked.words)]
    with TemporaryDirectory(prefix="mutants-") as name:
        copy = copied(Path(name))
        if asked.unharmed:
            every = {place for m in chosen for place in test_paths(m, copy / "tests")}
            print(*run_tests(copy, sorted(every)))
            return
        lived: Counter[str] = Counter()
        for mutant in chosen:
            begun = time.monotonic()
            fate, by = planted(copy, mutant)
            lived[mutant.room] += fate == "alive"
            took_s = time.monotonic() - begun
            print(f"{fate:<14} {took_s:4.0f} s  {mutant.room}: {mutant.name}  {by}", flush=True)
    print("\nroom       alive of planted")
    for room, count in Counter(mutant.room for mutant in chosen).items():
        print(f"{room:<10} {lived[room]:>5} of {count}")


if __name__ == "__main__":
    main()
