"""The fewest banks that a set of assets can take: a bound that no placement can beat."""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.target.records import Target


def fewest_banks(target: Target, bank: int, sizes: Iterable[int]) -> int:
    """Return a lower bound of the banks that assets, header and directory take: the larger of ``by_total`` and ``by_size``.

    Args:
        bank: bytes of a bank.
        sizes: of the assets, in bytes.
    """
    tables, sizes = [target.header.size], list(sizes)
    if target.directory is not None:
        tables.append(len(sizes) * target.directory.entry_bytes)
    # A directory need not lie in one bank, so only what must counts as a piece.
    whole = [size for size in (*tables[:1], *sizes) if 0 < size <= bank]
    banks = target.cartridge.banks
    if banks and banks.fixed > 1:  # pieces may lie across the ends of fixed banks
        return by_total([*sizes, *tables], bank)
    return max(by_total([*sizes, *tables], bank), by_size(whole, bank))


def by_total(sizes: list[int], bank: int) -> int:
    """Return how many banks the bytes fill."""
    return -(-sum(sizes) // bank)


def by_size(sizes: list[int], bank: int) -> int:
    """Return the bound L2 of Martello and Toth, Knapsack Problems (1990), 8.3.2, from sizes that each fit a bank.

    For any a up to half a bank: pieces above bank - a take a bank each in which no piece of a or more fits; those above half a bank
    take one each; pieces from a to half a bank fill what these leave, and then further banks. The largest over a counts; only
    sizes that occur need be tried.
    """
    best = 0
    for least in sorted({size for size in sizes if 2 * size <= bank} | {0}):
        alone = sum(size > bank - least for size in sizes)
        large = [size for size in sizes if size <= bank - least and 2 * size > bank]
        rest = sum(size for size in sizes if least <= size and 2 * size <= bank)
        more = rest - (len(large) * bank - sum(large))
        best = max(best, alone + len(large) + max(0, -(-more // bank)))
    return best
