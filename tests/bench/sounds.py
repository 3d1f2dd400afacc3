"""Sound files of a folder, as the tool reads them and as FFmpeg does: lengths, largest difference, time, and what is said of them.

``python -m tests.bench.sounds FOLDER``. Measured on Debian's data packages, none of them made for this: sound-theme-freedesktop (CC-BY-SA
3.0, GPL-2+ and others), frozen-bubble-data (GPL-2), lincity-ng-data (GPL-2+), pingus-data (GPL), tuxpaint-data (GPL-2+), alsa-utils
(GPL-2); 243 of 244 files are read, one of pingus-data lacks its last two samples.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np

from pipeline.plain.errors import ProjectError
from pipeline.sound.convert import encode
from pipeline.sound.level import Level
from pipeline.sound.recording import Recording
from tests.sound.test_forms import heard

_SOUNDS = {".wav", ".ogg", ".oga", ".opus", ".flac", ".mp3", ".aif", ".aiff", ".au", ".caf", ".w64"}


def look(file: Path) -> str:
    """Return one line about a file."""
    data, begun = file.read_bytes(), time.perf_counter()
    try:
        recording = Recording(data, file.name)
        samples = np.concatenate(list(recording.blocks()))
        taken = time.perf_counter() - begun
        level = Level("s8")
        level.add(samples, encode(samples, "s8")[0])
        remarks = [remark for remark in (recording.cancelling("sound.x"), level.remark()) if remark]
    except ProjectError as error:
        return f"refused: {str(error).splitlines()[0]}"
    other = heard(data)
    both = min(len(other), len(samples))
    worst = float(np.abs(other[:both] - samples[:both]).max(initial=0))
    figures = f"{len(samples) / recording.rate:7.2f} s in {taken * 1000:5.0f} ms"
    return "; ".join((f"{figures}, FFmpeg {len(other) - len(samples):+d} samples, {worst:.1g} off", *remarks))


def main() -> None:
    """Print a line for every sound file below a folder."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.sounds", description=__doc__.partition("\n")[0])
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    for file in sorted(folder.rglob("*")):
        if file.suffix.lower() in _SOUNDS and file.is_file():
            print(f"{file.relative_to(folder)}: {look(file)}")


if __name__ == "__main__":
    main()
