"""Every threshold of the coach, each with its source.

Where no source is named the figure is our own estimate: wide enough that an ordinary human round
never crosses it, narrow enough that a teacher in the room would have heard what does.
"""

from __future__ import annotations

# Time ------------------------------------------------------------------------------------------

DISPLACEMENT_JND_MS = 6.0
"""A single tone displaced in an even row is noticed from 6 ms where the row runs faster than one
tone in 240 ms (Friberg & Sundberg 1995, JASA 98:2524)."""

SLOW_TO_SPEAK_S = 0.06
"""From the stroke until the tone stands: of one professional's recorded notes most need less than
0.03 s, slow ones 0.06 to 0.11 (our own measurement). Our own estimate."""

SLOWER_TO_SPEAK_S = 0.035
"""... and so much more than the player's other notes need. Our own estimate."""

TONE_HELD_OFF_S = 0.05
"""Or, where a room hides the stroke, its own tone comes so much later than the others' and beyond
chance (LATE_CHANCE), the whole sound as well ..."""

HELD_OFF_S = 0.03
"""... after gaps so much longer than usual, in the mean: of 348 clean takes of recorded notes and
sample sets, dry, in rooms and 121 of them in halls, none is told of a slow note (with each note
counted by itself six, all in halls), of 94 with a slow one in 0.7 and 0.8 s 50 (34), of 44 late
notes, the note before held on until them, three are called slow; with 15 ms five more slow ones
are told, and four more late ones (our own measurement). Our own estimate."""

LONGEST_GAP_S = 0.09
"""... of which none counts for more: what a room makes longer once is no habit. Our own choice."""

SLOW_RISE_S = 0.03
"""A tone that a stroke heard so long before shows to be slow makes the whole sound rise this
slowly: in halls a pitch whose beginning the room swallowed rose within 20 ms each time, recorded
notes slow to speak took 39 to 144, but for one time in eight (our own measurement, 4 and 11 notes).
Without it four of 919 clean lines are told of a slow note (our own measurement, notes of nine
players and sample sets in rooms and halls)."""

LATE_CHANCE = 0.001
"""A place is late by habit where it is so much later than the line's other pitches as chance brings
about in fewer rounds than this, all places looked at. Of 429 lines without a fault in time, dry, in
0.3 and in 0.4 s, one comes below 0.05 and none below 0.01, of 154 in 0.8 s five and three, where a
room may hold one pitch off each time; of 396 clean ones one is told of a late note (our
own measurement, recorded notes, sample sets and a made flute). Our own choice."""

PITCHES_SPREAD_MS = 10.0
"""What the pitches of a line stand apart in the worst rooms: in nineteen lines of twenty no more
than 9.5 ms in rooms of 0.8 s and 8.3 in 0.4 s, in the usual one 4.7, 4.1 and dry 2.2 (our own
measurement, 93 clean lines each of recorded notes and sample sets) ..."""

PITCHES_KNOWN = 4
"""... is known beforehand as surely as if so many more pitches had shown it: those lines differ
from one another as if 4.5 to 5.4 were known of each (Smyth 2004, Stat Appl Genet Mol Biol 3:3, the
estimate of the prior degrees of freedom)."""

BREATH_BLUR_MS = 40.0
"""Spread that a start by breath alone may owe to its slow rise: the tone comes 80 to 150 ms after
the air, against 30 to 60 ms when tongued (order of magnitude, weakly supported), and the ear may
take either end. Where notes start so, no single place is judged. Our own estimate."""

GROUP_MS = 12.0
"""A place in the beat is uneven when it lies off on average by two just noticeable displacements.
Our own estimate from DISPLACEMENT_JND_MS."""

GROUP_CHANCE = 0.0015
"""... and so much more than the other places as chance brings about less often than this: of 846
even lines of recorded notes and sample sets, 260 of them in halls, none came below 0.01, of 240
more one in a hall of 1.8 s came to 0.004 (our own measurement). Our own choice."""

GROUP_PITCHES = 3
"""... on so many pitches: in a room one of two may be late each time it comes. Of 42 uneven lines
told of a place none had fewer, of clean ones a tune with two dotted figures in 0.8 s had two (our
own measurement). Our own choice."""

SLIP_MS = 40.0
"""An onset further off counts for no more than this: it is a slip, or the room's. Without it ten
planted unevennesses of 138 aren't told, at 60 six (the lines of SLOW_RISE_S). Our own
estimate."""

BACK_LATE_MS = 12.0
"""The back syllable against the middle between its neighbours, likewise."""

UNEVEN_SHARE = 0.16
"""Without an aim from the teacher: spread of the onsets as a share of the note's length. Pianists
reach 6.5 to 7 % (Jabusch 2006); more than twice that is uneven. Our own estimate."""

UNEVEN_MS = 22.0
"""... and never less than this. Our own estimate."""

EVEN_SHARE = 0.07
"""Praised as even is no wider a spread, as a share of the note's length: pianists reach 6.5 to 7 %
(Jabusch 2006). What is wider and not yet UNEVEN_SHARE is left unsaid. Our own choice."""

TEMPO_SHARE = 0.03
"""A tempo off by 3 % is noticed over six intervals (Drake & Botte 1993, Percept Psychophys 54:277).
"""

TEMPO_CHANGE_SHARE = 0.045
"""Tempo of the end against the beginning: one and a half times TEMPO_SHARE, since scales bend a
little in every player (van Vugt, Jabusch & Altenmüller 2012, Front Psychol 3:495). Our estimate."""

CAME_IN_S = 0.4
"""So long before or after the first beat, and half a beat at least, is no lead of the player's and
no delay of a sound card, which for wireless ones is 0.1 to 0.3 s (from memory). Our own estimate.
"""

STEADIEST_MS = 4.0
"""No player's onsets spread less; it keeps a too even simulated round from making noise certain.
Our own estimate."""

# Pitch -----------------------------------------------------------------------------------------

REGISTER_CENTS = 8.0
"""A register against the player's own middle. Listeners notice about 5 cents (common rule of thumb,
HyperPhysics); two professionals playing together stood 4.9 cents off, SD 6.5 (Kopiez 2003, Music
Perception 20:383). Our own estimate from both."""

TUNING_CENTS = 8.0
"""The whole round against the tuning in force, likewise. A4 = 442 against 440 is 7.9 cents."""

LONG_S = 0.9
"""A note held this long has a beginning and an end to compare. Our own estimate."""

SAG_CENTS = 8.0
"""Pitch at the end of long notes against their beginning; as REGISTER_CENTS."""

MOSTLY = 0.8
"""Four in five go the same way. Our own estimate."""

FAST_S = 0.4
FAST_NOTE_CENTS = 24.0
"""A note that lasts less than FAST_S is worth a word only further off than
`note_figures.NOTE_CENTS`: its pitch is mostly that of its beginning: recorded notes
in tune with their later part stood up to 18 cents off it in their first eighth of a second, in no
room, and 8 in their first quarter (our own measurement, tests.bench.ear.recorded, C#4 above all);
low notes of 0.18 to 0.35 s up to 11, in rooms one pitch in twenty by more than 16 (the same, on
pitches that the bench doesn't play). At 15 four of 919 clean lines are told of such a note, at 18
three, at 24 and 30 the same (the lines of SLOW_RISE_S). Our own estimate."""

FAST_SPREAD_CENTS = 6.0
"""What one pitch of such notes may stand off by itself: a recorded note's first 125 ms differ from
its later pitch by 5 to 7 cents (our own measurement). In clean lines of recorded notes in rooms a
low register of two pitches stood 9 cents off."""

SHARE_OF_AIM = 0.66
"""Where the teacher's aim is wide, a whole register or round must use up this much of it before it
is worth a word. Our own estimate."""

SETTLE_CENTS = 10.0
"""Without an aim from the teacher: how near a settling note must stand. Twice the 5 cents that a
listener can notice (common rule of thumb, HyperPhysics), so that a live breath may still pass. Our
own estimate."""

SLOW_TO_STAND_S = 4.0
"""A note that took so long to stand is worth a word. Our own estimate."""

BEGAN_OFF_CENTS = 15.0
"""... and so is one that began this far off: beyond what a player's own spread brings (SD 6.5
cents, Kopiez 2003). Our own estimate."""

STEADIEST_CENTS = 3.0
"""No player is steadier than this from note to note. Our own estimate."""

# Sound -----------------------------------------------------------------------------------------

BACK_DB = 2.5
"""The back syllable against the front one. That it is the weaker is common report; no figure is
published for the flute. A level step of 1 to 2 dB can be noticed. Our own estimate."""

STROKE_SPREAD_DB = 2.5
"""... by more than chance brings about, as GROUP_CHANCE has it. What even strokes on changing
pitches stand apart from the two around them: in rooms of 0.4 and 0.8 s 2.5 and 2.2 dB, in halls 1.1
to 1.3, in no room 0.9 (our own measurement on clean lines of recorded notes, from what the means of
whole lines differ by)."""

KNOWN_ROOM_SPREAD_DB, LESS_APART = 2.0, 0.75
"""... where the same line, tongued singly in the same place a round before, has shown how loud the
room makes each note: 1.7 dB in either room, a little more here since players move (the same, 48
lines). That counts only where it brings the strokes so much nearer together: in a wholly other room
it brings them further apart. Of made-up even strokes, three to nine pitches of each kind, 1 in
1,000 rounds is called weak so, 4 where half of what the room does has changed, 2 without the round
before; of K weaker by 3.5 dB .23 to .88, and .14 to .58 without it. Our own choice."""

STROKE_SPREAD_MS = 8.0
"""... and likewise in time: 7.5 ms in rooms of 0.4 and 8 in rooms of 0.8 s, 3 in none (the same, a
stroke's place against the middle of the two around it)."""

STROKES_KNOWN = 20
"""That is known beforehand as surely as if so many strokes had shown it. With none 26 weak K of 138
lines fewer are told, with 10 six fewer, with 40 six more; of 919 clean lines none by any (those of
SLOW_RISE_S). Of made-up strokes that vary by 4 dB seven lines in a thousand are called weak with
20 and with 40, 22 with 80. Our own choice."""

FADING_DB = 6.5
"""End of the round against its beginning, the same notes compared: a little more than half the
sound pressure, since loudness wanders by some decibels in every round. Our own estimate."""

TONE_DB = 6.0
"""Hiss or harmonic balance of the high notes against the player's own earlier rounds. Our own
estimate: half the power again and more than a changed distance to the microphone does."""

TONE_PITCHES = 4
"""... on so many pitches, each of which counts once: a room moves the overtones of one by 4 to 8 dB
(standard deviation of recorded notes in rooms of 0.4 s to halls against none; our own measurement),
each time it comes alike, and otherwise where the microphone has moved. Our own estimate."""

LIKE_LENGTH = 1.6
"""Tone is compared between notes no more unlike in length: held notes of the played-in flutist read
17 to 19 dB more hiss than the same player's sixteenths (our own measurement). Our own estimate."""

STRAIGHT_CENTS = 4.5
"""A tone that moves less to either side at one rate is straight: about the 5 cents a listener can
notice (common rule of thumb, HyperPhysics). Our own estimate."""

STRAIGHT_DB = 0.6
"""... and likewise its level: a step of 1 to 2 dB can be noticed (from memory). Our own."""

REGULAR = 0.5
"""Half of all that moves must move at one rate to be a pulse. Our own estimate."""

PULSE_RATE_SHARE = 0.12
"""Pulses this far off the rate asked for: four times the tempo difference that is noticed over six
intervals (Drake & Botte 1993), since a vibrato breathes. Our own estimate."""

DEPTH_RATIO = 1.2
"""'Deeper' is at least a fifth deeper than the player's round before. Our own estimate."""

LOUDER_DB = 5.0
"""Faster pulses with this much more sound, three times the power: level wanders by a decibel or two
from note to note in anyone. Our own estimate."""

HELD_NOTES = 2
"""Held notes that say something about vibrato or swells. Our own estimate."""

SWELL_DB = 5.0
"""A swell smaller than this is hardly heard as one; softest to loudest a flute has some 20 to 30 dB
(from memory). Our own estimate."""

BREATH_NEAR = 8
"""A breath so many notes from its mark is that breath, taken elsewhere. Our own estimate."""

AIRIER_DB = 8.0
"""One note's hiss over its neighbours', each time. No published figure. Of 474 pitches of recorded
notes rooms of 0.4 to 0.8 s and a hall raise it by 4 to 5 dB in one of a hundred, by 6.8 at most,
and 12 dB planted are told (our own measurement). Our own estimate."""

STEADIEST_DB = 1.5
"""No tone's colour is steadier than this from note to note. Our own estimate."""

NEIGHBOURHOOD = 4
"""A note is compared with the player's notes within this many semitones. Our own estimate."""

NEIGHBOURS = 3
"""Fewer of them don't say how a note should stand or sound. Our own estimate."""

OCTAVES = 3
"""Octaves that say how wide this player's octaves are. Our own estimate."""

HARMONIC_CENTS = 12.0
"""True notes against the harmonics of a lower fingering: the third harmonic alone stands 2 cents
above equal temperament, and harmonics of a flute are not exact. Our own estimate."""

HARMONIC_TONE_DB = 8.0
"""Overtones of a true note against those of the harmonic of the same pitch. The played-in flutist's
pairs stay within 6 dB, in a room too (our own measurement); what a real flute's fingerings do by
nature is not published. Our own estimate."""

TOO_AIRY_DB = 3.0
"""A tone with so much more noise than harmonics was not measured well. Our own estimate."""

PINCHED_BALANCE_DB = 0.0
"""Overtones of the high notes against the middle ones: in SHARC's flute the high ones have 4 to 8
dB less; one professional's, from soft to loud, 15 to 25 dB less (our own measurements on a public
orchestra sample set). Our own estimate from both."""

PINCHED_PITCHES = 4
"""High pitches that show it: with three, 8 of 1,034 clean lines of sampled flutes and piccolos in
rooms and halls are told of a thin top, with four 3; of 40 squeezed tops, dry and in a room, whose
lines go up to A6 and beyond, 34 by either (our own measurement)."""

PURE_BALANCE_DB = -17.0
"""Overtones so far below their fundamental make no tone thin: those of two made flutes' squeezed
tops lie 9 to 15 dB down, of sampled piccolos' high notes, which stand out from a still purer
middle, 19 to 22 (our own measurement, 14 takes and 9). Our own estimate from both."""

PINCHED_NOISE_DB = 4.0
"""... and their hiss, told when it is this much more. Our own estimate."""

SAME_COLOUR_DB = 2.0
"""Overtones of two rounds in two colours: nearer than this they are one colour, since a level step
of 1 to 2 dB can be noticed (from memory), ..."""

ALIKE_ERRORS = 2.0
"""... where they surely are, by so many standard errors of the pitches' mean: about one chance in
forty, if errors were normal. The very same sound, 4 cents higher, changes by 2 to 8 dB (standard
deviation) from pitch to pitch in rooms (our own measurement on recorded notes), so there it is
seldom sure. Our own choice.
"""

# Evidence --------------------------------------------------------------------------------------

LOST_SHARE = 0.25
"""Notes not judged from which the sound itself must be mended first. Our own estimate."""

HABIT_TIMES = 2
"""Once is a slip; the same thing twice, in the same place, may be a habit. Common practice."""

HABIT_RATE = 0.34
"""... if it goes wrong at least one time in three. Our own estimate."""

SCATTERED_TIMES = 4
"""Different notes gone wrong, from which the round as a whole was unclean. Our own estimate."""

LOST_TIMES = 3
"""Different notes missed or wrong in one round, from which it is no slip. Our own estimate."""

LOST_NOTES_SHARE = 0.07
"""... and this share of the notes. Our own estimate."""

CLEARLY = 1.1
"""A spread this many times its limit is clearly over: with 40 notes a spread is known to about a
tenth (standard error 1/sqrt(2n))."""

REGISTER_NOTES = 3
"""Notes that make a register speak. Our own estimate."""

REGISTER_PITCHES = 2
"""... of so many pitches: one alone is a note, no register."""

START_SHARE = 0.4
"""Notes not started as asked; the ear confuses neighbouring kinds, so a lot is asked. Our own."""

SOFT_START_SHARE = 0.7
"""... and where a soft stroke was heard in place of a slur: in a room the ear takes one slur in
seven for it, and more where it is hard (tests/bench/RESULTS.md). Our own estimate."""

START_TIMES = 6
"""... and at least so many. Our own estimate."""

TOLD_SHARE = 0.5
"""... of so many of those asked to be struck: of 660 clean takes of eleven other flutes none has
strokes heard as slurs among fewer; of 172 lines slurred where strokes were asked ten have a half to
three fifths told (our own measurement). Praise of a line of which fewer could be told says so. Our
own choice."""

SLURS_TOLD_SHARE = 0.6
"""... and of those asked to be slurred: of the same takes four have six slurs heard as strokes
among fewer than half, and of 36 clean ones in halls one has fourteen of 24 (our own measurement).
Our own choice."""

EACH_START = 4
"""... of a pattern's places so many, where it was so each time. Our own estimate."""

RUNG_OVER_DB = -3.0
"""What isn't the notes' own harmonics, half as strong as these: so it is in halls of 1.8 s, where
clean lines were called uneven as a whole (our own measurement, recorded notes and sample sets). Our
own choice."""

CERTAIN = 4.0
"""How many standard errors a mean must lie from nothing: one false alarm in 16,000 looks if errors
were normal. Strict because a round is looked at from dozens of sides."""

REMEMBERED_ROUNDS = 3
"""So many earlier rounds of the same exercise lend their evidence. Our own estimate."""

SAID_ENOUGH = 2
"""A thing said so often in an exercise lets another habit have its turn. Our own estimate."""

TURN_ROUNDS = 8
"""So many earlier rounds of the exercise count for whose turn it is. Our own estimate."""

# Lone misses: holes in a line that goes on (lone_misses) ------------------------------------------

MOST_HOLES = 0.1
"""At most this share of a round's notes may be the ear's. Our own estimate, tried on an ear that
loses one note in twenty (tests/bench/climbs.py), as are the rest of these."""

HOLES_SHARE = 0.01
"""An ear loses so many while nothing is known of it. Our own estimate."""

HOLES_ERRORS = 1.3
"""... and so many standard errors of a count more. Our own estimate."""

WELL_BELOW = 0.9
"""Rounds slower than this share of the tempo tell the ear's holes from the player's ..."""

WELL_BELOW_ROUNDS = 3
"""... where there are so many. Our own estimate."""

LONGEST_HOLE = 2
"""Notes: an ear that loses one in twenty loses two in a row now and then. Our own estimate."""

HELD_OVER = 1.5
"""A note so much longer than the round's others was held through the next. Our own estimate."""

SAME_PLACE_ROUNDS = 3
"""A place missed again within so many rounds is the player's ..."""

SAME_PLACE_CHANCE = 0.05
"""... where an ear would do so less often than this. Our own estimate."""

# Speed climb -----------------------------------------------------------------------------------

STEP_SHARE = 0.04
"""The usual step. The classic metronome marks 60 63 66 69 72 76 80 ... stand 4 to 6 % apart; one
notch at a time is common practice (J. Wion, johnwion.com)."""

LEAST_STEP = 0.025
"""The smallest step worth a round of its own. Our own estimate."""

LEAST_BPM = 2
"""... and never less than this: nobody sets a metronome up by one. Our own estimate."""

LARGEST_STEP = 0.08
"""The largest usual step, two notches, when time is short. Our own estimate."""

EASY_STEPS = 2.0
"""An easy round earns so many steps at once. Our own estimate."""

STRAINS = (0.62, 0.85, 1.08)
"""Strain up to which a round was easy, went well, just held; beyond, it came apart. 1 is the limit
the teacher set; the last allows for a spread being known to a tenth only. Our own estimate."""

CLIMB_CLEAN = 0.93
"""Share of untroubled notes a tempo needs when the teacher asks for none: three slips in 43. Our
own estimate."""

LEAST_ALLOWED = 0.03
"""Share of trouble a tempo bears even where the teacher asks for every note clean. Our own."""

TAKE_BACK = 0.85
"""Where nothing was secure yet, so much of the tempo that came apart. Our own estimate."""

TOMORROW = 0.85
"""Tomorrow begins at so much of what was secure today. Our own estimate."""

GOAL_TIMES = 2
"""Slow and goal in turns: the goal is reached when it went well so often. Our own estimate."""

MOST_BREAKS = 2
"""Slow and goal in turns: a goal that came apart so often is too far today. Our own estimate."""

BADLY_STRAIN = 1.6
"""Strain beyond which a round came apart badly, no slip of the player's or the ear's: it counts
twice ... Our own estimate, tried on learners of our own (tests/bench/climbs.py), as are the next.
"""

BADLY_STEPS = 2.0
"""... and is taken back by so many steps."""

MOST_APART = 3
"""A tempo that came apart so often, badly counting twice, is left alone for today."""

DOUBTED_AGAIN = 0.5
"""How much of a slip a note left in doubt is, from a tempo on that came apart before."""

SETTLED_ROUNDS = 2
"""Good rounds before a tempo that came apart is tried again, or the climb may end below its goal.
Our own estimate."""

ROUNDS_IN_HAND = 3
"""Rounds kept back for holding and stepping back when the step is worked out. Our own estimate."""

# Knots -----------------------------------------------------------------------------------------

KNOT_TIMES = 3
"""Troubles in one place that make a knot. Our own estimate."""

KNOT_RATE = 0.34
"""... at least one time in three. Our own estimate."""

KNOT_CHANCE = 0.002
"""... and hardly ever by chance, all places of the round taken together. Our own choice."""

KNOT_NOTES = 5
"""Longer than this it isn't a knot but a passage."""

LEAST_TROUBLE = 0.01
"""The share of slips supposed of even the cleanest player. Our own estimate."""
