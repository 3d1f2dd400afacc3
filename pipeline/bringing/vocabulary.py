"""Words of file names that say what a file shows or holds. Common practice among artists, no source."""

from __future__ import annotations


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


# What people call the movements of a figure, in their plain forms; a few of German, French and Spanish.
ACTIONS = {"stand"} | _words(
    """
    aim appear attack bite block blink blow bounce break burn cast celebrate charge cheer climb collapse crawl crouch damage dance
    dash dead death defend die dig disappear dive dodge draw drift drink duck eat exit explode fall fight fire flap flip float fly
    gallop glide grab guard hang hit hop hover hurt idle jump kick kill knock ladder land laugh lay lie lift look lose melee move open
    close pick play plant pull punch push reload rest ride rise roar roll run shoot shot sit skid slash sleep slide smash sneak spawn
    spin stab stance start static stay step stop strike stun swim swing talk taunt throw tumble turn unsheathe use victory wait
    wake walk wave win yawn ability action anim animation cycle loop frame pose warten gehen laufen springen sterben fallen stehen
    marche saute court attente meurt camina salta corre muere espera
    """
)
# Where a figure looks.
DIRECTIONS = _words(
    """
    left right up down l r u d n e s w ne nw se sw north east south west front back side forward backward forwards backwards links
    rechts gauche droite
    """
)
# How a figure moves: these say something only beside a movement.
MANNERS = _words("slow fast small big long short heavy light high low alt")
# Of folders: what kind of files they hold, and not whose they are.
GENERIC = _words(
    """
    art arts asset assets graphic graphics gfx image images img imgs picture pictures pic pics png pngs gif gifs bmp bmps sprite
    sprites texture textures frame frames data resource resources res media char chars character characters enemy enemies npc npcs
    monster monsters object objects obj item items tile tiles tileset tilesets player players hero heroes misc other export exports
    exported final source raw sheet sheets spritesheet spritesheets strip strips animation animations anim anims 2d pixel pixelart
    creature creatures
    """
)
# Of folders in which each file is a thing of its own.
ONE_OF_MANY = _words(
    """
    item items icon icons tile tiles object objects obj misc other ui gui hud menu button buttons inventory invitems face faces number
    numbers letter letters thumbnail thumbnails cursor cursors objecticons
    """
)
# Of backgrounds.
BACKGROUNDS = _words(
    """
    background backgrounds bg bgs backdrop backdrops scenery landscape landscapes sky skyline wallpaper titlescreen splash parallax
    hintergrund fond fondo
    """
)
# Of pictures of words: what is apart in them are letters.
LETTERING = _words(
    """
    title titles logo logos banner banners text texts menu menuitem button buttons btn label caption headline sign message msg hud
    gameover over paused pause loading credits winner titel
    """
)
# Of palettes.
PALETTES = _words("palette palettes pal swatch swatches")
# Of sheets.
SHEETS = _words("sheet sheets spritesheet spritesheets strip strips atlas grid")
# Letters that Unicode does not name by their sound, each with its Latin ones: after ISO 9:1995 and ISO 843:1997, without accents.
SPELT: dict[str, str] = {pair[0]: pair[2:] for pair in _words(
    """
    а=a б=b в=v г=g д=d е=e ё=e ж=zh з=z и=i й=j к=k л=l м=m н=n о=o п=p р=r с=s т=t у=u ф=f х=h ц=c ч=ch ш=sh щ=shh ъ= ы=y ь= э=e
    ю=yu я=ya і=i ї=i є=ye ґ=g ў=u ј=j љ=lj њ=nj ћ=c ђ=dj џ=dz α=a β=v γ=g δ=d ε=e ζ=z η=i θ=th ι=i κ=k λ=l μ=m ν=n ξ=x ο=o π=p ρ=r
    σ=s ς=s τ=t υ=y φ=f χ=ch ψ=ps ω=o ά=a έ=e ή=i ί=i ό=o ύ=y ώ=o ß=ss æ=ae œ=oe ø=o đ=d ð=d þ=th ł=l ı=i
    """
)}
