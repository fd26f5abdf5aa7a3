"""Criteria: each one a physical quantity that tells how good a centre is in a place."""
