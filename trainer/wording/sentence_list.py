"""Every sentence said of the playing, in one list, each with the condition it is said under.

Spoken English, short, at most one figure each and never in a unit that nobody hears (milliseconds,
decibels): the figures are the evidence behind the sentence. `{times}` reads 'twice' or '3 of 8
times', `{share}` '5 of 8'; a name in braces that ends in `_note` is a note's or a place's name.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Sentence:
    """One sentence with room for what differs each time."""

    when: str
    """The condition it is said under."""
    words: str


def say(name: str, **values: object) -> str:
    """The sentence of this name with its values put in, begun with a capital.

    Raises KeyError for a name that is not in the list, or a value that is missing.
    """
    words = SENTENCES[name].words.format(**values)
    return words[:1].upper() + words[1:]


OF_A_ROUND: dict[str, Sentence] = {
    # notes
    "stopped": Sentence(
        "several notes at the end stayed silent",
        "You stopped at {a_note}. Go on from there, slower if you like.",
    ),
    "began later": Sentence(
        "several notes at the beginning stayed silent",
        "I heard none of the {count} notes before {b_note}. Begin at the first one, slower if you "
        "like.",
    ),
    "notes left out": Sentence(
        "several notes in a row stayed silent, then the line went on",
        "I heard none of the {count} notes between {a_note} and {b_note}. Look ahead, then right "
        "through.",
    ),
    "went back": Sentence(
        "notes were played again before the line went on",
        "You went back after {a_note}. Now right through, slower if you like.",
    ),
    "notes lost": Sentence(
        "different notes missed or wrong, more than a slip",
        "{share} notes got lost, at {places}. Slower, so that every note has time to speak.",
    ),
    "jumped up": Sentence(
        "another harmonic of the same fingering, above",
        "{a_note} jumped up to {b_note} {times}. Slower air, and a rounder opening.",
    ),
    "fell": Sentence(
        "another harmonic of the same fingering, below",
        "{a_note} fell to {b_note} {times}. Faster air, through a smaller opening.",
    ),
    "wrong note": Sentence(
        "one note keeps coming out as another",
        "{a_note} came out as {b_note} {times}. It is {spoken_note} here: think of it just before.",
    ),
    # tuning
    "high notes sharp": Sentence(
        "the high register sharp against the tuning and the player's own middle",
        "The high notes were about {cents} cents sharp from {a_note} up. Relax the corners and aim "
        "a little lower.",
    ),
    "high notes flat": Sentence(
        "the high register flat against the tuning and the player's own middle",
        "The high notes were about {cents} cents flat from {a_note} up. Keep the air fast and aim "
        "a little higher.",
    ),
    "low notes flat": Sentence(
        "the low register flat against the tuning and the player's own middle",
        "The low notes were about {cents} cents flat from {a_note} down. Head up, and more air "
        "across the hole.",
    ),
    "low notes sharp": Sentence(
        "the low register sharp against the tuning and the player's own middle",
        "The low notes were about {cents} cents sharp from {a_note} down. Slower air, aimed lower.",
    ),
    "note sharp": Sentence(
        "one note sharp beside its neighbours and the tuning each time",
        "{a_note} was about {cents} cents sharp each time. Hear it lower before you play it.",
    ),
    "note flat": Sentence(
        "one note flat beside its neighbours and the tuning each time",
        "{a_note} was about {cents} cents flat each time. Hear it higher before you play it.",
    ),
    "all sharp": Sentence(
        "the whole round sharp",
        "Everything was about {cents} cents sharp. If the flute is warm, pull the headjoint out a "
        "hair and try a long note.",
    ),
    "all flat": Sentence(
        "the whole round flat",
        "Everything was about {cents} cents flat. Warm the flute first; if it stays flat, push the "
        "headjoint in a hair.",
    ),
    "long notes sank": Sentence(
        "long notes end lower than they began",
        "The long notes sank about {cents} cents. Keep the air fast to the very end, and let the "
        "opening get smaller.",
    ),
    "long notes rose": Sentence(
        "long notes end higher than they began",
        "The long notes rose about {cents} cents. Leave the lips where they began, and keep the "
        "air calm.",
    ),
    "tuning beyond the aim": Sentence(
        "the teacher's aim in cents missed, no habit behind it",
        "Not quite in tune: {a_note} was {side}. Listen to each note before you move on.",
    ),
    # time
    "uneven": Sentence(
        "ordinary notes spread wider than the aim",
        "The notes were uneven. Choose a tempo where each has its place.",
    ),
    "uneven in groups": Sentence(
        "one place in the beat, or every second note, always late or always early",
        "{which} came {side}. Give them all the same room.",
    ),
    "uneven by one": Sentence(
        "the teacher's evenness missed, no habit behind it",
        "Not quite even: {a_note} came {side}. Probably chance.",
    ),
    "late change": Sentence(
        "a step from one note to the next late by habit",
        "{a_note} to {b_note} was late {times}{why}. Move all the fingers at once.",
    ),
    "late note": Sentence(
        "a note late wherever it comes from",
        "{a_note} spoke late {times}, wherever it came from. Have air and lips ready a note ahead.",
    ),
    "slow to speak": Sentence(
        "a detached note's tone comes long after its stroke",
        "{a_note} was slow to speak {times}. Let the air be there before the tongue, and aim it at "
        "the note.",
    ),
    "got faster": Sentence(
        "the end faster than the beginning",
        "You sped up on the way. Make the last bars as broad as the first.",
    ),
    "too fast": Sentence(
        "faster than the tempo set, from the start",
        "You were ahead of the tempo. Breathe with the count-in and let the click lead.",
    ),
    "got slower": Sentence(
        "the end slower than the beginning",
        "You slowed down on the way. Keep the air moving to the last note.",
    ),
    "too slow": Sentence(
        "slower than the tempo set, from the start",
        "You were behind the tempo. Think in whole beats and go with the click.",
    ),
    # tongue and fingers
    "K weak": Sentence(
        "the back syllable softer than the front",
        "The K was weaker than the T. Once on K alone, then both.",
    ),
    "K late": Sentence(
        "the back syllable later than the front",
        "The K came late. Keep the tongue high and the air going.",
    ),
    "not started as asked": Sentence(
        "many notes surely not started as asked",
        "Only {share} {asked}. Two notes that way first, then all.",
    ),
    "tongued, not slurred": Sentence(
        "in a pattern, the same note of each group surely tongued where a slur is asked",
        "{where} {verb} tongued, {share} times: that's a slur. Keep the air going and move "
        "only the fingers.",
    ),
    "slurred, not tongued": Sentence(
        "in a pattern, the same note of each group surely slurred where a stroke is asked",
        "{where} {verb} slurred, {share} times: tongue it. Sing it first, then play.",
    ),
    "false note": Sentence(
        "a false note between the same two notes",
        "A false note slipped in between {a_note} and {b_note} {times}{why}. Stop on the first, "
        "then change in one go.",
    ),
    "false notes": Sentence(
        "false notes in different places",
        "Small false notes slipped in {times}, before {places}. A little slower, fingers close to "
        "the keys.",
    ),
    "trill loose": Sentence(
        "a trill whose finger is not steady",
        "The trill {a_note}–{b_note} came loose. Fewer notes to the beat, the finger close to its "
        "key.",
    ),
    "trill limps": Sentence(
        "one note of a trill longer than the other",
        "In the trill {a_note}–{b_note} the {long_note} was too long{why}. Keep the finger "
        "loose and let it bounce.",
    ),
    "came apart": Sentence(
        "a climb's tempo did not hold, no habit behind it",
        "It came apart, most of all at {places}.",
    ),
    "slips": Sentence(
        "the teacher's share of clean notes missed, no habit behind it",
        "{places} slipped. Probably chance.",
    ),
    # air and sound
    "breath elsewhere": Sentence(
        "a marked breath taken a few notes off",
        "The breath after {a_note} came {distance}, after {b_note}. Look for the mark a bar ahead.",
    ),
    "breath left out": Sentence(
        "a marked breath not taken",
        "You played on through the breath after {a_note}. Take it, quick and low: the next notes "
        "need it.",
    ),
    "breath unmarked": Sentence(
        "a breath where none is marked",
        "You took a breath after {a_note}, where none is marked. Breathe deeper before you "
        "start, or agree on a place with your teacher.",
    ),
    "stopped after": Sentence(
        "the line paused after a note",
        "You stopped after {a_note}. Decide before you start where you breathe.",
    ),
    "faded": Sentence(
        "the end softer than the beginning",
        "The sound faded. Spend less air at the start and keep some for the last notes.",
    ),
    "tone changed": Sentence(
        "tone duller or airier than in this player's earlier rounds",
        "{where} got {how} than before. Drop the jaw, leave room between the teeth, and rest if "
        "the lips are tired.",
    ),
    "high notes thin": Sentence(
        "the high register thin beside the player's own middle",
        "From {a_note} up the sound was {how}. Room between the teeth, loose corners, and let the "
        "air do the climbing.",
    ),
    "octaves wide": Sentence(
        "octaves wider than pure",
        "The octaves were about {cents} cents wide. Going up, aim lower, corners loose.",
    ),
    "octaves narrow": Sentence(
        "octaves narrower than pure",
        "The octaves were about {cents} cents narrow. Going up, keep the air fast and bring the "
        "lips forward.",
    ),
    "harmonic higher": Sentence(
        "true notes higher than the harmonics of the same pitch",
        "The true notes were about {cents} cents higher than their harmonics. Keep your lips "
        "as for the harmonic; change only the fingers.",
    ),
    "harmonic lower": Sentence(
        "true notes lower than the harmonics of the same pitch",
        "The true notes were about {cents} cents lower than their harmonics. Play the harmonic, "
        "then only change the fingers.",
    ),
    "thinner than harmonic": Sentence(
        "a true note thinner than the harmonic of the same pitch",
        "{what} thinner than {whose}. Keep your mouth as open as for the harmonic.",
    ),
    "airy note": Sentence(
        "one note airier than its neighbours each time",
        "{a_note} was airier than the notes around it each time. Start from a note beside it "
        "that sounds good, and keep that sound.",
    ),
    "colours differ in tuning": Sentence(
        "two colours asked for, and the pitch went along",
        "'{now}' was about {cents} cents {side} than '{then}'. Change the vowel and leave the "
        "air's angle alone.",
    ),
    "colours alike": Sentence(
        "two colours asked for, and the microphone hardly told them apart",
        "'{now}' and '{then}' sounded nearly alike. Exaggerate, in the vowel and in the opening.",
    ),
    # held notes
    "began off": Sentence(
        "untimed notes nearly all begin from one side",
        "Nearly every note began {side}. Sing it in your head first, then begin there.",
    ),
    "never settled": Sentence(
        "an untimed note never came to rest in tune",
        "{a_note} never settled. Hold it against the drone alone for one breath.",
    ),
    "slow to settle": Sentence(
        "an untimed note took long",
        "{a_note} took {seconds} seconds to settle. Sing it before you play it.",
    ),
    "one began off": Sentence(
        "an untimed note began clearly beside its pitch",
        "{a_note} began {cents} cents {side}. Hear it before you play it.",
    ),
    "no pulse": Sentence(
        "vibrato asked for, none heard",
        "No pulse yet. 'Ha, ha, ha' on the beat without the flute, then on one note.",
    ),
    "not straight": Sentence(
        "a straight tone asked for that moves",
        "The straight tone still moved. Let the air run like water from a tap.",
    ),
    "pulses unlike": Sentence(
        "vibrato without a steady rate",
        "The pulses were uneven. Fewer to the beat, each as round as the last.",
    ),
    "pulses too fast": Sentence(
        "vibrato quicker than asked", "The pulses came too fast. Say the beat under your breath."
    ),
    "pulses too slow": Sentence(
        "vibrato slower than asked", "The pulses came too slow. Let the air answer the beat."
    ),
    "not deeper": Sentence(
        "vibrato to be deeper than the round before",
        "It hardly got deeper. More air in each pulse, at the same speed.",
    ),
    "not lighter": Sentence(
        "vibrato to be lighter than the round before",
        "It hardly got lighter. Keep the speed and only touch each pulse.",
    ),
    "louder with pulses": Sentence(
        "more pulses, and the sound grew with them",
        "The sound grew with the pulses. The same air, just divided more finely.",
    ),
    "swell sharp": Sentence(
        "the pitch rises as the note grows",
        "The pitch rose about {cents} cents as the notes grew. As more air comes, open the lips "
        "for it.",
    ),
    "swell flat": Sentence(
        "the pitch sinks as the note grows",
        "The pitch sank about {cents} cents as the notes grew. Keep the opening, and let only the "
        "air grow.",
    ),
    "swell small": Sentence(
        "soft and loud hardly differ",
        "Soft and loud were nearly the same. Begin with less than you dare, and end louder than "
        "is comfortable.",
    ),
    # a trouble spot being practised
    "spot slipped": Sentence(
        "the trouble spot practised, a slip in it, no habit", "{places} slipped in {spot_note}."
    ),
    "spot clean": Sentence("the trouble spot practised, clean each time", "{spot_note} was clean."),
    "spot clean and in time": Sentence(
        "... and in time with the notes around it", "{spot_note} was clean, and in time."
    ),
    # nothing to say
    "all well": Sentence("nothing amiss; only what was measured is praised", "All {praise}."),
    "well but for slips": Sentence(
        "nothing amiss but a slip the aims allow", "All clean but {places}."
    ),
    "what was heard was well": Sentence(
        "nothing amiss in what could be judged, but not all could",
        "What I could hear was {praise}.",
    ),
    "heard well but for slips": Sentence(
        "... and a slip the aims allow", "What I could hear was clean but for {places}."
    ),
    "heard among others": Sentence(
        "nothing amiss in the notes asked for, but as many others sounded",
        "I heard what was asked for, and {count} other notes beside it.",
    ),
    "starts untold": Sentence(
        "... where a room hides the beginnings of many notes",
        "How the notes began I couldn't tell.",
    ),
    "stopped on the way": Sentence(
        "... where the line stood still, too seldom for a habit", "You stopped after {places}."
    ),
    "came in": Sentence(
        "... where the line began well before or after the first beat",
        "You came in {how_far} {side}.",
    ),
    "puffs": Sentence("silent puffs of air, all heard", "Every puff of air came."),
    "settled": Sentence("untimed notes all settled", "Every note settled."),
    "pulses well": Sentence("vibrato as asked", "Even pulses, at the speed asked for."),
    "straight": Sentence("a straight tone as asked", "A straight tone all the way."),
    "swells well": Sentence("swells heard, nothing amiss", "The swells grew, and the pitch held."),
    "left to you": Sentence(
        "the student disagreed, and nothing else was found", "Nothing else from me."
    ),
    # the sound itself
    "fix the sound": Sentence(
        "something is wrong with the sound itself",
        "{warning} Fix that first, then we go on.",
    ),
    "too little heard": Sentence(
        "too few notes could be judged",
        "Only {share} notes came through clearly. Bring the microphone nearer, and put the "
        "trainer's own sound in headphones.",
    ),
    "not told from the partner": Sentence(
        "no note could be told from a partner that came back through the microphone",
        "I couldn't tell your playing from the partner's. Put the trainer's own sound in "
        "headphones, or turn it down; then once more.",
    ),
    "hardly anything heard": Sentence(
        "a note or two of the line, and nothing else",
        "I heard only {places}. If you played on, come nearer; if not, go on from there.",
    ),
    "not told from others": Sentence(
        "no note could be told to be the student's",
        "I couldn't make out your flute. Come nearer, play where it is quieter, and switch noise "
        "suppression off in the sound settings.",
    ),
    "starts unclear": Sentence(
        "in many of the day's notes the start could not be judged",
        "Many starts aren't clear enough to judge here. A nearer microphone, a curtain or a softer "
        "room helps.",
    ),
    "starts were unclear": Sentence(
        "... in the last session",
        "Last time many starts weren't clear enough to judge. A nearer microphone, a curtain or a "
        "softer room helps.",
    ),
    "heard differently": Sentence(
        "the student disagreed, and nothing else is left to say",
        "Noted: you heard it differently. It is in the journal for the lesson.",
    ),
    "nothing heard": Sentence(
        "the microphone is open and no note was heard",
        "I heard no note. Is the right microphone chosen, is it muted, and is it about an arm's "
        "length away?",
    ),
    "nothing heard this time": Sentence(
        "... after rounds of this session that were heard",
        "I heard no note this time. Play it whenever you are ready.",
    ),
    "other notes": Sentence(
        "a line was heard, on other notes than those asked for",
        "I heard other notes than these. Look at the key and the first note, then once more.",
    ),
    "moved by octaves": Sentence(
        "the line was heard an octave or two from where it is written",
        "You played it {how_far} than written. Find the first note, then once more.",
    ),
    "marked done": Sentence(
        "what only the player can judge was asked, such as flutter tongue",
        "{asked}, played and marked done. I can't judge it: how did it feel to you?",
    ),
    "no microphone": Sentence(
        "there is no microphone", "Nobody is listening: there is no microphone. How did it feel?"
    ),
}

OF_WHAT_COMES_NEXT: dict[str, Sentence] = {
    "that is all": Sentence("nothing amiss, no more rounds known", "That's all of it."),
    "next": Sentence("on to another round or exercise", "Next: {what}."),
    "not judged, again": Sentence("the sound was in the way", "I couldn't judge that. Once more."),
    "again, listen": Sentence("a habit at a place, or in one thing", "Once more: {listen}."),
    "slower": Sentence("the round came apart", "A little slower: {bpm} now."),
    "right often enough": Sentence(
        "until so many times right: reached", "That was right as often as asked. On we go."
    ),
    "a step back": Sentence("until right, else back: it was not", "A step back, to {bpm}."),
    "a step forward": Sentence(
        "until right, else back: right often enough", "Right again: a step forward, to {bpm}."
    ),
    "so many to go": Sentence(
        "until so many times right: some are wanting", "{left} more like that in a row."
    ),
    "enough for today": Sentence(
        "three rounds have not helped", "Enough of this for today. It comes back."
    ),
    "take the spot out": Sentence("a trouble spot was found", "Next: {spot_note} alone, slowly."),
    # a climb
    "start": Sentence("a climb begins", "We start at {bpm}."),
    "start after last time": Sentence(
        "a climb begins above the teacher's start", "We start at {bpm}, a little under last time."
    ),
    "easy": Sentence("far inside what is allowed", "That was easy: {bpm} next."),
    "well": Sentence("well inside what is allowed", "That went well: {bpm} next."),
    "tempo is fine": Sentence(
        "what was said has nothing to do with the tempo", "The tempo is fine: {bpm} next."
    ),
    "settled at": Sentence("a tempo that only just held, held again", "Settled: {bpm} next."),
    "hard, once more": Sentence(
        "it held, and the student found it hard", "You found that hard: {bpm} once more."
    ),
    "just held": Sentence("just inside what is allowed", "{bpm} only just held. Once more."),
    "not clean yet": Sentence(
        "the tempo could hold, but what was said must go first", "The same tempo once more."
    ),
    "too fast yet": Sentence("the tempo came apart", "Too fast for today: back to {bpm}."),
    "clean first": Sentence(
        "above what held, and what was said must go first", "Clean first: back to {bpm}."
    ),
    "not sure enough": Sentence(
        "too many notes in doubt where it came apart before",
        "I wasn't sure of every note: back to {bpm}.",
    ),
    "held, once more": Sentence(
        "a tempo that came apart held", "That held. Once more, to be sure."
    ),
    "as slow as it goes": Sentence(
        "it came apart at the slowest tempo", "Once more, as slow as it goes."
    ),
    "found hard": Sentence("the student found it hard", "You found that hard: {bpm} next."),
    "gently up": Sentence("below a tempo that came apart", "That went well: gently on to {bpm}."),
    "that tempo again": Sentence("a tempo that came apart, once more", "Well done: {bpm} again."),
    "stay and settle": Sentence("near a tempo that came apart", "Stay here and let it settle."),
    "tempo of today": Sentence("the climb ends below its goal", "That's the tempo for today."),
    "goal": Sentence("the climb's goal held", "That's the goal."),
    "time is up": Sentence("the climb's minutes are over", "Time's up."),
    "too little to climb": Sentence(
        "too few notes could be judged in a climb", "I heard too little: the same tempo again."
    ),
    "felt decides": Sentence(
        "nobody listens, and the student has not said how it felt",
        "No microphone: press 3 if that was hard; otherwise {bpm} next.",
    ),
    "open, hold": Sentence("the student disagreed, in a climb", "Then {bpm} once more."),
    "open, on": Sentence("... and it was played once more", "Then {bpm} now."),
    "held today": Sentence(
        "a climb ends with a tempo that held", "{bpm} held today; tomorrow starts a little lower."
    ),
    "held, no lower": Sentence("... and the next one can't start below it", "{bpm} held today."),
    "none held": Sentence("a climb ends and none held", "No tempo held today. We'll try again."),
    # slow and goal in turns
    "slow first": Sentence("slow and goal in turns begin", "Slow first, at {bpm}; then the goal."),
    "not judged in turns": Sentence(
        "... and a round was not judged", "I couldn't judge that: {bpm} now."
    ),
    "slower first": Sentence("... and the slow one came apart", "Slower first: {bpm}."),
    "goal now": Sentence("... and the slow one held", "Now the goal, {bpm}, once."),
    "goal went well": Sentence("... and the goal held once", "The goal went well: {bpm} again."),
    "goal twice": Sentence("... and it held again", "Good again: that's the goal."),
    "today's tempo twice": Sentence(
        "... and today's nearer goal", "Good again: that's today's tempo."
    ),
    "goal just held": Sentence("... and the goal only just held", "Only just: slow again, {bpm}."),
    "goal not clean": Sentence(
        "... and what was said must go first", "Slow again, with that in mind: {bpm}."
    ),
    "goal open": Sentence("... and the student disagreed", "Then slow once more, {bpm}."),
    "goal came apart": Sentence("... and the goal came apart", "Too fast yet: slow again, {bpm}."),
    "stay slow": Sentence("... and again, and none is nearer", "Stay slow for today: {bpm}."),
    "goal nearer": Sentence("... and again", "The goal is too far today: slow, then {bpm}."),
    # a trouble spot
    "leave the spot": Sentence(
        "three rough rounds of a trouble spot",
        "This isn't helping now. Leave it; it comes back tomorrow.",
    ),
    "back into the whole": Sentence("the trouble spot is through", "Now back into the whole."),
    "spot faster": Sentence("two smooth rounds of a trouble spot", "Smooth: a little faster."),
}

OF_A_SESSION: dict[str, Sentence] = {
    "best today": Sentence("an exercise ended well", "Best today: {what}."),
    "tomorrow spot": Sentence(
        "a trouble spot did not end smooth", "Tomorrow first: {spot_note}, slowly."
    ),
    "tomorrow": Sentence("something was not put right today", "Tomorrow: {listen}."),
    "tomorrow on": Sentence("all was put right", "Tomorrow: on from here."),
    "then and now": Sentence(
        "two takes of the same lie weeks apart, and figures differ", "Now {what}."
    ),
    "then and now alike": Sentence(
        "... and none does", "By the figures they are alike: what changed is for your ears."
    ),
    "too little of the teacher": Sentence(
        "the teacher plays first, and under three quarters of the notes were heard",
        "Too little of that was heard: nearer to the microphone, and once more.",
    ),
    "too little of both": Sentence(
        "... of the student after the teacher",
        "Too little of yours was heard: nearer to the microphone, and once more.",
    ),
    "tempo of the teacher": Sentence(
        "both halves in the teacher's tempo", "Your tempo was the teacher's."
    ),
    "tempo beside the teacher": Sentence(
        "both halves slower or faster than the teacher's", "You were {how} than the teacher."
    ),
    "half beside the teacher": Sentence(
        "one half slower or faster than the teacher's", "You were {how} in the {half} half."
    ),
    "shorter than the teacher": Sentence(
        "notes let go sooner than the teacher's",
        "Your notes are shorter than the teacher's: hold each one a little longer.",
    ),
    "longer than the teacher": Sentence(
        "notes held longer than the teacher's",
        "Your notes are longer than the teacher's: let each one go a little sooner.",
    ),
    "loud and soft as the teacher": Sentence(
        "no place stands out louder or softer than the teacher's",
        "You were loud and soft where the teacher was.",
    ),
    "teacher swells": Sentence(
        "the teacher stands out louder over three notes", "The teacher swells to the {a_note}."
    ),
    "teacher softer": Sentence(
        "the teacher stands out softer over three notes",
        "The teacher is softer around the {a_note} than you are.",
    ),
    "tempo taken over": Sentence(
        "the student takes the teacher's tempo", "The round goes at the teacher's tempo now."
    ),
    "cleaner": Sentence("more clean notes than an earlier day", "{what}: cleaner than {day}."),
    "less clean": Sentence(
        "fewer clean notes than an earlier day", "{what}: not as clean as {day}."
    ),
}

OF_A_WEEK: dict[str, Sentence] = {
    "begin": Sentence(
        "nothing is written down", "Begin with the routine's first exercise tomorrow."
    ),
    "listen more": Sentence(
        "too few rounds were judged", "Let the trainer listen to a few more rounds first."
    ),
    "spot first": Sentence(
        "a trouble spot is open, or a step keeps going wrong",
        "Begin with {spot_note}, slowly, at {bpm}, on {days}.",
    ),
    "opening first": Sentence(
        "the first note of a round keeps going wrong",
        "Begin with the first note, {a_note}: air first, then the tongue, on {days}.",
    ),
    "hold a note": Sentence(
        "one note is off on the same side, on the last days too",
        "Hold {a_note} against the drone on {days}, and listen.",
    ),
    "habit": Sentence("the same thing was said on most days", "{care}, first thing on {days}."),
    "even first": Sentence(
        "a key and articulation less even than asked",
        "Play {what} at {bpm} until it is even, on {days}.",
    ),
    "tempo stuck": Sentence(
        "a tempo has not risen for three weeks",
        "Stop pushing {what}: play it at {bpm}, clean, on {days}.",
    ),
    "tempo stuck, none held": Sentence(
        "... and none held", "Stop pushing {what}: slower and clean, on {days}."
    ),
    "left out": Sentence(
        "an exercise was left out more often than played", "Put {what} first: it was left out most."
    ),
    "each once more": Sentence(
        "none of these, and fewer than half of the rounds clean",
        "Play each round once more before you go on, on {days}.",
    ),
    "go on": Sentence("none of these", "Go on as you are."),
    "spot went wrong": Sentence(
        "in the list: a trouble spot, or a first note, keeps going wrong",
        "{spot_note} went wrong {share} times{then}.",
    ),
    "spot clean now": Sentence(
        "in the list: a trouble spot that ended smooth", "{spot_note} is clean now{tempo}{then}."
    ),
    "spot left alone": Sentence(
        "in the list: a spot open the week before, and none of its rounds since",
        "{spot_note} was open last week, and not practised since.",
    ),
    "faster now": Sentence(
        "a key's fastest clean tempo rose", "{what}: {bpm} now, {bpm_before} last week."
    ),
    "more even now": Sentence(
        "a key's rounds more even by more than chance", "{what}: more even than last week."
    ),
    "note in tune now": Sentence(
        "a note that was off by more than chance no longer is",
        "{a_note} of the {instrument}: in tune now, {side} last week.",
    ),
}

WHY_THIS_WEEK: dict[str, Sentence] = {
    "nothing kept": Sentence("under 'begin'", "Nothing was written down this week."),
    "hardly judged": Sentence("under 'listen more'", "Only {share} rounds could be judged."),
    "went wrong": Sentence("under what went wrong", "It went wrong {share} times this week."),
    "was off": Sentence("under 'hold a note'", "It was {side} most of the time."),
    "was said": Sentence("under 'habit'", "It came up on {share} days."),
    "was uneven": Sentence("under 'even first'", "{share} rounds were less even than asked."),
    "tempo tried": Sentence("under 'tempo stuck'", "{count} faster rounds did not hold."),
    "was left out": Sentence("under 'left out'", "Asked for on {count}, and seldom played."),
    "nothing kept going wrong": Sentence("under 'go on'", "Nothing kept going wrong."),
    "rounds went wrong": Sentence(
        "under 'each once more'", "{share} rounds were clean, and no one thing kept going wrong."
    ),
}

CARES: dict[str, Sentence] = {
    "notes": Sentence("wrong or lost notes", "Slowly, until no note gets lost"),
    "tuning of the high notes": Sentence("high notes off", "The high notes soft, with the drone"),
    "tuning of the low notes": Sentence("low notes off", "The low notes full, with the drone"),
    "tuning": Sentence("everything off", "A long note with the drone"),
    "holding the pitch of long notes": Sentence(
        "long notes bend", "Long notes, straight to the end"
    ),
    "crossing between two notes": Sentence("late changes", "The late change, two notes at a time"),
    "back syllable": Sentence("a weak or late K", "K alone, five notes"),
    "a note that speaks late": Sentence("late notes", "The late note, from each neighbour"),
    "a note slow to speak": Sentence("slow notes", "The slow note on breath alone"),
    "false note between fingerings": Sentence("false notes", "Slow changes, two notes at a time"),
    "rushing": Sentence("rushing", "One line with the click on two and four"),
    "dragging": Sentence("dragging", "One line with the air always moving"),
    "how notes start": Sentence("other starts than asked", "Two notes, started just as asked"),
    "tone": Sentence("tone", "Long notes, jaw loose"),
    "where the breath comes": Sentence("breaths off their marks", "Mark the breaths and take them"),
    "the sound fading towards the end": Sentence("fading", "Long notes that grow at the end"),
    "letting a note stand": Sentence("slow settling", "Sing each note, then play it"),
    "vibrato": Sentence("vibrato", "'Ha, ha, ha' on one note"),
    "swells": Sentence("swells", "One note from soft to loud"),
    "octaves": Sentence("octaves off", "Octaves slurred, with the drone"),
    "one sound throughout": Sentence(
        "one note stands out", "The note that sticks out, slowly from its neighbours"
    ),
    "two colours, one tuning": Sentence("colours off", "One note in two colours, with the drone"),
    "trills": Sentence("trills", "The trill in slow pairs"),
}
"""What to do about something that came up on most days, by the name the journal keeps for it."""

OF_A_LESSON: dict[str, Sentence] = {
    "lesson today": Sentence("the lesson is today", "Lesson today{wants}."),
    "lesson tomorrow": Sentence("the lesson is tomorrow", "Lesson tomorrow{wants}."),
    "lesson ahead": Sentence("the lesson is in two days or more", "Lesson in {days} days{wants}."),
    "lesson on": Sentence("on paper, and in the studio", "Lesson on {day}{wants}."),
    "ask about what was heard": Sentence(
        "the student disagreed with what was said",
        "You heard {what} differently. Play it at the lesson.",
    ),
    "ask about a spot": Sentence(
        "a trouble spot is open for a week or longer",
        "{spot_note} has been open since {day}. Ask for another way to practise it.",
    ),
    "ask about a tempo": Sentence(
        "under what to ask: a tempo that did not rise",
        "{what} isn't getting faster. Ask what to change.",
    ),
}

OF_A_STUDENT: dict[str, Sentence] = {
    "spot open": Sentence(
        "a trouble spot is still open", "{spot_note} in {what}, open since {day}."
    ),
    "tempo not rising": Sentence(
        "a tempo was pushed for three weeks and did not rise", "{what} is stuck at {bpm}."
    ),
    "no tempo yet": Sentence("the same, and none held", "No tempo of {what} holds yet."),
}

SENTENCES: dict[str, Sentence] = {
    **OF_A_ROUND,
    **OF_WHAT_COMES_NEXT,
    **OF_A_SESSION,
    **OF_A_WEEK,
    **WHY_THIS_WEEK,
    **OF_A_LESSON,
    **OF_A_STUDENT,
}
"""All of them, by name, but for what CARES lets a week say."""
