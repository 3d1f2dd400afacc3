"""Every format the fuzzer knows, by name."""

from __future__ import annotations

from tests.bench.fuzzing import csvs, gifs, jsons, levels, pngs, stills, tomls, ttfs, wavs
from tests.bench.fuzzing.formats import Format

_MODULES = (tomls, pngs, gifs, stills, wavs, ttfs, csvs, jsons, levels)
FORMATS: dict[str, Format] = {one.name: one for module in _MODULES for one in module.FORMATS}
