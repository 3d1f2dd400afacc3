"""Pictures of one kind of asset, a module for each kind and each way of looking. In: a ``proofs.subject.Subject``. Out: a PNG.

The table of kinds names them; ``before``, ``onion`` and ``animation`` are further looks at art that has frames.
"""
