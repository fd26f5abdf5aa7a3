"""Gates, criteria and what they come to: verdicts, scores, how sure they are."""
