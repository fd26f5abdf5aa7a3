"""Gates: each one a yes/no question with four answers, asked of many boxes at once."""
