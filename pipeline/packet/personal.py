"""A tester's own packet: with their number, their share of the test plan and links that carry the number."""

from __future__ import annotations

from typing import Any

from pipeline.joints.places import Sources
from pipeline.packet.document import write_packet
from pipeline.packet.typeset.letters import unknown_letter
from pipeline.plain.errors import refuse
from pipeline.project.testers import LIST, label_of, listed_tester


def write_personal(listed: Sources, number: int, mark: str, **packet: Any) -> str:
    """Write a tester's packet; return one line about it, without their name.

    Args:
        listed: the author's list of testers, which holds name and message. They come from the file and not from the settings, since
            settings are recorded in the build folder.
        number: of the tester.
        mark: see ``entry_mark``: what replaces their entry where a name must not be.
        packet: see ``packet.document.write_packet``.

    Raises:
        ProjectError: see ``write_packet``; or the list changed meanwhile.
    """
    tester = listed_tester(listed.folder, number, mark)
    if letter := unknown_letter(tester.message):
        wrong = f"the message of {label_of(number)} has U+{ord(letter):04X}, which the packet cannot set"
        raise refuse(LIST, "", wrong, "write it in Latin, Greek or Cyrillic letters, or leave it out")
    # A name in letters that the packet's fonts lack must not keep a build from being handed out: the number says whose it is.
    is_set = unknown_letter(tester.name) is None
    said = write_packet(tester=label_of(number), name=tester.name if is_set else "", message=tester.message, **packet)
    return f"{label_of(number)}: {said}{'' if is_set else ', without a name, whose letters the packet cannot set'}"
