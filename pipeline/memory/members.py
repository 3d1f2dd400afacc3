"""Members of scenes: bundles, assets and planned assets, and which assets each of them loads."""

from __future__ import annotations

import itertools
from collections.abc import Collection

from pipeline.memory.planned import member_names
from pipeline.memory.scenes import Group
from pipeline.project.file import Planned, Scene


class Members:
    """What the names in scenes mean.

    Args:
        bundles: name -> assets and planned assets loaded together.
        planned: the project's planned assets; several of one name are members of their own where a scene chooses.
        needs: asset -> assets that are in memory whenever it is (the pool of a sprite).
    """

    def __init__(self, bundles: dict[str, list[str]], planned: dict[str, Planned], needs: dict[str, tuple[str, ...]]) -> None:
        self._bundles, self._planned, self._needs = bundles, planned, needs

    def without_needs(self, assets: Collection[str]) -> Members:
        """Return the same where these assets need no other: what they need of it is fetched."""
        return Members(self._bundles, self._planned, {asset: names for asset, names in self._needs.items() if asset not in assets})

    def names(self, name: str) -> list[str]:
        """Return the members that a name in a list of members means."""
        return member_names(name, self._planned[name]) if name in self._planned else [name]

    def loads(self, member: str) -> frozenset[str]:
        """Return the assets that a member, or all assets of a planned name, load."""
        assets = [one for part in self._bundles.get(member, [member]) for one in self.names(part)]
        return frozenset(assets).union(*(self._needs.get(asset, ()) for asset in assets))

    def in_order(self, member: str) -> list[str]:
        """Return the assets that a member, or all assets of a planned name, load, in the order of use: what one needs is before it."""
        assets = [one for part in self._bundles.get(member, [member]) for one in self.names(part)]
        return list(dict.fromkeys(one for asset in assets for one in (*self._needs.get(asset, ()), asset)))

    def always(self, scene: Scene) -> frozenset[str]:
        """Return the assets that a scene always has in memory."""
        return frozenset().union(*(self.loads(member) for member in scene.always))

    def direct(self, scene: Scene) -> frozenset[str]:
        """Return the assets that a scene reads straight from the cartridge.

        What one of them needs is read there too, unless something in memory needs it as well.
        """
        named = frozenset(one for member in scene.direct for part in self._bundles.get(member, [member]) for one in self.names(part))
        members = scene.members
        others = frozenset().union(*(self.loads(member) for member in members)) - named
        kept = frozenset().union(*(self._needs.get(asset, ()) for asset in others))
        return named | (frozenset().union(*(self._needs.get(asset, ()) for asset in named)) - kept)

    def packed(self, scene: Scene) -> frozenset[str]:
        """Return the assets that a scene keeps packed in memory."""
        return frozenset().union(*(self.loads(member) for member in scene.packed))

    def groups(self, scene: Scene) -> list[Group]:
        """Return a scene's choices."""
        groups = []
        for choice in scene.choose:
            names = dict.fromkeys(one for member in choice.of for one in self.names(member))
            groups.append(Group(choice.count, {name: self.loads(name) for name in names}, choice.repeat))
        return groups

    def never(self, scene: Scene) -> list[frozenset[str]]:
        """Return the sets of members that a scene never has together."""
        return [frozenset(ways) for names in scene.never for ways in itertools.product(*map(self.names, names))]
