"""What leaves the edition: pages, diagrams, games. One renderer for each; nothing private comes out."""
