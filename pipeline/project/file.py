"""The records of ``project.toml``: every table and key an author may write, with what each means."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from typing import Annotated, Literal, get_args

from msgspec import Meta, field

from pipeline.plain.versions import PATTERN
from pipeline.plain.written import Record, Written, about
from pipeline.project.assets import (
    Background,
    Colour,
    Data,
    Defaults,
    Font,
    Level,
    Lists,
    Mix,
    Notes,
    Palette,
    Pan,
    Pool,
    Program,
    Screen,
    Sound,
    Sprite,
    Text,
)
from pipeline.project.intake import Intake
from pipeline.project.pad_shapes import check_place
from pipeline.project.plan import Plan
from pipeline.target.records import Positive, Size

Phase = Annotated[Literal["pre-alpha", "alpha", "beta", "release candidate", "release"], Meta(description="How far along the game is.")]
PHASES = get_args(get_args(Phase)[0])  # in the order in which a game goes through them
Severity = Literal["critical", "major", "minor", "cosmetic"]
SEVERITIES = get_args(Severity)  # worst first

Code = Annotated[
    str,
    Meta(
        pattern=r"^[A-Z][A-Z0-9]{1,7}$(?!\n)",
        title="2 to 8 capitals and digits",
        description="Short code of the game: 2 to 8 capitals and digits, a letter first. Names the image file.",
        examples=["HREL"],
    ),
]
Version = Annotated[
    str,
    Meta(
        pattern=PATTERN,
        title="a version such as 0.4.0 or 1.0.0-rc.1",
        description="Version, as in Semantic Versioning 2.0.0 without build metadata.",
        examples=["0.4.0"],
    ),
]
MOST_KINDS = 16  # of each: the events of a frame are bits of a number of 16
NoteWord = Annotated[str, Meta(pattern="^[a-z][a-z0-9_]{0,23}$(?!\n)", title="a name of small letters, digits and underscores")]
NoteWords = Annotated[list[NoteWord], Meta(max_length=MOST_KINDS, title=f"a list of at most {MOST_KINDS} names")]
ButtonPlace = Annotated[
    str,
    Written(str, check_place),
    Meta(
        title="a place",
        description="Column and row of a button's middle, and perhaps its shape: round, square, bar, cross, or shoulder without a row.",
        examples=["9 3", "6.5 4 bar", "2 3 cross", "2 shoulder"],
    ),
]


class Game(Record):
    """What the game is called and what build this is."""

    title: Annotated[str, about("Title.", min_length=1, max_length=60)]
    code: Code
    version: Version
    phase: Phase
    target: Annotated[str, about("A shipped target by name, or the path of a target file in the project.", examples=["basalt32"])]
    date: Annotated[datetime.date | None, about("Date printed in the packet, without quotes; left out: SOURCE_DATE_EPOCH, or none.")] = None
    deadline: Annotated[
        datetime.date | None, about("Last day on which feedback on this build counts, without quotes; for packet, notes and announcement.")
    ] = None
    expires: Annotated[
        datetime.date | None, about("Last day on which testers should use this build, not before deadline and date.")
    ] = None
    plain_title: Annotated[str, about("Title in ASCII, for a cartridge header that takes no other letters.", max_length=60)] = ""
    since: Annotated[
        Version | None, about("Release that packet, notes and report compare with; left out: the last one before this version.")
    ] = None
    mark: Annotated[
        bool, about("Each tester's kit carries an image of its own, with their number in the header's field for tester.number.")
    ] = False
    author: Annotated[str, about("Who hands out the build, as testers know them.", max_length=60)] = ""
    summary: Annotated[str, about("One sentence about the game, for the packet.")] = ""
    cartridge: Annotated[Size | None, about("Cartridge size to pad to; left out: the smallest that holds the image.")] = None
    program: Annotated[
        str, about("Program that the header's program values are about; left out: the target's choice, or the only program.")
    ] = ""
    tables: Annotated[
        bool, about("Write include/tables.h and tables.c: what is in assets as constants of C, for a program that looks nothing up.")
    ] = False
    language: Annotated[
        str,
        about(
            "Language of your own texts and of the packet, as a BCP 47 tag; message files for de and en come with the tool, bring others.",
            pattern=r"^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$(?!\n)",
            title="such as en or en-GB",
        ),
    ] = "en"
    paper: Annotated[Literal["A4", "Letter"], about("Paper of the packet.")] = "A4"
    text: Annotated[
        Literal["normal", "large"],
        about(
            "Size of the packet's text. large is large print: 14 points or more for running text and tables, 12 or more for labels "
            "and links."
        ),
    ] = "normal"


class Links(Record):
    """Where testers report. ``{build}`` in a link becomes the build code; a form without it gets the code as ``b`` in its query.

    ``{tester}``, as the value of a parameter of the query (``?t={tester}``), becomes a tester's number in their own packet;
    everywhere else the parameter is left out.
    """

    feedback: Annotated[str, about("Form for feedback.", examples=["https://example.org/f/{build}"])]
    bugs: Annotated[str, about("Form for bugs.", examples=["https://example.org/b/{build}"])]
    download: Annotated[
        str, about("Where testers get the build, for the packet.", examples=["https://example.org/d/{build}?t={tester}"])
    ] = ""
    more: Annotated[dict[str, str], about("Further links of the packet: label = URL.")] = field(default_factory=dict)
    placeholders: Annotated[bool, about("They lead nowhere on purpose, as in an example: testers are informed, no release is refused.")] = (
        False
    )


class Pad(Record):
    """A pad testers may hold."""

    name: Annotated[str, about("Its name in the packet.", examples=["Three-button pad"])]
    buttons: Annotated[
        list[str] | dict[str, ButtonPlace],
        about(
            "Its buttons, in reading order: a table button = place, from which the packet draws the pad, or a list of names, which are "
            "in the packet's table only. A place is column and row of the middle from the top left, halves allowed, and a shape: round "
            "(when left out), square, bar, cross (one arm of a direction cross); or a column and shoulder. See release.md.",
            examples=[["A", "B", "Start"]],
        ),
    ]
    grid: Annotated[
        tuple[Annotated[int, Meta(ge=1, le=24)], Annotated[int, Meta(ge=1, le=12)]],
        about("Columns and rows of its face, which places are counted in.", examples=[[12, 5]]),
    ] = (12, 5)


class Control(Record):
    """What a button does."""

    action: str
    buttons: Annotated[
        dict[str, str], about('Pad = button or buttons; a pad left out cannot do it. "A + B": together, "A / B": either of them.')
    ]


class Issue(Record):
    """A known issue, or one that was."""

    id: Annotated[str, about("Stays the same for ever.", examples=["HR-001"])]
    severity: Severity
    where: Annotated[str, about("The area of the game.")]
    what: Annotated[str, about("What happens.")]
    title: Annotated[str, about("A few words for lists; left out: the first words of what.", max_length=80)] = ""
    workaround: str = ""
    since: Annotated[Version | None, about("Version in which it was first seen.")] = None
    status: Annotated[
        Literal["open", "fixed", "cannot reproduce", "by design"],
        about("Open ones are the packet's known issues; those fixed in this version are to be tested again."),
    ] = "open"
    fixed_in: Annotated[Version | None, about("Version in which testers get the fix; with status fixed.")] = None
    reproduce: Annotated[list[str], about("What to do to see it, step by step.")] = field(default_factory=list)
    picture: Annotated[str, about("A picture to show beside it in the packet: a file of the project, such as a photograph.")] = ""
    frame: Annotated[
        str,
        about(
            "Instead of picture: a frame of the build. SPRITE/FRAME, FRAME the name of its file without ending or its number from 0; "
            "or a background, whole.",
            examples=["tove/run_03"],
        ),
    ] = ""


class IssueFile(Record):
    """Known issues in a file of their own, ``issues.toml``."""

    issue: list[Issue] = field(default_factory=list)


class Contents(Record):
    """What is in this build, and what is not."""

    included: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)


class Instructions(Record):
    """What else a tester reads."""

    run: Annotated[list[str], about("How to copy and start the build, step by step; left out: the usual steps.")] = field(
        default_factory=list
    )
    test: Annotated[list[str], about("What to test this time.")] = field(default_factory=list)
    cautions: Annotated[list[str], about("Cautions in addition to the usual ones.")] = field(default_factory=list)
    thanks: Annotated[
        list[str],
        about(
            "Testers to thank, by number as T3; a number is shown as the name under thanks_as in testers.toml, which they agreed to.",
            examples=[["T3"]],
        ),
    ] = field(default_factory=list)


class Choice(Record):
    """Some of a group are in memory at once."""

    count: Positive
    of: Annotated[list[str], about("Bundles or assets to choose from.")]
    repeat: Annotated[bool, about("The same one may be chosen again; it still counts once.")] = True
    name: Annotated[
        str, about("What it chooses, as testers call it; a [[plan.task]] covers it by this name.", examples=["courier"], max_length=30)
    ] = ""


class SceneLayer(Record):
    """A background that moves while the scene moves."""

    background: Annotated[str, about("A background that the scene loads.")]
    factor: Annotated[float, about("How far it moves while the scene moves by 1.", ge=0, le=64)] = 1.0


class Streamed(Record):
    """Sprites of which a scene holds a few frames: the program fetches the next ones from the cartridge into buffers."""

    buffers: Annotated[
        int, about("Buffers that each time it is in memory has for itself; with 2 the next fetch goes where nothing is shown.", ge=1, le=64)
    ] = 2
    unit: Annotated[
        Literal["frame", "animation"], about("What a buffer holds, and what a fetch brings: one frame, or all frames of one animation.")
    ] = "frame"
    role: Annotated[
        str, about("Members of one role have buffers of one size, the largest that any of them needs.", examples=["courier"], max_length=30)
    ] = ""
    within: Annotated[
        int, about("Pictures over which a fetch is spread; more than 1 needs 2 buffers, and frames that are shown this long.", ge=1, le=600)
    ] = 1


class SceneWindow(Record):
    """A background of which a scene holds the part that the screen shows, and fetches what comes in as the picture moves."""

    margin: Annotated[
        Annotated[int, Meta(ge=0, le=4096)], about("Pixels held beyond the part that is seen, on each side to which the picture goes on.")
    ] = 0
    speed: Annotated[
        Pan | None, about("Pixels it moves across and down from one screen picture to the next, at most; left out: the background's pan.")
    ] = None
    tiles: Annotated[
        Literal["resident", "streamed"], about("Of a tiled background: all tiles are in memory, or those that the window needs.")
    ] = "resident"


class Scene(Record):
    """A moment of the game, and what must be in memory then."""

    always: list[str] = field(default_factory=list)
    choose: list[Choice] = field(default_factory=list)
    never: Annotated[list[list[str]], about("Members that are never all chosen together.", examples=[[["ada", "ben"]]])] = field(
        default_factory=list
    )
    direct: Annotated[
        list[str], about("Bundles or assets read straight from the cartridge here, so that they take no memory; none of them packed.")
    ] = field(default_factory=list)
    packed: Annotated[
        list[str], about("Bundles or assets that stay packed in memory here until needed, so that only their packed bytes count.")
    ] = field(default_factory=list)
    streamed: Annotated[
        dict[str, Streamed],
        about(
            "Bundles or assets whose sprites are here with a few frames at a time; none of them packed. See memory.md.",
            examples=[{"pell": {"buffers": 2}}],
        ),
    ] = field(default_factory=dict)
    sets: Annotated[
        dict[str, Annotated[int, Meta(ge=1, le=64)]],
        about("Role = how many sets of buffers its members have between them; left out: one for each that is in memory."),
    ] = field(default_factory=dict)
    window: Annotated[
        dict[str, SceneWindow],
        about(
            "Bundles or assets whose backgrounds are here as far as the screen shows them; none of them packed. See memory.md.",
            examples=[{"quay": {"margin": 16, "speed": [4, 0]}}],
        ),
    ] = field(default_factory=dict)
    after: Annotated[
        list[str] | None,
        about(
            "Scenes that it may directly follow, for load lists: what stays in memory between them is not moved. Left out: any of them.",
            examples=[["title"]],
        ),
    ] = None
    layers: Annotated[
        list[SceneLayer],
        about(
            "Backgrounds shown over each other, for the comparison of bitmaps and tiles.", examples=[[{"background": "far", "factor": 0.5}]]
        ),
    ] = field(default_factory=list)
    pan: Annotated[Pan, about("Pixels the scene moves across and down from one screen picture to the next, with layers.")] = (4, 4)

    @property
    def members(self) -> list[str]:
        """Return all that the scene may load, each bundle by its name."""
        return [*self.always, *(member for choice in self.choose for member in choice.of)]


class Bundle(Record):
    """Assets loaded together; a list is the same as a table with nothing but members."""

    members: Annotated[list[str], about("Names of assets, in the order of use.", examples=[["ada", "figures"]])]
    contiguous: Annotated[
        bool,
        about("They follow each other in the image in this order, so that one copy loads them; an asset is in one such bundle at most."),
    ] = False


class NoteKinds(Record):
    """What notes may name, at most 16 of each. A program sees each by its rank in its list, from 0, so add new ones at the end."""

    boxes: Annotated[NoteWords, about("Kinds of boxes.", examples=[["body", "strike", "throw"]])] = field(default_factory=list)
    points: Annotated[NoteWords, about("Points.", examples=[["hand", "muzzle", "overhead"]])] = field(default_factory=list)
    numbers: Annotated[NoteWords, about("Numbers of a frame.", examples=[["damage"]])] = field(default_factory=list)
    events: Annotated[NoteWords, about("What happens when a frame is shown.", examples=[["step", "whoosh"]])] = field(default_factory=list)
    colours: Annotated[
        dict[str, Colour], about("Of a box or point: the colour that marks it in pictures of a layer.", examples=[{"body": "#00ff00"}])
    ] = field(default_factory=dict)


class Planned(Record):
    """Assets that do not exist yet, counted in scenes as estimates: can I afford six more characters?

    Sizes are those of the drawings to come; how they are stored, and so what they take, is estimated from the project's own
    assets of the kind, or from the one named by ``like``.
    """

    kind: Literal["sprite", "background", "sound", "data", "level"]
    count: Annotated[
        Annotated[int, Meta(ge=1, le=256)], about("How many of them; each is a member of its own where a scene names them.")
    ] = 1
    like: Annotated[str | None, about("An asset of this kind whose size, frames or length, scale and way of storing are taken.")] = None
    width: Annotated[Positive | None, about("Pixels across, before scaling; of a level cells.")] = None
    height: Annotated[Positive | None, about("Pixels down, before scaling; of a level cells.")] = None
    frames: Annotated[Positive | None, about("Frames of a sprite.")] = None
    scale: Annotated[Annotated[float, Meta(ge=0.01, le=8)] | None, about("Factor in each direction; left out: as the others.")] = None
    seconds: Annotated[Annotated[float, Meta(gt=0, le=3600)] | None, about("Length of a sound.")] = None
    bytes: Annotated[Size | None, about("Size in memory, where it is known; nothing is estimated then.")] = None


class Burn(Record):
    """The padded image also as files for burning EPROMs, in build/burn; off when this table is left out. See burning.md."""

    forms: Annotated[
        list[Literal["whole", "swapped", "even-odd", "four-way", "s-record", "intel-hex"]],
        about(
            "whole: as it is. swapped: the two bytes of each word exchanged. even-odd, four-way: a file for each 8-bit device of a 16-bit "
            "or 32-bit bus. s-record: Motorola S-records. intel-hex: Intel HEX with linear addresses.",
            examples=[["even-odd"]],
        ),
    ]
    addresses: Annotated[
        Literal["from 0", "as the console sees it"], about("Address of the image's first byte in S-records and Intel HEX.")
    ] = "from 0"
    device: Annotated[Size | None, about("Size of the devices you have; default: the smallest that fit.", examples=["512 KiB"])] = None
    short_names: Annotated[
        bool, about("Names files by the 8.3 rule of old memory cards: at most 8 capitals and digits, a dot, 3 more.")
    ] = False


class EffectStep(Record):
    """What the whole screen shows for a while: fill, palette or frame, or with none of them what the effect is over."""

    hold: Annotated[int, about("Refreshes of the screen that it is shown.", ge=1, le=3600)]
    fill: Annotated[Colour | None, about("The whole screen in one colour.", examples=["#ffffff"])] = None
    share: Annotated[float, about("Of fill: how much of it is mixed in, in the codes that the console shows.", gt=0, le=1)] = 1.0
    palette: Annotated[
        str | None, about("What the effect is over in the colours of a variant of its palette.", examples=["quay_night"])
    ] = None
    frame: Annotated[
        str | None, about("A frame over it: SPRITE/FRAME, FRAME the name of its file without ending or its number from 0.")
    ] = None
    at: Annotated[
        tuple[Annotated[int, Meta(ge=-4096, le=4096)], Annotated[int, Meta(ge=-4096, le=4096)]] | None,
        about("Column and row of the frame's top left corner; left out: in the middle of the screen."),
    ] = None


class Cycle(Record):
    """Entries of a palette that change places round and round."""

    first: Annotated[int, about("The first of the entries, counted from 0 in the palette of what the effect is over.", ge=0, le=65535)]
    last: Annotated[int, about("The last of them.", ge=1, le=65535)]
    every: Annotated[int, about("Refreshes between one change and the next.", ge=1, le=3600)]


class Effect(Record):
    """Something that the program does to the whole screen, declared so that its flashing can be measured. See flashes.md."""

    over: Annotated[str, about("What is on the screen: a background, or a colour.", examples=["quay", "#000000"])] = "#000000"
    view: Annotated[
        tuple[Annotated[int, Meta(ge=0, le=65535)], Annotated[int, Meta(ge=0, le=65535)]],
        about("Column and row of the background at the screen's top left corner."),
    ] = (0, 0)
    steps: Annotated[list[EffectStep], about("What is shown, step by step.", max_length=1000)] = field(default_factory=list)
    times: Annotated[int, about("How often the steps are shown, one round after another.", ge=1, le=1000)] = 1
    loop: Annotated[bool, about("The steps go on for ever; a cycle always does.")] = False
    cycle: Annotated[Cycle | None, about("Instead of steps: a palette cycle.", examples=[{"first": 8, "last": 15, "every": 6}])] = None
    used: Annotated[
        bool, about("The game shows it. If not, it is measured for you alone: no release is refused and testers read nothing about it.")
    ] = True


class Caution(Record):
    """What testers read about something that was measured; a release is then not refused for it."""

    of: Annotated[
        str, about("An effect, a background or a sprite; SPRITE/ANIMATION for one animation.", examples=["lightning", "ada/blink"])
    ]
    text: Annotated[str, about("What testers read in their packet, under Cautions.", min_length=1)]
    kind: Annotated[Literal["flashes"], about("What was measured.")] = "flashes"


class Project(Record):
    """A project file."""

    format: Annotated[Literal[1], about("Version of this file's format.")]
    game: Game
    links: Links
    defaults: Defaults = field(default_factory=Defaults)
    sprite: dict[str, Sprite] = field(default_factory=dict)
    pool: dict[str, Pool] = field(default_factory=dict)
    background: dict[str, Background] = field(default_factory=dict)
    palette: dict[str, Palette] = field(default_factory=dict)
    sound: dict[str, Sound] = field(default_factory=dict)
    mix: dict[str, Mix] = field(default_factory=dict)
    screen: dict[str, Screen] = field(default_factory=dict)
    program: dict[str, Program] = field(default_factory=dict)
    data: dict[str, Data] = field(default_factory=dict)
    font: dict[str, Font] = field(default_factory=dict)
    level: dict[str, Level] = field(default_factory=dict)
    text: dict[str, Text] = field(default_factory=dict)
    notes: dict[str, Notes] = field(default_factory=dict)
    note_kinds: NoteKinds = field(default_factory=NoteKinds)
    lists: dict[str, Lists] = field(default_factory=dict)
    bundles: Annotated[
        dict[str, Bundle | list[str]],
        about("Assets loaded together: name = list of assets, or a table [bundle.NAME]."),
    ] = field(default_factory=dict, name="bundle")
    scene: dict[str, Scene] = field(default_factory=dict)
    planned: Annotated[dict[str, Planned], about("Assets to come, counted as estimates.")] = field(default_factory=dict)
    pad: dict[str, Pad] = field(default_factory=dict)
    control: list[Control] = field(default_factory=list)
    issue: list[Issue] = field(default_factory=list)
    contents: Contents = field(default_factory=Contents)
    instructions: Instructions = field(default_factory=Instructions)
    plan: Plan = field(default_factory=Plan)
    burn: Burn | None = None
    effect: Annotated[dict[str, Effect], about("What the program does to the whole screen, to be measured.")] = field(default_factory=dict)
    caution: Annotated[list[Caution], about("What testers read about what was measured.")] = field(default_factory=list)
    intake: Intake = field(default_factory=Intake)

    @property
    def bundle(self) -> dict[str, list[str]]:
        """Return the members of every bundle, by its name."""
        return {name: one.members if isinstance(one, Bundle) else one for name, one in self.bundles.items()}

    def parts(self, members: Iterable[str]) -> list[str]:
        """Return the members of scenes with each bundle replaced by its own members."""
        bundles = self.bundle
        return [part for member in members for part in bundles.get(member, [member])]

    @property
    def runs(self) -> dict[str, list[str]]:
        """Return the members of every contiguous bundle, by its name."""
        return {name: one.members for name, one in self.bundles.items() if isinstance(one, Bundle) and one.contiguous}
