"""The partner's tone measured: pitch, onsets, harmonics, and how fast it is rendered.

    python -m tests.bench.partner_tone

Writes 'The partner' into RESULTS.md, and its spectrum into partner_spectrum.png beside it.
"""

from __future__ import annotations

import time
from fractions import Fraction
from pathlib import Path

import numpy as np
from matplotlib import pyplot

from tests.bench.results import write_section
from tests.sound.test_partner import cents_off
from trainer.errors import SoundError
from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.tuning import Tuning
from trainer.sound.partner import SteadyTone, Voice, partner
from trainer.sound.sampled import sampled_flute

RATE = 48000
PICTURE = Path(__file__).with_name("partner_spectrum.png")
SHOWN = ("C4", "A4", "D5", "A5", "D6", "C7")
TEMPO_BPM = 96.0
TIMES_RENDERED = 5


def line(articulation: Articulation, length: Fraction) -> tuple[Note, ...]:
    """Every semitone from C4 to C7."""
    notes = [
        Note(number, Pitch.parse(sharp_name(midi)), number * length, length, Start.TONGUED)
        for number, midi in enumerate(range(60, 97))
    ]
    return articulated(notes, articulation)


def worst_cents(tuning: Tuning, voice: Voice | None = None) -> float:
    """The largest distance of a steady note from its tuning."""
    notes = line(Articulation.SINGLE, Fraction(1))
    sound = partner(notes, 60.0, tuning, RATE, voice=voice)
    off = []
    for number, note in enumerate(notes):
        steady = sound[number * RATE + RATE // 10 : number * RATE + RATE * 9 // 10]
        off.append(abs(cents_off(steady, tuning.hz(note.pitch), RATE)))
    return max(off)


def worst_onset(articulation: Articulation, voice: Voice | None = None) -> int:
    """Samples between where a tongued note must begin and where it first sounds, at most."""
    notes = line(articulation, Fraction(1, 2))
    sound = partner(notes, TEMPO_BPM, Tuning(), RATE, voice=voice)
    sounding = np.flatnonzero(np.abs(sound) > 0)
    starts = sounding[np.flatnonzero(np.diff(sounding, prepend=-RATE) > RATE // 200)]
    places = [round(float(note.beat) * 60 * RATE / TEMPO_BPM) for note in notes]
    return int(np.max(np.abs(starts[: len(places)] - 1 - places)))  # a tone's first sample is 0


def times_real_time(voice: Voice | None = None) -> float:
    """Seconds of sound rendered in one second, over three octaves of sixteenths."""
    notes = line(Articulation.SINGLE, Fraction(1, 4))
    seconds = float(notes[-1].beat + notes[-1].length) * 60 / TEMPO_BPM
    begun_s = time.process_time()
    for _ in range(TIMES_RENDERED):
        partner(notes, TEMPO_BPM, Tuning(), RATE, voice=voice)
    return TIMES_RENDERED * seconds / (time.process_time() - begun_s)


def draw(voices: dict[str, Voice]) -> None:
    """The spectrum of some notes, a panel each."""
    figure, panels = pyplot.subplots(3, 2, figsize=(9, 8), sharex=True, sharey=True)
    for panel, name in zip(panels.flat, SHOWN, strict=True):
        note = Note(0, Pitch.parse(name), Fraction(0), Fraction(2), Start.TONGUED)
        for label, voice in reversed(voices.items()):
            sound = partner([note], 60.0, Tuning(), RATE, voice=voice)[RATE // 4 : RATE * 5 // 4]
            level = np.abs(np.fft.rfft(sound * np.hanning(sound.size))) * 4 / sound.size
            khz = np.fft.rfftfreq(sound.size, 1 / RATE) / 1000
            panel.plot(khz, 20 * np.log10(level + 1e-9), lw=0.8, label=label)
        panel.set(title=name, xlim=(0, 14), ylim=(-110, -10))
        panel.grid(alpha=0.3)
    panels.flat[0].legend(loc="upper right", fontsize=8)
    figure.supxlabel("kHz")
    figure.supylabel("level, dB re full scale")
    figure.tight_layout()
    figure.savefig(PICTURE, dpi=80)


def main() -> None:
    """Measure and draw."""
    voices: dict[str, Voice] = {"its own tone": SteadyTone()}
    try:
        voices["a sampled flute"] = sampled_flute(None, RATE)
    except SoundError as error:
        print(f"without a sampled flute: {error}")
    draw(voices)
    pure = Tuning(440.0, drone=Pitch.parse("D4"))
    rows = {
        "pitch, A4 = 440 Hz, worst of 37 notes, cents": lambda v: f"{worst_cents(Tuning(), v):.4f}",
        "pitch, A4 = 442 Hz, the same": lambda v: f"{worst_cents(Tuning(442.0), v):.4f}",
        "pitch, pure above D4, the same": lambda v: f"{worst_cents(pure, v):.4f}",
        "onset of tongued notes, worst, samples": lambda v: str(
            worst_onset(Articulation.SINGLE, v)
        ),
        "rendered, seconds of sound in one of CPU": lambda v: f"{times_real_time(v):.0f}",
    }
    lines = [
        f"| {what} | " + " | ".join(measure(voice) for voice in voices.values()) + " |"
        for what, measure in rows.items()
    ]
    text = (
        "`python -m tests.bench.partner_tone`; pitch by the phase of the fundamental between two "
        "windows. Spectra of six notes: `partner_spectrum.png`. The sampled flute is the system's "
        "SoundFont (here Debian's fluid-soundfont-gm), its keys made ready before.\n\n"
        f"| | {' | '.join(voices)} |\n|---|{'---:|' * len(voices)}\n" + "\n".join(lines)
    )
    print(text)
    write_section("The partner", text)


if __name__ == "__main__":
    main()
