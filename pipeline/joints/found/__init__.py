"""What was found that may harm a player, as files: ``flashes`` of each thing measured, ``findings`` of all, with cautions for testers."""
