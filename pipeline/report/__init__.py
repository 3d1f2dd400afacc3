"""The author's own page. In: map, budget, facts, proofs. Out: one file of HTML; a chart of growth."""
