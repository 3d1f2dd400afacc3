"""What knows nothing of games: the floor that every other room may use, and that imports none.

``errors`` is how the tool says no. ``checked`` reads TOML strictly (with the room ``toml``) into records, whose fields say with
``written`` what they are for; ``strict_json`` reads JSON. ``bounded`` reads files within the bounds of ``bounds``; ``files`` writes
them whole; ``apart`` runs something in a process with limits. ``rendering``,
``template_language`` and ``shipped`` fill templates. ``bits``, ``sizes``, ``versions`` and ``crockford`` are notations.
"""
