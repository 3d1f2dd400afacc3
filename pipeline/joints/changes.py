"""How an asset can differ from an earlier release: keys of ``changes.json``, of the packet's and the notes' words, in their order."""

ASSETS = ("added", "removed", "changed", "recoloured")
