"""The show, as its file says it. Each field's sentence is the reference for the key in the file.

The models take plain data whose leaves are texts (see `source`); everything that can be said about one
value alone is checked here, everything between values in `references.check_references` and in the rooms above.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from pydantic import BeforeValidator, Discriminator, Field, Tag, WithJsonSchema, model_validator

from cuedeck.light.curves import CURVE_HINT, CURVES, EASES
from cuedeck.show.camera import Camera, TimeInShot
from cuedeck.show.channels import SETTING_KEYS, ChannelValueText
from cuedeck.show.colours import Colour, ColourText
from cuedeck.show.fixtures import Fixture, FixtureType
from cuedeck.show.floor import ContactTriggers, OscListening, Signal, TopSpeed
from cuedeck.show.include import MOST_INCLUDED
from cuedeck.show.schema_parts import JsonSchema, key_condition, names_beside, short_or
from cuedeck.show.source import VERSION
from cuedeck.show.triggers import AfterCue, At, StartTrigger, Trigger
from cuedeck.show.units import FEWEST_SLOTS, FULL_UNIVERSE, Current, Duration, shorten
from cuedeck.show.values import (
    LEVEL_READER,
    LabelText,
    LevelText,
    MayBeEmpty,
    Model,
    Name,
    PositionText,
    PositiveNumber,
    Refresh,
    Text,
    YesOrNo,
    refuse,
)

EVERYTHING = "everything"
LIKE = "like"
MOST_LIKE = 50
"""By way of how many looks one may be like another."""
MOST_NAMED = 2000
"""How many lights, types, groups, looks or shots a show may have; a small studio has a hundredth of it."""

if TYPE_CHECKING:
    CurveName = str
    EaseName = str
else:
    CurveName = Literal[tuple(CURVES)]
    EaseName = Literal[tuple(EASES)]
ColourPathName = Literal["u'v'", "channels"]


class Mains(Model):
    """The supply of the room."""

    volts: PositiveNumber = Fraction(230)
    """Nominal voltage."""
    hertz: PositiveNumber = Fraction(50)
    """Mains frequency."""
    circuits: dict[Name, Current] = {}
    """What each circuit may carry, such as wall: 16 A."""


class Setting(Model):
    """What a look does to one fixture. What it leaves out stays as it is."""

    level: LevelText | None = None
    """How bright: percent of control, stops under full, out or full."""
    colour: Annotated[Colour, ColourText] | None = None
    """Which colour, for lights that can be set to one: a white, a filtered white, xy or sRGB."""
    channels: dict[Name, ChannelValueText] = {}
    """Its other channels by name: an emitter such as red, or one of its own such as strobe."""

    @model_validator(mode="before")
    @classmethod
    def _from_names(cls, value: Any) -> Any:
        if value is None or isinstance(value, list):
            raise refuse(
                "a light needs a level or settings", "write a level such as 45 %, or {level: ..., colour: ...}"
            )
        if isinstance(value, str):
            return {"level": value}
        own = {key: part for key, part in value.items() if key in SETTING_KEYS}
        return own | {"channels": {key: part for key, part in value.items() if key not in own}}

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        """Return the mapping, or its short form: a level."""
        schema = names_beside(handler.resolve_ref_schema(handler(core_schema)), "channels")
        return short_or(schema, LEVEL_READER.written)


class Look(Model):
    """A named state of light. A fixture that it does not name keeps what it had."""

    like: Name | None = None
    """Another look to start from."""
    everything: Setting | None = None
    """A setting for every fixture, before those named."""
    fixtures: dict[Name, Setting] = {}
    """The settings of the fixtures and groups that are named; a fixture's own come after its groups'."""

    @model_validator(mode="before")
    @classmethod
    def _from_names(cls, value: Any) -> Any:
        if value is None:
            return {}
        if not isinstance(value, dict):
            raise refuse("a look is a mapping of lights to levels", "write {rim left: 45 %, fill: -1 stop}")
        own = {key: part for key, part in value.items() if key in (LIKE, EVERYTHING)}
        return own | {"fixtures": {key: part for key, part in value.items() if key not in own}}

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        schema = names_beside(handler.resolve_ref_schema(handler(core_schema)), "fixtures")
        return {**schema, "type": ["object", "null"]}


class MoveKey(Model):
    """Where the axes are at one time of a move that is written out."""

    time: TimeInShot
    """Time into the shot."""
    positions: dict[Name, PositionText] = {}
    """Where each axis is."""

    @model_validator(mode="before")
    @classmethod
    def _from_names(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            raise refuse("a key of a move is a time with positions", "write {time: 2 s, slide: 120 mm}")
        own = {key: part for key, part in value.items() if key == "time"}
        return own | {"positions": {key: part for key, part in value.items() if key not in own}}

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        return names_beside(handler.resolve_ref_schema(handler(core_schema)), "positions")


class MoveFile(Model):
    """A move in a file whose columns go by names of their own."""

    file: Text
    """A CSV file in the show folder."""
    columns: dict[Name, Text] = {}
    """What each column of the file is, by the name it has there; columns that are not named are left out."""


class MoveKeys(Model):
    """A move written out as keys."""

    keys: Annotated[list[MoveKey], Field(min_length=2, max_length=10_000)]
    """Times and positions, in order."""
    ease: EaseName = "ease"
    """How the axes travel from key to key: ease (minimum jerk) or linear."""


class Cue(Model):
    """A timed change to a look."""

    cue: Name
    """Its number or name, unique in the shot."""
    at: At | None = None
    """When it starts: time, frames, timecode, share of the move, position of an axis, or operator."""
    after: Name | None = None
    """The cue after whose fade it starts."""
    with_: Annotated[Name | None, Field(alias="with")] = None
    """The cue with whose start it starts."""
    wait: TimeInShot | None = None
    """How long after that."""
    look: Name
    """The look it changes to."""
    fade: TimeInShot = Duration.of(0)
    """How long the change takes."""
    curve: Annotated[CurveName, Field(description=f"Along which curve: {CURVE_HINT}.")] = "linear"
    colour_path: Annotated[ColourPathName, Field(alias="colour path")] = "u'v'"
    """How colours cross: evenly in CIE 1976 u'v' as light mixes, or channel by channel."""
    title: Text | None = None
    """What it is for, in the user's words."""
    skip: YesOrNo = False
    """Whether it is left out of the shot: it keeps its place, and what starts after it, but changes no light."""

    @model_validator(mode="after")
    def _one_start(self) -> Cue:
        given = [name for name, value in (("at", self.at), ("after", self.after), ("with", self.with_)) if value]
        if len(given) != 1:
            what = "the cue has no start" if not given else f"the cue has {len(given)} starts: {', '.join(given)}"
            raise refuse(what, "write one of 'after: CUE', 'with: CUE', or 'at:' with a time, a position or 'operator'")
        if self.wait is not None and given == ["at"]:
            raise refuse("'wait' needs 'after' or 'with'", "take it out, or put the time into 'at'")
        return self

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        schema = handler.resolve_ref_schema(handler(core_schema))
        starts = {"oneOf": [key_condition("at"), key_condition("after"), key_condition("with")]}
        waits = {"if": key_condition("wait"), "then": {"anyOf": [key_condition("after"), key_condition("with")]}}
        return {**schema, **starts, **waits}

    @property
    def trigger(self) -> Trigger:
        if isinstance(self.at, StartTrigger):
            return self.at
        return AfterCue(
            cue=self.with_ or self.after or "",
            wait=self.wait or Duration.of(0),
            from_start=self.with_ is not None,
        )


LIVE = "live"
"""What stands for the move of a shot that no file holds, since the rig is ridden by hand."""


def _kind_of_move(value: Any) -> str:
    if isinstance(value, str):
        return "file"
    return "file with columns" if isinstance(value, dict) and "file" in value else "written out"


MoveOfShot = Annotated[
    Annotated[str, Field(max_length=500), Tag("file")]
    | Annotated[MoveKeys, Tag("written out")]
    | Annotated[MoveFile, Tag("file with columns")],
    Discriminator(_kind_of_move),
]


class Shot(Model):
    """One shot: a move, and the cues timed to it."""

    title: Text | None = None
    """What the shot shows."""
    move: MoveOfShot | None = None
    """The move: a CSV file in the show folder, or with what its columns are, or keys written out; or 'live': the rig
    itself says where its axes are, while a take runs."""
    top_speed: Annotated[dict[Name, TopSpeed], Field(max_length=64, alias="top speed")] = {}
    """How fast axes go at most, where the rig says where they are: a position that would need more is not believed.
    Left out, twice as fast as in the move."""
    starts_at: Annotated[LabelText | None, Field(alias="starts at")] = None
    """The timecode of its first frame; left out, timecode counts from the start of the shot."""
    length: TimeInShot | None = None
    """How long the shot lasts, such as 10 s or 250 frames, where that is longer than its move and its cues."""
    trigger: ContactTriggers = []
    """The contacts on the floor that are armed for this shot: one, or a list."""
    signal: Signal | None = None
    """The line that is raised when a take of this shot starts, to start a rig with it."""
    cues: Annotated[list[Cue], Field(max_length=10_000)] = []
    """The changes of light."""


def _read_version(value: Any) -> Any:
    if value != VERSION:
        shown = shorten(value) if isinstance(value, str) else "something else"
        raise refuse(f"version {shown} of the show file is not known", f"write 'cuedeck: {VERSION}'")
    return value


def _read_paths(value: Any) -> Any:
    if isinstance(value, str):
        return [value]
    if not isinstance(value, list):
        raise refuse("a path or a list of paths is expected here", "write 'include: [looks/common.yaml]'")
    return value


def _read_slots(value: Any) -> Any:
    cure = f"write a number from {FEWEST_SLOTS} to {FULL_UNIVERSE}, or 'patched' for as many as the rig needs"
    if value == "patched" or isinstance(value, int):
        return value
    if not (isinstance(value, str) and value.isascii() and value.isdigit() and len(value) <= 4):
        raise refuse("slots is a number of slots", cure)
    if not FEWEST_SLOTS <= int(value) <= FULL_UNIVERSE:
        raise refuse(f"{int(value)} slots is out of range", cure)
    return int(value)


_VERSION_WRITTEN = {"enum": [one for version in range(1, int(VERSION) + 1) for one in (version, str(version))]}
_INCLUDE_WRITTEN = {
    "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}, "maxItems": MOST_INCLUDED}],
    "examples": ["types/panels.yaml"],
}
_SLOTS_WRITTEN = {
    "anyOf": [
        {"type": "integer", "minimum": FEWEST_SLOTS, "maximum": FULL_UNIVERSE},
        {"type": "string", "pattern": r"^(?:patched|\d{1,4})$", "examples": ["patched"]},
    ]
}
Slots = Annotated[int | Literal["patched"], BeforeValidator(_read_slots), WithJsonSchema(_SLOTS_WRITTEN)]


Part = TypeVar("Part")
Named = Annotated[dict[Name, Part], Field(max_length=MOST_NAMED)]


class Show(Model):
    """All that a job needs."""

    cuedeck: Annotated[str, BeforeValidator(_read_version), WithJsonSchema(_VERSION_WRITTEN)]
    """The version of this format: 2. Version 1 is still read."""
    include: Annotated[
        list[Text], BeforeValidator(_read_paths), Field(max_length=MOST_INCLUDED), WithJsonSchema(_INCLUDE_WRITTEN)
    ] = []
    """Files in the show folder whose `types`, `looks` and `groups` belong to this show: one path, or a list."""
    title: Text = "untitled"
    """What is being filmed."""
    camera: Camera = Camera()
    """The camera."""
    mains: Annotated[Mains | None, MayBeEmpty] = None
    """The supply of the room."""
    refresh: Refresh | None = None
    """Packets a second, or 'camera'; left out, the highest that a line reaches for the slots sent."""
    slots: Slots = FULL_UNIVERSE
    """Slots sent in each packet: 512, fewer for a higher refresh, or 'patched'."""
    on_stop: Annotated[Literal["out", "hold"], Field(alias="on stop")] = "out"
    """What the lights do when a take ends or is stopped: go out, or hold what they have."""
    osc: OscListening = OscListening()
    """Where OSC messages are listened for when a take is started with --osc."""
    types: Named[FixtureType] = {}
    """Fixture types of this show's own."""
    rig: Named[Fixture] = {}
    """The lights as hung, by name."""
    groups: Named[Annotated[list[Name], Field(min_length=1, max_length=MOST_NAMED)]] = {}
    """Lights that looks name together, such as rims: [rim left, rim right]."""
    looks: Named[Look] = {}
    """Named states of light."""
    shots: Named[Shot] = {}
    """The shots, by their number on the slate."""
