"""What teachers write in other languages, or in other words of the trade, and the word read here.

Most only serve the question 'Did you mean …?'; the tables called SAME_… are read as if our own word
had been written. Words and note names of other languages are those of ordinary lessons (common
practice, no source).
"""

from __future__ import annotations

import re
import unicodedata

_WORDS = {
    # fields
    "title": "titel, titre, titolo, name",
    "words": "worte, text, mots, comment, comments, instructions, hint, hints, remark, remarks",
    "instrument": "flute, flöte, flûte",
    "tuning": "stimmung, accord, a4, diapason, concert pitch",
    "defaults": "default, standard, vorgaben, always, for all",
    "exercises": "übungen, uebungen, exercices, exercise, esercizi, practice, programme, program",
    "week": "woche, semaine, weekly plan, days",
    "key": "tonart, tonalité, tonalite, tonality, keys, key signature, tonic, ton",
    "range": "umfang, étendue, etendue, ambitus, octaves, compass",
    "pattern": "muster, formule, figure",
    "rhythm": "rhythmus, rythme, subdivision, note values, note value",
    "articulations": "artikulation, artikulationen, articulation, tonguing, tongue, attacks",
    "tempo": "bpm, speed, metronome, metronom, mm, tempi",
    "order": "reihenfolge, ordre",
    "rounds": "runden, durchgänge, wiederholungen, repetitions, repeats, repeat, times, fois",
    "partner level": "partner volume, volume, lautstärke, partner loudness",
    "click": "klick, click sound, beat, pulse",
    "click level": "click volume, metronome volume, metronome level, click loudness",
    "subdivision": "subdivisions, click subdivision, unterteilung, subdivide, off beats",
    "click rests": "silent bars, click silent, mute, silent, empty bars, gaps, click drops out, "
                   "click pauses, click silence, stumme takte",
    "tempo at the end": "end tempo, final tempo, accelerando, ritardando, rallentando, accel, rit, "
                        "tempo change, last tempo, faster to",
    "partner": "begleitung, accompaniment, play along, playalong, drone, bordun, bourdon",
    "temperament": "temperierung, intonation",
    "aims": "ziele, ziel, goals, goal, targets, target, objectives, buts, objectifs",
    "breaths": "atem, atmen, atmung, breathing, breath marks, respirations, respiration",
    "rest after": "pause after, break after, pause danach",
    "notes": "noten, töne, toene, pitches, notation, music",
    "time": "takt, taktart, meter, metre, time signature, mesure",
    "beats each": "beats, length, duration, schläge, counts",
    "beats between": "gap, silence between, rest between",
    "from": "von, start, de, from tempo, start tempo",
    "to": "bis, until, goal tempo, end, to tempo, end tempo, max",
    "within": "in, minutes, duration minutes, time limit, dauer",
    "levels": "stufen, niveaux, variants, versions",
    "level": "stufe, niveau, grade",
    "progress": "fortschritt, progression, next",
    # kinds
    "scale": "tonleiter, gamme, scala, scales",
    "arpeggio": "arpeggien, arpège, arpege, akkord, broken chord, chord, chords, arpeggios",
    "speed climb": "tempo climb, climb, speed up, speed work, steigerung, accelerando",
    "long tones": "lange töne, lange toene, sons filés, sons files, long notes, long tone",
    "trills": "triller, trilles, trill",
    "voicing": "voice, tone matching",
    "passage": "stelle, excerpt, melody, melodie, etude, phrase, trait",
    "rest": "pause, break, repos, silence",
    "read": "lesen, lire, reading, say",
    "include": "import, insert, file, use",
    # articulations
    "all six": "all, all articulations, every, alle",
    "a different one every round": "random, zufällig, aléatoire, different each time, mixed",
    # lengths, dynamics, rhythms
    "whole": "ganze, ronde, 1/1",
    "half": "halbe, blanche, 1/2",
    "quarter": "viertel, noire, 1/4",
    "eighth": "achtel, croche, 1/8",
    "sixteenth": "sechzehntel, double croche, 16th, 1/16",
    "dotted": "punktiert, pointée, pointé, pointee",
    "triplet": "triole, triolet",
    "quarters": "viertel, noires",
    "eighths": "achtel, croches, 8ths",
    "triplets": "triolen, triolets",
    "sixteenths": "sechzehntel, doubles croches, 16ths",
    "p": "piano", "pp": "pianissimo, ppp", "mp": "mezzopiano",
    "mf": "mezzoforte", "f": "forte", "ff": "fortissimo, fff, sfz, sf",
    "louder": "crescendo, cresc, cresc., <, loud, lauter",
    "softer": "decrescendo, decresc, decresc., diminuendo, dim, dim., >, "
              "quieter, soft, leiser",
    # days
    "monday": "montag, lundi, mon", "tuesday": "dienstag, mardi, tue, tues",
    "wednesday": "mittwoch, mercredi, wed", "thursday": "donnerstag, jeudi, thu, thurs",
    "friday": "freitag, vendredi, fri", "saturday": "samstag, samedi, sat, sonnabend",
    "sunday": "sonntag, dimanche, sun", "other days": "rest of the week, otherwise, weekdays",
    "free": "frei, libre, off, none, nothing, rest, rest day, day off",
    # partner
    "same notes": "unison, unisono, unisson, together, on, yes, true",
    "octave below": "octave, 8vb, lower octave",
    "drone on the tonic": "drone, bordun, bourdon, tonic, drone on tonic",
    "off": "none, no, false, alone, aus, nein",
    "plays it first": "first, leads, before me, demonstrates, vorspielen, plays first",
    "call and answer": "echo, call and response, question and answer, imitation, antwort",
    "drone with the harmony": "moving drone, drone on the root, drone with harmony, harmony, "
                              "chords, roots",
    "in thirds": "thirds, thirds above, a third above, terzen, duet, duett, second voice",
    "in thirds below": "thirds below, a third below, third below",
    "in sixths": "sixths, sixths below, a sixth below, sexten",
    "in sixths above": "a sixth above, sixth above",
    "canon after a bar": "canon, kanon, round, in canon, canon after 1 bar, canon at the bar",
    "canon after a beat": "canon after 1 beat",
    "in turns": "alternating, by turns, taking turns, alternate, alternation, abwechselnd",
    # click
    "much softer": "very soft, pianissimo, pp, quiet, much quieter",
    "brush": "hiss, noise, shaker",
    "knock": "wood, woodblock, low, drum, deep",
    "glass": "bell, chime, high",
    "tick": "click, standard, normal",
}  # fmt: skip
_SAME_ARTICULATIONS = {
    "slurred": "legato, slur, legato slur, all slurred, gebunden, lié, lie, coulé, legato slurred, "
               "ligado, legate, legati",
    "legato tongue": "portato, louré, loure, soft tongue, soft tonguing, legato tonguing, "
                     "legato tongued, weich gestoßen, weicher zungenstoß, picado ligado",
    "single": "tongued, tongue, tonguing, single tongue, single tongued, single tonguing, "
              "all tongued, detached, détaché, detache, gestoßen, gestossen, einfachzunge, "
              "einfacher zungenstoß, coup de langue simple, simple coup de langue, "
              "colpo di lingua semplice, sciolto, picado, picado simple, golpe de lengua simple",
    "staccato": "staccato tongue, staccato tonguing, kurz gestoßen, piqué, picado corto",
    "tenuto": "tenuto tongued, breit gestoßen, gehalten, tenu",
    "accented": "accents, accent, marcato, akzentuiert, betont, accentué, accentato, acentuado, "
                "marcado",
    "air-only": "air only, air, breath, breath attack, breath attacks, breath start, "
                "breath starts, "
                "breath accent, breath accents, ha, hah, huff, ohne zunge, hauch, sans langue, "
                "souffle, attaque de souffle, senza lingua, attacco di fiato, sin lengua, "
                "ataque de aire",
    "double": "double tongue, double tongued, double tonguing, dt, t k, tk, doppelzunge, "
              "double coup de langue, double articulation, doppio colpo di lingua, "
              "doppio staccato, "
              "doble picado, doble golpe de lengua, doble lengua",
    "reverse double": "reverse double tongue, reverse double tonguing, reversed double, k t, kt, "
                      "umgekehrte doppelzunge",
    "triple": "triple tongue, triple tongued, triple tonguing, t k t, tkt, triple tkt, "
              "tripelzunge, "
              "triolenzunge, dreifachzunge, triple coup de langue, triplo colpo di lingua, "
              "triplo staccato, triple picado, triple golpe de lengua",
    "triple T T K": "t t k, ttk, triple ttk",
}  # fmt: skip
SAME_ARTICULATION: dict[str, str] = {
    word: ours for ours, words in _SAME_ARTICULATIONS.items() for word in words.split(", ")
}
"""What flutists also write → the articulation read; these words are taken as they stand. English
from fluteline.com and drcatesflutetips.wordpress.com; the others are those of ordinary lessons
(common practice, no source)."""
SAME_SWELL = {
    "crescendo": "louder", "cresc": "louder", "cresc.": "louder", "<": "louder", "lauter": "louder",
    "lauter werden": "louder", "anschwellen": "louder", "growing": "louder", "grow": "louder",
    "en augmentant": "louder", "creciendo": "louder",
    "diminuendo": "softer", "decrescendo": "softer", "dim": "softer", "dim.": "softer",
    "decresc": "softer", "decresc.": "softer", ">": "softer", "leiser": "softer",
    "leiser werden": "softer", "abschwellen": "softer", "en diminuant": "softer",
    "disminuyendo": "softer",
    "messa di voce": "there and back", "<>": "there and back", "< >": "there and back",
    "swell": "there and back", "schwellton": "there and back", "son filé": "there and back",
    "sons filés": "there and back", "notas filadas": "there and back",
    "crescendo then diminuendo": "there and back", "swell and fade": "there and back",
    "crescendo and diminuendo": "there and back", "crescendo, diminuendo": "there and back",
    "louder and softer": "there and back",
}  # fmt: skip
SAME_CLICK = {
    "no": "off", "none": "off", "false": "off", "silent": "off", "mute": "off", "aus": "off",
    "no click": "off", "count in only": "off", "only the count-in": "off",
}  # fmt: skip
SAME_FORM = {
    "ionian": "major", "dur": "major", "majeur": "major", "maggiore": "major", "mayor": "major",
    "aeolian": "natural minor", "pure minor": "natural minor", "harmonisch moll": "harmonic minor",
    "melodisch moll": "melodic minor", "chromatisch": "chromatic", "chromatique": "chromatic",
    "cromatica": "chromatic", "cromática": "chromatic", "ganzton": "whole-tone",
    "ganztonleiter": "whole-tone", "par tons": "whole-tone", "dorisch": "dorian",
    "dorien": "dorian", "phrygisch": "phrygian", "phrygien": "phrygian", "lydisch": "lydian",
    "lydien": "lydian", "mixolydisch": "mixolydian", "mixolydien": "mixolydian",
    "lokrisch": "locrian", "locrien": "locrian", "major pentatonic": "pentatonic",
    "pentatonisch": "pentatonic", "pentatonique": "pentatonic", "blues scale": "blues",
    "diminished scale": "octatonic", "whole-half": "octatonic",
    "half-whole": "octatonic, half step first",
}  # fmt: skip
SAME_CHORD = {
    "dur": "major", "moll": "minor", "half-diminished seventh": "half-diminished",
    "halbvermindert": "half-diminished", "m7b5": "half-diminished",
    "minor seven flat five": "half-diminished", "maj7": "major seventh", "m7": "minor seventh",
    "min7": "minor seventh", "minor 7": "minor seventh", "major 7": "major seventh",
    "v7": "dominant seventh", "dominant": "dominant seventh", "dominant 7": "dominant seventh",
    "dominantseptakkord": "dominant seventh", "septième de dominante": "dominant seventh",
    "dim7": "diminished seventh", "vermindert": "diminished", "diminué": "diminished",
    "übermäßig": "augmented", "augmenté": "augmented", "ninth": "dominant ninth",
    "v9": "dominant ninth", "maj9": "major ninth", "m9": "minor ninth", "sixth": "added sixth",
    "major sixth": "added sixth", "sixte ajoutée": "added sixth", "minor sixth":
    "minor added sixth",
}  # fmt: skip
SAME_DYNAMIC = {
    "pianissimo": "pp", "piano": "p", "mezzopiano": "mp", "mezzo piano": "mp",
    "mezzoforte": "mf", "mezzo forte": "mf", "forte": "f", "fortissimo": "ff",
}  # fmt: skip
SAME_UNJUDGED = {
    "flutter tonguing": "flutter tongue", "fluttertongue": "flutter tongue",
    "flutter": "flutter tongue", "flatterzunge": "flutter tongue", "frullato": "flutter tongue",
    "frulato": "flutter tongue", "flz": "flutter tongue", "flz.": "flutter tongue",
    "tremolo dental": "flutter tongue", "trémolo dental": "flutter tongue",
    "flattement": "finger vibrato", "fingervibrato": "finger vibrato",
    "vibrato with the finger": "finger vibrato", "vibrato de doigt": "finger vibrato",
    "vibrato de dedo": "finger vibrato", "vibrato di dito": "finger vibrato",
}  # fmt: skip
_SAME_FIELDS = {
    "articulations": "articulation, articulated, tonguing, tonguings, attack, attacks",
    "time": "meter, metre, time signature, takt, taktart, mesure, mètre",
    "dynamic": "dynamics, loudness",
    "beats each": "length, duration, hold, held, beats, length of each, note length",
    "tempo": "metronome, metronome mark, speed, bpm, mm, tempi, at",
    "pattern": "interval, intervals, figure",
    "each note": "repeat each note, repeat notes, repeated notes, notes repeated",
    "practise": "practice, practising, practicing, way of practising, practice way",
    "rounds": "repetitions, repeats, repeat, times, how often",
    "words": "comment, comments, remark, remarks, hint, instructions, note to student, say",
    "tempo at the end": "end tempo, final tempo, tempo at end, last tempo",
    "practice rhythm": "rhythms, practice rhythms, in rhythms",
    "breaths": "breath, breathing, breathe, breath marks",
    "aims": "aim, goal, goals, target, targets",
    "roots": "root, fundamental, fundamentals",
    "partials": "up to, partial, harmonics up to",
    "key": "keys, tonic, tonality",
    "chord": "chords", "range": "compass", "swell": "swells", "vibrato": "pulses, vibratos",
    "colours": "colors, colour, color", "pairs": "pair, trill", "rhythm": "note values, note value",
    "form": "kind, mode, scale form, type", "rest after": "rest afterwards, pause after, then rest",
    "partner": "accompaniment, play along", "beats between": "rest between, breath between",
    "notes": "music", "rhythms": "speeds",
}  # fmt: skip
SAME_FIELD = {other: ours for ours, names in _SAME_FIELDS.items() for other in names.split(", ")}
"""Other name of a field → ours; it is read so where ours is known and isn't written there."""
_SAME_KINDS = {
    "scale": "scales", "arpeggio": "arpeggios, broken chord, broken chords",
    "speed climb": "tempo climb, speed work",
    "long tones": "long tone, long notes, long note, held notes, sustained notes, intonation, "
                  "vibrato, swells",
    "trills": "trill", "voicing": "harmonics, overtones",
    "passage": "etude, étude, study, excerpt, melody, piece, tune, phrase, solo",
    "rest": "break, pause", "read": "reading, reminder",
}  # fmt: skip
SAME_KIND = {other: word for word, others in _SAME_KINDS.items() for other in others.split(", ")}
"""Other word that begins an exercise → the kind it is read as."""
FORM_OF_KIND = {"harmonics": "harmonics", "overtones": "harmonics"}
"""Words of SAME_KIND that say the form too."""
NO_KIND = {
    "breathing": "Without the flute it is words to read: '- read: In for four, out for eight.'",
    "warm up": "Begin it with what is played: '- long tones:' or '- scale:'.",
    "improvise": "Say it in words to read: '- read: Improvise on A minor for two minutes.'",
    "listen": "Say it in words to read: '- read: Listen to …'.",
}
"""What a teacher may begin an exercise with, and how that is said."""
ELSEWHERE = {
    "days": "Which day it is played stands under 'week:' at the top: 'monday: {exercises: [its "
            "name]}'.",
    "day": "Which day it is played stands under 'week:' at the top: 'monday: {exercises: [its "
           "name]}'.",
    "upbeat": "Write the word 'upbeat' before the first note of 'notes'.",
    "pickup": "Write the word 'upbeat' before the first note of 'notes'.",
    "direction": "A line goes up and down again; 'range: full, bottom first' or 'top first' says "
                 "which end of the flute comes first.",
    "by": "Leave it out: the steps follow from how it goes.",
    "step": "Leave it out: the steps follow from how it goes.",
    "octaves": "Write it as 'range: 2 octaves'.",
    "slur": "Slurs are written in the notes as '(G4 A4)', or as 'articulations: slurred'.",
}  # fmt: skip
"""What a teacher may look for in an exercise, and where it is said."""
MEANT: dict[str, tuple[str, ...]] = {}
"""Other word → the words it may stand for, told apart by what is known where it stands."""
for _ours, _theirs in _WORDS.items():
    for _word in _theirs.split(", "):
        MEANT[_word] = (*MEANT.get(_word, ()), _ours)

_GERMAN = re.compile(r"(?P<letter>[a-h])(?P<sign>isis|is|eses|es|s|)", re.IGNORECASE)
_FRENCH = {
    "do": "C", "ut": "C", "ré": "D", "re": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A",
    "si": "B",
}  # fmt: skip
_FRENCH_NOTE = re.compile(
    rf"(?P<letter>{'|'.join(_FRENCH)})[ -]?(?P<sign>dièse|diese|#|♯|bémol|bemol|b|♭|)",
    re.IGNORECASE,
)
_SIGNS = {"dièse": "#", "diese": "#", "♯": "#", "bémol": "b", "bemol": "b", "♭": "b"}
_MODES = {
    "dur": "major", "maj": "major", "majeur": "major", "maggiore": "major", "ma": "major",
    "moll": "minor", "min": "minor", "mineur": "minor", "minore": "minor", "m": "minor",
    "major": "major", "minor": "minor",
}  # fmt: skip
_SPELLED = {"": "", "#": " sharp", "b": " flat"}
_KEY = re.compile(
    r"(?P<name>.+?)[ -]*(?P<mode>dur|majeur|maggiore|major|maj|moll|mineur|minore|minor|min|m)"
    r"(?: scale)?",
    re.IGNORECASE,
)
_ENGLISH = re.compile(
    r"(?P<letter>[a-g])[ -]?(?P<sign>#|b|sharp|flat|natural|n|♯|♭|♮|)", re.IGNORECASE
)
_NOTE = re.compile(r"(?P<name>\D+?)(?P<octave>\d|'{1,4})", re.IGNORECASE)
LOWEST_PRIMED_OCTAVE = 3
"""c' is C4 (Helmholtz's way of writing, ISO 16 and handbooks use the number)."""


def composed(text: str) -> str:
    """Letters with their accents as one sign each, as some systems don't save them."""
    return unicodedata.normalize("NFC", text)


def note_meant(typed: str) -> str | None:
    """A note written the German or French way, or with primes for its octave, as read here."""
    match = _NOTE.fullmatch(composed(typed).strip())
    if match is None:
        return None
    name = _name_meant(match["name"])
    primes = match["octave"].startswith("'")
    if name is None:
        return None
    octave = LOWEST_PRIMED_OCTAVE + len(match["octave"]) if primes else int(match["octave"])
    return f"{name}{octave}"


def key_meant(typed: str) -> str | None:
    """A key written the German or French way, or as a chord symbol, as read here."""
    text = composed(typed).strip()
    match = _KEY.fullmatch(text)
    mode = _MODES[match["mode"].lower()] if match is not None else ""
    german = match is not None and match["mode"].lower() in ("dur", "moll")
    bare = match["name"] if match is not None else text
    name = "Bb" if german and bare.lower() == "b" else _name_meant(bare)
    if name is None:
        return None
    return f"{name[0]}{_SPELLED[name[1:]]} {mode}".strip()


def _name_meant(typed: str) -> str | None:
    """'fis', 'Sol dièse' or 'Es' as 'F#', 'G#' or 'Eb'."""
    text = typed.strip()
    english = _ENGLISH.fullmatch(text)
    if english is not None:
        signs = {"sharp": "#", "♯": "#", "flat": "b", "♭": "b", "natural": "", "n": "", "♮": ""}
        sign = english["sign"].lower()
        return english["letter"].upper() + signs.get(sign, sign)
    french = _FRENCH_NOTE.fullmatch(text)
    if french is not None:
        sign = french["sign"].lower()
        return _FRENCH[french["letter"].lower()] + _SIGNS.get(sign, sign)
    german = _GERMAN.fullmatch(text)
    if german is None:
        return None
    letter = german["letter"].upper().replace("H", "B")
    sign = {"is": "#", "es": "b", "s": "b", "": ""}.get(german["sign"].lower())
    if sign is None or (german["sign"].lower() == "s" and letter not in "AE"):
        return None
    return letter + sign
