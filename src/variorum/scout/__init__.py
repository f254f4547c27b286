"""Where a budget is spent: wishes and doubts as an ordered list (methods.md 15), and the frontier of a graph that grows."""
