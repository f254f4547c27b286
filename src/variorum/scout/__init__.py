"""Where a budget is spent: wishes of graph and claims as an ordered list of questions (methods.md 15)."""
