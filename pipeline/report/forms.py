"""What the report says about backgrounds as bitmaps and as tiles, alone and as a scene's layers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from msgspec.structs import asdict

from pipeline.joints.facts import BackgroundFacts, StoredTiles
from pipeline.plain.sizes import show_size

_MEASURES = ("image_bytes", "memory_bytes", "window_bytes", "moved_bytes")


def tiles_cost(facts: BackgroundFacts) -> str:
    """Return what a background's tiles cost it, in words; empty for a bitmap."""
    if not isinstance(facts.stored, StoredTiles):
        return ""
    summary = f"; {facts.stored.tile_count:,} tiles of {facts.tile[0]} × {facts.tile[1]}"
    loss = facts.stored.merging
    if loss is None:
        return summary
    before, after = loss.before, loss.after
    return (
        f"{summary}, {loss.merged:,} of {loss.tiles:,} merged into them: colours differed by {before.mean:.1f} on average "
        f"before, {before.p95:.1f} at the 95th percentile and {before.worst:.1f} in the worst tile, now by "
        f"{after.mean:.1f}, {after.p95:.1f} and {after.worst:.1f} (CIEDE2000)"
    )


def forms_table(facts: BackgroundFacts) -> dict[str, Any]:
    """Return a background's two forms as rows of numbers, with a line that says which is smaller."""
    forms = facts.forms
    width, height = forms.tile
    summary = f"{forms.distinct:,} distinct tiles of {width} × {height}, {forms.distinct_mirrored:,} with mirroring"
    if not any(forms.mirrored):
        summary += ", which its map cannot do"
    if forms.lines > 1:
        summary += f"; tiles show the colours of {forms.lines} lines, a bitmap of such pixels those of one"
    both = {"bitmap": asdict(forms.bitmap), "tiles": asdict(forms.tiles)}
    rows = [_row(form, taken, facts.arrangement == form) for form, taken in both.items()]
    packed = f" All before packing, which leaves {facts.bytes:,} bytes in the image." if facts.codec != "stored" else ""
    return {"rows": rows, "summary": f"{summary}. {_smaller(both, forms.pan)}{packed}"}


def layer_scenes(backgrounds: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the scenes of ``backgrounds.json`` as rows of numbers."""
    scenes = []
    for name, scene in backgrounds["scenes"].items():
        rows = [
            _row(f"{layer['background']} × {layer['factor']:g}, {form}", layer[form], layer["arrangement"] == form)
            for layer in scene["layers"]
            for form in ("bitmap", "tiles")
        ]
        sums = [_row(f"all layers as {what}", scene[form], False) for form, what in (("bitmap", "bitmaps"), ("tiles", "tiles"))]
        scenes.append({"name": name, "rows": rows, "sums": sums, "summary": _smaller(scene, scene["pan"], "bitmaps")})
    return scenes


def _row(name: str, form: dict[str, int], chosen: bool) -> dict[str, Any]:
    return {"name": name, "chosen": chosen, "bytes": [form[key] for key in _MEASURES]}


def _smaller(forms: dict[str, Any], pan: Sequence[int], bitmap: str = "a bitmap") -> str:
    """Return which form takes less of the image, and which moves less, in words."""
    moving = f"Moving {pan[0]} pixels across and {pan[1]} down a screen picture"
    return f"Stored: {_less(forms, 'image_bytes', bitmap, 'in the image')}. {moving}: {_less(forms, 'moved_bytes', bitmap, 'to move')}."


def _less(forms: dict[str, Any], key: str, bitmap: str, where: str) -> str:
    gap = forms["bitmap"][key] - forms["tiles"][key]
    if not gap:
        return f"as much {where} in both forms"
    return f"{show_size(abs(gap))} less {where} as {'tiles' if gap > 0 else bitmap}"
