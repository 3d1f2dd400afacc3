"""Every format the fuzzer knows, by name."""

from __future__ import annotations

from tests.bench.fuzzing import gifs, pngs, tomls, wavs
from tests.bench.fuzzing.formats import Format

FORMATS: dict[str, Format] = {one.name: one for module in (tomls, pngs, gifs, wavs) for one in module.FORMATS}
