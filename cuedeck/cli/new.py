"""`cuedeck new`: a show folder that runs at once, from flags or from questions."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from cuedeck.cli import exits
from cuedeck.cli.printing import say
from cuedeck.cli.prompts import FlagValue, Questions, WrongAnswer

if TYPE_CHECKING:
    from cuedeck.show.starting import NewLight, NewShow
    from cuedeck.show.units import Angle, Duration, Length

COMMON_TYPE = "two-tone 16-bit"
NONE = "none"
MOST_LIGHTS = 100
MOST_SECONDS = 3600
MOST_METRES = 100
MOST_DEGREES = 3600


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.description = f"{parser.description}; at a terminal it asks for what the flags leave out"
    parser.set_defaults(misused=parser.error)
    parser.add_argument("name", metavar="NAME", nargs="?", help="the folder to make")
    parser.add_argument("--title", metavar="TEXT", help="what is filmed")
    parser.add_argument("--fps", metavar="RATE", help="frames a second of the camera (25)")
    parser.add_argument("--hertz", metavar="HERTZ", help="of the mains, 50 or 60 (50)")
    lights = parser.add_mutually_exclusive_group()
    lights.add_argument("--light", metavar="NAME=TYPE", action="append", help="a light and its type; may be repeated")
    lights.add_argument("--lights", metavar="NUMBER", help=f"so many lights of type {COMMON_TYPE} (3)")
    parser.add_argument("--slider", metavar="LENGTH", nargs="+", help="how far the slider goes, or none (340 mm)")
    parser.add_argument("--turn", metavar="ANGLE", nargs="+", help="how far the turntable goes, or none (none)")
    parser.add_argument("--seconds", metavar="TIME", nargs="+", help="how long the move takes, also as 2 min (4)")
    parser.add_argument("--defaults", action="store_true", help="ask nothing")


def run(options: argparse.Namespace) -> int:
    """Make the folder, and say what to do with it."""
    from pathlib import Path

    from cuedeck.folder.making import check_new_folder, make_show_folder

    name = _name_behind_words(options) if options.name is None else options.name
    path = Path(name)
    check_new_folder(path)  # before the questions, not after
    make_show_folder(path, _files(_new_show(options, path.name, Questions(may_ask=not options.defaults))))
    shown = shlex.quote(name)
    print(f"cuedeck check {shown}      # what is wrong, where, and what to write instead")
    print(f"cuedeck open {shown}       # see it; space runs, q quits")
    print(f"cuedeck shoot {shown} 1    # take it")
    return exits.DONE


def _name_behind_words(options: argparse.Namespace) -> str:
    """Return the NAME that a flag of several words has swallowed: what is left behind words that can be read."""
    lengths = ((options.slider, _reach_of_slider), (options.turn, _reach_of_turn), (options.seconds, _length))
    for words, read in lengths:
        if words and len(words) > 1 and not _reads(read, words) and _reads(read, words[:-1]):
            return str(words.pop())
    options.misused("NAME is missing: write it first, as in cuedeck new NAME --slider 340 mm")
    raise AssertionError("argparse leaves")


def _reads(read: Callable[[str], Any], words: list[str]) -> bool:
    try:
        read(" ".join(words))
    except WrongAnswer:
        return False
    return True


def _files(new: NewShow) -> dict[str, str]:
    from cuedeck.show import SHOW_FILE
    from cuedeck.show.starting import MOVE_FILE, show_text
    from cuedeck.timing.move_table import eased_move, recorded

    files = {SHOW_FILE: show_text(new)}
    for axis in list(new.reaches)[:1]:
        files[MOVE_FILE.format(axis=axis)] = recorded(eased_move(dict(new.reaches), new.length.base))
    return files


def _new_show(options: argparse.Namespace, folder: str, questions: Questions) -> NewShow:
    from cuedeck.show.starting import SLIDE, TURN, NewShow

    ask = questions.answer
    title = folder.replace("-", " ").replace("_", " ")
    new_title = ask(
        _flag_value(options, "title"), "what is filmed", title if title.isprintable() else "untitled", _title
    )
    fps = ask(_flag_value(options, "fps"), "frames a second of the camera", "25", _fps)
    hertz = ask(_flag_value(options, "hertz"), "hertz of the mains, 50 or 60", "50", _hertz)
    lights = _lights(options, questions)
    reaches: dict[str, Length | Angle | None] = {
        SLIDE: ask(_flag_value(options, "slider"), "how far the slider goes, or none", "340 mm", _reach_of_slider),
        TURN: ask(_flag_value(options, "turn"), "how far the turntable goes, or none", NONE, _reach_of_turn),
    }
    length = ask(_flag_value(options, "seconds"), "how many seconds it takes", "4", _length)
    moving = {axis: reach for axis, reach in reaches.items() if reach is not None}
    return NewShow(new_title, fps, hertz, lights, moving, length)


def _flag_value(options: argparse.Namespace, name: str) -> FlagValue | None:
    words = getattr(options, name)
    if words is None:
        return None
    return FlagValue(f"--{name}", words if isinstance(words, str) else " ".join(words))


# --- lights ---------------------------------------------------------------------------------------------------------


def _lights(options: argparse.Namespace, questions: Questions) -> list[NewLight]:
    lights: list[NewLight] = []
    if options.light:
        for text in options.light:
            lights.append(FlagValue("--light", text).read(lambda text: _named_light(text, lights)))
        return lights
    if options.lights is not None or not questions.asks:
        count = FlagValue("--lights", options.lights or "3").read(_count)
        return [_light(_common_name(index), COMMON_TYPE) for index in range(count)]
    count = questions.answer(None, "how many lights", "3", _count)
    say("types: " + ", ".join(f"{number} {name}" for number, name in enumerate(_types(), start=1)))
    for index in range(count):
        name = questions.answer(
            None, f"name of light {index + 1}", _common_name(index), lambda text: _name(text, lights)
        )
        kind = questions.answer(None, f"type of {name}, by name or number", COMMON_TYPE, _type)
        lights.append(_light(name, kind))
    return lights


def _named_light(text: str, others: list[NewLight]) -> NewLight:
    name, equals, kind = text.rpartition("=")
    return _light(_name(name if equals else kind, others), _type(kind) if equals else COMMON_TYPE)


def _common_name(index: int) -> str:
    from cuedeck.show.starting import COMMON_PLACES

    names = list(COMMON_PLACES)
    return names[index] if index < len(names) else f"light {index + 1}"


def _types() -> list[str]:
    from cuedeck.rig.types import BUILT_IN

    return list(BUILT_IN)


def _light(name: str, kind: str) -> NewLight:
    from cuedeck.rig.types import BUILT_IN
    from cuedeck.show.starting import NewLight

    return NewLight(name, kind, BUILT_IN[kind])


def _type(text: str) -> str:
    from cuedeck.show.problems import choice_of

    known = _types()
    numbered = {str(number): name for number, name in enumerate(known, start=1)}
    cleaned = " ".join(text.split())
    if cleaned not in known and cleaned not in numbered:
        raise WrongAnswer(f"'{cleaned}' is no built-in type: {choice_of(cleaned, known)}")
    return numbered.get(cleaned, cleaned)


def _name(text: str, others: list[NewLight]) -> str:
    from cuedeck.show.model import EVERYTHING, LIKE

    if not 1 <= len(text) <= 80 or not text.isprintable():
        raise WrongAnswer("a light needs a name of 1 to 80 characters that print: write one such as rim left")
    if text in (EVERYTHING, LIKE):
        raise WrongAnswer(f"a light cannot be called '{text}': looks use that word, give it another name")
    if text in (other.name for other in others):
        raise WrongAnswer(f"two lights are called '{text}': give one of them another name")
    return text


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:5]) <= MOST_LIGHTS):
        raise WrongAnswer(f"'{text}' is no number of lights: write 1 to {MOST_LIGHTS}")
    return int(text)


# --- single values --------------------------------------------------------------------------------------------------


def _title(text: str) -> str:
    if len(text) > 500 or not text.isprintable():
        raise WrongAnswer("a title is one line of up to 500 characters that print: write a shorter one")
    return text


def _fps(text: str) -> str:
    from cuedeck.show.frame_rates import parse_frame_rate

    _parsed(parse_frame_rate, text)
    return text.strip()


def _hertz(text: str) -> int:
    if text not in ("50", "60"):
        raise WrongAnswer(f"'{text}' is no mains frequency: write 50 or 60")
    return int(text)


def _length(text: str) -> Duration:
    from cuedeck.show.units import Duration

    length: Duration = _parsed(Duration.parse, f"{text} s" if text.strip()[-1:].isdigit() else text)
    if not 0.5 <= length.base <= MOST_SECONDS:
        raise WrongAnswer(f"{length} is out of range: write 0.5 to {MOST_SECONDS} seconds")
    return length


def _reach_of_slider(text: str) -> Length | None:
    from cuedeck.show.units import Length

    reach: Length | None = _reach(Length, MOST_METRES * 1000, text)
    return reach


def _reach_of_turn(text: str) -> Angle | None:
    from cuedeck.show.units import Angle

    reach: Angle | None = _reach(Angle, MOST_DEGREES, text)
    return reach


def _reach(kind: type[Any], most: int, text: str) -> Any:
    if text.strip() == NONE:
        return None
    reach = _parsed(kind.parse, text)
    if not 1 <= abs(reach.base) <= most:
        raise WrongAnswer(f"{reach} is out of range: write {kind.of(1)} to {kind.of(most)}, or none")
    return reach


def _parsed(parse: Callable[[str], Any], text: str) -> Any:
    from cuedeck.show.units import UnitError

    try:
        return parse(text)
    except UnitError as error:
        raise WrongAnswer(f"{error.what}: {error.cure}") from error
