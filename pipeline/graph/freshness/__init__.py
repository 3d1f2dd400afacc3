"""Whether a step must run. In: steps and the records of earlier runs. Out: reasons; ``compare`` is the door."""
