"""Lampwright: play dimmed lamps over DMX from MIDI. The public names are few and listed here."""
