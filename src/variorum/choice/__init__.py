"""What a text should hold: its reach, and the selection of greatest reach."""
