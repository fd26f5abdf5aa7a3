"""The bridge: a catalogue and a room become arrays, arrays become advice."""
