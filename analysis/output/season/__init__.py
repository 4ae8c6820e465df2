"""Pages of a season: the squad, each athlete, a comparison, the session that is running."""
