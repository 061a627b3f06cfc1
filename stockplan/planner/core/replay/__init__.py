"""Day by day over history: what a policy would have made, with only what was known on each morning."""
