"""Whether the part stays put under the cut, the cutter clears and the guide survives."""
