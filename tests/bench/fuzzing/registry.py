"""Every format the fuzzer knows, by name."""

from __future__ import annotations

from tests.bench.fuzzing import csvs, gifs, jsons, levels, pngs, tomls, ttfs, wavs
from tests.bench.fuzzing.formats import Format

FORMATS: dict[str, Format] = {one.name: one for module in (tomls, pngs, gifs, wavs, ttfs, csvs, jsons, levels) for one in module.FORMATS}
