"""Handing a build out. In: map, budget, packet. Out: build code, notes, kit, what changed, checks, an entry of the ledger."""
