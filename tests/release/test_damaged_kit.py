"""What is handed out, damaged: a tester finds it by the kit itself, the author by the next build.

A kit's SHA256SUMS is for ``sha256sum -c`` (GNU coreutils) and its archive is in the format of PKWARE's APPNOTE, whose sums
the standard library checks. ``tests.bench.damage_kit`` is the long form.
"""

from __future__ import annotations

import random

import pytest

from tests.bench.damage_kit import alter_outputs, build_project, changed_kits, flip_kit, kit_of, seen_by_tester
from tests.conftest import tries


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    """A small project built up to the kit."""
    return build_project(tmp_path_factory.mktemp("damaged") / "project")


def test_good_kit_has_nothing_wrong(project):
    """The kit of a build passes a tester's look."""
    assert seen_by_tester(kit_of(project).read_bytes()) == ""


def test_every_flipped_bit_of_a_member_is_found(project):
    """Whatever is flipped in the image, the packet, the page, the notes or the list of sums; what archives say of dates is not covered."""
    seen_by = flip_kit(kit_of(project).read_bytes(), tries(300, 1625), random.Random(20261120))
    members = {name: found for name, found in seen_by.items() if name.startswith("member ")}
    assert len(members) == 5
    assert {name: found[""] for name, found in members.items()} == dict.fromkeys(members, 0)


def test_kit_with_other_members_is_found(project):
    """Members exchanged, renamed, left out, altered under right sums of the archive, or one more."""
    kits = dict(changed_kits(kit_of(project).read_bytes()))
    assert len(kits) > 20
    assert [what for what, data in kits.items() if not seen_by_tester(data)] == []


def test_altered_kit_packet_and_map_are_made_anew(project):
    """Each way of altering a file that is handed out, or that it is made from, ends in the files of the good build."""
    names = ["kit/kit.json", kit_of(project).relative_to(project / "build").as_posix(), "map.json", "packet.pdf and packet-author.pdf"]
    seen_by = dict(alter_outputs(project, names))
    assert len(seen_by) == 13
    assert {what: wrong for what, wrong in seen_by.items() if wrong} == {}
