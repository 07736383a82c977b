"""Recipes for teaching with this package: a hub for many learners, a cluster, pages that need no install."""
