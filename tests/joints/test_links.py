"""Links and code sizes against the tables of ISO/IEC 18004 and the characters of RFC 3986."""

from __future__ import annotations

from urllib.parse import parse_qsl, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.joints.links import code_modules, code_version, link_problem, longest_link, report_link, with_build

# ISO/IEC 18004, table 7, byte mode, level M: version -> bytes (the published table; versions 8, 9, 11 to 19 from memory).
CAPACITY = {
    1: 14, 2: 26, 3: 42, 4: 62, 5: 84, 6: 106, 7: 122, 8: 152, 9: 180, 10: 213, 11: 251, 12: 287, 13: 331, 14: 362,
    15: 412, 16: 450, 17: 504, 18: 560, 19: 624, 20: 666,
}  # fmt: skip


@pytest.mark.parametrize(("version", "capacity"), CAPACITY.items())
def test_version_holds_its_bytes(version, capacity):
    """A version is chosen up to its capacity, and the next one from a byte more."""
    assert code_version(capacity) == version
    assert code_version(capacity + 1) == (version + 1 if version < 20 else None)


def test_empty_link_takes_the_smallest_version():
    """Nothing at all fits version 1."""
    assert code_version(0) == 1


@pytest.mark.parametrize(("version", "side"), [(1, 21), (2, 25), (3, 29), (4, 33), (7, 45), (10, 57), (20, 97), (40, 177)])
def test_side_with_quiet_zone(version, side):
    """A symbol has 17 + 4v modules a side (ISO/IEC 18004), and four more of margin on both sides."""
    assert code_modules(version) == side + 4 + 4


def test_worked_example_of_a_printed_side():
    """DENSO WAVE's worked example: version 3 at 0.254 mm a module is 7.366 mm wide, and 9.398 mm with its margin."""
    assert round(code_modules(3) * 0.254, 3) == 9.398
    assert round((code_modules(3) - 8) * 0.254, 3) == 7.366


@pytest.mark.parametrize(
    ("modules", "most"), [(0, 0), (28, 0), (29, 14), (32, 14), (33, 26), (37, 42), (40, 42), (41, 62), (65, 213), (105, 666), (200, 666)]
)
def test_longest_link_for_a_room(modules, most):
    """The room of a screen in modules decides the longest link: 29 hold version 1, 33 version 2, and so on."""
    assert longest_link(modules) == most


@given(st.integers(0, 666))
def test_a_link_fits_the_code_chosen_for_it(length):
    """The longest link of the chosen version's side is at least the link, and the version below would be too small."""
    version = code_version(length)
    assert longest_link(code_modules(version)) >= length
    assert version == 1 or longest_link(code_modules(version) - 1) < length


@pytest.mark.parametrize(
    ("link", "filled"),
    [
        ("https://example.org/f/{build}", "https://example.org/f/7ZK3QM"),
        ("https://example.org/?b={build}&c={build}", "https://example.org/?b=7ZK3QM&c=7ZK3QM"),
        ("https://example.org/f", "https://example.org/f"),
    ],
)
def test_build_code_in_a_link(link, filled):
    """The build code replaces every {build} and nothing else."""
    assert with_build(link, "7ZK3QM") == filled


@pytest.mark.parametrize(
    "link",
    [
        "https://example.org",
        "http://example.org/f/{build}",
        "https://example.org:8443/a/b;c=1?x=%20y&z=~#end",
        "https://user@example.org/",
        "https://[2001:db8::7]/f",  # RFC 3986, section 3.2.2
        "https://xn--bcher-kva.example/{build}",  # RFC 3492 host
    ],
)
def test_usable_links(link):
    """An absolute http or https address in the characters of RFC 3986 has no problem."""
    assert link_problem(link) is None


CHARACTERS = "write http:// or https:// and only the characters a URL may hold"
WHOLE = "write the whole address, for example https://example.org/f/{build}"


@pytest.mark.parametrize(
    ("link", "remedy"),
    [
        ("", CHARACTERS),
        ("https://example.org/a b", CHARACTERS),
        ("https://bücher.example/", CHARACTERS),
        ("https://example.org/{code}", CHARACTERS),
        ("https://example.org/<x>", CHARACTERS),
        ("https://example.org/f\n", CHARACTERS),
        ("example.org/f", WHOLE),
        ("ftp://example.org/f", WHOLE),
        ("mailto:someone@example.org", WHOLE),
        ("javascript:alert(1)", WHOLE),
        ("https:///f", WHOLE),
        ("https://", WHOLE),
        ("https://[::1/f", WHOLE),
    ],
)
def test_refused_links(link, remedy):
    """Anything else is named as no URL, with what to write instead."""
    assert link_problem(link) == (f"{link!r} is not a URL", remedy)


def test_a_port_that_is_no_number_is_refused():
    """RFC 3986 lets a port hold digits only, and 65535 is the last one a connection can have (RFC 6335)."""
    for link in ("https://example.org:form/f", "https://example.org:99999/f"):
        assert link_problem(link) == (f"{link!r} is not a URL", WHOLE)


@pytest.mark.parametrize(
    "link",
    [
        "https://example.org/f?t={tester}",
        "https://example.org/f?a=1&t={tester}&b={build}#x",
        "https://example.org/{build}?t={tester}&a=",
        "https://example.org/f?a=1",
    ],
)
def test_tester_is_a_parameter_that_can_be_left_out(link):
    """With a number, and without the parameter: as urllib.parse reads the query of each."""
    before = dict(parse_qsl(urlsplit(link).query, keep_blank_values=True))
    with_number = dict(parse_qsl(urlsplit(with_build(link, "7K3Q0Z", "T3")).query, keep_blank_values=True))
    without = dict(parse_qsl(urlsplit(with_build(link, "7K3Q0Z")).query, keep_blank_values=True))
    assert link_problem(link) is None
    assert with_number == {key: {"{tester}": "T3", "{build}": "7K3Q0Z"}.get(value, value) for key, value in before.items()}
    assert without == {key: value for key, value in with_number.items() if before[key] != "{tester}"}
    assert not with_build(link, "7K3Q0Z").endswith(("?", "&"))
    assert urlsplit(with_build(link, "7K3Q0Z")).fragment == urlsplit(link).fragment


@pytest.mark.parametrize("rest", ["example.org/{tester}/f", "example.org/f?t=x{tester}", "example.org/f#{tester}", "{tester}.example.org/"])
def test_tester_anywhere_else_is_refused(rest):
    """It could not be left out of the boot notice's code."""
    assert link_problem(f"https://{rest}")[1] == "write it as ?t={tester} or &t={tester}"


def test_build_code_is_added_behind_the_tester():
    """A form without {build} gets it as b, with and without a number."""
    assert report_link("https://example.org/f?t={tester}", "7K3Q0Z", "T3") == "https://example.org/f?t=T3&b=7K3Q0Z"
    assert report_link("https://example.org/f?t={tester}", "7K3Q0Z") == "https://example.org/f?b=7K3Q0Z"
