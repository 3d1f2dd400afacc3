"""The ``romwright`` command, and ``python -m pipeline``: the same tasks as ``doit`` in a clone, from any folder."""

import sys

from pipeline.graph import stopping

stopping.install()  # first: a build can be stopped while the rest is loaded

# ruff: noqa: E402
from pipeline.graph.streams import OutputLost, steady_streams

steady_streams()

# Reading the rest may be stopped by hand already, and doit takes the streams as it finds them.
from pipeline.graph.command import run_words
from pipeline.graph.freshness.unchanged import Watch
from pipeline.graph.words import asks_to_watch

_USAGE = """\
romwright [STEP ...] [project=PATH] [-n 2] [why=yes] [commands=yes]

Begin
  romwright start project=PATH     a new project that builds at once
  romwright start from=FOLDER [target=NAME] [link=yes]  one made of the art in a folder
  romwright bring from=FOLDER      what a folder of art would add; write=yes adds it
  romwright schema                 JSON Schemas of the files you write, for your editor
Build
  romwright                        everything, up to the kit
  romwright rom                    the image and its map, verified
  romwright verify                 read the image back and check all of it
  romwright include | reader       what your program includes, and C to read the image
  romwright burn                   files for burning, where the project asks for them
  romwright watch [port=NUMBER]    builds at every save, and shows the report in a browser
  romwright why                    why each step of the last build ran
Make it fit
  romwright budget                 what each scene needs at worst
  romwright fit [of=NAME,NAME]     the largest scale at which everything fits
  romwright freeze of=NAME         write a computed palette as a file
  romwright savings                what else would make it fit, measured
  romwright backgrounds            each scene's layers as bitmaps and as tiles
  romwright loads                  what is where in memory, scene by scene, with load lists
  romwright growth                 image and scenes of every build so far, as a chart
Look
  romwright proofs                 every asset, drawn from the image's own bytes
  romwright where [name=NAME]      where an asset is in the image, and its first bytes
  romwright where file=IMAGE       which build an image is of, and whose
  romwright flashes                animations and effects that flash too often for photosensitive players
  romwright flashes of=FOLDER      the same in captured play, or of=VIDEO; rate=NUMBER, pictures in a second
  romwright report                 one page with everything in the build
Hand it out
  romwright packet | kit           the packet for testers, and the archive with it
  romwright preflight              what is checked before a build is handed out
  romwright release                record the build in the ledger
  romwright announce               texts for your testers: what is new, what to test, how to get it
  romwright changes [since=VERSION]  what changed since a release
Hear from testers
  romwright forms                  both forms, for any form service or as pages without a server
  romwright intake [csv=FILE]      what testers sent, compared and in order
  romwright erase tester=NUMBER    remove everything one tester sent
Everything else
  romwright list                   all steps

Words can be in any order. In a project's own folder project= can be left out. -n 2 builds with two workers.
A project's own commands run after you have said yes; commands=yes says it for one run."""


def _say(text: str) -> int:
    try:
        print(text)
    except OutputLost as error:
        sys.stderr.write(f"ERROR: {error}\n")
        return 3
    return 0


def main() -> int:
    """Run the command line and return its exit status: 0 only when all is well."""
    words = sys.argv[1:]
    if {"-h", "--help", "help"} & set(words):
        return _say(_USAGE)
    if not all(words):
        sys.stderr.write("ERROR: one of the words is empty\n    leave it out, or write what it should be; romwright --help shows all\n")
        return 3
    if asks_to_watch(words):
        # Loaded here: no other command needs it.
        from pipeline.watching.watch import watch_project

        try:
            return watch_project(words)
        except OutputLost as error:
            sys.stderr.write(f"ERROR: {error}\n")
            return 3
    watch = Watch(words)
    answer = watch.answer()
    if answer is not None:
        return _say(answer)
    return run_words(words, watch)


if __name__ == "__main__":
    sys.exit(main())
