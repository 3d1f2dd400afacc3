"""What a packet says, as plain values, before anything is set: from project, map and ledger; also who tests what."""
