"""Who a person is: the numbers, names and addresses that meet in lists, exports and pages, as far as they can only be one person's.

Somebody signs with a name or a number, and may leave an address beside it. Whoever signs alike is one person, as everywhere in intake. An
address leads on to whoever else signs with it, and to rows that have nothing but the address, unless it is shared: two sign with it
who cannot be one. Two can be one if one gives only a number, or if the words of one name are among those of the other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.intake.store import Testers, contacts_of
from pipeline.project.intake import same_heading
from pipeline.project.testers import number_in


@dataclass(frozen=True)
class Signed:
    """How a row is signed: a name as typed, or a number in its place; and an address; either may be empty."""

    name: str
    address: str


@dataclass
class Person:
    """Somebody to be forgotten.

    Attributes:
        signers: what rows of theirs are signed with: numbers, or names as ``same_heading`` returns them where no list has a number.
        names, addresses: theirs alone, in the same form.
        shared: addresses that they sign with and others too, so that rows with nothing but these may be anybody's.
        unclear: numbers of whom only such an address is known.
    """

    signers: set[int | str]
    names: set[str]
    addresses: set[str]
    shared: set[str]
    unclear: set[int]

    @property
    def numbers(self) -> set[int]:
        """The numbers of their reports."""
        return {one for one in self.signers if isinstance(one, int)}

    @property
    def texts(self) -> set[str]:
        """Everything that says who they are, but bare numbers, which others may write in another sense."""
        return {one for one in self.names | self.addresses if one and number_in(one) is None}


class People:
    """Everybody that lists and rows know of."""

    def __init__(self, testers: Testers, signed: Iterable[Signed]) -> None:
        """Take the lists of testers, and how rows are signed."""
        self._testers = testers
        self._names: dict[int | str, set[str]] = defaultdict(set)
        self._addresses: dict[int | str, set[str]] = defaultdict(set)
        self._signers: dict[str, set[int | str]] = defaultdict(set)
        for one in testers.listed:
            self._add(one.number, one.name, ())
        for one in testers.testers:
            self._add(one["number"], one["tester"], contacts_of(one))
        for one in signed:
            if one.name:
                self._add(self.signer(one.name), one.name, [one.address] * bool(one.address))
            elif one.address:
                self._signers[same_heading(one.address)] |= set()

    def _add(self, signer: int | str, name: str, addresses: Iterable[str]) -> None:
        plain = same_heading(name)
        # Who gave an address alone is listed by it.
        every = {same_heading(one) for one in addresses} | ({plain} if "@" in plain else set())
        self._names[signer] |= {plain} if plain and "@" not in plain and number_in(plain) is None else set()
        self._addresses[signer] |= every
        for one in every:
            self._signers[one].add(signer)

    def signer(self, name: str) -> int | str:
        """Return who signs with a name: a number, where one is known, else the name as it is compared."""
        number = self._testers.number_of({"tester": name})
        return same_heading(name) if number is None else number

    def sharing(self, who: str) -> list[int | str]:
        """Return who signs with an address, if they cannot be one person; nobody for other texts."""
        signers = self._signers.get(same_heading(who), set())
        return [] if self._can_be_one(signers) else sorted(signers, key=str)

    def person(self, who: str, found: set[int]) -> Person:
        """Return everything that can only be of one person.

        Args:
            who: a number, a name, or an address that nobody shares. found: the numbers that the lists know for it.
        """
        plain = same_heading(who)
        signers: set[int | str] = found | self._signers.get(plain, set())
        addresses = {plain} & self._signers.keys()
        if not signers and not addresses:
            signers = {self.signer(who)}
        shared: set[str] = set()
        waiting = sorted(signers, key=str)
        while waiting:
            for one in sorted(self._addresses[waiting.pop()]):
                others = self._signers[one] - signers
                if self._can_be_one(signers | others):
                    addresses.add(one)
                    signers |= others
                    waiting += sorted(others, key=str)
                else:
                    shared.add(one)
        names = {name for one in signers for name in self._names[one]} | {one for one in signers if isinstance(one, str)}
        unclear = {one for address in shared for one in self._signers[address] - signers if isinstance(one, int) and not self._names[one]}
        return Person(signers, names, addresses, shared, unclear)

    def are_theirs(self, signed: Signed, person: Person) -> bool:
        """Say whether a row is a person's: by its name, or without one by its address."""
        return self.signer(signed.name) in person.signers if signed.name else same_heading(signed.address) in person.addresses

    def _can_be_one(self, signers: set[int | str]) -> bool:
        """Say whether all names are wordings of one, and at most one signer of the author's list is among them."""
        listed = {one.number for one in self._testers.listed}
        named = sorted((name for one in signers for name in self._names[one]), key=lambda name: (-len(name.split()), name))
        fits = all(set(name.split()) <= set(named[0].split()) for name in named)
        return fits and len({one for one in signers if one in listed}) <= 1
