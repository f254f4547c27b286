"""What an edition's texts, games and verdicts come to: building, checking and publishing. Import from the modules."""
