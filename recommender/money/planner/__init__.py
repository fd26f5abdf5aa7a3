"""The provably best whole system for a sum of money, from mains to subwoofer."""
