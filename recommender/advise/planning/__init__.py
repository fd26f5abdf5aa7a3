"""The choice of a whole system from a catalogue, for a room, within a budget and its rules."""
