"""What fits. In: facts and scenes. Out: the worst case of every scene, the budget and its text. Never looks at pixels."""
