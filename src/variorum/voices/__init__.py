"""Voices: the resident, the author's own engines, and what they said, kept as text."""
