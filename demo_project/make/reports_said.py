"""What invented testers say in invented reports: nobody wrote them. Taken apart by ``reports.py``.

A bug is its name, how many report it, how bad, how often, where, and in what words: a known issue's id, or a name for a new one.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Bug:
    """What is reported.

    Attributes:
        name: an id of ``issues.toml``, or the walk's own name for what is new.
        reports: how many of the first build. bad, often: what most answer, as ranks of the form's words.
        where: the ways the place is named. said: the ways it is told; ``{a|b|c}`` is one of several words.
    """

    name: str
    reports: int
    bad: int
    often: int
    where: tuple[str, ...]
    said: tuple[str, ...]


def _bug(name: str, reports: int, bad: int, often: int, where: str, said: str) -> Bug:
    lines = tuple(line.strip() for line in said.strip().splitlines())
    return Bug(name, reports, bad, often, tuple(one.strip() for one in where.split("/")), lines)


BAD = ("I could not go on", "It spoils the game", "It is annoying", "Only a blemish")
OFTEN = ("Always", "Often", "Sometimes", "Once")

NEW = (
    _bug("plume", 34, 1, 0, "Palmsteps / palmsteps / Palm Steps / Tove", """
        Tove's white plume {cannot be seen|is lost|disappears} in front of the white houses at Palmsteps.
        At Palmsteps the plume on Tove's hat {vanishes|is gone|becomes invisible} against the white arcades
        The feather on the girl with the hat is white, the houses at palmsteps are white: you {do not see|lose} it.
        white plume + white {houses|walls|arcades} = where is Tove's feather? Palm Steps is the worst
        With Tove in Palmsteps: plume of the hat {invisible|lost} before the bright houses, same white.
        Hat lady's plume melts into the {white|bright} buildings of Palmsteps, I thought it was missing.
        Palmsteps: the plume is {invisible|not to be seen} because the houses behind Tove are just as white
        Could Tove get another colour of plume? White on white houses at Palmsteps, it {disappears|vanishes}.
        Tove walks past the arcades of Palmsteps and her plume {goes missing|vanishes} in the white.
        I {lose|cannot find} the plume of Tove in front of white walls at Palmsteps and then do not know which way she looks
        Tove's plume is {gone|missing}!
        the white {plume|feather} thing at palm steps
        """),
    _bug("both-buttons", 24, 0, 0, "Any harbour / Harbours / change of harbour / pads", """
        Press B and C together and the game {freezes|hangs|is stuck}, only switching off helps.
        When I hold B and C at the same time {everything freezes|the picture hangs} and I have to switch the console off.
        B + C at once = {freeze|total hang}, had to switch off and on
        game {froze|hung} after pressing B and C together, no button did anything
        Changing harbour and couriers at once (buttons B and C) {freezes|hangs} the game.
        Both B and C pushed in the same moment: {stuck|frozen} picture, Start does nothing either
        The game {hangs|freezes} if you hit B and C together. Switch off, switch on.
        My kid mashed B and C together, game {frozen|hung} for good
        {froze|hung} again, two buttons at once
        game {hangs|freezes}
        """),
    _bug("left-edge", 14, 1, 1, "Left edge / left end / Any harbour", """
        Walking left past the edge of the picture the pair is {stuck outside|gone} and does not come back.
        At the left {edge|border} both couriers walk out of the picture and stay {outside|away}.
        Turn left at the very start and keep walking: the pair leaves the screen at the left edge and {never returns|is lost}
        The couriers can walk off the left {edge|end} of the harbour, then there is nobody on the screen
        left {border|edge}: pair walks out of the screen, nothing brings them back but the next harbour
        I walked left over the edge, couriers left the screen and did {not return|not come back}.
        Off the left edge they go and the screen stays empty, couriers {do not come back|are lost outside}
        couriers gone
        """),
    _bug("unplugged", 5, 0, 2, "Pads / pads / Pause", """
        Pull the pad out while paused and the game {freezes|hangs}, plugging it in again does not help.
        Game {hangs|freezes} for good when the pad is pulled out during a pause
        unplugged my pad in the pause: {freeze|hang}, had to switch off
        """),
    _bug("palm", 5, 3, 1, "Palmsteps / Palm Steps", """
        The leaves of the palm at Palmsteps {flicker|blink} over Tove's hat and plume.
        palm leaves {flicker|blink} when Tove's plume passes under them, Palmsteps
        Palmsteps: flickering palm leaves {above|over} the hat of Tove
        """),
    _bug("lamp", 10, 2, 0, "Slatequay / slatequay", """
        At Slatequay Wick walks in front of the lamp post that should {hide|cover} him.
        Wick is drawn {over|in front of} the lamp post at Slatequay, it should be the other way round.
        slatequay lamp post: Wick passes before it, but the lamp stands {nearer|in front}
        The lamp post of Slatequay is {behind|under} Wick though it stands nearer to us
        Lamp post in Slatequay should {cover|hide} Wick, he is drawn over it
        """),
    _bug("scan", 8, 2, 2, "Boot notice / first screen / start", """
        My phone does not {scan|read} the second code of the boot notice on my curved television.
        The code for bugs on the boot notice cannot be {scanned|read} by my phone, old curved tube.
        boot notice: phone {reads|scans} the left code, never the right one; curved tube
        Phone cannot {read|scan} the right hand code on the first screen, television is curved
        """),
    _bug("scarf", 8, 3, 2, "Pell / pell", """
        Pell's scarf {pokes|shows} through the parcel while standing.
        The scarf of Pell goes {through|into} the parcel when he stands
        pell standing: end of the scarf {sticks|pokes} through his parcel
        """),
)

KNOWN = (
    _bug("HR-002", 14, 0, 1, "Boot notice / start-up / boot notice", """
        The picture {rolls|keeps rolling} on my television until I press Start.
        Picture {rolls|runs} upwards at the boot notice, Start stops it, old television
        Boot notice: television picture rolls and rolls, after pressing Start once it {stands|is fine}.
        rolling picture on the {boot notice|first screen}, goes away with Start
        My television shows a rolling picture at boot notice, only {pressing|hitting} start helps
        """),
    _bug("HR-006", 20, 1, 0, "Pads / pads / six-button pad", """
        Six-button pad plugged in {late|after switching on}: X, Y and Z do nothing.
        X Y Z are {dead|without effect} when the six-button pad is plugged in after switching on
        I plugged my six button pad in when the console was on already and X, Y, Z {do not work|do nothing}.
        pad with six buttons: X Y and Z {ignored|dead} unless it was plugged in before switching on
        The X, Y and Z buttons do {nothing|not a thing} if you plug the pad in later.
        pad does nothing
        """),
    _bug("HR-003", 14, 2, 1, "Tove / tove", """
        The plume of Tove's hat is {cut|cut off} for one frame at the end of a stride.
        Tove: plume {cut off|chopped} in one frame of the walk
        end of each stride the hat girl's plume is {cut|clipped} for a single frame
        One frame of Tove's walk has the plume {cut off|clipped}, at the end of the stride
        tove's plume looks wrong
        """),
    _bug("HR-004", 12, 3, 0, "Emberdock / Ember Dock / emberdock", """
        {Bands|Stripes} of colour in the evening sky of Emberdock.
        Emberdock's sky shows {bands|visible bands} of colour instead of a smooth evening
        The evening sky at Ember Dock has {bands|steps} of colour, please dither it
        banded {evening sky|sky colours} at emberdock
        """),
    _bug("HR-009", 10, 2, 1, "Couriers / any / ", """
        When the pair turns round the partner is {suddenly|at once} in front.
        Turning round swaps the pair: partner {jumps|is} in front all of a sudden
        pair turns round, and the other courier, the partner, is suddenly in {front|the foreground}
        """),
    _bug("HR-010", 12, 1, 2, "Any harbour / change of harbour", """
        After a change of harbour the first picture {stays|stands} too long.
        Change the harbour: first picture {stands still|stays} longer than it should
        first picture after the harbour change stays {too long|for ages}, I thought it hung
        Changing harbour: picture {hangs|is stuck} a while
        """),
    _bug("HR-007", 8, 2, 0, "Northpier / North Pier", """
        Feet {stand|float} a little above the snow near the huts at Northpier.
        northpier huts: feet {hover|float} above the snow
        """),
    _bug("HR-005", 6, 2, 0, "Orrin / orrin", """
        The shine on Orrin's helmet {changes|swaps} sides when he walks left.
        orrin walking left: helmet shine on the {wrong|other} side, mirrored
        """),
    _bug("HR-013", 6, 2, 1, "Pause / paused", """
        Left and Right are {taken|counted} while paused and show only afterwards.
        While paused, pressing Left or Right is {remembered|taken} and acts after the pause
        """),
    _bug("HR-001", 6, 1, 0, "Start-up / start", """
        The check of the cartridge {takes very long|takes for ever} on my slow console, only a thin bar.
        cartridge check at start-up is {slow|long}, nothing but a thin bar
        """),
)

# Said of the second build, in which the plume is of another colour.
STILL = _bug("plume", 1, 2, 0, "Palmsteps", """
    At Palmsteps the plume on Tove's hat is still lost against the white houses on my black and white television.
    """)

# Each is a matter of its own, or none.
ALONE = (
    "Love it!! The harbours look lovely.", "Best evening since long, my sister wants to know when it is done.",
    "no bug, just: the seagulls made me smile", "Great stuff, keep going", "Emberdock at sunset is gorgeous, thank you",
    "Played with my dad for an hour. We want the race!", "nothing to report really, all good here", "Bram is my favourite, that beard",
    "Congratulations on the new build", "Everything fine on my three-button pad", "test", "asdf", "??", "see my mail",
    "sorry wrong form", "how do i send a save file", "n/a", "der Ton fehlt", "is there sound? i hear none",
    '=HYPERLINK("https://example.org/prize";"Click for your prize")', "+1", "@studio when is the next build due",
    "-2 out of 10 for the manual, it has a coffee stain", "A crate hangs in the air above the water at Slatequay, far right",
)  # fmt: skip

OPENERS = ("", "", "", "", "", "Hi! ", "Hello, ", "Not sure if known: ", "Small thing: ", "again: ", "Second evening now. ", "Hm. ")
CLOSERS = ("", "", "", "", "", "", " Thanks!", " Otherwise great.", " My console is the older model.", "\nCheers", " (three-button pad)",
           "\n\nTried it three times.", " Had a good time anyway")  # fmt: skip
WISHES = (
    "the race", "sound", "two players", "more harbours", "a photo mode", "saving best times", "music", "throwing the parcel",
    "a way to see both pairs", "a night at Palmsteps", "rain", "a story", "a seventh courier",
)  # fmt: skip
ASKED = ("{}!", "Please: {}", "{}, and then {}", "I would love {}", "first {}, later {}\nthat would be it", "", "{} or {}, as you like")
FIRST_WORDS = ("moss", "lantern", "kettle", "gravel", "otter", "pickle", "walnut", "thimble", "puddle", "velvet", "cinder", "barley")
LAST_WORDS = ("heron", "badger", "spoon", "comet", "button", "anchor", "whisker", "pebble")
