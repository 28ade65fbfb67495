"""aubio beside our own period finder where nothing is asked of the notes.

    python -m tests.bench.free_pitch

Writes 'Free pitch and the first note' into RESULTS.md; four minutes on a quiet core. Uses
what is there of the shared recordings, `espeak-ng` and `pocketsphinx-testdata` (Debian),
`pyroomacoustics` and `praat-parselmouth` (the extra `bench`), and leaves out what isn't.
"""

from __future__ import annotations

from importlib.metadata import version

from tests.bench.free_pitch.gate import false_beginnings, noticed, one_note
from tests.bench.free_pitch.pitch import cost, on_made_tones, on_recordings
from tests.bench.results import RESULTS, write_section

ABOUT = """aubio-ledfx {aubio}, numpy {numpy}, 44.1 kHz, frames every 5 ms. 'Free pitch' is \
`trainer/ear/free_pitch.py`: aubio's yinfast over 1024 samples, its figure put right by the phases \
of the first three harmonics. 'The ear's period finder' is `trainer/ear/frames.py`."""
READ = """What follows from it. By the same rule aubio's yinfast notices as many first notes as \
our own finder and takes as little else for one, for half the cost: it has the work where \
nothing is expected. Its figure leans sharp, the more the higher and the noisier; with the \
phases it doesn't, and is as near on recorded notes as our own finder in the median, less near \
in the worst moments, nearer in noise. yinfft leans by several cents, loses the octave, and its \
confidence tells nothing; fcomb is exact on made tones, has no confidence, and reads one \
recorded frame in twenty wrong; mcomb, specacf and schmitt lose the octave in noise. The rule \
itself is stricter than the one before (steady within 30 cents, not dying away): three to six in \
a hundred more of the recorded notes, nearly all of a quarter of a second, are not noticed, talk \
begins a round a third as often, a key shut hard never. Its figures were chosen on recordings \
that are not in these tables, but on the same talk; the share of `one_note.py` on all long \
notes. Several of the notes not noticed stand more than 60 cents from their names (B6 and D7)."""


def main() -> None:
    """Run all, and keep the tables."""
    about = ABOUT.format(aubio=version("aubio-ledfx"), numpy=version("numpy"))
    tables = (on_made_tones, on_recordings, noticed, false_beginnings, one_note, cost)
    write_section(
        "Free pitch and the first note", "\n\n".join([about, READ, *(t() for t in tables)])
    )
    print(f"written to {RESULTS}")


if __name__ == "__main__":
    main()
