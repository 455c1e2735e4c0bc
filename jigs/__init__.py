"""From a part and its set-ups to guides that locate it, and the proof that they do."""
