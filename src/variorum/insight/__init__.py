"""What an author would notice: pure functions of graph, games and verdicts. What must be asked is returned as requests."""
