"""Programs made wrong on purpose, an exact oracle that tells what that does, and whether the judge
finds it.

The oracle shares nothing with the judge but the reader: its own frames, its own closed forms at
exact places (sights) and its own walk along the motions. See `sabotage.trial.try_changes`.
"""
