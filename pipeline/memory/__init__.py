"""What fits: scenes, their worst case, the budget. Reads facts, never pixels."""
